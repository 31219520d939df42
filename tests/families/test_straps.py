"""Straps: as long as their tanks are round to the tenth, their eyes, pins, liners and take-up."""

from __future__ import annotations

import math
from typing import Any

import cadquery
import pytest

import tinbook as tb
from lightparts import SHOP, din, made_of
from tinbook.errors import BadValue
from tinbook.making.assembled import assemble
from tinbook.making.solid.bodies import bores
from tinbook.part.assembly import Assembly
from tinbook.part.bought import Bought, turned
from tinbook.rules import meeting
from tinbook.space import frame_at


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
    part = tb.families.tank_strap(width, height, corner, liner, below=60, pin=pin, overlap=25, stud="M6", sheet=sheet)
    b, r, r0 = _eye_angle(pin, t), pin / 2 + 0.25, 1.5 * t
    reach = (r0 + t + r) * math.sin(b) + 2 * math.cos(b)
    around = width - 2 * corner + math.pi * (corner + liner + din(corner + liner, t))
    sides = 2 * (height - corner + 60 - reach)
    ends = 2 * (b * (r0 + din(r0, t)) + 2 + (math.pi + b) * (r + din(r, t)) + reach + 25)
    made = made_of(part)
    assert made.flat is not None
    assert made.flat.size[0] == pytest.approx(around + sides + ends, abs=0.1)
    box = made.solid.BoundingBox()
    assert box.xmax - box.xmin == pytest.approx(width + 2 * liner + 4 * t + 0.2, abs=1e-6)  # both tails lie outside
    assert (box.zmax - t) - box.zmin == pytest.approx(liner + height + 60 + r + t, abs=1e-6)


def test_folded_strap_goes_round_the_same_tank() -> None:
    made = made_of(tb.families.tank_strap(corners="folded", corner_folds=3))
    box = made.solid.BoundingBox()
    assert sum(s.angle for s in made.strips if "set" not in s.name and "eye" not in s.name) == pytest.approx(180)
    assert box.xmax == pytest.approx(210 + 3 + 2 + 2.1, abs=1e-6)
    with pytest.raises(BadValue, match=r"tank_corner.*at least"):
        tb.families.tank_strap(tank_corner=20, corners="folded", corner_folds=8)


@pytest.mark.parametrize("corners", ["rolled", "folded"])
def test_riveted_tails_lie_hole_on_hole(corners: Any) -> None:
    """In the folded solid: four pairs of bores, each pair on one axis, tail and strap a tenth apart."""
    made = made_of(tb.families.tank_strap(corners=corners, tails="riveted"))
    found = [b for b in bores(made.solid.wrapped) if abs(b.dia - 4.9) < 1e-6]
    assert len(found) == 8
    for b in found:
        mates = [o for o in found if o is not b and b.parallel(o) and b.offset(o) < 0.05 and b.apart(o) < 5]
        assert len(mates) == 1
        assert b.apart(mates[0]) == pytest.approx(0.1, abs=0.01)
    with pytest.raises(BadValue, match=r"tank_strap width.*nearest 30"):
        tb.families.tank_strap(width=25, tails="riveted")


def test_strap_longer_than_stock_is_found() -> None:
    """The shop's plasma table is 2500 mm long."""
    assert tb.check(made_of(tb.families.tank_strap(800, 600, 60)), SHOP).ok
    made = made_of(tb.families.tank_strap(900, 700, 60, below=150))
    assert made.flat is not None
    (stop,) = tb.check(made, SHOP).stops
    assert (stop.where, stop.limit) == ("blank", 2500)
    assert stop.value == pytest.approx(made.flat.size[0], abs=1)


def test_take_up_covers_the_tank() -> None:
    """By hand: stretch F L / E A, half a turn of squeezed liner, three sides of a tank 2 mm over or under size."""
    got = tb.families.strap_tightening(
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
    narrow = tb.families.strap_tightening(
        2500, length=1233, width=40, thickness=2, pin=12, stress_area=36.6, stud=8, thread=30, liner=4, radius=64,
        tank_tolerance=2, slot=9, bolt_class="8.8", load=7000, rivets=2,
    )  # fmt: skip
    # Euler and Eytelwein by hand over half a turn: e^(0.5 pi) = 4.810 dry, e^(0.2 pi) = 1.874 wet.
    assert got.far == pytest.approx((2500 / 4.810, 2500 / 1.874), rel=1e-3)
    # Two upright legs share the load; ISO 898-1: 580 MPa under proof load of class 8.8.
    assert (got.leg, narrow.leg) == (0.0, 3500.0)
    assert narrow.allowed["stud"] == pytest.approx(0.6 * 580 * 36.6)
    # ISO 15979: 2900 N in shear at least; the tail carries half, two rivets, half of what they bear.
    assert narrow.allowed["rivets"] == 5800
    assert narrow.allowed["eye"] == pytest.approx(got.allowed["eye"] * 31 / 40)
    assert narrow.allowed["pin"] == got.allowed["pin"]


@pytest.mark.parametrize("rivets", [-1, 1.5, True, None, "two", math.nan])
def test_a_number_of_rivets_that_is_none_is_refused(rivets: Any) -> None:
    with pytest.raises(BadValue, match="how many hold each tail"):
        tb.families.strap_tightening(
            2500, length=1233, width=40, thickness=2, pin=12, stress_area=36.6, stud=8, thread=30, liner=4, radius=64,
            tank_tolerance=2, rivets=rivets,
        )  # fmt: skip


def test_pins_of_cradle_and_strap_agree() -> None:
    """The eye's bore, found in the folded strap's solid, against the cradle's hole: concentric within 0.05 mm."""
    liner, t, below = 3.0, 2.0, 40.0
    strap = made_of(tb.families.tank_strap(liner=liner, below=below))
    frame = next(s for s in strap.strips if s.name == "right eye").frame
    axis = frame(0.0, 0.0, t + 6.25)  # up: the pin lies on the up side, one inside radius off the face
    (x, y), _ = tb.families.pin_places(420, liner, below, 12, "DC01 2.0")
    top = 320 + liner  # the strap's base panel lies with its underside here above the tank's underside
    assert axis[0] == pytest.approx(x, abs=0.05)
    assert axis[2] + top == pytest.approx(y, abs=0.05)


def test_strap_tank_cradle_and_pins_share_no_metal() -> None:
    """In the assembled solids: the strap keeps the liner's 3 mm off the tank all round, the pins turn freely."""
    strap = tb.families.tank_strap(liner=3)
    pin = Bought(name="pin 12", pieces=(turned(12.0, -60.0, 25.0),), mass=0.1)
    upright = ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))  # the strap lies flat at z = 0; everything else hangs from it
    whole = (
        Assembly("HN-TS")
        .add("strap", strap)
        .add("tank", tb.families.plastic_tank(420, 320, 60, 300), frame_at((0.0, 150.0, -323.0), *upright))
        .add("cradle", tb.families.tank_cradle(liner=3), frame_at((0.0, 24.0, -323.0), *upright))
    )
    for i, (x, y) in enumerate(tb.families.pin_places(420, 3, 40, 12, "DC01 2.0")):
        whole = whole.add(f"pin {i + 1}", pin, frame_at((x, 0.0, y - 323.0), *upright))
    made = assemble(whole, SHOP)
    assert not [str(f) for f in meeting.clashes(made) if f.severity == "stop"]
    assert not [str(f) for f in meeting.holes(made) if f.severity == "stop"]
    strap_solid, tank_solid = (cadquery.Shape.cast(made.shape(n)) for n in ("strap", "tank"))
    assert strap_solid.distance(tank_solid) == pytest.approx(3.0, abs=1e-6)
    for n in ("pin 1", "pin 2"):
        assert strap_solid.distance(cadquery.Shape.cast(made.shape(n))) == pytest.approx(0.25, abs=0.05)


def test_liner_is_as_long_as_it_lies() -> None:
    """Its own middle line, and the same area seen from its end."""
    flat = tb.families.cradle_liner(420, 60, 160, thickness=5, squeezed=4, seat=30)
    by_hand = (420 - 120) + math.pi * (60 + 2) + 2 * (160 - 60)
    assert flat.size == pytest.approx((by_hand, 36))
    ring = tb.families.liner_ring(flat, 420, 60, 160, 4)
    assert ring.pieces[0].outer.area / 4 == pytest.approx(by_hand)
    assert all(c.use == "drain" for c in flat.cuts)
    with pytest.raises(BadValue, match="fluid"):
        tb.families.cradle_liner(420, 60, 160, fluid="petrol")  # type: ignore[arg-type]
    with pytest.raises(BadValue, match=r"nearest 3\.75"):
        tb.families.cradle_liner(420, 60, 160, thickness=5, squeezed=2)


def test_tank_and_set_out() -> None:
    full = tb.families.plastic_tank(420, 320, 60, 950, wall=4)
    inner = (412 * 312 - (4 - math.pi) * 56**2) * 942e-9
    assert full.mass == pytest.approx(
        inner * 0.95 * 1000 + ((420 * 320 - (4 - math.pi) * 3600) * 950e-9 - inner) * 950, rel=1e-9
    )
    assert "baffle" in full.name
    assert tb.families.tack_distance(600, 2, 0.8) == pytest.approx(601.6)
