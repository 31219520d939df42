"""Rules of welds and of metals: throat against thickness, metals that join, thin on thick, zinc, unlike metals in contact."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.assembled import Assembled
from tinbook.part.bought import Bought
from tinbook.part.links import Weld
from tinbook.route.finishing import galvanised
from tinbook.route.ways import Solid, patches

MOST: Final = 0.7
"""Largest throat over the thinner member's thickness (DIN 18800-1 element 519, from memory)."""
SLACK: Final = 0.05
"""mm: throats are stated to a tenth."""
UNEVEN: Final = 4.0
"""Ratio of thicknesses from which the thin one melts away before the thick one fuses (common practice)."""
STRUCTURAL, LEAST = 4.0, 3.0
"""mm: EN 1993-1-8 4.1 starts at this thickness; from there on 4.5.2 wants throats of this size, on 4 mm too."""

FUSED: Final = {"mild steel": "steel", "structural steel": "steel", "stainless": "stainless", "aluminium": "aluminium"}


def throats(made: Assembled) -> Iterator[Finding]:
    """Check each throat against the thinner member, and against the thicker one, which draws its heat away."""
    worst, most = 0.0, 0.0
    for w in made.assembly.welds:
        where = f"{w.a} and {w.b}"
        known = [t for t in (thickness(made, n) for n in (w.a, w.b)) if t is not None]
        if not known:
            what = "neither thickness is known, so the throat cannot be checked"
            yield caution("weld.throat", where, what, f"measure the thinner wall: the throat is at most {MOST:g} of it")
            continue
        thin, thick = min(known), max(known)
        limit = max(MOST * thin, LEAST if thin >= STRUCTURAL else 0.0)
        least = min(math.sqrt(thick) - 0.5, limit)
        if thin >= STRUCTURAL:
            least = max(least, LEAST)
        remedy = f"a throat of at most {limit:.1f} mm"
        if w.throat > thin + SLACK:
            what = f"its throat is more than the thinner sheet of {thin:g} mm: it burns through"
            yield stop("weld.throat", where, what, remedy, w.throat, limit, source="DIN 18800-1")
        elif w.throat > limit + SLACK:
            what = f"its throat is more than {MOST:g} of the thinner sheet of {thin:g} mm"
            yield caution("weld.throat", where, what, remedy, w.throat, limit, source="DIN 18800-1")
        elif w.throat < least - SLACK:
            clause = "EN 1993-1-8" if least == LEAST else "DIN 18800-1"
            what = f"its throat is too small for {thick:g} mm: the weld cools too fast and does not fuse"
            remedy = f"a throat of at least {least:.1f} mm, or preheat the thick one"
            yield caution("weld.throat", where, what, remedy, w.throat, least, source=clause)
        elif w.throat / limit >= worst / (most or 1.0):
            worst, most = w.throat, limit
    if most:
        yield fine(
            "weld.throat", "welds", "the throats suit the sheets that they join", worst, most, source="DIN 18800-1"
        )


def metals(made: Assembled) -> Iterator[Finding]:
    """Check that the two metals of each weld can be fused to each other."""
    for w in made.assembly.welds:
        where, a, b = f"{w.a} and {w.b}", metal(made, w.a), metal(made, w.b)
        pair = {a, b}
        if bad := next((n for n, m in ((w.a, a), (w.b, b)) if m not in FUSED.values()), None):
            yield stop("weld.metals", where, f"{bad} is not a metal that can be welded", "bolt, clamp or bond it")
        elif "aluminium" in pair and len(pair) == 2:
            what = (
                f"aluminium and {(pair - {'aluminium'}).pop()} cannot be fusion welded: the seam is brittle and breaks"
            )
            remedy = "bolt or rivet them with an insulator between, or make both of one metal"
            yield stop("weld.metals", where, what, remedy)
        elif pair == {"steel", "stainless"}:
            what = "stainless to carbon steel needs an over-alloyed filler, and the carbon steel beside it rusts first"
            remedy = (
                "filler 23 12 L (309L) of ISO 14343, low heat input, coat the seam and 50 mm of the stainless beside it"
            )
            yield caution("weld.metals", where, what, remedy)
        known = [t for t in (thickness(made, n) for n in (w.a, w.b)) if t is not None]
        if len(known) == 2 and max(known) > UNEVEN * min(known):
            what = f"{min(known):g} mm on {max(known):g} mm: the thin one melts away before the thick one fuses"
            remedy = "a doubler between, or heat on the thick one and a weld in short runs"
            yield caution("weld.uneven", where, what, remedy, max(known) / min(known), UNEVEN, unit="")


def zinc(made: Assembled) -> Iterator[Finding]:
    """Name the welds where zinc boils under the arc."""
    for w in made.assembly.welds:
        coated = [n for n in (w.a, w.b) if _coated(made, n)]
        if coated:
            verb = "is" if len(coated) == 1 else "are"
            what = f"{' and '.join(coated)} {verb} zinc coated: the fume is poisonous and blows holes into the seam"
            remedy = "grind the zinc off 20 mm each side, extraction and a mask, zinc-rich primer afterward"
            yield caution("weld.zinc", f"{w.a} and {w.b}", what, remedy)


def groups(welds: tuple[Weld, ...]) -> dict[str, tuple[str, ...]]:
    """Return for each welded member its whole weldment."""
    found = {n: {n} for w in welds for n in (w.a, w.b)}
    for w in welds:
        whole = found[w.a] | found[w.b]
        for n in whole:
            found[n] = whole
    order = list(found)
    return {n: tuple(sorted(g, key=order.index)) for n, g in found.items()}


def thickness(made: Assembled, name: str) -> float | None:
    """Return the thickness of a member's sheet or wall, mm; None where it is not known."""
    thing = made.assembly.member(name).thing
    if isinstance(thing, Bought):
        return thing.wall
    return made.made_of(name).thickness


def metal(made: Assembled, name: str) -> str:
    """Return "steel", "stainless" or "aluminium"; any other material by its own name."""
    thing = made.assembly.member(name).thing
    if isinstance(thing, Bought):
        return thing.stuff
    return FUSED[made.made_of(name).sheet.material.family]


def _coated(made: Assembled, name: str) -> bool:
    thing = made.assembly.member(name).thing
    if isinstance(thing, Bought):
        return "zinc" in f"{thing.name} {thing.standard}" or "galvani" in f"{thing.name} {thing.standard}"
    return galvanised(made.made_of(name))


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
