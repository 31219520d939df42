"""The bend of each fold of a part on its tool: a plain fold, a hem or a curl."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tinbook.errors import OutOfRange
from tinbook.finding import Finding, Refused
from tinbook.making.bendrules import GUESSED_K, coupon_of
from tinbook.making.bends import Bend, bend_for, bend_on, hem_bend, k_factor
from tinbook.making.tree import BentFold, bent_fold
from tinbook.part.features import Fold
from tinbook.part.part import Part
from tinbook.shop.shop import Shop

if TYPE_CHECKING:
    from tinbook.shop.material import Sheet


def bend_of(
    fold: Fold,
    part: Part,
    shop: Shop,
    sheet: Sheet,
    findings: list[Finding],
    same: dict[tuple[object, ...], Bend],
    without: frozenset[str],
) -> BentFold:
    """Return a fold with its tool's numbers; `same` stores bends by what determines them, so that like folds share one."""
    t = sheet.thickness
    angle = fold.angle
    field = f"fold {fold.name!r}"
    try:
        if fold.hem is not None:
            bend = _hem(fold, part, shop, sheet, field, without)
            angle = bend.angle
        elif fold.curl:
            assert fold.radius is not None
            bend = curl_bend(shop, sheet, angle=angle, radius=fold.radius, rule=fold.rule, field=field)
        else:
            length = _length(fold, part)
            wanted = (angle, fold.tool, fold.radius, fold.rule, min(fold.leg), length)
            known = same.get(wanted)
            bend = known or bend_for(
                shop,
                sheet,
                angle=angle,
                tool=fold.tool,
                radius=fold.radius,
                rule=fold.rule,
                leg=min(fold.leg),
                length=length,
                field=field,
                without=without,
            )
            if not bend.notes:  # notes name their fold
                same[wanted] = bend
    except OutOfRange as wrong:
        raise Refused("fold.no_tool", field, str(wrong), "another sheet, tool or radius, or a supplier") from None
    findings.extend(bend.notes)
    return bent_fold(fold, bend, angle, t)


def _length(fold: Fold, part: Part) -> float | None:
    if fold.panel != "base":
        return None
    whole = part.base.edge(fold.edge).length
    return (whole if fold.stop is None else fold.stop) - (fold.start or 0.0)


def _hem(fold: Fold, part: Part, shop: Shop, sheet: Sheet, field: str, without: frozenset[str]) -> Bend:
    assert fold.hem is not None
    t, kind, gap, length = sheet.thickness, fold.hem.kind, fold.hem.gap, _length(fold, part)
    if kind != "teardrop":
        return hem_bend(shop, sheet, kind, gap, tool=fold.tool, length=length, field=field, without=without)
    gap = 2.0 * t if gap is None else gap
    straight = min(fold.leg) - gap / 2 - t
    if straight <= gap / 2:
        what = "the return of a teardrop hem is too short for its tip to reach the sheet"
        remedy = f"a return longer than {gap + t:.2f} mm, or a smaller gap"
        raise Refused("fold.hem", field, what, remedy, min(fold.leg), gap + t)
    return hem_bend(shop, sheet, kind, gap, leg=straight, tool=fold.tool, length=length, field=field, without=without)


def curl_bend(
    shop: Shop, sheet: Sheet, *, angle: float, radius: float, rule: str | None = None, field: str = "curl"
) -> Bend:
    """Work out the bend of a curl: the sheet follows a bar of its inside radius, by hand or on rolls.

    Parameters
    ----------
    shop, sheet
        Who forms it, from which sheet.
    angle : float
        Turned through, more than 0 to 330 degrees.
    radius : float
        Of the bar, mm.
    rule : str, optional
        One of `RULES`; else the shop's typed K, else DIN 6935 (K = 0.5 from five thicknesses on).
    field : str
        Name of the curl for messages.

    Returns
    -------
    Bend
        Without a tool. The operator's line is the tangent line, where the bar is laid on.
    """
    notes: list[Finding] = []
    coupon_of(shop, sheet, None, rule, field)  # no tool, so no strips of it: refuses that rule
    k, used = k_factor(shop, sheet, None, rule, angle, radius, field, notes)
    turn, guess = math.radians(angle), GUESSED_K[used]
    band = turn * guess * sheet.thickness, f"no coupons: K ±{guess:g} round a bar (own proposal)"
    allowance = turn * (radius + k * sheet.thickness)
    return bend_on(None, shop, used, band, notes, radius=radius, allowance=allowance, k=k, angle=angle, mark_at=0.0)
