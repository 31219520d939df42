"""Joints of bolts, tapping screws, nut inserts and blind rivets against the rule of their kind."""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc import joints, screws
from tinbook.calc.joints import GAMMA_M2
from tinbook.calc.rivets import RIVETS, rivet_bearing, rivet_for, rivet_length
from tinbook.errors import BadValue
from tinbook.shop.fixings import Bolt, Fixings, NutInsert, TackScrew
from tinbook.strength.joints.joining import SMALL, VARIABLE, Joining, NotProved, Ways, other_sheet, summed
from tinbook.strength.joints.load import JointLoad, SheetAt
from tinbook.units import figures

HEADS: Final = {2.9: 5.6, 3.5: 7.0, 4.2: 8.0, 4.8: 9.5, 5.5: 11.0, 6.3: 12.0}
"""mm: pan heads of tapping screws by size, ISO 7049 from memory."""


def on_bolt(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    """Return what a bolt uses of what each sheet and its own shank bear."""
    a, b = joint.first, other_sheet(joint, how)
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
        sides = sheet.sides or (min(sheet.edge, sheet.pitch / 2),) * 2
        if min(sides) < math.inf:
            # What lies beside one bolt carries past the hole its own force and that of the bolts in line before it.
            bore, reach = max(sheet.hole, bolt.dia), 2 * min(sides)
            wide = sum(sides) if max(sides) < math.inf else reach
            area = (wide - bore) * sheet.thickness
            if sheet.thickness < 3.0:
                net = joints.net_section_in_sheet(area, sheet.tensile, bore, reach, 1 / sheet.passed)
            else:
                net = joints.net_section_in_plate(area, sheet.tensile)
            clause = "" if sheet.thickness < 3.0 else " (EN 1993-1-1 6.2.3)"
            found.append((sheet.passed * shear / net, f"tearing across the hole in {sheet.thickness:g} mm{clause}"))
    tension = joints.bolt_tension(how.bolt_class, bolt.stress_area)
    thin = min(a.thickness, b.thickness)
    if thin >= 3.0:
        mean = bolt.head * (1 + 2 / math.sqrt(3)) / 2
        tension = min(tension, *(joints.bolt_punching(mean, s.thickness, s.tensile) for s in (a, b)))
    elif pull > SMALL * bears:
        why = "what a head pulls through below 3 mm is to be tested (EN 1993-1-3 table 8.4)"
        raise NotProved(f"pulled apart by {figures(joint.pull, 4)} N; {why}")
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


def on_screw(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    """Return what a tapping screw uses in shear and in pull."""
    a, b = joint.first, other_sheet(joint, how)
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
    over = screws.screw_pull_over(head.thickness, HEADS.get(dia, 0.0), head.tensile)
    return summed(shear, [(safety * joint.pull / min(out, over), "pull-out" if out < over else "pull-over")])


def screw_for(sheet: SheetAt, fixings: Fixings) -> tuple[TackScrew, bool]:
    """Return the tapping screw of a hole, and whether its head is on this sheet (a clearance hole, no pilot)."""
    for row in fixings.tack_screws:
        if abs(row.clearance - sheet.hole) < 0.06:
            return row, True
        if row.over < sheet.thickness <= row.upto and abs(row.pilot - sheet.hole) < 0.06:
            return row, False
    raise BadValue("hole of a tack screw", sheet.hole, "a hole of the shop's table of tack screws, mm")


def on_insert(joint: JointLoad, how: Joining, fixings: Fixings) -> Ways:
    """Return what a nut insert uses of its maker's proof loads."""
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


def on_rivet(joint: JointLoad, how: Joining, _fixings: Fixings) -> Ways:
    """Return what a blind rivet uses of its own strength and of what the sheets round it bear."""
    a, b = joint.first, other_sheet(joint, how)
    if not how.rivets:
        raise NotProved(
            f"no standard of its rivets is stated: Joining(rivets={RIVETS[1]!r}) or another of {', '.join(RIVETS)}"
        )
    rivet = rivet_for(how.rivets, a.hole)
    thin, thick = sorted((a, b), key=lambda s: s.thickness)
    end = min(s.end for s in (a, b))
    if min(a.edge, b.edge) < 1.5 * rivet.dia or min(a.pitch, b.pitch) < 3.0 * rivet.dia:
        least = f"{1.5 * rivet.dia:.3g} mm from a side and {3 * rivet.dia:.3g} mm to the next (EN 1993-1-3 table 8.1)"
        raise NotProved(f"too near to a side or to another rivet; the rule wants at least {least}")
    far = end if math.isfinite(end) else 10 * rivet.dia
    bearing = rivet_bearing(rivet.dia, thin.thickness, thick.thickness, min(a.tensile, b.tensile), far)
    shear, pull = how.factor * joint.shear, how.factor * max(joint.pull, 0.0)
    length = rivet_length(rivet.dia, a.thickness + b.thickness)
    name = f"rivet {rivet.dia:g} x {length:g} of {rivet.standard}"
    found: Ways = [
        (shear / bearing, f"bearing in {thin.thickness:g} mm"),
        (shear * GAMMA_M2 / rivet.shear, f"{name} in shear"),
    ]
    if pull <= SMALL * min(bearing, rivet.shear / GAMMA_M2):
        return found
    if how.pull_tested is None:
        why = "what a rivet's head pulls through is to be tested (EN 1993-1-3 table 8.1); state pull_tested"
        raise NotProved(f"pulled apart by {figures(joint.pull, 4)} N; {why}")
    own = max(pull * GAMMA_M2 / rivet.tension, pull / how.pull_tested)
    return summed(found, [(own, "pull")])
