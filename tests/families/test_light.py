"""Families of light parts: random parameters, hands, patterns that agree, straps to the tenth, curls past half a turn."""

from __future__ import annotations

import ast
import inspect
import json
import math
import re
import typing
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cadquery
import ezdxf
import pypdf
import pytest
from hypothesis import HealthCheck, Phase, given, settings

import tinbook as tb
from familylists import FIRST, LIGHT, mended, values_of
from tinbook.errors import BadValue
from tinbook.families import dash_panels, hinged_lid
from tinbook.make.assembled import assemble, meeting_findings
from tinbook.make.kernel_bodies import bores
from tinbook.make.labels import labels
from tinbook.make.made import Made
from tinbook.part.assembly import Assembly
from tinbook.part.bought import Bought, turned
from tinbook.part.part import Part
from tinbook.part.partfile import part_from_toml, part_to_toml
from tinbook.part.placing import Placing, dot, plus
from tinbook.plane_cuts import distance
from tinbook.units import Range

SHOP = tb.Shop.demo()
FAMILIES = LIGHT


def _hints(family: Callable[..., Any]) -> dict[str, Any]:
    return typing.get_type_hints(family, include_extras=True)


def _tried(family: Callable[..., Part], values: dict[str, Any]) -> tuple[Part | None, Any]:
    try:
        return family(**values), None
    except BadValue as wrong:
        return None, wrong


def _made(part: Part) -> Made:
    made = tb.make(part, SHOP)
    assert made.flat is not None, [str(f) for f in made.findings]
    return made


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.__name__)
def test_any_parameters_give_a_part_or_say_which_is_wrong(family: Callable[..., Part]) -> None:
    known = set(inspect.signature(family).parameters)
    parts = 0

    @settings(suppress_health_check=list(HealthCheck), database=None, phases=(Phase.generate,))
    @given(values_of(family))
    def run(values: dict[str, Any]) -> None:
        nonlocal parts
        part, wrong = _tried(family, values)
        for _ in range(8):
            if part is not None:
                break
            assert known & set(str(wrong.field).split()), wrong.field
            assert any(c.isdigit() for c in wrong.valid), wrong.valid
            # What is named as nearest is taken up, one refusal after the other, until there is a part.
            nearer = mended(family, values, wrong)
            if nearer is None or nearer == values:
                return
            values = nearer
            part, wrong = _tried(family, values)
        if part is None:
            return
        parts += 1
        made = _made(part)
        for f in tb.check(made, SHOP).stops:
            assert f.where, f
            assert f.remedy, f
            assert f.limit is not None, f

    run()
    assert parts >= 25, "hardly any parameters gave a part"


@pytest.mark.parametrize("family", FIRST, ids=lambda f: f.__name__)
def test_first_families_give_a_part_or_a_finding(family: Callable[..., Part]) -> None:
    whole = 0

    @settings(suppress_health_check=list(HealthCheck), database=None, phases=(Phase.generate,))
    @given(values_of(family))
    def run(values: dict[str, Any]) -> None:
        nonlocal whole
        made = tb.make(family(**values), SHOP)
        whole += made.flat is not None
        assert made.flat is not None or any(f.where and f.remedy for f in made.findings if f.severity == "stop")

    run()
    assert whole >= 30


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.__name__)
def test_a_value_out_of_range_names_the_nearest(family: Callable[..., Part]) -> None:
    for name, hint in _hints(family).items():
        limits = next((m for m in getattr(hint, "__metadata__", ()) if isinstance(m, Range)), None)
        if limits is not None:
            with pytest.raises(BadValue, match=rf"{family.__name__} {name}.*nearest {limits.high:g}"):
                family(**{name: int(limits.high) + 1})


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.__name__)
def test_defaults_make_a_sound_part_for_the_workbench(family: Callable[..., Part]) -> None:
    made = _made(family())
    assert tb.check(made, SHOP).ok
    assert made.solid.isValid()
    assert abs(made.solid.Volume() * 7850e-9 - made.mass) < 1e-6 * made.mass


# --- curls -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [90.0, 200.0, 265.0, 330.0])
def test_curl_is_a_ring_sector(angle: float) -> None:
    """Pappus: a ring sector's volume is its middle arc times thickness and width; the rest is flat sheet."""
    base = tb.Outline.rectangle(100, 30)
    made = _made(tb.Part("HN-ST", sheet="DC01 2.0", base=base).curl("right", "up", radius=6, angle=angle, leg=5))
    flat = 100 - (6 + 2) * (math.tan(math.radians(min(angle, 90)) / 2)) + 5
    assert made.solid.isValid()
    assert made.solid.Volume() == pytest.approx(30 * 2 * (flat + math.radians(angle) * 7), rel=1e-9)


def test_curl_says_what_it_takes() -> None:
    part = tb.Part("HN-ST", sheet="DC01 2.0", base=tb.Outline.rectangle(100, 30))
    with pytest.raises(BadValue, match="at most 330 deg"):
        part.curl("right", radius=6, angle=331, leg=5)
    with pytest.raises(BadValue, match="at most 180 deg"):
        part.fold("right", leg=20, angle=200)
    curled = part.curl("right", radius="6 mm", angle=300, leg=5)
    assert part_from_toml(part_to_toml(curled)).folds == curled.folds
    assert not [s.bend.tool for s in tb.make(curled, SHOP).strips if s.bend.tool]


def test_past_half_a_turn_there_is_no_included_angle(tmp_path: Path) -> None:
    """Wherever a fold's angle is printed: both ways up to 180 degrees, beyond that only what was turned."""
    part = tb.Part("HN-ST", sheet="DC01 2.0", base=tb.Outline.rectangle(100, 30))
    made = _made(part.curl("right", radius=6, angle=270, leg=5).fold("left", leg=30, angle=30))
    assert made.flat is not None
    eye, leg = made.flat.folds
    assert (eye.included, leg.included) == (None, 150.0)
    drawn = [e.dxf.text for e in ezdxf.readfile(tb.write_dxf(made, tmp_path, folds=True)).modelspace().query("TEXT")]
    said = [labels(made)["fold:right"], labels(made)["fold:left"], made.flat._repr_svg_(), *drawn]
    sheet = pypdf.PdfReader(tb.write_sheet(made, tmp_path))
    said.append(" ".join(p.extract_text() for p in sheet.pages))
    text = " ".join("\n".join(said).split())
    assert min(text.count("turned 270"), text.count("turned 30")) >= 4
    said_included = re.findall(r"included (\S+)", text)
    assert len(said_included) >= 4
    # The fold to 30 degrees, a little over where it is bent past its spring-back; nothing of the curl.
    assert all(149 < float(w.rstrip("°,")) <= 150 for w in said_included)


# --- straps ------------------------------------------------------------------------------------------------------


def _din(radius: float, t: float) -> float:
    """DIN 6935: k = 0.65 + 0.5 log10(r/t) up to r/t = 5, then 1; the neutral line lies at k t/2."""
    return min(0.65 + 0.5 * math.log10(radius / t), 1.0) * t / 2


def _eye_angle(pin: float, t: float) -> float:
    """Find by halving the set angle at which the tail comes back parallel, 0.1 mm above the strap's face."""
    r, r0, step = pin / 2 + 0.25, 1.5 * t, 2.0

    def height(b: float) -> float:
        # Upper face: down round the set, along the step, then half a turn and b round the pin.
        z = -(r0 + t) * (1 - math.cos(b)) - step * math.sin(b)
        return z + r * math.cos(b) + r - 0.1

    low, high = 0.2, math.pi / 2 + 0.6
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if height(middle) > 0 else (low, middle)
    return low


@pytest.mark.parametrize(
    ("width", "height", "corner", "liner", "pin", "sheet", "t"),
    [(420, 320, 60, 3, 12, "DC01 2.0", 2.0), (600, 400, 120, 5, 16, "DC01 2.5", 2.5), (300, 260, 35, 0, 10, "1.4301 1.5", 1.5)],
)  # fmt: skip
def test_strap_is_as_long_as_its_tank_is_round(
    width: float, height: float, corner: float, liner: float, pin: float, sheet: str, t: float
) -> None:
    """Arcs and tangents by hand: top, two quarter turns, two sides, and at each end set, step, eye and tail."""
    part = tb.tank_strap(width, height, corner, liner, below=60, pin=pin, overlap=25, stud="M6", sheet=sheet)
    b, r, r0 = _eye_angle(pin, t), pin / 2 + 0.25, 1.5 * t
    reach = (r0 + t + r) * math.sin(b) + 2 * math.cos(b)
    around = width - 2 * corner + math.pi * (corner + liner + _din(corner + liner, t))
    sides = 2 * (height - corner + 60 - reach)
    ends = 2 * (b * (r0 + _din(r0, t)) + 2 + (math.pi + b) * (r + _din(r, t)) + reach + 25)
    made = _made(part)
    assert made.flat is not None
    assert made.flat.size[0] == pytest.approx(around + sides + ends, abs=0.1)
    box = made.solid.BoundingBox()
    assert box.xmax - box.xmin == pytest.approx(width + 2 * liner + 4 * t + 0.2, abs=1e-6)  # both tails lie outside
    assert (box.zmax - t) - box.zmin == pytest.approx(liner + height + 60 + r + t, abs=1e-6)


def test_folded_strap_goes_round_the_same_tank() -> None:
    made = _made(tb.tank_strap(corners="folded", corner_folds=3))
    box = made.solid.BoundingBox()
    assert sum(s.angle for s in made.strips if "set" not in s.name and "eye" not in s.name) == pytest.approx(180)
    assert box.xmax == pytest.approx(210 + 3 + 2 + 2.1, abs=1e-6)
    with pytest.raises(BadValue, match=r"tank_corner.*at least"):
        tb.tank_strap(tank_corner=20, corners="folded", corner_folds=8)


@pytest.mark.parametrize("corners", ["rolled", "folded"])
def test_riveted_tails_lie_hole_on_hole(corners: Any) -> None:
    """In the folded solid: four pairs of bores, each pair on one axis, tail and strap a tenth apart."""
    made = _made(tb.tank_strap(corners=corners, tails="riveted"))
    found = [b for b in bores(made.solid.wrapped) if abs(b.dia - 4.9) < 1e-6]
    assert len(found) == 8
    for b in found:
        mates = [o for o in found if o is not b and b.parallel(o) and b.offset(o) < 0.05 and b.apart(o) < 5]
        assert len(mates) == 1
        assert b.apart(mates[0]) == pytest.approx(0.1, abs=0.01)
    with pytest.raises(BadValue, match=r"tank_strap width.*nearest 30"):
        tb.tank_strap(width=25, tails="riveted")


def test_strap_longer_than_stock_is_found() -> None:
    """The shop's plasma table is 2500 mm long."""
    assert tb.check(_made(tb.tank_strap(800, 600, 60)), SHOP).ok
    made = _made(tb.tank_strap(900, 700, 60, below=150))
    assert made.flat is not None
    (stop,) = tb.check(made, SHOP).stops
    assert (stop.where, stop.limit) == ("blank", 2500)
    assert stop.value == pytest.approx(made.flat.size[0], abs=1)


def test_take_up_covers_the_tank() -> None:
    """By hand: stretch F L / E A, half a turn of squeezed liner, three sides of a tank 2 mm over or under size."""
    got = tb.tightening(
        2500, length=1233, width=40, thickness=2, pin=12, stress_area=36.6, stud=8, thread=30, liner=4, radius=64,
        tank_tolerance=2,
    )  # fmt: skip
    pressure, shape = 2500 / (64 * 40), 40 / (2 * 4)
    squeeze = 4 * pressure / (4 / 3 * 4.45 * (1 + 0.57 * shape**2))  # Lindley, 60 IRHD
    stretch = 2500 * 1233 / (210_000 * 40 * 2)
    assert got.needed == pytest.approx(stretch + math.pi * squeeze + 3 * 2 * 2, abs=1e-9)
    assert got.ok
    assert got.torque == pytest.approx(0.2 * 2500 * 8e-3)
    assert got.allowed["stud"] == pytest.approx(0.6 * 225 * 36.6)
    # The pin as a beam in a fork: ears 3.5 mm off the strap and 3 mm thick, the load even over 40 mm; half its yield.
    moment = got.allowed["pin"] / 2 * (40 / 2 + 5.0 - 40 / 4)
    assert moment / (math.pi * 12**3 / 32) == pytest.approx(235 / 2)
    narrow = tb.tightening(
        2500, length=1233, width=40, thickness=2, pin=12, stress_area=36.6, stud=8, thread=30, liner=4, radius=64,
        tank_tolerance=2, slot=9,
    )  # fmt: skip
    assert narrow.allowed["eye"] == pytest.approx(got.allowed["eye"] * 31 / 40)
    assert narrow.allowed["pin"] == got.allowed["pin"]


def test_pins_of_cradle_and_strap_agree() -> None:
    """The eye's bore, found in the folded strap's solid, against the cradle's hole: concentric within 0.05 mm."""
    liner, t, below = 3.0, 2.0, 40.0
    strap = _made(tb.tank_strap(liner=liner, below=below))
    frame = next(s for s in strap.strips if s.name == "right eye").frame
    axis = frame(0.0, 0.0, t + 6.25)  # up: the pin lies on the up side, one inside radius off the face
    (x, y), _ = tb.pin_places(420, liner, below, 12, "DC01 2.0")
    top = 320 + liner  # the strap's base panel lies with its underside here above the tank's underside
    assert axis[0] == pytest.approx(x, abs=0.05)
    assert axis[2] + top == pytest.approx(y, abs=0.05)


def test_strap_tank_cradle_and_pins_share_no_metal() -> None:
    """In the assembled solids: the strap keeps the liner's 3 mm off the tank all round, the pins turn freely."""
    strap = tb.tank_strap(liner=3)
    pin = Bought(name="pin 12", pieces=(turned(12.0, -60.0, 25.0),), mass=0.1)
    upright = ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))  # the strap lies flat at z = 0; everything else hangs from it
    whole = (
        Assembly("HN-TS")
        .add("strap", strap)
        .add("tank", tb.tank(420, 320, 60, 300), Placing((0.0, 150.0, -323.0), *upright))
        .add("cradle", tb.tank_cradle(liner=3), Placing((0.0, 24.0, -323.0), *upright))
    )
    for i, (x, y) in enumerate(tb.pin_places(420, 3, 40, 12, "DC01 2.0")):
        whole = whole.add(f"pin {i + 1}", pin, Placing((x, 0.0, y - 323.0), *upright))
    made = assemble(whole, SHOP)
    assert not [str(f) for f in meeting_findings(made) if f.code == "assembly.clash" and f.severity == "stop"]
    assert not [str(f) for f in meeting_findings(made) if f.code == "assembly.mating" and f.severity == "stop"]
    strap_solid, tank_solid = (cadquery.Shape.cast(made.shape(n)) for n in ("strap", "tank"))
    assert strap_solid.distance(tank_solid) == pytest.approx(3.0, abs=1e-6)
    for n in ("pin 1", "pin 2"):
        assert strap_solid.distance(cadquery.Shape.cast(made.shape(n))) == pytest.approx(0.25, abs=0.05)


def test_liner_is_as_long_as_it_lies() -> None:
    """Its own middle line, and the same area seen from its end."""
    flat = tb.cradle_liner(420, 60, 160, thickness=5, squeezed=4, seat=30)
    by_hand = (420 - 120) + math.pi * (60 + 2) + 2 * (160 - 60)
    assert flat.size == pytest.approx((by_hand, 36))
    ring = tb.liner_ring(flat, 420, 60, 160, 4)
    assert ring.pieces[0].outer.area / 4 == pytest.approx(by_hand)
    assert all(c.use == "drain" for c in flat.cuts)
    with pytest.raises(BadValue, match="fluid"):
        tb.cradle_liner(420, 60, 160, fluid="petrol")  # type: ignore[arg-type]
    with pytest.raises(BadValue, match=r"nearest 3\.75"):
        tb.cradle_liner(420, 60, 160, thickness=5, squeezed=2)


def test_tank_and_set_out() -> None:
    full = tb.tank(420, 320, 60, 950, wall=4)
    inner = (412 * 312 - (4 - math.pi) * 56**2) * 942e-9
    assert full.mass == pytest.approx(
        inner * 0.95 * 1000 + ((420 * 320 - (4 - math.pi) * 3600) * 950e-9 - inner) * 950, rel=1e-9
    )
    assert "baffle" in full.name
    assert tb.set_out(600, 2, 0.8) == pytest.approx(601.6)


# --- tunnel, lid, gasket -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("folds", [1, 2, 4])
def test_tunnel_stands_as_high_as_it_was_asked(folds: int) -> None:
    """Read from the folded frames: heights over the flanges' underside, flanges in one plane, sides at their slope."""
    made = _made(tb.tunnel(height_front=230, height_rear=170, folds=folds, slope=78))
    right, left = made.panel("right flange").frame, made.panel("left flange").frame
    assert right.z == pytest.approx(left.z, abs=1e-9)
    for edge, height in (("front", 230), ("rear", 170)):
        top = (0.0, made.part.base.edge(edge).start[1], made.thickness)
        assert dot(plus(top, right.origin, -1.0), right.z) == pytest.approx(height, abs=1e-6)
        assert dot(plus(top, left.origin, -1.0), left.z) == pytest.approx(height, abs=1e-6)
    side = made.panel("right side").frame.z
    across = (side[0], math.hypot(0.0, dot(side, right.z)))  # in the plane square to the floor's long axis
    assert math.degrees(math.atan2(across[0], across[1])) == pytest.approx(78, abs=1e-6)
    assert made.solid.isValid()


@pytest.mark.parametrize(("slope", "shoulder"), [(78, 45), (60, 80)])
def test_a_rolled_shoulder_is_as_long_as_its_arc(slope: float, shoulder: float) -> None:
    """Half a section by hand, level tunnel: half the crown, the arc on DIN's neutral line, the side, the flange."""
    t = 1.5
    part = tb.tunnel(400, 260, 260, 200, 200, slope=slope, corners="rolled", shoulder=shoulder)
    made = _made(part)
    assert made.solid.isValid()
    right = made.panel("right flange").frame
    top = (0.0, part.base.edge("front").start[1], t)
    assert dot(plus(top, right.origin, -1.0), right.z) == pytest.approx(200, abs=1e-9)
    (roll, foot) = (next(s for s in made.strips if s.name == n) for n in ("right side", "right flange"))
    a = math.radians(slope)
    assert roll.radius == pytest.approx(shoulder - t)
    crown = 130 - shoulder * math.tan(a / 2)
    arc = a * (shoulder - t + _din(shoulder - t, t))
    flat = made.panel("right side").boundary.box
    assert flat[1] == pytest.approx(shoulder * math.tan(a / 2), abs=1e-9)
    assert roll.allowance == pytest.approx(arc, abs=1e-9)
    assert made.panel("base").boundary.box[2] == pytest.approx(crown, abs=1e-9)
    assert foot.angle == pytest.approx(slope)


def test_a_lid_keeps_to_the_flat_of_a_rolled_crown() -> None:
    """78 degrees and 45 mm take 36.4 mm of the crown at each side."""
    holes = tb.bolting(140, 300)
    assert tb.lid_opening(tb.tunnel(), holes).holes
    with pytest.raises(BadValue, match=r"lid_opening width.*at most 6[0-9]\."):
        tb.lid_opening(tb.tunnel(corners="rolled"), holes)


def test_drive_unit_under_a_rolled_shoulder() -> None:
    """A level tunnel: the box's upper edge against the roll's axis, plane trigonometry."""
    part = tb.tunnel(600, 240, 240, 200, 200, slope=80, corners="rolled", shoulder=60)
    crown, side, roll = tb.drive_clearance(_made(part), 180, 400, 170, 100)
    a = math.radians(80)
    axis = 120 - 60 * math.tan(a / 2), 200 - 60
    assert roll.where == "rolled right side"
    assert roll.value == pytest.approx(58.5 - math.hypot(90 - axis[0], 170 - axis[1]), abs=1e-9)
    assert roll.value < min(crown.value, side.value)


def test_patterns_of_tunnel_lid_and_gasket_agree() -> None:
    holes = tb.bolting(130, 300, 30, 75)
    tunnel = _made(tb.lid_opening(tb.tunnel(), holes, at="450 mm"))
    lid, blank = _made(tb.tunnel_lid(holes)), tb.gasket(holes)
    y0 = tunnel.part.base.edge("front").start[1] + 450
    inserts = [_middle(h.loop) for h in tunnel.panel("base").holes if h.use == "nut insert"]
    screws = [_middle(h.loop) for h in lid.panel("base").holes if h.use == "bolt"]
    rubber = [_middle(c.loop) for c in blank.cuts if c.use == "bolt"]
    assert len(inserts) == len(screws) == len(rubber) == len(holes.points)
    for a, b, c in zip(inserts, screws, rubber, strict=True):
        assert math.dist((a[0], a[1] - y0), b) < 1e-9
        assert math.dist(b, c) < 1e-9
    opening = holes.frame(0.0)
    for p, q in zip(holes.points, (*holes.points[1:], holes.points[0]), strict=True):
        assert min(distance(e, p) for e in opening.edges) == pytest.approx(15, abs=1e-9)  # the middle of the rim
        assert 20 < math.dist(p, q) <= 75
        assert any(math.dist((-p[0], -p[1]), o) < 1e-9 for o in holes.points)
    assert not [f for f in tb.check(tunnel, SHOP) if f.code == "hole.edge" and f.severity != "fine"]


def _middle(loop: Any) -> tuple[float, float]:
    x0, y0, x1, y1 = loop.box
    return (x0 + x1) / 2, (y0 + y1) / 2


def test_lid_wider_than_the_tunnel_is_refused() -> None:
    with pytest.raises(BadValue, match=r"lid_opening width.*at most 1[34][0-9]"):
        tb.lid_opening(tb.tunnel(), tb.bolting(200, 300))
    with pytest.raises(BadValue, match=r"lid_opening at.*nearest 195"):
        tb.lid_opening(tb.tunnel(), tb.bolting(), at=50)
    with pytest.raises(BadValue, match=r"lid_opening length.*at most"):
        tb.lid_opening(tb.tunnel(length=400), tb.bolting(140, 400))


def test_gasket_rule_by_hand() -> None:
    """A beam clamped at both ends, w = q L⁴ / 384 E I (Roark), on the rim's own width."""
    holes = tb.bolting(130, 300, 24, 200)
    blank = tb.gasket(holes, 4.0)
    squeeze, pitch = tb.gasket_findings(holes, blank, 1.0, 2.6)
    assert squeeze.severity == "fine"
    inertia, load = 24 * 1.0**3 / 12, 0.05 * 24
    most = (384 * 210_000 * inertia * 0.4 / load) ** 0.25
    assert pitch.limit == pytest.approx(most)
    assert (pitch.severity == "stop") == (holes.pitch > most)
    too_hard, _ = tb.gasket_findings(holes, blank, 1.0, 1.6)
    assert too_hard.severity == "stop"
    assert too_hard.limit == pytest.approx(2.0)


def test_drive_unit_under_the_crown() -> None:
    """A level crown and upright-ish sides: distances by plain trigonometry."""
    made = _made(tb.tunnel(crown_front=240, crown_rear=240, height_front=200, height_rear=200, slope=80, folds=1))
    crown, side = tb.drive_clearance(made, 160, 400, 150, 100)
    assert crown.value == pytest.approx(200 - 1.5 - 150)
    a = math.radians(80)
    outer = (240 / 2 - 160 / 2) * math.sin(a) + (200 - 150) * math.cos(a)
    assert side.value == pytest.approx(outer - 1.5)
    assert next(f.severity for f in tb.drive_clearance(made, 160, 400, 190, 100)) == "stop"


# --- dash --------------------------------------------------------------------------------------------------------


def test_dash_and_its_panels_agree() -> None:
    bay = tb.dash_bay(1000, 200, 3)
    dash = _made(tb.dash_frame(1000, 200, 3))
    panel = _made(tb.fascia(bay, [("gauge 80", -70, 0), ("toggle switch", 60, 20)]))
    screws = [_middle(h.loop) for h in panel.panel("base").holes if h.use == "bolt"]
    for i, (x, y) in enumerate(tb.bay_places(bay, 1000, 200, 3)):
        names = f"insert {i + 1} "
        inserts = [_middle(h.loop) for h in dash.panel("base").holes if h.name.startswith(names)]
        assert len(inserts) == len(screws)
        assert all(math.dist((x + sx, y + sy), p) < 1e-9 for (sx, sy), p in zip(screws, inserts, strict=True))
    with pytest.raises(BadValue, match=r"dash_bay panels.*at most 5"):
        tb.dash_bay(700, 200, 6)
    hem = next(s for s in dash.strips if s.name == "hem")
    assert hem.radius == pytest.approx(2.0 / 2)


def test_instruments_keep_their_room() -> None:
    bay = tb.dash_bay(1000, 200, 3)
    with pytest.raises(BadValue, match="94 mm beside"):
        tb.fascia(bay, [("gauge 80", -60, 0), ("gauge 80", 20, 0)])
    with pytest.raises(BadValue, match="stays in the bay"):
        tb.fascia(bay, [("gauge 52", 130, 0)])
    with pytest.raises(BadValue, match="gauge 52, gauge 80"):
        tb.fascia(bay, [("clock", 0, 0)])
    fine, stop = dash_panels.keep_out([("rocker switch", 0, 0), ("gauge 80", 0, 0)], 60)
    assert (fine.severity, stop.severity, stop.value) == ("fine", "stop", 85.0)


# --- pans --------------------------------------------------------------------------------------------------------


def _opening() -> tb.Outline:
    return tb.Outline.polygon(
        [(0, 0), (0, -420), (830, -420), (900, -350), (900, 0)], ["front", "sill", "clip", "rear", "tunnel"]
    )


def test_pans_are_true_mirrors_and_their_text_reads_right() -> None:
    left, right = tb.floor_pan_pair(_opening(), rev="B", beads=4)
    hands = [_made(p.text("SEAT", (60, -60), height=12)) for p in (left, right.mirrored().mirrored())]
    # Text is added on the first hand; both must hold it at mirrored places, read from left to right.
    strokes = []
    for m in hands:
        assert m.flat is not None
        (mark,) = (k for k in m.flat.marks if k.kind == "text" and k.label == "SEAT")
        points = [p for e in mark.edges for p in (e.start, e.end)]
        x0, y0 = min(p[0] for p in points), min(p[1] for p in points)
        strokes.append((x0, max(p[0] for p in points), [(p[0] - x0, p[1] - y0) for p in points]))
    assert all(math.dist(p, q) < 1e-6 for p, q in zip(strokes[0][2], strokes[1][2], strict=True))
    assert strokes[1][0] == pytest.approx(-strokes[0][1])
    a, b = sorted(_places(hands[0])), sorted((-x, y) for x, y in _places(hands[1]))
    assert len(a) == len(b) > 40
    assert all(min(math.dist(p, q) for q in b) < 1e-9 for p in a)
    assert hands[0].flat.area == pytest.approx(hands[1].flat.area, abs=1e-6)  # type: ignore[union-attr]


def test_etched_lines_of_both_hands_are_mirror_images() -> None:
    left = tb.floor_pan_pair(_opening(), beads=0)[0].etch([(60, -60), (160, -60), (160, -100)], name="seat")
    lines = []
    for m in (_made(left), _made(left.mirrored("HN-FP-R"))):
        assert m.flat is not None
        (mark,) = (k for k in m.flat.marks if k.kind == "match")
        lines.append([p for e in mark.edges for p in (e.start, e.end)])
    assert all(math.dist((-x, y), p) < 1e-9 for (x, y), p in zip(lines[1], lines[0], strict=True))
    assert lines[0][0] == pytest.approx((60, -60))


def _places(m: Made) -> list[tuple[float, float]]:
    assert m.flat is not None
    return [_middle(c.loop) for c in m.flat.cuts]


def test_extended_pan_is_longer_by_what_was_asked() -> None:
    short, long = (tb.floor_pan_pair(_opening(), extended=e)[0] for e in (0, "120 mm"))
    assert long.base.box[2] - short.base.box[2] == pytest.approx(120)
    assert long.base.box[3] - long.base.box[1] == pytest.approx(short.base.box[3] - short.base.box[1])


def test_brace_is_welded_between_the_beads() -> None:
    pan, _ = tb.floor_pan_pair(_opening(), beads=5)
    flats = tb.flats_of(pan, 100, 700, -200)
    beads = [pan.beads[0].path[0][0] + k * pan.beads[0].step[0] for k in range(5)]
    assert len(flats) == 6
    assert all(abs(100 + x - b) >= 14 for x in flats for b in beads)
    brace = _made(tb.floor_brace(700, flats=flats))
    for flange in ("near flange", "far flange"):
        p = brace.panel(flange)
        along = sorted(p.frame(*_middle(h.loop))[0] for h in p.holes)
        assert along == pytest.approx(flats)
    with pytest.raises(BadValue, match="flats_of y"):
        tb.flats_of(pan, 100, 700, 300)


# --- hinged lid --------------------------------------------------------------------------------------------------


def test_strut_holds_the_lid_by_hand_calculation() -> None:
    """Moments about the hinge at 75 degrees and -10 °C, the gas by its absolute temperature."""
    lid = tb.centred_lid(7.0, 450, 25, 180, (20, -50))
    strut = tb.strut_for(lid, 75)
    c, s = math.cos(math.radians(75)), math.sin(math.radians(75))
    jx, jy = c * 180 + s * 25, s * 180 - c * 25
    long = math.hypot(jx - 20, jy + 50)
    arm = abs(jx * (-50) - jy * 20) / long
    weight = 7.0 * 9.80665 * (c * 225 + s * 25 / 4)
    absolute, back = 263.15 / 293.15, 0.101325 * math.pi / 4 * 8**2
    share = (strut.extended - long) / strut.stroke
    full, pressed = strut.force + back, 1.3 * strut.force + back
    push = full / (1 - (1 - full / pressed) * share) * absolute - back
    stays, effort = hinged_lid.lid_findings(lid, strut, 75)
    assert stays.limit == pytest.approx(7.0 * 2 * push * arm / weight, rel=1e-9)
    assert stays.severity == effort.severity == "fine"
    assert strut.force == 50 * math.ceil(strut.force / 50)
    assert "<svg" in tb.effort_plot(lid, strut, 75)._repr_svg_()
    with pytest.raises(BadValue, match=r"lid_joint.*nearest stroke"):
        tb.strut_for(tb.centred_lid(7.0, 450, 25, 180, (170, -600)), 75)


# --- how they are written ----------------------------------------------------------------------------------------


def test_every_family_function_is_short_enough_to_copy(root: Path) -> None:
    for file in sorted((root / "kit" / "tinbook" / "families").glob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                doc = node.body[0] if ast.get_docstring(node) else None
                own = node.end_lineno - node.lineno + 1 - (doc.end_lineno - doc.lineno + 1 if doc else 0)  # type: ignore[operator]
                assert own <= 65, f"{file.name}: {node.name} has {own} lines"


def _is_family(node: ast.AST) -> bool:
    """Whether it is the part itself: a function for the workbench, its parameters with ranges, at most 30 lines."""
    return isinstance(node, ast.FunctionDef) and "Range" in ast.dump(node.args) and node.end_lineno - node.lineno < 30  # type: ignore[operator]


def test_no_helper_in_a_notebook_is_longer_than_eight_lines(root: Path) -> None:
    for file in sorted((root / "notebooks").glob("*.ipynb")):
        for cell in json.loads(file.read_text(encoding="utf-8"))["cells"]:
            text = "".join(cell["source"])
            if cell["cell_type"] != "code" or text.lstrip().startswith(("%", "!")):
                continue
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.FunctionDef | ast.ClassDef) and not _is_family(node):
                    assert node.end_lineno - node.lineno + 1 <= 8, f"{file.name}: {node.name}"  # type: ignore[operator]
