"""Whose bend numbers are used: their names, what test strips give, and how far a fold may be off."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from tinbook.calc import bending
from tinbook.calc.coupons import TOOL_RADIUS, deduction_band
from tinbook.errors import BadValue
from tinbook.finding import Finding, caution, fine, stop
from tinbook.shop.coupons import BendCoupon
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop
from tinbook.shop.tools import Tool

COUPON: Final = "coupon"
TYPED: Final = "typed deduction"
SHOP_K: Final = "shop K"
AIR: Final = "air bend K 0.41"
DIN: Final = "DIN 6935"
HANDBOOK: Final = "handbook"
HEM: Final = "hem, 0.43 t"
RULES: Final = (COUPON, TYPED, SHOP_K, AIR, DIN, HANDBOOK)
"""Bend rules that a part may insist on; without that the first of the first five that applies."""

GUESSED_K: Final = {TYPED: 0.04, SHOP_K: 0.04, AIR: 0.06, DIN: 0.08, HANDBOOK: 0.08}
"""95 % half width of K without test strips, by rule (own proposal: published K of one case differ by so much)."""

HEM_BAND: Final = 0.3
"""95 % half width of a folded-flat hem's strip, part of the thickness (own proposal)."""

BEYOND: Final = 20.0
"""Degrees beyond the angles of the strips from which a coupon is a guess."""


def coupon_of(shop: Shop, sheet: Sheet, tool: Tool | None, rule: str | None, field: str) -> BendCoupon | None:
    """Return the test strips that serve, None where another rule is wanted or none was folded."""
    found = shop.coupon_for(sheet.key, tool.key if tool else "")
    if rule == COUPON and found is None:
        listed = ", ".join(f"{c.sheet} on {c.tool}" for c in shop.coupons) or "none yet"
        raise BadValue(
            f"{field} rule", rule, f"test strips of '{sheet.key}' on '{tool.key if tool else ''}'; there are: {listed}"
        )
    return found if rule in (None, COUPON) else None


def coupon_notes(coupon: BendCoupon, angle: float, field: str) -> Iterable[Finding]:
    """Say so when an angle lies far from those of the strips."""
    low, high = coupon.angle_min, coupon.angle_max
    if low - BEYOND <= angle <= high + BEYOND:
        return
    spread = f"{low:g}" if math.isclose(low, high) else f"{low:g} to {high:g}"
    what = f"the test strips were folded to {spread} degrees; radius and K are extrapolated to {angle:g}"
    remedy = f"fold strips to about {angle:g} degrees too"
    yield caution("bend.coupon", field, what, remedy, angle, low if angle < low else high, "deg", "own data")


def plus_minus(
    angle: float, radius: float, t: float, rule: str, coupon: BendCoupon | None, sheet: Sheet | None = None
) -> tuple[float, str]:
    """Return the 95 % half width of a fold's deduction, mm, and what it rests on.

    A sheet that was not measured adds what its thickness may be off; strips of the same sheet have that in their scatter.
    """
    band, why = _plus_minus(angle, radius, t, rule, coupon)
    allowed = sheet.tolerance if sheet is not None and sheet.measured is None and coupon is None else None
    if allowed is None or rule == TYPED:
        return band, why
    more = _by_thickness(angle, radius, t, allowed.plus_minus)
    return math.hypot(band, more), f"{why}; thickness ±{allowed.plus_minus:.2g} ({allowed.source}), not measured"


@lru_cache(maxsize=1024)  # a part has few kinds of folds, and a slider makes it again and again
def _by_thickness(angle: float, radius: float, t: float, thicker: float) -> float:
    """Return how much larger the deduction of a thicker sheet is, mm."""
    now, then = (bending.bend_deduction(angle, radius, bending.AIR_BEND_K, t + more) for more in (0.0, thicker))
    return then - now


def _plus_minus(angle: float, radius: float, t: float, rule: str, coupon: BendCoupon | None) -> tuple[float, str]:
    if coupon is not None:
        band = deduction_band(
            angle,
            t,
            radius_band=coupon.radius_band,
            k_band=coupon.k_band,
            correlation=coupon.correlation,
            scatter=coupon.scatter,
            one_angle=coupon.one_angle,
        )
        return band, f"{coupon.strips} coupons"
    guess = GUESSED_K[rule]
    if rule == TYPED:  # whatever the radius, the deduction is what was typed
        return deduction_band(angle, t, radius_band=0.0, k_band=guess), f"no coupons: K ±{guess:g} (own proposal)"
    band = deduction_band(angle, t, radius_band=TOOL_RADIUS * radius, k_band=guess)
    return band, f"no coupons: K ±{guess:g}, radius ±{100 * TOOL_RADIUS:g} % (own proposal)"


def typed_notes(
    k: float, deduction: float, found_at: float, angle: float, radius: float, t: float, field: str
) -> Iterable[Finding]:
    """Judge a typed deduction by the K that it means."""
    if radius + k * t <= 0.0:
        what = f"the typed deduction of {deduction:g} mm at {found_at:g} degrees leaves no metal in the bend"
        remedy = "measure the test strip again: flat = sum of the outside legs less the deduction"
        most = 2.0 * bending.outside_setback(found_at, radius, t)
        yield stop("bend.deduction", field, what, remedy, deduction, most, source="own data")
        return
    if not 0.2 <= k <= 0.6:
        what = f"the typed deduction of {deduction:g} mm means K = {k:.2f}, outside the usual range of sheet metal"
        remedy = "measure radius and test strip again"
        yield caution("bend.deduction", field, what, remedy, k, 0.2 if k < 0.2 else 0.6, "")
    if abs(angle - found_at) > 1e-9:
        what = f"the deduction typed at {found_at:g} degrees is used at {angle:g} degrees by its K = {k:.3f}"
        yield fine("bend.deduction", field, what, source="geometry")
