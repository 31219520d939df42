"""Formulas: one pure function for each published equation, floats in and out.

Each names its document, edition and number, its units and the range in which it holds; outside that
range it raises `tb.errors.OutOfRange`. Nothing here knows a part or a shop.

Doors, by subject: `bending`, `radii`, `force`, `springback`, `coupons` (folding); `beads`, `orthotropic`,
`plates`, `beams`, `sections`, `profiles`, `buckling` (stiffness); `joints`, `screws`, `rivets`, `welds`, `spotwelds`,
`lugs`, `fatigue` (joints); `collars`, `straps`, `struts`, `loads`, `towing`, `tolerance_classes`, `sheet_tolerances`,
`shrinkage`.

The deduction of a square bend of 1.5 mm sheet with an inside radius of 2 mm and K = 0.41: twice the
outside setback of 3.5 mm less the neutral arc of (2 + 0.41 x 1.5) pi / 2 = 4.1076 mm.

>>> from tinbook import calc
>>> round(calc.bending.bend_deduction(90.0, 2.0, 0.41, 1.5), 4)
2.8924
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
