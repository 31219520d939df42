"""The bend of a curl, which a bar forms and no tool."""

from __future__ import annotations

import math

from tinbook.finding import Finding
from tinbook.making.bendrules import GUESSED_K, coupon_of
from tinbook.making.bends import Bend, bend_on, k_factor
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop


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
