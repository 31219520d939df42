"""Rule of holes that are given by diameter and by size: whether the two suit each other."""

from __future__ import annotations

from collections.abc import Iterator

from tinbook.errors import OutOfRange, UnknownName
from tinbook.finding import Finding, caution
from tinbook.making.made import Made
from tinbook.part.features import Hole, HoleGrid, HoleRow

OFF = 0.05
"""mm: tolerance of an insert's hole; beyond it the insert turns or does not go in (own proposal)."""


def threads(made: Made) -> Iterator[Finding]:
    """Check holes that are given by diameter and by size: a bolt must pass, an insert must hold.

    A hole given by its size alone has the table's diameter already.
    """
    fixings, t = made.shop.fixings, made.thickness
    for f in made.part.holes:
        if f.size is None or f.dia is None or f.use not in ("bolt", "nut insert"):
            continue
        where = f"hole {f.name!r}" if isinstance(f, Hole) else f"holes {f.name!r}"
        try:
            if f.use == "bolt":
                close = fixings.clearance(f.size, "fine")
                if f.dia < close - 1e-9:
                    source = next(row.source for row in fixings.clearances if row.size == f.size)
                    yield _caution(f, where, f"too small for {f.size} to pass", close, source)
            else:
                row = fixings.nut_insert(f.size, t)
                if abs(f.dia - row.hole) > OFF + 1e-9:
                    fault = "too small for" if f.dia < row.hole else "too large to hold"
                    yield _caution(f, where, f"{fault} the insert {row.key}", row.hole, row.source)
        except (UnknownName, OutOfRange) as lost:
            what = f"no table says whether its diameter suits {f.size} ({lost})"
            yield caution("hole.thread", where, what, "a size of the shop's tables, or add it there", source="own data")


def _caution(f: Hole | HoleRow | HoleGrid, where: str, what: str, limit: float, source: str) -> Finding:
    remedy = f"a diameter of {limit:g} mm, or leave it out: the table gives it"
    return caution("hole.thread", where, what, remedy, f.dia, limit, source=source)
