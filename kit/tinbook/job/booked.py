"""What a nested job takes from the stock and leaves in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.job.jobfile import job_to_toml
from tinbook.job.nested import JobNest
from tinbook.job.sheets.plan import CutPlan
from tinbook.job.stock.booking import Booking, Take
from tinbook.job.stock.values import NEW, Offcut, StockSheet
from tinbook.plane.loops import Edge, Loop, Move


def booking_of(
    nest: JobNest,
    plans: Sequence[CutPlan] | None = None,
    *,
    place: str = "",
    metal: Mapping[str, tuple[str, str]] | None = None,
) -> Booking:
    """Return what a nested job takes from the stock and leaves in it.

    Parameters
    ----------
    nest : JobNest
        From `nest_job`.
    plans : sequence of CutPlan, optional
        From `nest.plans()`, one for each plate; they say which offcuts are kept.
    place : str
        Where the offcuts go.
    metal : dict of str to (str, str), optional
        Heat number and certificate of new sheets, by the name of the plate.

    Returns
    -------
    Booking

    Raises
    ------
    BadValue
        Plans of another nest; a traced part on new sheet whose heat and certificate are not given.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    plans = nest.plans() if plans is None else tuple(plans)
    plates = [(group, n) for group in nest.groups for n in range(1, len(group.nest.layouts) + 1)]
    if [(p.nest, p.plate) for p in plans] != [(g.nest, n) for g, n in plates]:
        raise BadValue("plans", len(plans), f"the {len(plates)} plans of this nest, as nest.plans() gives them")
    metal = dict(metal or {})
    known = {layout.plate.name for group in nest.groups for layout in group.nest.layouts}
    for name in metal:
        if name not in known:
            raise UnknownName("metal", name, sorted(n for n in known if n.startswith(NEW)))
    number_of = {p.blank: p.part.number for p in nest.parts}
    takes: list[Take] = []
    seen: dict[str, StockSheet | Offcut] = {}
    for (group, _), plan in zip(plates, plans, strict=True):
        plate = plan.layout.plate
        heat, certificate = metal.get(plate.name, ("", ""))
        if not plate.name.startswith(f"{NEW} "):
            row = nest.stock.of(plate.name)
            seen[row.key] = row
            heat, certificate = row.heat, row.certificate
        elif group.traced and not (heat and certificate):
            raise BadValue(
                f"metal of '{plate.name}'",
                (heat, certificate),
                "heat number and certificate of the new sheet: parts on it must be traced",
            )
        counts = Counter(number_of[p.blank] for p in plan.layout.placements)
        leaves = tuple(
            Offcut(
                sheet=group.sheet,
                outline=_at_origin(loop),
                grain=plate.grain,
                origin=f"{nest.job.number}, sheet {plan.number}",
                heat=heat,
                certificate=certificate,
                place=place,
            )
            for loop in plan.offcuts
        )
        takes.append(
            Take(key=plate.name, parts=tuple(counts.items()), leaves=leaves, heat=heat, certificate=certificate)
        )
    return Booking(
        number=nest.job.number,
        title=nest.job.title,
        due=nest.job.due,
        sets=nest.sets,
        text=job_to_toml(nest.job),
        takes=tuple(takes),
        seen=tuple(seen.values()),
    )


def _at_origin(loop: Loop) -> Loop:
    x0, y0, _, _ = loop.box
    move = Move(u=-x0, v=-y0)
    return Loop(tuple(Edge(move(e.start), move(e.end), e.bulge) for e in loop))
