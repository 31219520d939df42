"""Rules of the blank: sheet and cutter, marks, and whether a flat pan follows the place that was measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import shapely

from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.flat import polygons_of
from tinbook.making.made import Made
from tinbook.plane.arrays import rows
from tinbook.shop.cutting import fits_on

_BESIDE: Final = 0.2
"""mm that a mark may extend past an edge, for rounding and for lines that end on the edge."""


SAME_THICKNESS: Final = 0.005
"""mm: a micrometer reads hundredths."""


def drawn_thickness(made: Made) -> Iterator[Finding]:
    """Check that the sheet has the thickness for which the part's sizes were set out."""
    drawn = made.part.drawn_thickness
    if drawn is not None and abs(drawn - made.thickness) > SAME_THICKNESS:
        what = f"sizes were set out for {drawn:g} mm, the shop's sheet measures {made.thickness:g} mm"
        remedy = f"set it out again with the sheet itself: sheet=shop.sheet_by_key({made.sheet.key!r})"
        yield caution(
            "blank.thickness", f"sheet {made.sheet.key}", what, remedy, made.thickness, drawn, source="geometry"
        )


def measured_thickness(made: Made) -> Iterator[Finding]:
    """Check that a measured thickness is one that the sheet's standard allows."""
    sheet, allowed = made.sheet, made.sheet.tolerance
    if sheet.measured is None or allowed is None:
        return
    off = sheet.measured - sheet.nominal
    if abs(off) > allowed.plus_minus + SAME_THICKNESS:
        what = f"its measured thickness is {abs(off):.2f} mm {'above' if off > 0 else 'below'} the nominal {sheet.nominal:g} mm"
        remedy = (
            "measure again, away from the edge and without burr or paint; else it is another sheet than it is called"
        )
        yield caution(
            "blank.measured", f"sheet {sheet.key}", what, remedy, abs(off), allowed.plus_minus, source=allowed.source
        )


def size(made: Made) -> Iterator[Finding]:
    """Check that the blank fits on a stock sheet and on the cutter's bed."""
    if made.flat is None:
        return
    w, h = made.flat.size
    sizes = made.sheet.sizes
    fits = [s for s in sizes if fits_on(s, w, h)]
    largest = max(sizes, key=lambda s: s[0] * s[1])
    bed = made.shop.cutter_for(made.sheet)
    if not fits:
        what = f"{w:.0f} x {h:.0f} mm does not fit on the largest stock sheet, {largest[0]:g} x {largest[1]:g} mm"
        yield stop(
            "blank.sheet",
            "blank",
            what,
            "split the part, or find a larger sheet",
            *_over(w, h, largest, made.sheet.source),
        )
    elif not fits_on(bed.bed, w, h):
        what = f"{w:.0f} x {h:.0f} mm does not fit on the bed of {bed.title}"
        yield stop("blank.bed", "blank", what, "another cutter, or split the part", *_over(w, h, bed.bed, bed.source))
    else:
        small = min(fits, key=lambda s: s[0] * s[1])
        what = f"fits on a sheet of {small[0]:g} x {small[1]:g} mm"
        yield fine("blank.sheet", "blank", what, max(w, h), max(small), source=made.sheet.source)


def _over(w: float, h: float, room: tuple[float, float], source: str) -> tuple[float, float, str, str]:
    """Return the side that is too long, the room for it, unit and source: the long side if it is too long, else the short."""
    side = max if max(w, h) > max(room) else min
    return side(w, h), side(room), "mm", source


def marks(made: Made) -> Iterator[Finding]:
    """Check that texts and etched lines lie on the blank: beside it the cutter would mark its own bed."""
    flat = made.flat
    asked = [m for m in flat.marks if m.kind in ("text", "match")] if flat is not None else []
    if flat is None or not (made.part.texts or made.part.etches):
        return
    ground = polygons_of([flat.outer], 0.1)[0].buffer(_BESIDE)
    shapely.prepare(ground)
    for m in asked:
        if not shapely.contains_properly(ground, shapely.linestrings(rows(m.edges)[:, :4].reshape(-1, 2, 2))).all():
            where = f"{'text' if m.kind == 'text' else 'etched line'} {m.label!r}"
            remedy = "move it onto its panel, or make it smaller"
            yield caution("blank.mark", where, "it does not lie wholly on the blank", remedy, source="geometry")


def outline(made: Made) -> Iterator[Finding]:
    """Repeat what was found while the outlines were measured, or the solid was unfolded, from which the part is drawn."""
    yield from dict.fromkeys(made.part.base.findings)


def formed(made: Made) -> Iterator[Finding]:
    """Name features that the part only outlines, so that somebody makes them."""
    told: dict[str, list[str]] = {}
    for e in made.part.etches:
        if e.note:
            told.setdefault(e.note, []).append(e.name)
    for note, names in told.items():
        where = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
        what = f"{note}: neither the blank nor the folds make it; only its outline is shown"
        remedy = "form, press in or weld on what belongs there, or take the line out"
        yield caution("blank.formed", where, what, remedy, source="geometry")


def follows(made: Made, fit: Any) -> Iterator[Finding]:
    """Check that a flat pan can follow the lip: screws pull it down by about one thickness.

    Parameters
    ----------
    made : Made
        The pan.
    fit : plane through measured points
        Its `out_of_flat` is the worst distance of a point, mm.
    """
    limit, out_of_flat = made.thickness, float(fit.out_of_flat)
    if out_of_flat <= limit:
        what = "a flat pan follows the opening"
        yield fine("blank.out_of_flat", "measured opening", what, out_of_flat, limit, source="own proposal")
    else:
        what = "the opening is further out of flat than screws pull a flat pan down"
        remedy = "dress the lip, fold the pan in two facets, or leave the edge long and scribe it"
        yield caution("blank.out_of_flat", "measured opening", what, remedy, out_of_flat, limit, source="own proposal")
