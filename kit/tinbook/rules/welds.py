"""Is a weld right for the metal: throat against thickness, metals that join, thin on thick, zinc."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from tinbook.finding import Finding
from tinbook.making.assembled import Assembled
from tinbook.part.assembly import Weld
from tinbook.part.bought import Bought
from tinbook.route.finishing import galvanised

MOST: Final = 0.7
"""Largest throat over the thinner member's thickness (DIN 18800-1 element 519, from memory)."""
SLACK: Final = 0.05
"""mm: throats are stated to a tenth."""
UNEVEN: Final = 4.0
"""Thick over thin from which the thin one melts away before the thick one takes (common practice)."""
STRUCTURAL, LEAST = 4.0, 3.0
"""mm: EN 1993-1-8 4.1 starts at this thickness; from there on 4.5.2 wants throats of this size, on 4 mm too."""

FUSED: Final = {"mild steel": "steel", "structural steel": "steel", "stainless": "stainless", "aluminium": "aluminium"}


def throats(made: Assembled) -> Iterator[Finding]:
    """Hold each throat against the thinner member, and against the thicker one, which draws its heat away."""
    worst, most = 0.0, 0.0
    for w in made.assembly.welds:
        known = [t for t in (thickness(made, n) for n in (w.a, w.b)) if t is not None]
        if not known:
            yield _unknown(w)
            continue
        thin, thick = min(known), max(known)
        limit = max(MOST * thin, LEAST if thin >= STRUCTURAL else 0.0)
        least = min(math.sqrt(thick) - 0.5, limit)
        if thin >= STRUCTURAL:
            least = max(least, LEAST)
        if w.throat > thin + SLACK:
            yield _finding("weld.throat", "stop", w, f"its throat is more than the thinner sheet of {thin:g} mm: it burns through", w.throat, limit, "DIN 18800-1", f"a throat of at most {limit:.1f} mm")  # fmt: skip
        elif w.throat > limit + SLACK:
            yield _finding("weld.throat", "caution", w, f"its throat is more than {MOST:g} of the thinner sheet of {thin:g} mm", w.throat, limit, "DIN 18800-1", f"a throat of at most {limit:.1f} mm")  # fmt: skip
        elif w.throat < least - SLACK:
            clause = "EN 1993-1-8" if least == LEAST else "DIN 18800-1"
            yield _finding("weld.throat", "caution", w, f"its throat is too small for {thick:g} mm: the weld cools too fast to take", w.throat, least, clause, f"a throat of at least {least:.1f} mm, or warm the thick one")  # fmt: skip
        elif w.throat / limit >= worst / (most or 1.0):
            worst, most = w.throat, limit
    if most:
        yield Finding(
            code="weld.throat", severity="fine", where="welds", what="throats suit the sheets that they join",
            value=worst, limit=most, unit="mm", source="DIN 18800-1",
        )  # fmt: skip


def metals(made: Assembled) -> Iterator[Finding]:
    """Refuse metals that cannot be fused to each other; say what others want."""
    for w in made.assembly.welds:
        a, b = metal(made, w.a), metal(made, w.b)
        pair = {a, b}
        if bad := next((n for n, m in ((w.a, a), (w.b, b)) if m not in FUSED.values()), None):
            yield _finding("weld.metals", "stop", w, f"{bad} is no metal that can be welded", remedy="bolt, clamp or bond it")  # fmt: skip
        elif "aluminium" in pair and len(pair) == 2:
            yield _finding("weld.metals", "stop", w, f"aluminium and {(pair - {'aluminium'}).pop()} cannot be fusion welded: the seam is brittle and breaks", remedy="bolt or rivet them with an insulator between, or make both of one metal")  # fmt: skip
        elif pair == {"steel", "stainless"}:
            yield _finding("weld.metals", "caution", w, "stainless to carbon steel needs an over-alloyed filler, and the carbon steel beside it rusts first", remedy="filler 23 12 L (309L) of ISO 14343, little heat, coat the seam and 50 mm of the stainless beside it")  # fmt: skip
        known = [t for t in (thickness(made, n) for n in (w.a, w.b)) if t is not None]
        if len(known) == 2 and max(known) > UNEVEN * min(known):
            yield _finding("weld.uneven", "caution", w, f"{min(known):g} mm on {max(known):g} mm: the thin one melts away before the thick one takes", max(known) / min(known), UNEVEN, "common practice", "a doubler between, or heat on the thick one and a weld in short runs", unit="")  # fmt: skip


def zinc(made: Assembled) -> Iterator[Finding]:
    """Say where zinc boils under the arc."""
    for w in made.assembly.welds:
        coated = [n for n in (w.a, w.b) if _coated(made, n)]
        if coated:
            yield _finding("weld.zinc", "caution", w, f"{' and '.join(coated)} {'is' if len(coated) == 1 else 'are'} zinc coated: its fume is poisonous and blows holes into the seam", remedy="grind the zinc off 20 mm each side, extraction and a mask, zinc-rich primer afterward")  # fmt: skip


def groups(welds: tuple[Weld, ...]) -> dict[str, tuple[str, ...]]:
    """Return for each welded member all that it is welded up with."""
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
    """Return "steel", "stainless" or "aluminium"; what is no metal by its own name."""
    thing = made.assembly.member(name).thing
    if isinstance(thing, Bought):
        return thing.stuff
    return FUSED[made.made_of(name).sheet.material.family]


def _coated(made: Assembled, name: str) -> bool:
    thing = made.assembly.member(name).thing
    if isinstance(thing, Bought):
        return "zinc" in f"{thing.name} {thing.standard}" or "galvani" in f"{thing.name} {thing.standard}"
    return galvanised(made.made_of(name))


def _unknown(w: Weld) -> Finding:
    return _finding("weld.throat", "caution", w, "neither thickness is known, so the throat is held against nothing", remedy="measure the thinner wall: the throat is at most 0.7 of it")  # fmt: skip


def _finding(
    code: str, severity: str, w: Weld, what: str, value: float | None = None, limit: float | None = None,
    source: str = "common practice", remedy: str = "", unit: str = "mm",
) -> Finding:  # fmt: skip
    return Finding(
        code=code, severity=severity, where=f"{w.a} and {w.b}", what=what, value=value, limit=limit,  # type: ignore[arg-type]
        unit=unit if value is not None else "", source=source, remedy=remedy,
    )  # fmt: skip
