"""Making: from a part and a shop to panels, bends, flat pattern, preview and solid.

`resolve.make` (on the front as `tb.make`) is the only place where a bend allowance is applied. Flat
pattern, preview and solid read its answer, `Made`, and do no bending arithmetic of their own, so they
cannot disagree. A part that cannot be made is returned with its findings; nothing is raised.
`tb.assemble` does the same for an assembly. `preview` and `solid` are folders of their own; only `solid`
knows the geometry kernel.

Doors beyond the front: `plus_minus_between`, the tolerance between two points of a finished part.

>>> import tinbook as tb
>>> made = tb.make(tb.folded_channel(length=400.0), tb.Shop.demo())
>>> [panel.name for panel in made.panels]
['base', 'near', 'far']
>>> round(made.flat.size[0], 2)
400.0
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
