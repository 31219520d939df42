"""Each joint against the rule of its kind: one function a kind, from forces to the part used and the clause.

A function raises where its formula does not hold; the joint then counts as not proved.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from tinbook.calc import fatigue, lugs, spotwelds, welds
from tinbook.errors import TinbookError
from tinbook.shop.fixings import Fixings
from tinbook.space import dot
from tinbook.strength.joints.fixing_rules import bolt_for as bolt_for
from tinbook.strength.joints.fixing_rules import on_bolt, on_insert, on_rivet, on_screw
from tinbook.strength.joints.joining import SMALL, VARIABLE, NotProved, Ways, other_sheet, summed
from tinbook.strength.joints.joining import Joining as Joining
from tinbook.strength.joints.joining import JointUse as JointUse
from tinbook.strength.joints.load import JointLoad
from tinbook.units import figures

CARBON: Final = ("mild steel", "structural steel")
"""Metals that the formulas are for: stainless has EN 1993-1-4, aluminium EN 1999."""
PIN: Final = 0.92
"""A pin as part of its hole, where it is not known: shackles sit so (common practice)."""
LIFTED: Final = 3.0
"""Design factor of pin plates where loads are not well known (ASME BTH-1), the load factor included."""


def used(joint: JointLoad, how: Joining, fixings: Fixings) -> JointUse:
    """Return what a joint uses of what its rule lets it bear.

    Parameters
    ----------
    joint : JointLoad
    how : Joining
    fixings : Fixings
        Tables of the shop: bolts, inserts, screws.

    Returns
    -------
    JointUse
        Not proved outside the range of its rule.
    """
    rule, source, clause = RULES[joint.kind]
    if joint.kind in ("plug weld", "seam") and _thin(joint, how) >= 4.0:
        source, clause = "EN 1993-1-8", "4.5.3.3" + ("" if joint.kind == "seam" else ", 4.3.5")
    try:
        for sheet in filter(None, (joint.first, joint.second)):
            if sheet.family not in CARBON:
                raise NotProved(f"{sheet.grade or 'unknown metal'}: the rule is for carbon steel")
        use, by = max(rule(joint, how, fixings))
    except TinbookError as error:
        return JointUse(joint=joint, use=None, by=str(error), source=source, clause=clause)
    tired = _tired(joint, how) if joint.kind == "seam" and how.cycles is not None else None
    return JointUse(joint=joint, use=use, by=by, source=source, clause=clause, fatigue=tired)


# -- sheets ---------------------------------------------------------------------------------------


def _thin(joint: JointLoad, how: Joining) -> float:
    return min(joint.first.thickness, other_sheet(joint, how).thickness)


def correlation(yields: float) -> float:
    """Return beta_w of a fillet by the yield stress of the steel, MPa (EN 1993-1-8 table 4.1)."""
    return next((b for upto, b in ((235.0, 0.8), (275.0, 0.85), (355.0, 0.9)) if yields <= upto), 1.0)


def _weakest(joint: JointLoad, how: Joining) -> tuple[float, float]:
    """Return the least tensile strength of both sheets and the correlation factor that belongs to them."""
    sheets = (joint.first, other_sheet(joint, how))
    return min(s.tensile for s in sheets), max(correlation(s.yields) for s in sheets)


def _no_pull(joint: JointLoad, shear_resistance: float, how: Joining, why: str) -> Ways:
    """Refuse a pull that no formula covers; return its part of a tested pull where there is one."""
    pull = max(joint.pull, 0.0)
    if pull <= SMALL * shear_resistance:
        return []
    if how.pull_tested is None:
        raise NotProved(f"pulled apart by {figures(pull, 4)} N; {why}")
    return [(how.factor * pull / how.pull_tested, "pull, against the shop's own test")]


# -- rules ----------------------------------------------------------------------------------------

_PEEL: Final = "no code has a formula for a plug or spot weld pulled off; test one and state pull_tested"


def _spot(joint: JointLoad, how: Joining, _fixings: Fixings) -> Ways:
    a, b = joint.first, other_sheet(joint, how)
    thin, thick = sorted((a.thickness, b.thickness))
    nugget = spotwelds.nugget_diameter(thin)
    if joint.kind == "plug weld":
        if a.hole > 12.0 or a.hole < 5.0:
            spotwelds.body_plug_weld(a.hole, thin, thick, a.tensile, math.inf, math.inf)
        nugget = min(a.hole, nugget)
    _apart(joint, 3 * nugget, "EN 1993-1-3 table 8.5")
    tensile, _ = _weakest(joint, how)
    found: Ways = []
    for sheet in (a, b):
        end, edge = min(sheet.end, 6 * nugget), min(sheet.edge, 4 * nugget)
        ways = spotwelds.spot_weld(thin, thick, nugget, tensile, end, edge)
        if sheet.thickness > thin:
            # The end of the thicker sheet is as much stronger as it is thicker.
            ways["end"] *= sheet.thickness / thin
        found += [(how.factor * joint.shear / r, name) for name, r in ways.items()]
    least = how.factor * joint.shear / max(max(found)[0], 1e-30) if joint.shear > 0 else _bears(thin, nugget, tensile)
    return summed(found, _no_pull(joint, least, how, _PEEL))


def _bears(thin: float, nugget: float, tensile: float) -> float:
    return min(spotwelds.spot_weld(thin, thin, nugget, tensile, 3 * nugget, 3 * nugget).values())


def _plug(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    if _thin(joint, how) < 4.0:
        return _spot(joint, how, fixings)
    tensile, beta = _weakest(joint, how)
    bears = spotwelds.plug_weld(joint.first.hole, joint.first.thickness, tensile, beta)
    shear: Ways = [(how.factor * joint.shear / bears, "weld shear")]
    why = "plug welds are not to carry tension (EN 1993-1-8 4.3.5)"
    return summed(shear, _no_pull(joint, bears, how, why))


def _apart(joint: JointLoad, least: float, clause: str) -> None:
    pitch = min(joint.first.pitch, joint.second.pitch if joint.second is not None else math.inf)
    if pitch < least:
        raise NotProved(f"{pitch:.4g} mm to the next one; the rule wants at least {least:.4g} mm ({clause})")


def _seam(joint: JointLoad, how: Joining, _fixings: Fixings) -> Ways:
    thin = _thin(joint, how)
    tensile, beta = _weakest(joint, how)
    square = math.sqrt(max(joint.shear**2 - joint.runs**2, 0.0))
    twist = abs(dot(joint.moment, joint.along))
    sides = 2 if how.both else 1
    if thin >= 4.0:
        a = how.throat or max(0.7 * thin, 3.0)
        bears = sides * welds.fillet_weld(a, joint.length, thin, tensile, beta)
        # The throat in bending counts (4.12): by the couple of two fillets, or elastically across a single one.
        arm = thin + a if how.both else a / 6
        couple = twist / arm / (bears / sides)
        return [(how.factor * (math.hypot(*joint.force) / bears + couple), "throat of the fillet")]
    if joint.tee:
        raise NotProved("one sheet stands on the other below 4 mm; the rule of EN 1993-1-3 is for laps")
    total = max(joint.total, joint.length)
    part = joint.length / total
    end = sides * part * welds.lap_weld_end(total, total, thin, tensile)
    side = sides * part * welds.lap_weld_side(total, joint.width, thin, tensile)
    if abs(joint.pull) > SMALL * end:
        raise NotProved(
            f"{figures(abs(joint.pull), 4)} N square to the sheet on {joint.length:g} mm; the rule is for forces in its plane"
        )
    return [(how.factor * (square / end + joint.runs / side), "sheet beside the fillet")]


def _pin(joint: JointLoad, how: Joining, _fixings: Fixings) -> Ways:
    a = joint.first
    if abs(joint.pull) > SMALL * joint.shear:
        raise NotProved(f"{figures(abs(joint.pull), 4)} N square to the plate; the rule is for a pull in its plane")
    plate = lugs.PinPlate(
        thickness=a.thickness,
        hole=a.hole,
        pin=PIN * a.hole,
        side=min(a.edge, 10 * a.hole) - a.hole / 2,
        end=min(a.end, 10 * a.hole) - a.hole / 2,
        yield_strength=a.yields,
        tensile=a.tensile,
    )
    screen = lugs.screen_pin_plate(plate, how.factor * joint.shear, design_factor=LIFTED / VARIABLE)
    return [(use, what) for what, use, _ in screen.uses]


def _tired(joint: JointLoad, how: Joining) -> float:
    """Return the part of a seam's fatigue range used: membrane and bending of the sheet at the toe, unfactored."""
    assert how.cycles is not None
    t, length = joint.first.thickness, joint.length
    square = math.sqrt(max(joint.shear**2 - joint.runs**2, 0.0))
    stress = square / (t * length) + 6 * abs(dot(joint.moment, joint.along)) / (t**2 * length)
    return stress / fatigue.fatigue_range(how.category, how.cycles)


Rule = Callable[[JointLoad, Joining, Fixings], Ways]
RULES: Final[dict[str, tuple[Rule, str, str]]] = {
    "plug weld": (_plug, "own proposal", "as the spot weld of EN 1993-1-3 8.4, table 8.5, that it replaces"),
    "spot weld": (_spot, "EN 1993-1-3", "8.4, table 8.5"),
    "bolt": (on_bolt, "EN 1993-1-3", "8.3, table 8.4; from 3 mm EN 1993-1-8 table 3.4"),
    "tack screw": (on_screw, "AISI S100", "J4"),
    "nut insert": (on_insert, "nut insert data", "proof loads"),
    "blind rivet": (on_rivet, "EN 1993-1-3", "8.3, table 8.1; least loads of the rivet's standard"),
    "seam": (_seam, "EN 1993-1-3", "8.5.2"),
    "pin": (_pin, "ASME BTH-1", "3-3.3, design factor 3 in all"),
}
