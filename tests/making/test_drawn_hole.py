"""Drawn holes with a flared lip: shape, pilot, neighbours, machines, papers; what reads solids finds them again.

Expected values are worked out by hand from the profile: in 1.5 mm sheet, lip at 60 degrees about a bend of 1.5 mm inside,
40 mm finished and 6 mm high, the lip is (6 - 1.5 (1 - cos 60)) / sin 60 = 6.0622 mm long on its middle.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tinbook.errors import BadValue
from tinbook.making.resolve import make
from tinbook.part.forms.drawn_hole import DrawnHole
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.read.step.unfold import unfold
from tinbook.route.fold_order import fold_sequence
from tinbook.rules.registry import live
from tinbook.shop.shop import Shop
from tinbook.strength.mesh.build import mesh
from tinbook.write.facts import form_table
from tinbook.write.step import write_step

SHOP = Shop.demo()
T = 1.5


def plate(*forms: DrawnHole, sheet: str = "DC01 1.5") -> Part:
    part = Part("HN-LH", sheet=sheet, base=Outline.rectangle(200, 150))
    for form in forms:
        part = part.formed(form)
    return part


def by_pappus(dia: float, height: float, angle: float, radius: float) -> tuple[float, float]:
    """Return (radius of the foot, metal within it): a sector of a ring and a rectangle, each turned about the axis."""
    a = math.radians(angle)
    lip = (height - radius * (1 - math.cos(a))) / math.sin(a)
    end = dia / 2 + T / 2 * math.sin(a)
    foot = end + lip * math.cos(a) + (radius + T / 2) * math.sin(a)
    sector = a / 2 * ((radius + T) ** 2 - radius**2)
    # Centroid of a sector of a ring, from its centre: 2/3 (R³ - r³) / (R² - r²) sin(a/2) / (a/2), here along a/2 from the sheet.
    reach = 2 / 3 * ((radius + T) ** 3 - radius**3) / ((radius + T) ** 2 - radius**2) * math.sin(a / 2) / (a / 2)
    bend = math.tau * (foot - reach * math.sin(a / 2)) * sector
    return foot, bend + math.tau * (end + lip / 2 * math.cos(a)) * lip * T


@pytest.mark.parametrize(
    ("dia", "height", "angle", "radius", "way"),
    [
        (40, 6, 60, 1.5, "up"),
        (40, 6, 60, 1.5, "down"),
        (25, 4, 45, 3, "up"),
        (20, 5, 90, 2, "down"),
        (90, 9, 30, 5, "up"),
    ],
)
def test_the_solid_has_the_lip_worked_out_by_hand(dia, height, angle, radius, way):
    """Volume, height and bore of the kernel's solid; the flat keeps the metal: pi/4 (2 foot)² t - pi/4 pilot² t."""
    made = make(
        plate(DrawnHole(centre=(100, 75), dia=dia, height=height, angle=angle, radius=radius, direction=way)), SHOP
    )
    solid, (foot, metal) = made.solid, by_pappus(dia, height, angle, radius)
    assert solid.isValid()
    assert solid.Volume() == pytest.approx(200 * 150 * T - math.pi * foot**2 * T + metal, rel=1e-9)
    box = solid.BoundingBox(tolerance=1e-6)
    assert (box.zmin, box.zmax) == pytest.approx((0, T + height) if way == "up" else (-height, T), abs=1e-5)
    bores = [e.radius() for e in solid.Edges() if e.geomType() == "CIRCLE" and e.IsClosed()]
    assert min(bores) == pytest.approx(dia / 2, abs=1e-9)
    # The pilot is rounded to 0.01 mm: up to pi/2 pilot t 0.005 = 1 mm³ of 36 000.
    assert made.mass == pytest.approx(solid.Volume() * 7.85e-6, rel=5e-5)


def test_the_pilot_holds_the_volume_of_the_lip():
    """foot 25.629 mm, metal 1810.79 mm³: pilot = sqrt(4 foot² - 4 metal / (pi t)) = 33.02 mm; it is what the cutter cuts."""
    foot, metal = by_pappus(40, 6, 60, 1.5)
    made = make(plate(DrawnHole(centre=(100, 75), dia=40, height=6)), SHOP)
    (cut,) = made.flat.cuts
    assert (cut.use, cut.dia) == (
        "drawn hole",
        pytest.approx(math.sqrt(4 * foot**2 - 4 * metal / (math.pi * T)), abs=0.006),
    )
    assert cut.loop.box == pytest.approx((100 - cut.dia / 2, 75 - cut.dia / 2, 100 + cut.dia / 2, 75 + cut.dia / 2))
    assert made.flat.area == pytest.approx(200 * 150 - math.pi / 4 * cut.dia**2)


def test_a_die_and_a_trial_give_their_own_pilot():
    table = make(plate(DrawnHole(centre=(100, 75), dia=25, height=4, size="die 25")), SHOP)
    trial = make(plate(DrawnHole(centre=(100, 75), dia=25, height=4, pilot="19.2 mm")), SHOP)
    assert [m.flat.cuts[0].dia for m in (table, trial)] == [20.5, 19.2]
    thick = make(plate(DrawnHole(centre=(100, 75), dia=25, height=4, size="die 25"), sheet="DC01 2.0"), SHOP)
    assert [f.code for f in thick.findings.stops] == ["drawnhole.die"]


@pytest.mark.parametrize(
    ("form", "code"),
    [
        (DrawnHole(centre=(100, 75), dia=40, height=0.5), "drawnhole.lip"),
        (DrawnHole(centre=(100, 75), dia=6, height=12, angle=90), "drawnhole.pilot"),
        (DrawnHole(centre=(20, 75), dia=40, height=6), "drawnhole.off_panel"),
        (DrawnHole(centre=(60, 75), dia=40, height=6, copies=2, step=(50, 0)), "drawnhole.overlap"),
    ],
)
def test_what_cannot_be_drawn_is_stopped(form, code):
    made = make(plate(form), SHOP)
    assert [f.code for f in made.findings.stops] == [code]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"dia": 0}, "dia"),
        ({"height": -1}, "height"),
        ({"angle": 95}, "angle"),
        ({"direction": "out"}, "direction"),
        ({"pilot": 10, "size": "die 25"}, "pilot"),
        ({"copies": 3}, "step"),
        ({"centre": (1,)}, "centre"),
    ],
)
def test_a_bad_value_is_named(given, field):
    with pytest.raises(BadValue, match=field):
        DrawnHole(**{"centre": (100, 75), "dia": 40, "height": 6} | given)


def test_the_unfolder_finds_bore_and_pilot_again(tmp_path):
    """It measures the exchanged solid by code of its own and calls it by the same name."""
    made = make(plate(DrawnHole(centre=(60, 75), dia=20, height=4)).fold("front", leg=30, radius=2), SHOP)
    found = unfold(write_step(made, tmp_path, despite="drawn for a test"), 0.4)
    (cut,) = found.flat.cuts
    assert cut.dia == pytest.approx(made.flat.cuts[0].dia, abs=0.02)
    said = [f.what for f in found.flat.findings if f.code == "unfold.fitting"]
    assert any("drawn hole" in what and "20" in what for what in said), said


def test_the_fold_simulation_knows_the_height_of_the_lip():
    """Beside a fold in the folder: a low lip passes under the clamp, a high one hits it, one below hits the bed."""

    def folds(way: str, height: float) -> bool:
        form = DrawnHole(centre=(100, 30), dia=20, height=height, angle=70, direction=way, pilot=8)
        part = plate(form).fold("front", leg=30)
        part = replace(part, folds=tuple(replace(f, tool="F1") for f in part.folds))
        return bool(fold_sequence(make(part, SHOP)).steps)

    assert folds("up", 5)
    assert not folds("up", 12)
    assert not folds("down", 5)


@pytest.mark.parametrize(("clear", "said"), [(7.47, True), (7.53, False)])
def test_a_bead_beside_it_keeps_the_distance_of_a_hole(clear, said):
    """R18x5 has shoulders of 3 mm: 3 t + 3 = 7.5 mm from its footprint, 9 mm from its line, to the foot of the lip."""
    form = DrawnHole(centre=(60, 75), dia=20, height=4, pilot=16)
    (made,) = make(plate(form), SHOP).panel("base").forms
    x = 60 + made.foot + clear + 9
    found = live(make(plate(form).bead([(x, 40), (x, 110)], "R18x5"), SHOP))
    assert any(f.code == "bead.pitch" and "drawn hole" in f.what for f in found) is said


def test_the_mesh_is_stiffer_by_the_lip():
    """The mesh reaches up to the lip's end, 1.5 + 6 - 0.75 cos 60 = 7.125 mm on the middle of the sheet."""
    made = make(plate(DrawnHole(centre=(100, 75), dia=40, height=6)), SHOP)
    m = mesh(made, 15.0)
    assert m.points[:, 2].max() == pytest.approx(T + 6 - 0.75 * math.cos(math.radians(60)), abs=1e-6)
    rim = m.points[np.isclose(m.points[:, 2], m.points[:, 2].max())]
    assert np.hypot(rim[:, 0] - 100, rim[:, 1] - 75) == pytest.approx(20 + 0.75 * math.sin(math.radians(60)), abs=1e-6)


def test_the_sheet_tells_pilot_and_finished_size():
    made = make(plate(DrawnHole(centre=(100, 75), dia=40, height=6)), SHOP)
    (row,) = form_table(made).rows
    assert "Ø40" in row[1]
    assert "pilot Ø33.02" in row[1]
