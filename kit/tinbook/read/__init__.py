"""Reading: measured points, tape sizes, drawings and solids of others become outlines, flats and parts.

Doors on the front: `tb.read_outline` (measured points), `tb.read_dxf` (a drawing), `tb.unfold` (a solid),
`tb.sort_solids` (every solid of a file), `tb.adopt` (an unfolded solid as a part that can be changed),
`tb.coupons` (bend test strips), `tb.read_scan` (a mesh or points from a scanner). Here: `outline_from_tape` (sides and
diagonals measured with a tape), `outline_from_scan` (the rim of an opening in a scanned mesh), `align_by_targets`,
`align_by_plane` and `best_fit` (a scan laid on the vehicle, on another scan or on a part), `practice_scan` (an invented one).
`step` shares no code with `making`, so it can serve as an independent check of it.

Sides of 400 and 300 mm and one diagonal of 500 mm make a rectangle, 120 000 mm² large.

>>> import tinbook as tb
>>> sides = {"front": 400, "sill": 300, "rear": 400, "tunnel": 300}
>>> taped = tb.read.outline_from_tape(sides, {("tunnel/front", "sill/rear"): 500})
>>> round(taped.area)
120000
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
