"""Fitting: what is drawn, held against the vehicle and the bench.

Doors: `scribe_card` (an opening set out with a tape on the metal itself), `host_cut` (what any part needs cut from the
body or rail, and the spot welds to drill), `jig_plate` (a flat plate that
holds the members of an assembly while they are welded), `clashes_through` (a member moved along its way,
and where it touches another), `fit_map` (gap and lap of a part on a scan, `limits_of` for limits of your own),
`clearance_of`, `rocking` and `way_out` (how near a thing comes to the body, at rest, on its mounts, on its way out),
`moving_clearance` (along a movement that an assembly declares), `brace_card` (temporary braces, before anything is cut),
`fit_card` (a finished part's tape readings), `table_card` (places of holes over a table, and back),
`level_mounts` (the fewest shims that bring a body level), `weld_shrinkage` (what welds pull in: allowances, clamps, order).

A lip of 50 mm all round an opening of 400 by 500 mm leaves a cut of 300 by 400 mm, its diagonals 500 mm.

>>> import tinbook as tb
>>> card = tb.fit.scribe_card(tb.Outline.rectangle(400, 500), lip=50)
>>> [round(d.length, 2) for d in card.diagonals]
[500.0, 500.0]
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
