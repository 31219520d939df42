"""The declaration of parts and assemblies as frozen values, without shop, machine or geometry kernel.

`Outline` is a closed loop of named edges, `Part` an outline with folds, holes, beads and marks, `Assembly`
parts and bought items placed together. Every verb returns a new value; lengths and angles may be numbers
(mm, degrees) or text with a unit. A part is written to and read from one file (`tb.write_part`, `tb.read_part`), and so is an assembly
(`tb.write.write_assembly`, `read_assembly`).
Doors beyond the front: `frame_at`, the place of a member; bought items (`hexagon_bolt`, `clevis_pin`, `gas_strut`,
`cushion`); `tab_and_slot` between plates; forms that `Part.formed` adds to a panel (`DrawnHole`, `Louvre`, `Joggle`).

>>> import tinbook as tb
>>> plate = tb.Part("HN-PL-1", sheet="DC01 1.5", base=tb.Outline.rectangle("4 in", "50 mm"))
>>> drilled = plate.hole(("20 mm", "25 mm"), "8 mm").hole((80, 25), 8)
>>> len(plate.holes), len(drilled.holes)
(0, 2)
>>> lapped = plate.formed(tb.part.Joggle(edge="rear", lap=18)).formed(tb.part.DrawnHole(centre=(50, 25), dia=20, height=4))
>>> [form.name for form in lapped.forms]
['drawn hole', 'joggle']
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
