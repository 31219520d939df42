"""Each joint against the rule of its kind: one function a kind, from forces to the part used and the clause.

A function raises where its formula does not hold; the joint then counts as not proved.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from tinbook.calc import bolts, fatigue, joints, lugs, screws, spotwelds, welds
from tinbook.errors import BadValue, TinbookError
from tinbook.fields import Choice, Flag, Number, check_fields
from tinbook.shop.fixings import Bolt, Fixings, NutInsert, TackScrew
from tinbook.space import dot
from tinbook.strength.joints.load import JointLoad, SheetAt

CARBON: Final = ("mild steel", "structural steel")
"""Metals that the formulas are for: stainless has EN 1993-1-4, aluminium EN 1999."""
SMALL: Final = 0.05
"""Part of a joint's shear resistance up to which a pull counts as none (own proposal)."""
VARIABLE: Final = 1.5
"""Load factor on service loads (EN 1990, variable actions)."""
PIN: Final = 0.92
"""A pin as part of its hole, where it is not known: shackles sit so (common practice)."""
LIFTED: Final = 3.0
"""Design factor of pin plates where loads are not well known (ASME BTH-1), the load factor included."""
_HEADS: Final = {2.9: 5.6, 3.5: 7.0, 4.2: 8.0, 4.8: 9.5, 5.5: 11.0, 6.3: 12.0}
"""mm: pan heads of tapping screws by size, ISO 7049 from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """How joints are made, and by which factor the load counts.

    Parameters
    ----------
    onto : float or None, optional
        Thickness of what a part is joined to, mm; None for that of the part itself.
    onto_tensile : float or None, optional
        Its tensile strength, MPa; None for that of the part itself.
    side : {"down", "up"}, optional
        On which side of the sheet it lies.
    bolt_class : str, optional
        Property class of bolts.
    throat : float or None, optional
        Of fillets, mm; None for 0.7 of the thinner sheet, at least 3 mm from 4 mm up.
    both : bool, optional
        Whether seams have a fillet on both sides.
    factor : float, optional
        By which service loads count more, at least 1; 1 for test loads of a rule.
    pull_tested : float or None, optional
        Pull at which a plug or spot weld of this kind came off in the shop's own test, N. No code has a formula.
    cycles : float or None, optional
        How often the load comes and goes, for welded seams; None for no fatigue.
    category : float, optional
        Detail category of the seam's toe, MPa; the lowest of laps by default.
    """

    onto: Annotated[float, Number("mm", above=0, most=200)] | None = None
    onto_tensile: Annotated[float, Number("MPa", least=5, most=5000)] | None = None
    side: Annotated[Literal["down", "up"], Choice(("down", "up"))] = "down"
    bolt_class: Annotated[str, Choice(tuple(bolts.BOLT_CLASSES))] = "8.8"
    throat: Annotated[float, Number("mm", above=0, most=50)] | None = None
    both: Annotated[bool, Flag()] = False
    factor: Annotated[float, Number(least=1, most=10)] = VARIABLE
    pull_tested: Annotated[float, Number("N", above=0)] | None = None
    cycles: Annotated[float, Number(least=1e4)] | None = None
    category: Annotated[float, Number("MPa", least=36, most=160)] = fatigue.TOE

    def __post_init__(self) -> None:
        check_fields(self, "joining")


@dataclass(frozen=True, slots=True, kw_only=True)
class JointUse:
    """What one joint uses of what it bears.

    Parameters
    ----------
    joint : JointLoad
    use : float or None
        Part used, 1 for all; None where it is not proved.
    by : str
        What governs ("tearing of the sheet"), or why it is not proved.
    source, clause : str
        Key of the sources registry and the clause in it.
    fatigue : float or None
        Part used by the load as often as it comes; None where not asked or not proved.
    """

    joint: JointLoad
    use: float | None
    by: str
    source: str
    clause: str
    fatigue: float | None = None

    @property
    def holds(self) -> bool:
        """Whether it is proved and not overloaded."""
        return self.use is not None and self.use <= 1 and (self.fatigue is None or self.fatigue <= 1)


class NotProved(TinbookError):
    """No rule covers the joint; the message says why."""


Ways = list[tuple[float, str]]
"""Part used by each way of failing, and its name."""


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


def _other(joint: JointLoad, how: Joining) -> SheetAt:
    """Return what a joint is joined to: as stated, else like the first sheet with its rims far away."""
    if joint.second is not None:
        return joint.second
    a = joint.first
    return SheetAt(
        thickness=how.onto or a.thickness,
        yields=a.yields,
        tensile=how.onto_tensile or a.tensile,
        grade=a.grade,
        family=a.family,
        hole=a.hole,
    )


def _thin(joint: JointLoad, how: Joining) -> float:
    return min(joint.first.thickness, _other(joint, how).thickness)


def correlation(yields: float) -> float:
    """Return beta_w of a fillet by the yield stress of the steel, MPa (EN 1993-1-8 table 4.1)."""
    return next((b for upto, b in ((235.0, 0.8), (275.0, 0.85), (355.0, 0.9)) if yields <= upto), 1.0)


def _weakest(joint: JointLoad, how: Joining) -> tuple[float, float]:
    """Return the least tensile strength of both sheets and the correlation factor that belongs to them."""
    sheets = (joint.first, _other(joint, how))
    return min(s.tensile for s in sheets), max(correlation(s.yields) for s in sheets)


def _no_pull(joint: JointLoad, shear_resistance: float, how: Joining, why: str) -> Ways:
    """Refuse a pull that no formula covers; return its part of a tested pull where there is one."""
    pull = max(joint.pull, 0.0)
    if pull <= SMALL * shear_resistance:
        return []
    if how.pull_tested is None:
        raise NotProved(f"pulled apart by {pull:.4g} N; {why}")
    return [(how.factor * pull / how.pull_tested, "pull, against the shop's own test")]


# -- rules ----------------------------------------------------------------------------------------

_PEEL: Final = "no code has a formula for a plug or spot weld pulled off; test one and state pull_tested"


def _spot(joint: JointLoad, how: Joining, _fixings: Fixings) -> Ways:
    a, b = joint.first, _other(joint, how)
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
    return _summed(found, _no_pull(joint, least, how, _PEEL))


def _bears(thin: float, nugget: float, tensile: float) -> float:
    return min(spotwelds.spot_weld(thin, thin, nugget, tensile, 3 * nugget, 3 * nugget).values())


def _summed(shear: Ways, pull: Ways) -> Ways:
    """Add a pull to every shear: a straight line between them, on the safe side (own proposal)."""
    return [(a + b, f"{x} and {y}") for a, x in shear for b, y in pull] or shear


def _plug(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    if _thin(joint, how) < 4.0:
        return _spot(joint, how, fixings)
    tensile, beta = _weakest(joint, how)
    bears = spotwelds.plug_weld(joint.first.hole, joint.first.thickness, tensile, beta)
    shear: Ways = [(how.factor * joint.shear / bears, "weld shear")]
    why = "plug welds are not to carry tension (EN 1993-1-8 4.3.5)"
    return _summed(shear, _no_pull(joint, bears, how, why))


def _apart(joint: JointLoad, least: float, clause: str) -> None:
    pitch = min(joint.first.pitch, joint.second.pitch if joint.second is not None else math.inf)
    if pitch < least:
        raise NotProved(f"{pitch:.4g} mm to the next one; the rule wants at least {least:.4g} mm ({clause})")


def _bolt(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    a, b = joint.first, _other(joint, how)
    hole = max(a.hole, b.hole)
    bolt = fixings.bolt(joint.size) if joint.size else bolt_for(hole, fixings)
    shear, pull = how.factor * joint.shear, how.factor * max(joint.pull, 0.0)
    bears = joints.bolt_shear(how.bolt_class, bolt.stress_area, diameter=bolt.dia, hole=hole)
    found: Ways = []
    for sheet in (a, b):
        given = (bolt.dia, max(sheet.hole, bolt.dia), sheet.thickness, sheet.tensile)
        far = sheet.end if math.isfinite(sheet.end) else 10 * bolt.dia
        wide = sheet.edge if math.isfinite(sheet.edge) else 10 * bolt.dia
        if sheet.thickness < 3.0:
            bearing = joints.bolt_bearing_in_sheet(*given, far, wide, pitch=sheet.pitch, gauge=sheet.pitch)
        else:
            bearing = joints.bolt_bearing(*given, far, wide, how.bolt_class, pitch=sheet.pitch, gauge=sheet.pitch)
        found.append((shear / bearing, f"bearing in {sheet.thickness:g} mm"))
        reach = min(2 * sheet.edge, sheet.pitch)
        if sheet.thickness < 3.0 and reach < math.inf:
            # What lies beside one bolt carries its force past the hole.
            bore = max(sheet.hole, bolt.dia)
            net = joints.net_section_in_sheet((reach - bore) * sheet.thickness, sheet.tensile, bore, reach)
            found.append((shear / net, f"tearing across the hole in {sheet.thickness:g} mm"))
    tension = joints.bolt_tension(how.bolt_class, bolt.stress_area)
    thin = min(a.thickness, b.thickness)
    if thin >= 3.0:
        mean = bolt.head * (1 + 2 / math.sqrt(3)) / 2
        tension = min(tension, *(joints.bolt_punching(mean, s.thickness, s.tensile) for s in (a, b)))
    elif pull > SMALL * bears:
        why = "what a head pulls through below 3 mm is to be tested (EN 1993-1-3 table 8.4)"
        raise NotProved(f"pulled apart by {joint.pull:.4g} N; {why}")
    found.append((joints.bolt_combined(shear, bears, pull, tension), f"{bolt.size} {how.bolt_class} itself"))
    return found


def bolt_for(hole: float, fixings: Fixings) -> Bolt:
    """Return the bolt whose clearance hole has a diameter, mm: of the medium series, else the smallest that fits.

    Raises
    ------
    BadValue
        None has.
    """
    fitting = [c for c in fixings.clearances if c.fine - 0.05 <= hole <= c.coarse + 0.05]
    sizes = [c.size for c in sorted(fitting, key=lambda c: (abs(c.medium - hole) > 0.05, c.medium))]
    known = {b.size: b for b in fixings.bolts}
    for size in sizes:
        if size in known:
            return known[size]
    raise BadValue("hole of a bolt", hole, "a clearance hole of the shop's table, mm")


def _screw(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    a, b = joint.first, _other(joint, how)
    row, headed = screw_for(a, fixings)
    head, far = (a, b) if headed else (b, a)
    dia = float(row.size.removeprefix("ST"))
    # The safety factor is meant for service loads: of 3.0, 1.5 is the load's.
    safety = screws.SCREW_SAFETY * how.factor / VARIABLE
    ends = [screws.screw_end(s.thickness, s.end, dia, s.tensile) for s in (a, b) if math.isfinite(s.end)]
    bears = min(screws.screw_shear(head.thickness, far.thickness, dia, head.tensile, far.tensile), *ends, math.inf)
    shear: Ways = [(safety * joint.shear / bears, "tilting and bearing of the screw")]
    if joint.pull <= 0:
        return shear
    out = screws.screw_pull_out(far.thickness, dia, far.tensile)
    over = screws.screw_pull_over(head.thickness, _HEADS.get(dia, 0.0), head.tensile)
    return _summed(shear, [(safety * joint.pull / min(out, over), "pull-out" if out < over else "pull-over")])


def screw_for(sheet: SheetAt, fixings: Fixings) -> tuple[TackScrew, bool]:
    """Return the tapping screw of a hole, and whether its head is on this sheet (a clearance hole, no pilot)."""
    for row in fixings.tack_screws:
        if abs(row.clearance - sheet.hole) < 0.06:
            return row, True
        if row.over < sheet.thickness <= row.upto and abs(row.pilot - sheet.hole) < 0.06:
            return row, False
    raise BadValue("hole of a tack screw", sheet.hole, "a hole of the shop's table of tack screws, mm")


def _insert(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    a = joint.first
    row = insert_for(a, fixings)
    near = min(a.end, a.edge)
    if near < row.edge:
        raise NotProved(f"{near:.4g} mm from a rim; insert {row.key} wants at least {row.edge:g} mm")
    if a.pitch < row.pitch:
        raise NotProved(f"{a.pitch:.4g} mm to the next one; insert {row.key} wants at least {row.pitch:g} mm")
    if row.proof is None or row.shear is None:
        raise NotProved(f"the shop's table has no proof loads in pull and in shear for insert {row.key}")
    return [
        (
            screws.insert_utilisation(max(joint.pull, 0.0), joint.shear, row.proof, row.shear, how.factor),
            f"insert {row.size} by its maker's proof loads",
        )
    ]


def insert_for(sheet: SheetAt, fixings: Fixings) -> NutInsert:
    """Return the nut insert that a hole and a sheet are for."""
    for row in fixings.nut_inserts:
        if abs(row.hole - sheet.hole) < 0.06 and row.grip_min <= sheet.thickness <= row.grip_max:
            return row
    raise BadValue("hole of a nut insert", sheet.hole, "a hole of the shop's table whose grip holds the sheet, mm")


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
            f"{abs(joint.pull):.4g} N square to the sheet on {joint.length:g} mm; the rule is for forces in its plane"
        )
    return [(how.factor * (square / end + joint.runs / side), "sheet beside the fillet")]


def _pin(joint: JointLoad, how: Joining, _fixings: Fixings) -> Ways:
    a = joint.first
    if abs(joint.pull) > SMALL * joint.shear:
        raise NotProved(f"{abs(joint.pull):.4g} N square to the plate; the rule is for a pull in its plane")
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
    "bolt": (_bolt, "EN 1993-1-3", "8.3, table 8.4; from 3 mm EN 1993-1-8 table 3.4"),
    "tack screw": (_screw, "AISI S100", "J4"),
    "nut insert": (_insert, "nut insert data", "proof loads"),
    "seam": (_seam, "EN 1993-1-3", "8.5.2"),
    "pin": (_pin, "ASME BTH-1", "3-3.3, design factor 3 in all"),
}
