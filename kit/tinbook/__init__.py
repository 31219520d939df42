"""tinbook: a notebook kit for people who design and make sheet-metal parts for vehicles.

The public names stand in `__init__.pyi`. Each is loaded from its home on first use, so `import tinbook`
stays quick and loads neither the geometry kernel nor any widget. Names that are used less often are
doors of the rooms: `tb.families` (ready-made parts), `tb.calc` (formulas), `tb.strength` (loads),
`tb.errors` (what can be raised), and `fit`, `making`, `read`, `route`, `shop`, `write`.

>>> import tinbook as tb
>>> shop = tb.Shop.demo()
>>> base = tb.Outline.rectangle("200 mm", "100 mm")
>>> part = tb.Part("HN-B-1", sheet="DC01 1.5", base=base).fold("right", "up", leg="30 mm")
>>> made = tb.make(part, shop)
>>> made.ok
True
>>> [fold.included for fold in made.flat.folds]
[90.0]
"""

from tinbook.doors import doors

__version__ = "0.1.0"
__getattr__, __dir__ = doors(__name__)
