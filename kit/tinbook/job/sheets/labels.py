"""Labels of a job: for every part that is cut, and for the offcuts that go to the rack."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.job.nested import JobNest
from tinbook.job.stock.values import NEW, Offcut
from tinbook.write.labels import Label


def part_labels(nest: JobNest, metal: Mapping[str, tuple[str, str]] | None = None) -> tuple[Label, ...]:
    """Return a label for every part that is cut, sheet by sheet.

    Parameters
    ----------
    nest : JobNest
        From `nest_job`.
    metal : dict of str to (str, str), optional
        Heat number and certificate of new sheets, by the name of the plate, as for `booking_of`.

    Raises
    ------
    BadValue
        A traced part on a new sheet whose heat is not given.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    known = {it.blank: it for it in nest.parts}
    given = _given(metal)
    for name in given:
        if name not in nest.used():
            raise UnknownName("metal", name, [n for n in nest.used() if n.startswith(NEW)])
    counts = Counter(p.blank for _, layout in nest.layouts for p in layout.placements)
    done: Counter[str] = Counter()
    out = []
    for number, (group, layout) in enumerate(nest.layouts, 1):
        plate = layout.plate.name
        heat = given.get(plate, ("", ""))[0] if plate.startswith(f"{NEW} ") else nest.stock.of(plate).heat
        if group.traced and not heat:
            raise BadValue(f"metal of '{plate}'", heat, "its heat number: parts on it must be traced")
        for p in layout.placements:
            it = known[p.blank]
            done[p.blank] += 1
            piece = f"{group.sheet}, sheet {number}, piece {done[p.blank]} of {counts[p.blank]}"
            where = ", ".join(filter(None, (f"job {nest.job.number}", it.part.finish)))
            mark = ", ".join(filter(None, (f"rev {it.rev}" if it.rev else "", it.hand)))
            lines = (piece, f"heat {heat}" if heat else "heat not known", where, *([it.title] if it.title else []))
            out.append(Label(number=it.part.number, mark=mark, lines=lines))
    return tuple(out)


def _given(metal: Mapping[str, tuple[str, str]] | None) -> dict[str, tuple[str, str]]:
    """Return heat and certificate by plate; BadValue for anything else."""
    pairs = [] if metal is None else list(metal.items()) if isinstance(metal, Mapping) else [(metal, None)]
    for name, papers in pairs:
        if not isinstance(papers, tuple | list) or len(papers) != 2 or not all(isinstance(t, str) for t in papers):
            raise BadValue(f"metal of '{name}'", papers, "heat number and certificate, by the name of the plate")
    return {str(name): (papers[0], papers[1]) for name, papers in pairs if papers is not None}


def offcut_labels(offcuts: Sequence[Offcut]) -> tuple[Label, ...]:
    """Return a label for each offcut, as `store.book` gives them back with their numbers."""
    if not isinstance(offcuts, list | tuple) or not all(isinstance(o, Offcut) for o in offcuts):
        raise BadValue("offcuts", offcuts, "values of tb.job.Offcut")
    out = []
    for o in offcuts:
        if not o.key:
            raise BadValue("offcut key", o.key, "the number that the store gives it; book the job first")
        long, wide = o.size
        papers = ", ".join(filter(None, (f"heat {o.heat}" if o.heat else "heat not known", o.certificate)))
        where = ", ".join(filter(None, (o.place, f"from {o.origin}" if o.origin else "")))
        out.append(Label(number=o.key, mark=f"offcut {o.sheet}", lines=(f"{long:.0f} x {wide:.0f} mm", papers, where)))
    return tuple(out)
