"""Louvres: shape, free area, die, neighbours, machines, papers; what reads solids finds them again.

Expected values are worked out by hand from the section: two arcs over the reach c and the height h = opening + t, whose
radii add up to R = (c² + h²) / 2h and which turn through a = 2 atan(h / c).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tinbook.errors import BadFile, BadValue, UnknownName
from tinbook.making.preview.view import corner_view
from tinbook.making.resolve import make
from tinbook.part.forms.drawn_hole import DrawnHole
from tinbook.part.forms.louvre import Louvre
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.read.adopt.part import adopt
from tinbook.read.step.unfold import unfold
from tinbook.route.fold_order import fold_sequence
from tinbook.route.order import order_of_work
from tinbook.rules.registry import live
from tinbook.shop.shop import Shop
from tinbook.strength.mesh.build import mesh
from tinbook.strength.panel import stiffness_of
from tinbook.strength.singular import singular_places
from tinbook.write.details import details
from tinbook.write.facts import form_table
from tinbook.write.step import write_step

SHOP = Shop.demo()
T = 1.5


def plate(*forms: Louvre | DrawnHole, sheet: str = "DC01 1.5") -> Part:
    part = Part("HN-LV", sheet=sheet, base=Outline.rectangle(200, 150))
    for form in forms:
        part = part.formed(form)
    return part


def by_pappus(length: float, reach: float, height: float, radius: float) -> float:
    """Return the metal of a hood: two sectors of rings along the middle, and turned by a quarter at either end."""
    a, reach_of_radii, whole = 2 * math.atan(height / reach), (reach**2 + height**2) / (2 * height), 0.0
    for inner, centre, side in ((radius, reach, -1), (reach_of_radii - radius - T, 0.0, 1)):
        outer = inner + T
        sector = a / 2 * (outer**2 - inner**2)
        # Centroid of a sector of a ring from its centre, here along a/2 from upright.
        out = 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2) * math.sin(a / 2) / (a / 2)
        whole += sector * (length - 2 * reach) + math.pi * (centre + side * out * math.sin(a / 2)) * sector
    return whole


@pytest.mark.parametrize(
    ("length", "reach", "opening", "radius", "way", "turn"),
    [(80, 18, 6, 2, "up", 0), (60, 20, 9, 1.5, "down", 35), (41, 20, 2, 30, "up", 200)],
)
def test_the_solid_has_the_hood_worked_out_by_hand(length, reach, opening, radius, way, turn):
    """Volume and height of the kernel's solid; the slit takes 0.1 mm off the sheet beside it, the flat loses nothing."""
    form = Louvre(
        centre=(100, 70), turn=turn, length=length, reach=reach, opening=opening, radius=radius, direction=way
    )
    made = make(plate(form), SHOP)
    foot = (length - 2 * reach) * reach + math.pi * reach**2 / 2 + 0.1 * length
    metal = by_pappus(length, reach, opening + T, radius)
    assert made.solid.isValid()
    assert made.solid.Volume() == pytest.approx((200 * 150 - foot) * T + metal, rel=1e-9)
    box, high = made.solid.BoundingBox(tolerance=1e-6), opening + T
    assert (box.zmin, box.zmax) == pytest.approx((0, T + high) if way == "up" else (-high, T), abs=1e-5)
    assert made.flat.area == pytest.approx(200 * 150)
    assert not made.flat.cuts


def test_the_free_area_is_that_under_the_hood():
    """44 mm of 6 mm, and two ends: the circle of the underside, 21.85 mm about 14.35 mm below the sheet, over the sheet's face.

    Half a segment, 15.85 mm from its centre: x = sqrt(21.85² - 15.85²) = 15.040 mm,
    (15.85 x + 21.85² asin(x / 21.85)) / 2 - 15.85 x = 62.03 mm²; 264 + 2 x 62.03 = 388.1 mm².
    """
    made = make(plate(Louvre(centre=(100, 70), die="L80", copies=2, step=(0, 34))), SHOP)
    assert [round(f.vent, 1) for f in made.panel("base").forms] == [388.1, 388.1]
    again = made.part.formed(Louvre(centre=(50, 120), die="L80"))
    assert [n for form in again.forms for n in form.names] == ["louvre 1", "louvre 2", "louvre 3"]
    (row,) = form_table(made).rows
    assert row[:3] == ("2", "louvre 80 × 18, opening 6, free area 388 mm²", "L80")


def test_the_blank_carries_the_slit_and_which_way_the_hood_lies():
    """At 90 degrees the slit runs along y through the centre, and the hood lies toward smaller x; a mirrored part turns it."""
    part = plate(Louvre(centre=(100, 70), turn=90, die="L80", direction="down"))
    for each, side in ((part, -1), (part.mirrored(), 1)):
        flat = make(each, SHOP).flat
        (guide,) = (m for m in flat.marks if m.kind == "form")
        assert guide.face == "up", "cutters etch no other"
        slit, toward = guide.edges
        middle = slit.at(0.5)
        assert abs(slit.end[1] - slit.start[1]) == pytest.approx(80)
        assert toward.start == pytest.approx(middle)
        assert toward.end == pytest.approx((middle[0] + 18 * side, middle[1]))
        (line,) = flat.form_lines
        assert line.edges == (slit,)


@pytest.mark.parametrize(
    ("given", "sheet", "code"),
    [
        ({"die": "L80"}, "DC01 2.0", "louvre.die"),
        ({"length": 40, "reach": 20, "opening": 5}, "DC01 1.5", "louvre.shape"),
        ({"length": 90, "reach": 10, "opening": 9}, "DC01 1.5", "louvre.shape"),
        ({"length": 90, "reach": 12, "opening": 6, "radius": 14}, "DC01 1.5", "louvre.shape"),
        ({"die": "L80", "centre": (190, 75)}, "DC01 1.5", "louvre.off_panel"),
        ({"die": "L80", "copies": 2, "step": (0, 10)}, "DC01 1.5", "louvre.overlap"),
    ],
)
def test_what_cannot_be_pressed_is_stopped(given, sheet, code):
    made = make(plate(Louvre(**{"centre": (100, 75)} | given), sheet=sheet), SHOP)
    assert [f.code for f in made.findings.stops] == [code]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"length": 0}, "length"),
        ({"reach": -1}, "reach"),
        ({"opening": "wide"}, "opening"),
        ({"opening": None}, "opening"),
        ({"radius": math.nan}, "radius"),
        ({"turn": None}, "turn"),
        ({"direction": "left"}, "direction"),
        ({"die": "L80"}, "length"),
        ({"copies": 3}, "step"),
        ({"copies": 2.5, "step": (0, 40)}, "copies"),
        ({"centre": (1, 2, 3)}, "centre"),
        ({"panel": 3}, "panel"),
    ],
)
def test_a_bad_value_is_named(given, field):
    with pytest.raises(BadValue, match=field):
        Louvre(**{"centre": (100, 75), "length": 80, "reach": 18, "opening": 6} | given)


def test_a_die_of_the_shop_file_is_checked(tmp_path):
    row = '[fixings.louvre_dies."L50"]\nlength = 50\nreach = 12\nheight = {}\nradius = 1\nover = 0.5\nupto = 1.6\nsource = "own data"'
    file = tmp_path / "shop.toml"
    file.write_text('base = "demo"\n' + row.format(5))
    made = make(plate(Louvre(centre=(100, 75), die="L50")), Shop.load(file))
    assert made.panel("base").forms[0].opening == 3.5
    file.write_text('base = "demo"\n' + row.format(1.2))
    with pytest.raises(BadFile, match="height"):
        Shop.load(file)
    with pytest.raises(UnknownName, match="L80"):
        make(plate(Louvre(centre=(100, 75), die="L50")), SHOP)


@pytest.mark.parametrize(("pitch", "said"), [(27.05, True), (27.15, False)])
def test_a_row_leaves_room_for_the_die(pitch, said):
    """6 t = 9 mm between outlines of 18 mm and the slit's 0.1 mm."""
    found = live(make(plate(Louvre(centre=(100, 50), die="L80", copies=2, step=(0, pitch))), SHOP))
    assert any(f.code == "louvre.pitch" for f in found) is said


def test_beads_are_rolled_after_louvres_and_keep_clear_of_them():
    """A hole's distance, 3 t + 3 = 7.5 mm from the bead's footprint (R18x5: 9 mm from its line) to the foot of the hood."""
    for clear, said in ((7.45, True), (7.55, False)):
        y = 70 + 18 + clear + 9
        made = make(plate(Louvre(centre=(100, 70), die="L80")).bead([(70, y), (130, y)], "R18x5"), SHOP)
        assert any(f.code == "bead.pitch" and "louvre" in f.what for f in live(made)) is said
    steps = [s.operation.what for s in order_of_work(made).steps]
    pressed = steps.index("press 1 louvres 80 × 18, opening 6 up")
    assert pressed < next(i for i, what in enumerate(steps) if what.startswith("roll"))


def test_the_fold_simulation_knows_the_height_of_the_hood():
    """Beside a fold in the folder, as a drawn hole: a low hood passes under the clamp, a high one hits it."""

    def folds(opening: float) -> bool:
        part = plate(Louvre(centre=(100, 15), length=60, reach=18, opening=opening)).fold("front", leg=30)
        part = replace(part, folds=tuple(replace(f, tool="F1") for f in part.folds))
        return bool(fold_sequence(make(part, SHOP)).steps)

    assert folds(3)
    assert not folds(12)


def test_the_mesh_is_open_along_the_slit():
    """The middle of the sheet rises by opening + t; edges of one element alone lie on the outline and round the slit."""
    made = make(plate(Louvre(centre=(100, 75), die="L80")), SHOP)
    m = mesh(made, 12.0, finer_beads=3)
    # Nodes inside an arc go out by about half a chord's sagitta: 22.6 (1 - cos 5.7°) / 2 = 0.06 mm at the crown.
    assert m.points[:, 2].max() == pytest.approx(T / 2 + 7.5, abs=0.1)
    sides = np.sort(np.concatenate([m.quads[:, (k, (k + 1) % 4)] for k in range(4)]), axis=1)
    lone, count = np.unique(sides, axis=0, return_counts=True)
    assert set(count.tolist()) == {1, 2}
    p = m.points[lone[count == 1]]
    (inner,) = np.nonzero((np.abs(p[:, :, 0] - 100) < 99).all(axis=1) & (np.abs(p[:, :, 1] - 75) < 74).all(axis=1))
    assert np.abs(p[inner][:, :, 1] - 75).max() < 1e-9
    across = np.abs(p[inner][:, 0, 0] - p[inner][:, 1, 0])
    assert across.sum() == pytest.approx(2 * 80, abs=1e-6)


def test_strength_says_what_it_cannot_read_at_a_slit_and_what_the_estimate_leaves_out():
    """A slit ends as a crack does: elastic stress has no limit there (Williams 1952), so it is read beside it."""
    made = make(plate(Louvre(centre=(100, 75), die="L80")), SHOP)
    ends = [p.words for p in singular_places(made, ()) if "slit" in p.words]
    assert ends == ["end of a slit at (60, 75)", "end of a slit at (140, 75)"]
    assert any("leaves out the panel's louvres" in note for note in stiffness_of(made).notes)
    assert not any("leaves out" in note for note in stiffness_of(make(plate(), SHOP)).notes)


def test_its_section_is_shown_enlarged():
    made = make(plate(Louvre(centre=(100, 60), die="L80")), SHOP)
    (found,) = (d for d, _ in details(made, corner_view("up"), 300.0))
    assert found.words == ("louvre", "18 mm from slit to foot, 7.5 mm high, sheet 1.5 mm")


@pytest.mark.parametrize("folds", [0, 1])
def test_the_unfolder_finds_it_again_and_adopting_names_it(folds, tmp_path):
    """By code of its own: 80 mm by 18 mm and the slit's 0.1 mm; nothing is cut for it, and its hood is no fold."""
    part = plate(Louvre(centre=(100, 60), die="L80", direction="down"))
    made = make(part.fold("front", leg=30) if folds else part, SHOP)
    found = unfold(write_step(made, tmp_path, despite="drawn for a test"), 0.4)
    assert len(found.flat.folds) == folds
    assert not found.flat.cuts
    (mark,) = found.flat.marks
    assert mark.label == "louvre"
    (line,) = adopt(found, "DC01 1.5", number="HN-LW").etches
    assert line.note.startswith("louvre 80 x 18.1 mm")
