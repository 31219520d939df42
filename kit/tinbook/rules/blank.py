"""Does the blank come out of a sheet, and can a flat pan follow the place that was measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import shapely

from tinbook.finding import Finding
from tinbook.making.flat import polygons_of
from tinbook.making.made import Made
from tinbook.plane.arrays import rows

_BESIDE: Final = 0.2
"""mm that a mark may reach past an edge: rounding, and a line that ends on the edge."""


SAME_THICKNESS: Final = 0.005
"""mm: a micrometer reads hundredths."""


def drawn_thickness(made: Made) -> Iterator[Finding]:
    """Check that the sheet is as thick as the one for which the part's sizes were set out."""
    drawn = made.part.drawn_thickness
    if drawn is not None and abs(drawn - made.thickness) > SAME_THICKNESS:
        yield Finding(
            code="blank.thickness",
            severity="caution",
            where=f"sheet {made.sheet.key}",
            what=f"sizes were set out for {drawn:g} mm, the shop's sheet measures {made.thickness:g} mm",
            value=made.thickness,
            limit=drawn,
            unit="mm",
            source="geometry",
            remedy=f"set it out again with the sheet itself: sheet=shop.sheet_by_key({made.sheet.key!r})",
        )


def size(made: Made) -> Iterator[Finding]:
    """Check that the blank fits a sheet that can be had, and the cutter's bed."""
    if made.flat is None:
        return
    w, h = made.flat.size
    sizes = made.sheet.sizes
    fits = [s for s in sizes if _fits(w, h, s)]
    largest = max(sizes, key=lambda s: s[0] * s[1])
    bed = made.shop.cutter_for(made.sheet)
    if not fits:
        yield Finding(
            code="blank.sheet",
            severity="stop",
            where="blank",
            what=f"{w:.0f} x {h:.0f} mm does not come out of the largest sheet, {largest[0]:g} x {largest[1]:g} mm",
            **_over(w, h, largest),
            unit="mm",
            source=made.sheet.source,
            remedy="split the part, or find a larger sheet",
        )
    elif not bed.fits(w, h):
        yield Finding(
            code="blank.bed",
            severity="stop",
            where="blank",
            what=f"{w:.0f} x {h:.0f} mm does not lie on the bed of {bed.title}",
            **_over(w, h, bed.bed),
            unit="mm",
            source=bed.source,
            remedy="another cutter, or split the part",
        )
    else:
        small = min(fits, key=lambda s: s[0] * s[1])
        yield Finding(
            code="blank.sheet",
            severity="fine",
            where="blank",
            what=f"comes out of a sheet of {small[0]:g} x {small[1]:g} mm",
            value=max(w, h),
            limit=max(small),
            unit="mm",
            source=made.sheet.source,
        )


def _fits(w: float, h: float, sheet: tuple[float, float]) -> bool:
    a, b = sheet
    return (w <= a and h <= b) or (w <= b and h <= a)


def _over(w: float, h: float, room: tuple[float, float]) -> dict[str, float]:
    """Return the side that is too long beside the room for it: the long one if it is, else the short one."""
    side = max if max(w, h) > max(room) else min
    return {"value": side(w, h), "limit": side(room)}


def marks(made: Made) -> Iterator[Finding]:
    """Check that the part's own texts and lines lie on the blank, else nobody reads them and the cutter marks its bed."""
    flat = made.flat
    asked = [m for m in flat.marks if m.kind in ("text", "match")] if flat is not None else []
    if flat is None or not (made.part.texts or made.part.etches):
        return
    ground = polygons_of([flat.outer], 0.1)[0].buffer(_BESIDE)
    shapely.prepare(ground)
    for m in asked:
        if not shapely.contains_properly(ground, shapely.linestrings(rows(m.edges)[:, :4].reshape(-1, 2, 2))).all():
            yield Finding(
                code="blank.mark",
                severity="caution",
                where=f"{'text' if m.kind == 'text' else 'etched line'} {m.label!r}",
                what="it does not lie wholly on the blank",
                source="geometry",
                remedy="move it onto its panel, or make it smaller",
            )


def formed(made: Made) -> Iterator[Finding]:
    """Name what stands within a line of the part and is not made by it."""
    told: dict[str, list[str]] = {}
    for e in made.part.etches:
        if e.note:
            told.setdefault(e.note, []).append(e.name)
    for note, names in told.items():
        yield Finding(
            code="blank.formed",
            severity="caution",
            where=", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else ""),
            what=f"{note}: neither the blank nor the folds make it; its outline is only shown",
            source="geometry",
            remedy="form, press in or weld on what stands there, or take the line out",
        )


def follows(made: Made, fit: Any) -> Iterator[Finding]:
    """Check that a flat pan can follow the lip: it gives about one thickness when screws pull it down.

    Parameters
    ----------
    made : Made
        The pan.
    fit : plane through measured points
        Its `out_of_flat` is the worst distance of a point, mm.
    """
    limit, out_of_flat = made.thickness, float(fit.out_of_flat)
    over = out_of_flat > limit
    yield Finding(
        code="blank.out_of_flat",
        severity="caution" if over else "fine",
        where="measured opening",
        what="the opening is further out of flat than a flat pan is pulled down to"
        if over
        else "a flat pan follows the opening",
        value=out_of_flat,
        limit=limit,
        unit="mm",
        source="own proposal",
        remedy="dress the lip, fold the pan in two facets, or leave the edge long and scribe it" if over else "",
    )
