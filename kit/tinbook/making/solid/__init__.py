"""The solid: a made part as one boundary-represented body of the geometry kernel.

`import tinbook.making.solid as solids` loads nothing; `solids.build`, `solids.bodies`, `solids.kernel`,
`solids.mesh` and `solids.stepfile` load the kernel when they are first used.
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
