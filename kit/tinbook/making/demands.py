"""What a fold needs of its tool and machine, and the findings about it: leg and force, each worked out here only."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tinbook.errors import OutOfRange
from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.memo import Memo, remembered

FORCES: Memo[Finding | None] = Memo("finding on the force of a fold")


def bent_length(strip: BendZone) -> float:
    """Length of metal that is bent, mm: openings over the fold do not count."""
    along = ([p[0] for p in r.points] for r in strip.regions)
    return math.fsum(max(x) - min(x) for x in along)


def force_of(made: Made, strip: BendZone) -> float | None:
    """Force to bend a fold, N; None where no formula covers its tool.

    Raises
    ------
    OutOfRange
        Outside the formula's range.
    """
    if not strip.bend.tool:
        return None
    tool = made.shop.tool(strip.bend.tool)
    return tool.force(made.thickness, bent_length(strip), made.sheet.material.tensile_max)


@remembered
def hems_of(made: Made) -> frozenset[str]:
    """Return the names of the folds that are hems."""
    return frozenset(f.name for f in made.part.folds if f.hem is not None)


def leg_finding(made: Made, strip: BendZone) -> Finding | None:
    """Return whether a leg reaches over its tool; None without a tool and for hems.

    Above 90 degrees the leg is measured to the tangent of the bend, as its declaration is.
    """
    if not strip.bend.tool or strip.name in hems_of(made):
        return None
    tool, leg, where = made.shop.tool(strip.bend.tool), min(strip.leg), f"fold {strip.name!r}"
    limit, source = tool.shortest_leg(made.thickness, strip.angle, strip.radius), tool.leg_limit_source
    if leg >= limit - 1e-6:
        return fine("fold.leg", where, f"the leg is long enough for {tool.key}", leg, limit, source=source)
    what = f"the leg is too short for {tool.key}: it slips off before the bend is formed"
    remedy = "a longer leg cut back afterwards, a smaller die, another machine, or a weld"
    return stop("fold.leg", where, what, remedy, leg, limit, source=source)


def short_legs(made: Made) -> Iterator[Finding]:
    """Yield a stop for each leg that is too short for its tool."""
    for s in made.strips:
        f = leg_finding(made, s)
        if f is not None and f.severity == "stop":
            yield f


def force_finding(made: Made, strip: BendZone) -> Finding | None:
    """Return whether a machine has the force for a fold; None without a tool, or where its tool needs no stated force."""
    return FORCES.of(made, lambda: _force_finding(made, strip), strip.name)


def _force_finding(made: Made, strip: BendZone) -> Finding | None:
    where, need, beyond = f"fold {strip.name!r}", None, ""
    try:
        need = force_of(made, strip)
    except OutOfRange as error:
        beyond = str(error)
    if need is None and not beyond:
        return None
    tool = made.shop.tool(strip.bend.tool)
    machine = made.shop.machine(tool.machine)
    if machine.force is None:
        what = "the shop file states no force for it, so its capacity for these folds cannot be checked"
        remedy = "state its force in the shop file, or ask its owner"
        return caution("fold.force", f"machine {machine.key!r}", what, remedy, source="own data")
    if need is None:
        what, remedy = (
            f"no formula gives the force here ({beyond})",
            "a die opening of 6 to 12 thicknesses, or ask the machine's maker",
        )
        return caution("fold.force", where, what, remedy, source=tool.force_source)
    numbers = (need / 1e3, machine.force / 1e3, "kN", tool.force_source)
    if need <= machine.force:
        return fine("fold.force", where, f"the required force is within the capacity of {machine.title}", *numbers)
    what, remedy = (
        f"the required force exceeds the capacity of {machine.title}",
        tool.weaker,
    )
    return stop("fold.force", where, what, remedy, *numbers)
