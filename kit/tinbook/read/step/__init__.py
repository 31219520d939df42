"""Unfolding solids of others: faces of a STEP file laid flat, the flat folded back and held against the solid.

Knows the ground and `calc` only, so that it can serve as an independent check of `making`. `import tinbook.read.step
as step` loads nothing; `step.load` and `step.unfold` load the geometry kernel when they are first used.
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
