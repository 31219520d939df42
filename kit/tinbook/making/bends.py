"""Which tool makes a fold, which radius it gives, and whose numbers its allowance comes from.

This is the only place where a bend allowance is decided.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from typing import Any, Final

from tinbook.calc import bending
from tinbook.errors import BadValue, UnknownName
from tinbook.finding import NOTHING, Finding, Findings, caution
from tinbook.making.bendrules import (
    AIR,
    COUPON,
    DIN,
    HANDBOOK,
    HEM,
    HEM_BAND,
    RULES,
    SHOP_K,
    TYPED,
    coupon_notes,
    coupon_of,
    plus_minus,
    typed_notes,
)
from tinbook.making.tools import choose_tool, named_tool, own_radius
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop
from tinbook.shop.tools import Tool
from tinbook.shop.tools.strokes import HEM_START
from tinbook.tolerances import HEM_GAP
from tinbook.units import angle as degrees
from tinbook.units import length as millimetres
from tinbook.units import positive
from tinbook.values import dataclass

BY_EYE: Final = 0.5
"""mm: how far a fold line misses its place that is set by eye on a mark (own proposal)."""
HEMS: Final = ("closed", "open", "teardrop")
SOURCE: Final = {
    COUPON: "own data",
    TYPED: "own data",
    SHOP_K: "own data",
    AIR: "air-bend catalogue",
    DIN: "DIN 6935",
    HANDBOOK: "Machinery's Handbook",
    HEM: "hem rule",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """One fold's tool, radius and allowance.

    Parameters
    ----------
    radius : float
        Inside radius, mm.
    allowance : float
        Width of the bend strip in the flat, mm.
    k : float or None
        K-factor of the allowance; None for a folded-flat hem.
    rule : str
        Whose numbers, one of `RULES` or a hem's.
    tool, process, who : str
        Key of the tool ("" if no tool of the shop does it), "air", "bottom", "fold" or "", and who makes it.
    source : str
        Key of the sources registry for the rule.
    plus_minus : float or None
        Half width of the 95 % band of the deduction, mm: what the outside legs of one fold together may be off.
    alone : float
        The part of that band that each fold has for itself, mm; the rest all folds of the tool share.
    plus_minus_from : str
        What that band rests on: test strips, or the guess that serves without them.
    notes : Findings
        What was noticed while choosing.
    angle : float
        Angle turned through, degrees.
    mark_at : float
        Where the operator's line lies, mm in the flat from the tangent line of the panel that stays:
        the middle of the strip under a punch, the sight line one inside radius out at a folder's nose bar.
    line_error : float
        How far the fold line misses its place, mm: the tool's; by eye on a mark where there is none (own proposal).
    """

    radius: float
    allowance: float
    k: float | None = None
    rule: str = ""
    tool: str = ""
    who: str = ""
    process: str = ""
    source: str = "own data"
    plus_minus: float | None = None
    alone: float = 0.0
    plus_minus_from: str = ""
    notes: Findings = NOTHING
    angle: float = 90.0
    mark_at: float = math.nan
    line_error: float = BY_EYE

    def __post_init__(self) -> None:
        if math.isnan(self.mark_at):
            object.__setattr__(self, "mark_at", self.allowance / 2.0)


def bend_on(
    tool: Tool | None, shop: Shop, rule: str, band: tuple[float, str], notes: Iterable[Finding], **numbers: Any
) -> Bend:
    """Return the bend of a fold on a tool, on none where it is made by hand; `numbers` are fields of `Bend`."""
    if tool is not None:
        numbers |= {"tool": tool.key, "process": tool.process, "line_error": tool.line_error}
    return Bend(
        rule=rule,
        source=SOURCE[rule],
        who=shop.name if tool is None else tool.who,
        plus_minus=band[0],
        plus_minus_from=band[1],
        notes=Findings(notes),
        **numbers,
    )


def bend_for(
    shop: Shop,
    sheet: Sheet,
    *,
    angle: Any,
    tool: str | None = None,
    radius: Any = None,
    rule: str | None = None,
    leg: Any = None,
    length: Any = None,
    field: str = "fold",
    without: Collection[str] = (),
) -> Bend:
    """Choose the tool of a fold and work out its radius and allowance.

    The tool, by this rule:

    1. the tool that the part names;
    2. otherwise, of the tools that take the sheet's nominal thickness, the fold's length and
       its angle, and whose shortest leg is not longer than `leg` (tools whose radius would crack
       the material only if no other is left): if the part insists on a radius, the tool whose own radius is nearest to it, ties by the
       order below; else the first process of the shop's `process_order` that has one, and in it
       the die or block whose opening is nearest to the recommended multiple of the thickness
       (of two equally near the smaller), or the shop's first folder;
    3. if the leg is too short for every one of them, as under 2 without the leg, but the tool with
       the shortest leg (the check of legs will speak);
    4. if the angle is beyond all of them, the tool that turns it by 135 degrees, from where it is
       closed over a bar (a finding says so);
    5. if no tool takes it, the strongest one, with a finding that stops.

    `make` asks once more where the tools so chosen cannot fold the whole part (`make.machines`), and leaves out
    the process that cannot.

    Thickness limits of tools are meant for nominal thickness, so a micrometer reading never
    changes the tool.

    The allowance, by the first rule that applies: the shop's test strips of the sheet on the tool
    (their radius too, unless the part insists on one), its typed deduction for sheet and tool
    (through its K where the fold has another angle), the shop's typed K, K = 0.41 if air bent,
    DIN 6935. `rule` insists on one. DIN 6935 neglects the deduction below 15 degrees turned;
    here its k serves there too.

    Parameters
    ----------
    shop, sheet
        On whose tools, from which sheet.
    angle : float or text
        Angle turned through, more than 0 to 180 degrees.
    tool : str, optional
        Key of the tool to use.
    radius : float or text, optional
        Inside radius that the part insists on.
    rule : str, optional
        One of `RULES`.
    leg : float, optional
        Outside length of the shorter straight leg, mm.
    length : float, optional
        Length of the fold, mm.
    field : str
        Name of the fold for messages.
    without : collection of str
        Processes that are not tried: `make` leaves out what cannot fold the whole part.

    Returns
    -------
    Bend

    Raises
    ------
    BadValue, UnknownName
        An unusable angle, radius or rule, a tool that the shop has not.
    """
    turned = degrees(angle, f"{field} angle")
    if not 0.0 < turned <= 180.0:
        raise BadValue(f"{field} angle", angle, "more than 0 to 180 degrees turned")
    wanted = None if radius is None else positive(radius, f"{field} radius")
    leg_mm = None if leg is None else positive(leg, f"{field} leg")
    length_mm = None if length is None else positive(length, f"{field} length")
    notes: list[Finding] = []
    chosen = named_tool(shop, sheet, tool, turned, length_mm, field, notes) if tool is not None else None
    if tool is None:
        chosen = choose_tool(shop, sheet, turned, wanted, leg_mm, length_mm, field, notes, without)
    t = sheet.thickness
    coupon = coupon_of(shop, sheet, chosen, rule, field)
    r = wanted if wanted is not None else coupon.radius if coupon is not None else own_radius(chosen, sheet)
    if wanted is not None and chosen is not None:
        own = coupon.radius if coupon is not None else own_radius(chosen, sheet)
        notes += _radius_note(chosen, own, wanted, field)
    if coupon is not None:
        notes += coupon_notes(coupon, turned, field)
        k, used = coupon.k, COUPON
    else:
        k, used = k_factor(shop, sheet, chosen, rule, turned, r, field, notes)
    allowance = bending.bend_allowance(turned, r, k, t)
    alone = coupon.scatter if coupon is not None else 0.0
    mark_at = chosen.mark_at(r, allowance) if chosen else allowance / 2.0
    numbers = {"radius": r, "allowance": allowance, "k": k, "angle": turned, "alone": alone, "mark_at": mark_at}
    return bend_on(chosen, shop, used, plus_minus(turned, r, t, used, coupon, sheet), notes, **numbers)


def hem_bend(
    shop: Shop,
    sheet: Sheet,
    kind: str,
    gap: Any = None,
    *,
    leg: Any = None,
    tool: str | None = None,
    length: float | None = None,
    field: str = "hem",
    without: Collection[str] = (),
) -> Bend:
    """Work out the bend of a hem.

    closed: folded flat, its skins `HEM_GAP` apart in the model; strip 2 (r + t) - 0.43 t.
    open: a half turn round half the gap, strip pi (r + K t).
    teardrop: turned past 180 degrees until the tip of the return comes down to `HEM_GAP`.

    Parameters
    ----------
    shop, sheet
        On whose tools, from which sheet.
    kind : {"closed", "open", "teardrop"}
        Form of the hem.
    gap : float or text, optional
        Inside width, mm; open: the thickness that it shall hook over, the largest that this sheet may have if not given;
        teardrop: inside diameter, one thickness if not given; not for closed.
    leg : float or text, optional
        Straight part of a teardrop's return, from the tangent line to its tip, mm; four thicknesses if not given.
    tool : str, optional
        Tool that starts the hem.
    length : float, optional
        Length of the hem, mm.
    field : str
        Name of the hem for messages.
    without : collection of str
        Processes that are not tried.

    Returns
    -------
    Bend
        With K from DIN 6935 for an open or teardrop hem, None for a closed one.
    """
    if kind not in HEMS:
        raise UnknownName(f"{field} kind", kind, HEMS)
    t = sheet.thickness
    notes: list[Finding] = []
    if tool is not None:
        chosen: Tool | None = named_tool(shop, sheet, tool, HEM_START, length, field, notes)
    else:
        quiet: list[Finding] = []
        chosen = choose_tool(shop, sheet, HEM_START, None, None, length, field, quiet, without)
        if quiet:
            chosen, long = None, "" if length is None else f" {length:g} mm long"
            what = f"no tool of {shop.name} turns {sheet.key} by {HEM_START:g} degrees to start a hem{long}"
            remedy = "start it by hand over a bar, name a tool, or have it folded elsewhere"
            notes.append(caution("hem.tool", field, what, remedy))
    if kind == "closed":
        width = 0.0 if gap is None else millimetres(gap, f"{field} gap")
        if not 0.0 <= width <= t / 4.0:
            raise BadValue(f"{field} gap", gap, f"0 to {t / 4:g} mm for a closed hem; a wider one is open")
        r = min(max(width, HEM_GAP), t / 2.0) / 2.0
        k, used, turned = None, HEM, 180.0
        allowance = bending.closed_hem_allowance(r, t)
    else:
        wide = sheet.thickest if kind == "open" else t
        r = (wide if gap is None else positive(gap, f"{field} gap")) / 2.0
        straight = 4.0 * t if leg is None else positive(leg, f"{field} leg")
        turned = 180.0 if kind == "open" else bending.teardrop_angle(r, straight, min(HEM_GAP, r))
        k, used = _din_k(r, t, field, notes), DIN
        allowance = bending.bend_allowance(turned, r, k, t)
    if used == HEM:
        band = HEM_BAND * t, f"no coupons: {HEM_BAND:g} t for a hem folded flat (own proposal)"
    else:
        band = plus_minus(min(turned, 180.0), r, t, used, None, sheet)
    return bend_on(chosen, shop, used, band, notes, radius=r, allowance=allowance, k=k, angle=turned)


def _radius_note(tool: Tool, own: float, wanted: float, field: str) -> Iterable[Finding]:
    if abs(own - wanted) <= 0.1 * wanted:
        return ()
    what = f"the part insists on an inside radius that tool '{tool.key}' does not give"
    remedy = f"leave the radius to the tool ({own:.3g} mm), or name a tool that makes it"
    return (caution("bend.radius", field, what, remedy, wanted, own, source=tool.source),)


def k_factor(
    shop: Shop,
    sheet: Sheet,
    tool: Tool | None,
    rule: str | None,
    angle: float,
    radius: float,
    field: str,
    notes: list[Finding],
) -> tuple[float, str]:
    """Return the K-factor of a fold and the rule that it comes from."""
    t = sheet.thickness
    key = tool.key if tool else ""
    typed, shop_k = shop.deduction_for(sheet.key, key), shop.k_for(sheet.key, key)
    if rule is not None and rule not in RULES:
        raise UnknownName(f"{field} rule", rule, RULES)
    if rule == TYPED and typed is None:
        raise BadValue(f"{field} rule", rule, f"a shop with a typed deduction for '{sheet.key}' on '{key}'")
    if rule == SHOP_K and shop_k is None:
        raise BadValue(f"{field} rule", rule, f"a shop with a typed K for '{sheet.key}' on '{key}' or any tool")
    if typed is not None and rule in (None, TYPED):
        k = bending.k_from_deduction(typed.deduction, typed.angle, radius, t)
        notes += typed_notes(k, typed.deduction, typed.angle, angle, radius, t, field)
        if radius + k * t > 0.0:
            return k, TYPED
    if shop_k is not None and rule in (None, SHOP_K):
        return shop_k.k, SHOP_K
    if rule == AIR or (rule is None and tool is not None and tool.usual_k == bending.AIR_BEND_K):
        return bending.AIR_BEND_K, AIR
    if rule == HANDBOOK:
        allowance = bending.handbook_allowance(90.0, radius, t, sheet.material.temper)
        return bending.k_from_allowance(allowance, 90.0, radius, t), HANDBOOK
    return _din_k(radius, t, field, notes), DIN


def _din_k(radius: float, t: float, field: str, notes: list[Finding]) -> float:
    """K of DIN 6935; below its range the K at its end, and said so."""
    ratio = radius / t
    if ratio >= bending.SMALLEST_RATIO:
        return bending.din6935_factor(radius, t) / 2.0
    what = "the inside radius is so sharp that DIN 6935 has no factor; K = 0 is used"
    remedy = "fold a test strip and type in its bend deduction"
    notes.append(caution("bend.rule", field, what, remedy, ratio, bending.SMALLEST_RATIO, "", "DIN 6935"))
    return 0.0
