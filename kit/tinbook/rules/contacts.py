"""Rule of unlike metals in contact: the less noble one corrodes where water stands between them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tinbook.finding import Finding, caution
from tinbook.making.assembled import Assembled
from tinbook.part.bought import Bought
from tinbook.route.ways import Solid, patches
from tinbook.rules.welds import metal

METALS: Final = ("steel", "stainless", "aluminium")
FASTENER: Final = 500.0
"""mm²: smaller faces of bought steel, such as washers and heads, are not reported; sealer goes under them (common practice)."""


def galvanic(made: Assembled) -> Iterator[Finding]:
    """Name aluminium that lies flat on steel or stainless steel with no insulator between."""
    members = [m for m in made.assembly.members if metal(made, m.name) in METALS]
    kinds = {m.name: metal(made, m.name) for m in members}
    if len(set(kinds.values())) < 2:
        return
    solids = {m.name: Solid.of([made.mesh(m.name)]) for m in members}
    welded = {frozenset((w.a, w.b)) for w in made.assembly.welds}
    for i, a in enumerate(members):
        for b in members[i + 1 :]:
            pair = {kinds[a.name], kinds[b.name]}
            if "aluminium" not in pair or len(pair) < 2 or frozenset((a.name, b.name)) in welded:
                continue
            area = sum(p.area for p in patches(solids[a.name], solids[b.name]))
            if area > (FASTENER if any(isinstance(m.thing, Bought) for m in (a, b)) else 0.0):
                what = f"aluminium lies on {(pair - {'aluminium'}).pop()} and corrodes there when wet"
                remedy = "an insulator between (0.5 mm of nylon or EPDM, or both faces primed and bedded in sealer), and sleeves round the bolts"
                where = f"{a.name} and {b.name}"
                yield caution("contact.galvanic", where, what, remedy, round(area / 100, 1), 0.0, "cm²")
