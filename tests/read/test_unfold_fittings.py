"""Press nuts, standoffs, drawn holes, bosses and dimples: one reading for the flat, the adopted part and the file."""

from __future__ import annotations

import math
from pathlib import Path

import cadquery as cq
import ezdxf
import pytest

from tinbook.calc.collars import pilot_before_drawing
from tinbook.errors import BadValue
from tinbook.making.resolve import make
from tinbook.read.adopt.part import adopt
from tinbook.read.step.unfold import unfold
from tinbook.rules.registry import live
from tinbook.shop.shop import Shop
from tinbook.write.dxf import write_dxf

SHOP = Shop.demo()
AT = ((-25.0, 10.0), (25.0, 10.0), (0.0, -12.0))
PLATE = 80 * 50 - (4 - math.pi) * 25
"""mm²: 80 x 50 with corners of radius 5."""


def plate(t: float = 1.5) -> cq.Workplane:
    return cq.Workplane().box(80, 50, t, centered=(True, True, False)).edges("|Z").fillet(5)


def bossed(
    bore: float, outside: float, high: float, *, t: float = 1.5, flip: bool = False, sides: int = 0
) -> cq.Workplane:
    """Three round or many-sided bushes on a plate, bored through both skins where there is a bore."""
    top = cq.Workplane(origin=(0, 0, t)).pushPoints(AT)
    p = plate(t).union((top.polygon(sides, outside) if sides else top.circle(outside / 2)).extrude(high))
    if bore:
        p = p.cut(cq.Workplane(origin=(0, 0, -1)).pushPoints(AT).circle(bore / 2).extrude(t + high + 2))
    return p.rotate((0, 0, 0), (1, 0, 0), 180) if flip else p


def collar(bore: float = 5.0, wall: float = 0.8, high: float = 0.9, t: float = 1.2) -> tuple[cq.Workplane, float]:
    """A drawn hole turned about z, and the volume of its disc without a hole."""
    r, ri, ro = bore / 2, 1.0, 0.6
    section = (
        cq.Workplane("XZ")
        .moveTo(r, t + high)
        .lineTo(r + wall, t + high)
        .lineTo(r + wall, t + ro)
        .radiusArc((r + wall + ro, t), -ro)
        .lineTo(25, t)
        .lineTo(25, 0)
        .lineTo(r + ri, 0)
        .radiusArc((r, ri), ri)
        .close()
    )
    return section.revolve(360, (0, 0, 0), (0, 1, 0)), math.pi * 625 * t


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("sides", [0, 6])
def test_press_nuts_put_the_hole_of_the_shops_table_into_blank_part_and_file(
    flip: bool, sides: int, tmp_path: Path
) -> None:
    """M4: bore 3.3 mm (tapping), hole in the blank 5.4 mm by the demo shop's table."""
    found = unfold(bossed(3.3, 7.9, 2.0, flip=flip, sides=sides), 0.44, shop=SHOP)
    assert [c.dia for c in found.cuts] == [5.4] * 3
    assert [c.use for c in found.cuts] == ["press nut M4"] * 3
    assert {m.label for m in found.marks} == {"press nut"}
    part = adopt(found, "DC01 1.5")
    assert [(h.use, h.size, h.dia) for h in part.holes] == [("press nut", "M4", None)] * 3
    made = make(part, SHOP)
    assert made.flat.area == pytest.approx(PLATE - 3 * math.pi * 2.7**2, rel=1e-9)
    read = ezdxf.readfile(write_dxf(found, tmp_path)).modelspace()
    assert sorted(round(2 * e.dxf.radius, 3) for e in read.query("CIRCLE")) == [5.4] * 3
    assert any(f.code == "blank.formed" and "press nut" in f.what for f in live(made))
    (area,) = [f for f in found.findings if f.code == "unfold.area"]
    assert area.severity == "fine"


def test_a_tall_bush_is_a_standoff() -> None:
    found = unfold(bossed(2.5, 4.2, 8.0), 0.44, shop=SHOP)
    assert [c.use for c in found.cuts] == ["standoff M3"] * 3
    assert [c.dia for c in found.cuts] == [4.2] * 3


def test_without_a_shop_the_bore_is_cut_and_it_is_said() -> None:
    found = unfold(bossed(3.3, 7.9, 2.0), 0.44)
    assert [c.dia for c in found.cuts] == pytest.approx([3.3] * 3)
    (said,) = [f for f in found.findings if f.code == "unfold.fitting"]
    assert said.severity == "caution"
    assert "no shop" in said.what
    assert [h.dia for h in adopt(found, "DC01 1.5").holes] == pytest.approx([3.3] * 3)


def test_a_bore_that_fits_two_threads_is_given() -> None:
    """5 mm is M5's nominal diameter and M6's tapping drill."""
    found = unfold(bossed(5.0, 9.0, 3.0), 0.44, shop=SHOP)
    (said,) = [f for f in found.findings if f.code == "unfold.fitting"]
    assert "press nut M5 and press nut M6" in said.what
    assert [c.dia for c in found.cuts] == pytest.approx([5.0] * 3)


@pytest.mark.parametrize(("bore", "outside", "high"), [(0.0, 6.0, 3.0), (0.0, 6.0, 0.8)])
def test_bosses_are_never_cut(bore: float, outside: float, high: float) -> None:
    """Four 6 mm bosses once became 6 mm holes."""
    found = unfold(bossed(bore, outside, high, flip=True), 0.44)
    assert not found.cuts
    part = adopt(found, "DC01 1.5")
    assert not part.holes
    assert [e.note.split(" 6")[0] for e in part.etches] == ["boss"] * 3
    made = make(part, SHOP)
    assert made.flat.area == pytest.approx(PLATE, rel=1e-9)
    assert {m.kind for m in made.flat.marks if "boss" in m.label} == {"formed"}
    (told,) = [f for f in live(made) if f.code == "blank.formed"]
    assert "boss" in told.what


def test_a_drawn_hole_gets_the_pilot_of_constant_volume() -> None:
    """The blank's metal is the solid's: pi/4 pilot² t is what the disc holds more than the solid."""
    solid, disc = collar()
    found = unfold(solid, 0.44)
    (cut,) = found.cuts
    pilot = math.sqrt(4 / math.pi * (disc - solid.val().Volume()) / 1.2)
    assert cut.dia == pytest.approx(pilot, abs=0.006)  # printed and cut to a hundredth
    assert any("drawn hole" in f.what and "constant volume" in f.what for f in found.findings)


def test_a_row_of_the_shop_outranks_constant_volume(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    row = 'kind = "drawn hole"\nsize = "M6"\nover = 1\nupto = 1.5\nhole = 2.8\nsource = "own data"\n'
    file.write_text(f'base = "demo"\n[fixings.pressed."drawn hole M6"]\n{row}', encoding="utf-8")
    found = unfold(collar(bore=4.917)[0], 0.44, shop=Shop.load(file))
    (cut,) = found.cuts
    assert (cut.dia, cut.use) == (2.8, "drawn hole M6")


def test_pilot_before_drawing() -> None:
    """A collar of a plain ring, by hand: 10 mm round, 2 mm thick, pi/4 (100 - 9) 2 = 142.94 mm³ left of 157.08."""
    assert pilot_before_drawing(142.942, 10.0, 2.0) == pytest.approx(3.0, abs=1e-4)
    assert pilot_before_drawing(157.1, 10.0, 2.0) == 0.0
    with pytest.raises(BadValue, match="volume"):
        pilot_before_drawing(0.0, 10.0, 2.0)


def test_only_a_shop_has_tables() -> None:
    with pytest.raises(BadValue, match="Shop"):
        unfold(plate(), 0.44, shop="my_shop.toml")
