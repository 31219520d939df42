"""The parameter of a family to change, and its nearest good value, where a part cannot be made as it is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from tinbook.errors import TinbookError
from tinbook.fields import Path
from tinbook.finding import Finding, caution
from tinbook.making.resolve import make
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.part.provenance import Provenance
from tinbook.part.suggest import suggest_change
from tinbook.shop.material import Sheet

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.progress import Progress
    from tinbook.shop.shop import Shop


def parameter(
    provenance: Provenance,
    shop: Shop,
    sheet: str,
    stopped: Callable[[Made], bool],
    said: Iterable[Finding] = (),
    together: Callable[[Assembly], bool] | None = None,
    *,
    coarse: bool = False,
    progress: Progress | None = None,
) -> Iterator[Finding]:
    """Search the family's parameters for the smallest change with which the part can be made.

    Parameters
    ----------
    provenance : Provenance
        The family call of a part, or of an assembly, that cannot be made. Where this process cannot find the family,
        nothing is searched.
    shop : Shop
        On whose tools.
    sheet : str
        Of the part; the shop's other sheets are tried, those of its material first.
    stopped : callable
        Whether anything stops a part that was made.
    said : iterable of Finding
        What stopped it.
    together : callable, optional
        Whether a rule about the whole assembly stops it.
    coarse : bool
        In few large steps: for what takes long to try.
    progress : callable, optional
        Called at each try; what it raises ends the search.

    Yields
    ------
    Finding
        `parameter.nearest`, or `parameter.none` where no value of the family can be made in this shop.
    """
    if provenance.family is None:
        return

    failed = ""

    def works(changes: Mapping[Path, Any]) -> bool:
        nonlocal failed
        if progress is not None:
            progress(1.0, "parameters")
        try:
            thing = provenance.repeat(changes)
            # The part that failed last most likely fails again.
            for part in sorted(_parts(thing), key=lambda part: part.number != failed):
                if stopped(make(part, shop)):
                    failed = part.number
                    return False
            return together is None or not together(thing)
        except TinbookError:
            return False

    found = suggest_change(
        provenance,
        works,
        {"sheet": _sheets(shop, sheet), "tool": [t.key for t in shop.tools]},
        " ".join(f"{f.where} {f.what}" for f in said),
        coarse=coarse,
    )
    if not found:
        what = "no change of its parameters was found that this shop can make"
        remedy = "another shop or a supplier; sheets and tools of this one are named above"
        yield caution("parameter.none", f"{provenance.name} sheet", what, remedy, source="geometry")
        return
    where = " and ".join(f"{k.family} {k.name}" for k in found)
    remedy = ", ".join(f"{k.name} {k.typed(v)}" for k, v in found.items())
    (first, value), *others = found.items()
    if others or first.range is None:
        yield caution("parameter.nearest", where, "values that can be made", remedy, source="geometry")
    else:
        numbers = (float(first.value), float(value), first.range.unit, "geometry")
        yield caution("parameter.nearest", where, "the nearest value that can be made", remedy, *numbers)


def _parts(thing: Any) -> Iterable[Part]:
    if isinstance(thing, Assembly):
        return {id(m.thing): m.thing for m in thing.members if isinstance(m.thing, Part)}.values()
    return (thing,)


def _sheets(shop: Shop, key: str) -> list[Sheet]:
    """Return the shop's sheets, those of the same material and the nearest thickness first."""
    like = next((s for s in shop.sheets if s.key == key), None)
    if like is None:
        return list(shop.sheets)
    return sorted(
        shop.sheets,
        key=lambda s: (s.material.key != like.material.key, abs(s.thickness - like.thickness), s.key),
    )
