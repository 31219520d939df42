"""What lies against the back gauge's finger, and where a folder's nose bar goes: numbers worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from inmachine import DEMO, EDGES, made_of, strip

from tinbook.errors import BadValue
from tinbook.making.made import Made
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.route.steps import FoldPlan
from tinbook.shop.shop import Shop
from tinbook.write.setting_out import mark_off

T, R = 1.5, 1.92
"""DC01 1.5 over V12: r = 0.16 x 12."""
HALF = math.pi / 2 * (R + 0.41 * T) / 2
"""Half the strip of a right angle there, K = 0.41."""


def half_strip(angle: float) -> float:
    return math.radians(angle) * (R + 0.41 * T) / 2


def order(part: Part, given: list[str] | None = None, shop: Shop = DEMO) -> FoldPlan:
    sequence = fold_sequence(made_of(part, shop), order=given)
    assert sequence.steps, sequence
    return sequence


def finger(above: float | None = None, below: float | None = None, width: float | None = None, **more: object) -> Shop:
    """The demo shop, its brake with a finger of its own."""
    changes = {"finger_above": above, "finger_below": below, "finger_width": width, **more}
    machines = tuple(replace(m, **changes) if m.key == "brake" else m for m in DEMO.machines)  # type: ignore[arg-type]
    return replace(DEMO, machines=machines)


def hemmed_leg() -> Part:
    leg = Part("HN-GH", sheet="DC01 1.5", base=Outline.rectangle(300, 900, EDGES)).fold("near", leg=40, tool="V12")
    return leg.hem("near.end", "closed", leg=12, tool="V12", name="hem")


def zed(angle: float, web: float = 100.0, leg: float = 40.0) -> Part:
    part = strip(web, length=300).fold("near", "up", leg=leg, angle=angle, tool="V12")
    return part.fold("far", "down", leg=leg, angle=angle, tool="V12")


def test_a_hem_touches_with_its_round() -> None:
    """A leg of 40 to the outside touches at 40 - (r + t) + BA/2, whether its edge is plain or hemmed."""
    plain = order(
        Part("HN-GP", sheet="DC01 1.5", base=Outline.rectangle(300, 900, EDGES)).fold("near", leg=40, tool="V12")
    )
    assert plain.steps[0].line_now == pytest.approx(40 - (R + T) + HALF, abs=1e-6)
    begun, pressed, folded = order(hemmed_leg()).steps
    assert (folded.fold, folded.at_back, folded.gauged) == ("near", "near", "outside of fold hem")
    assert folded.line_now == pytest.approx(40 - (R + T) + HALF, abs=0.003)
    assert folded.set_by[:2] == ("outside of fold hem, proposed", "38.6")
    assert begun.gauged == "hem.end"
    # Pressing a hem flat has no gauge.
    assert (pressed.gauged, pressed.line_now, pressed.sight, pressed.set_by) == ("", None, None, ("-", "-", "-"))


def test_a_shallow_leg_is_no_reference() -> None:
    """A Z of 30 degrees: its first leg slopes past a finger from 5 under the die's top to 12 over it.

    It would touch the finger's lower corner, and climb off it; so the second fold is set from its own leg's edge:
    40 - (r + t) tan 15° + BA/2. Where it is told to lie the other way there is no stop and it says why.
    """
    sequence = order(zed(30))
    second = sequence.steps[1]
    assert (second.at_back, second.gauged) == (second.fold, f"{second.fold}.end")
    own = 40 - (R + T) * math.tan(math.radians(15)) + half_strip(30)
    assert second.line_now == pytest.approx(own, abs=1e-6)
    hit = replace(sequence.hits[1], at_back="base")
    other = fold_sequence(sequence.made, order=(sequence.hits[0], hit)).steps[1]
    assert (other.gauged, other.line_now) == ("", None)
    assert other.no_stop == f"{sequence.steps[0].fold} slopes past the fingers"
    assert any(n.startswith("no stop: ") and n.endswith("set it to its mark") for n in other.notes)
    assert other.set_by[0] == "by its mark, base behind"
    # Its mark, from its own leg's edge.
    assert other.sight is not None
    assert (other.sight.edge, other.sight.at) == (f"{second.fold}.end", pytest.approx(own))


def test_a_steep_leg_touches_the_corner_of_the_finger() -> None:
    """A Z of 60 degrees, base behind: the first leg hangs down past the finger's lower corner, 5 under the die.

    The sheet lies with z = 0 on the die. The leg's outer face (the upper one, seen in the machine) leaves the web's upper
    face z = t at the mould line, which lies the web less the setback of the second bend, (r + t) tan 30°, and half its
    strip from the second line; it falls by tan 60°, so it meets z = -5 at (t + 5) / tan 60° beyond.
    """
    sequence = order(zed(60), ["near", "far"])
    hit = replace(sequence.hits[1], at_back="base")
    step = fold_sequence(sequence.made, order=(sequence.hits[0], hit)).steps[1]
    back = (R + T) * math.tan(math.radians(30))
    mould = 100 - back + half_strip(60)  # from the middle of the second bend to the mould line of the first
    assert step.gauged == "face of near"
    assert step.line_now == pytest.approx(mould + (T + 5) / math.tan(math.radians(60)), abs=1e-3)
    # A finger that reaches less far down meets it sooner.
    high = fold_sequence(made_of(zed(60), finger(12, 2, 20)), order=(sequence.hits[0], hit)).steps[1]
    assert high.line_now == pytest.approx(mould + (T + 2) / math.tan(math.radians(60)), abs=1e-3)


def test_what_is_not_parallel_is_set_to_its_mark() -> None:
    """A far edge that slopes by 20 in 300, and a leg that is turned to one side: nothing lies straight on the fingers."""
    base = Outline.polygon([(0, 0), (300, 0), (300, 180), (0, 200)], EDGES)
    made = made_of(Part("HN-GS", sheet="DC01 1.5", base=base).fold("near", leg=40, tool="V12"))
    found = fold_sequence(made)
    hit = replace(found.hits[0], at_back="base")
    step = fold_sequence(made, order=(hit,)).steps[0]
    assert step.line_now is None
    assert step.no_stop == "nothing straight along the fold lies against the fingers, first base"
    # The own leg's edge is parallel, so the search takes that.
    assert found.steps[0].gauged == "near.end"


def test_metal_beside_the_edge_comes_first() -> None:
    """A tongue of 60 that is not yet folded stands 30 before the edge behind it: the finger stops there."""
    part = strip(100, length=300).fold("near", leg=30, tool="V12", start=120, stop=180, name="tongue")
    part = part.fold("far", leg=40, tool="V12")
    made = made_of(part)
    hits = {h.fold: h for h in fold_sequence(made).hits}
    first = replace(hits["far"], at_back="base")
    step = fold_sequence(made, order=(first, hits["tongue"])).steps[0]
    assert step.gauged == "tongue.end"
    # Web 100 and tongue 30 less its deduction, less the far leg's setback, and half the far strip.
    assert step.line_now == pytest.approx(100 + 30 - (2 * (R + T) - 2 * HALF) - (R + T) + HALF)


def test_a_bead_before_the_fingers_is_no_reference() -> None:
    """A bead on the outside of a leg, 24 to 36 mm over the base, stands before a finger that reaches up to 40."""
    part = strip(200, length=300).fold("near", leg=60, tool="V12").fold("far", leg=40, tool="V12")
    part = part.bead([(60, 30), (240, 30)], "R12x3", "down", panel="near", name="rib")
    made = made_of(part)
    near, far = fold_sequence(made, order=["near", "far"]).hits
    hits = (near, replace(far, at_back="base"))
    # Under the bead there is the leg.
    assert fold_sequence(made, order=hits).steps[1].gauged == "outside of fold near"
    step = fold_sequence(made_of(part, finger(40, 5, 20)), order=hits).steps[1]
    assert step.no_stop == "bead rib stands before the fingers"


def test_a_finger_of_the_shop_and_one_that_is_assumed() -> None:
    part = strip(100, length=300).fold("near", leg=40, tool="V12")
    said = order(part).steps[0].notes
    assert any("a usual gauge finger is assumed, 5 mm under the die's top to 12 over it" in n for n in said)
    assert any("the stop is a proposal: Tarnbeck" in n for n in said)
    own = order(part, shop=finger(12, 5, 20, own=True)).steps[0]
    assert not any("finger" in n or "proposal" in n for n in own.notes)
    assert own.set_by[0] == own.gauged
    # Half of a wide finger must lie straight: 30 do for one of 40 and not for one of 80.
    narrow = strip(100, length=30).fold("near", leg=40, tool="V12")
    assert order(narrow, shop=finger(12, 5, 40)).steps[0].gauged
    assert order(narrow, shop=finger(12, 5, 80)).steps[0].line_now is None
    with pytest.raises(BadValue, match="finger_above"):
        finger(-1)


def test_the_setting_out_table_tells_the_mark_off_its_line() -> None:
    """The line is the middle of the bend; a folder's sight line lies BA/2 - r off it, here toward the leg."""
    made = tray(45)
    s = made.strips[0]
    said = mark_off(s)
    assert s.radius > s.allowance / 2
    assert said == f"mark {s.radius - s.allowance / 2:.1f} toward near, "
    assert mark_off(made_of(strip(60).fold("near", leg=30, tool="V12")).strips[0]) == ""


# --- a folder's nose bar --------------------------------------------------------------------------


def tray(angle: float) -> Made:
    part = Part("HN-GT", sheet="DC01 1.5", base=Outline.rectangle(900, 500, EDGES))
    return made_of(part.fold("near", leg=40, angle=angle).fold("far", leg=40, angle=angle))


def test_the_mark_of_the_side_that_is_held() -> None:
    """The nose bar's edge lies one inside radius out from the tangent line of what is held (FAA handbook, sight line).

    Held the base: from the leg's edge leg - setback + BA - r; held the leg: leg - setback + r.
    """
    made = tray(45)
    found = fold_sequence(made)
    s = made.strips[1]
    flat = 40 - s.setback
    for held, wanted in (("base", flat + s.allowance - s.radius), ("far", flat + s.radius)):
        hits = (found.hits[0], replace(found.hits[1], at_back=held))
        step = fold_sequence(made, order=hits).steps[1]
        assert step.sight is not None
        assert (step.sight.edge, step.sight.marked) == ("far.end", held == "base")
        assert step.sight.at == pytest.approx(wanted)
        assert step.set_by[0] == (f"by its mark, {held} held" if held == "base" else f"not by its mark: {held} held")
        assert step.set_by[2] == f"{wanted:.1f} from far.end"
        # The mark that is drawn is the one for the base held.
        assert made.flat is not None
        mark = next(m for m in made.flat.marks if m.label.startswith("far"))
        y1 = made.flat.outer.box[3]
        drawn = y1 - mark.edges[0].start[1]
        assert drawn == pytest.approx(flat + s.allowance - s.radius)
        if held == "far":
            off = wanted - drawn  # r is more than half the strip of 45 degrees, so it lies further from the leg's edge
            assert off == pytest.approx(2 * s.radius - s.allowance)
            assert off > 0
            assert any(f"{off:.1f} mm from the mark toward base" in n for n in step.notes)
