"""Openings, tabs, rings, cones and formed features in solids drawn here in plain CadQuery."""

from __future__ import annotations

import math
from typing import Any

import bentstrip
import pytest
from bentstrip import K, R, T, angle_bracket, codes

from tinbook.read.step.unfold import NotASheet, unfold

cq = pytest.importorskip("cadquery")
BEND = math.pi / 2 * (R + K * T)


def test_round_holes_and_slots_stay_true() -> None:
    plate = angle_bracket().cut(cq.Workplane().pushPoints([(15, 20), (40, 60)]).circle(4).extrude(9))
    plate = plate.cut(cq.Workplane().center(30, 30).slot2D(20, 6, 30).extrude(9))
    flat = unfold(plate, bend=K)
    assert sorted(c.dia for c in flat.cuts if c.dia) == pytest.approx([8, 8])
    (slot,) = [c for c in flat.cuts if c.dia is None]
    assert len(slot.loop) == 4
    assert abs(slot.loop.area) == pytest.approx(14 * 6 + math.pi * 9, rel=1e-9)
    holes = sorted(
        math.dist(a.loop.edges[0].centre, b.loop.edges[0].centre)
        for a in flat.cuts
        for b in flat.cuts
        if a.dia and b.dia
    )
    assert holes[-1] == pytest.approx(math.hypot(25, 40))


def test_square_cut_out_across_the_fold() -> None:
    """A window cut by planes square to the fold line and to both panels: straight in the flat."""
    window = cq.Workplane().box(20 + R + T, 16, 20 + R + T, centered=False).translate((50, 30, -1))
    flat = unfold(angle_bracket().cut(window), bend=K)
    (cut,) = flat.cuts
    high = 20 + R + T - 1 - R - T
    assert sorted((cut.loop.box[2] - cut.loop.box[0], cut.loop.box[3] - cut.loop.box[1])) == pytest.approx(
        sorted((16, 10 + BEND + high)), abs=1e-6
    )
    assert len(cut.loop) == 4
    (fold,) = flat.folds
    assert len(fold.pieces) == 2
    assert fold.length == pytest.approx(80 - 16)
    assert "unfold.area" in codes(flat, "fine")


def test_round_hole_drilled_through_the_fold() -> None:
    """A hole drilled along z through the bend: its wall leans, so one skin's development is cut.

    On a skin of radius q the opening's width at flat distance s is that of the circle at
    y = q sin(s / (R + K T)); its area is integrated here by Simpson's rule.
    """
    centre, radius = 60 + 1.0, 4.0
    tool = cq.Workplane().center(centre, 40).circle(radius).extrude(R + T + 0.5)
    flat = unfold(angle_bracket().cut(tool), bend=K)

    def opening(q: float) -> float:
        n, total = 20_000, 0.0
        for i in range(n + 1):
            s = BEND * i / n
            y = q * math.sin(s / (R + K * T)) - (centre - 60)
            total += (1 if i in (0, n) else 4 if i % 2 else 2) * 2 * math.sqrt(max(radius**2 - y * y, 0.0))
        strip = total * BEND / n / 3
        d = 60 - centre
        panel = radius**2 * math.acos(-d / radius) + d * math.sqrt(radius**2 - d * d)
        return panel + strip

    expected = min(opening(R), opening(R + T))
    assert sum(abs(c.loop.area) for c in flat.cuts) == pytest.approx(expected, rel=2e-3)
    assert "unfold.square" in codes(flat, "caution")


def test_tabs_on_one_axis() -> None:
    strip = angle_bracket(60, 40, 80)
    for y in (20, 50):
        strip = strip.cut(cq.Workplane().box(60, 10, 60, centered=False).translate((60, y, -1)))
    flat = unfold(strip, bend=K)
    (fold,) = flat.folds  # one line, three tabs: one stroke of the press
    assert [math.dist(*piece) for piece in fold.pieces] == pytest.approx([20, 20, 20])
    assert flat.area == pytest.approx(60 * 80 + 60 * (BEND + 40), rel=1e-9)
    assert len(flat.panels) == 4
    (strip,) = flat.strips
    assert strip.parent == "panel 1"
    assert len(strip.children) == 3


def test_stroke_that_an_opening_parts_is_one_fold() -> None:
    """A channel with returns: a gap through one flange and its return leaves two flanges, their returns on one line."""
    steps: list[bentstrip.Step] = [12, (90, 1), 30, (90, 1), 60, (90, 1), 30, (90, 1), 12]
    channel = bentstrip.solid(cq, steps, 1.0, 100)
    box = channel.val().BoundingBox()
    gap = cq.Workplane().box(60, 60, 20, centered=False).translate((box.xmax - 20, box.ymin - 1, 40))
    flat = unfold(channel.cut(gap), bend=K)
    assert len(flat.folds) == 4
    assert sorted(round(f.length, 6) for f in flat.folds) == [80, 80, 100, 100]
    assert sorted(len(f.pieces) for f in flat.folds) == [1, 1, 2, 2]


def test_tabs_of_sharp_folds_on_one_line_are_one_fold() -> None:
    plate = cq.Workplane().box(80, 40, T, centered=False).union(cq.Workplane().box(T, 40, 30, centered=False))
    flat = unfold(plate.cut(cq.Workplane().box(5, 12, 40, centered=False).translate((-1, 14, -1))), bend=K)
    (fold,) = flat.folds
    assert [math.dist(*p) for p in fold.pieces] == pytest.approx([14, 14])
    assert len(flat.panels) == 3


def test_four_sided_tray_with_relief() -> None:
    base = cq.Workplane().box(100, 60, T, centered=(True, True, False))
    tray = base
    for turn, (long_, half) in {0: (60, 50), 90: (100, 30), 180: (60, 50), 270: (100, 30)}.items():
        wall = bentstrip.solid(cq, [0.5, (90.0, R), 25], T, long_ - 2.0)
        wall = wall.rotate((0, 0, 0), (1, 0, 0), 90).translate((half - 0.5, long_ / 2 - 1.0, 0))
        tray = tray.union(wall.rotate((0, 0, 0), (0, 0, 1), turn))
    flat = unfold(tray, bend=K)
    assert flat.area == pytest.approx(100 * 60 + 2 * (58 + 98) * (BEND + 25), rel=1e-9)
    assert sorted(flat.size) == pytest.approx([60 + 2 * (BEND + 25), 100 + 2 * (BEND + 25)])
    assert [f.direction for f in flat.folds] == ["up"] * 4
    assert len(flat.panels) == 5
    assert flat.panels[0].outer.area == pytest.approx(6000)


def test_outline_with_a_spline_across_the_fold() -> None:
    """An edge drawn as a spline in the flat panel's view: panel part exact, area by the solid's volume."""
    tool = (
        cq.Workplane()
        .moveTo(-5, -5)
        .lineTo(-5, 60)
        .spline([(20, 66), (50, 72), (75, 64)], includeCurrent=True)
        .lineTo(75, -5)
        .close()
        .extrude(60)
        .translate((0, 0, -1))
    )
    flat = unfold(angle_bracket().intersect(tool), bend=K)
    assert "unfold.square" in codes(flat)
    assert all(e.is_line or e.radius > 0.5 for e in flat.outer)
    assert len(flat.outer) < 60


def test_closed_square_tube_is_cut_open() -> None:
    outside, inside = (cq.Workplane().rect(s, s).extrude(50).edges("|Z").fillet(r) for s, r in ((40, 5), (36, 3)))
    flat = unfold(outside.cut(inside), bend=K)
    around = 4 * 30 + 4 * BEND
    assert sorted(flat.size) == pytest.approx(sorted((around, 50)), abs=1e-6)
    assert "unfold.seam" in codes(flat, "caution")
    assert len(flat.folds) == 4
    assert "unfold.area" in codes(flat, "fine")


def test_closed_round_tube_is_cut_open() -> None:
    tube = cq.Workplane().circle(30).circle(28).extrude(50).cut(cq.Workplane("XZ").center(0, 25).circle(6).extrude(40))
    flat = unfold(tube, bend=0.5)
    assert max(flat.size) == pytest.approx(2 * math.pi * 29, rel=1e-9)
    assert "unfold.seam" in codes(flat, "caution")


def test_seam_of_a_pipe_keeps_clear_of_openings() -> None:
    """The kernel draws a pipe's seam at its +x side, here through a hole: the flat is cut elsewhere, the hole stays whole."""
    tube = cq.Workplane().circle(30).circle(28).extrude(50)
    drilled = cq.Workplane("YZ").center(0, 25).circle(6).extrude(40)
    flat = unfold(tube.cut(drilled), bend=0.5)
    assert max(flat.size) == pytest.approx(2 * math.pi * 29, rel=1e-9)
    assert len(flat.outer) == 4
    assert len(flat.cuts) == 1
    (said,) = [f for f in flat.findings if f.code == "unfold.seam"]
    assert "no opening crosses" in said.what
    assert flat.folds[0].angle == pytest.approx(360)
    assert {round(x, 6) for x, _ in flat.folds[0].pieces[0]} == {round(flat.size[0] / 2, 6)}
    aside = unfold(tube.cut(drilled.rotate((0, 0, 0), (0, 0, 1), 90)), bend=0.5)
    assert flat.area == pytest.approx(aside.area, rel=1e-6)


def test_rolled_cone() -> None:
    """A cone's development is a sector: area (rho2² - rho1²)/2 times the turn times sin of half its angle."""
    half = math.radians(30)
    s, c = math.sin(half), math.cos(half)
    # A ruling from slant distance 40 to 100 on the inside, and the outside T away.
    near, far = (40 * s, 40 * c), (100 * s, 100 * c)
    points = [near, far, (far[0] + T * c, far[1] - T * s), (near[0] + T * c, near[1] - T * s)]
    cone = cq.Workplane("XZ").polyline(points).close().revolve(200, (0, 0, 0), (0, 1, 0))
    flat = unfold(cone, bend=K)
    shift = K * T / math.tan(half)
    turn = math.radians(200)
    assert flat.area == pytest.approx(((100 + shift) ** 2 - (40 + shift) ** 2) / 2 * turn * s, rel=1e-7)
    assert sum(not e.is_line for e in flat.outer) == 2
    assert "unfold.cone" in codes(flat, "caution")
    assert "unfold.area" in codes(flat, "fine")


def test_what_does_not_go_through_is_not_cut() -> None:
    """A blind hole from each side (the one faces the other skin), and an engraving of 0.3 mm."""
    plate = cq.Workplane().box(80, 50, 10)
    plate = plate.faces(">Z").workplane().center(-20, 0).hole(8, 5).faces("<Z").workplane().center(20, 0).hole(8, 5)
    flat = unfold(plate, 0.44)
    assert flat.thickness == 10
    assert not flat.cuts
    assert sorted((m.label, m.face) for m in flat.marks) == [("blind hole", "down"), ("blind hole", "up")]
    engraved = unfold(cq.Workplane().box(80, 50, 3).cut(cq.Workplane().box(30, 10, 0.6).translate((0, 0, 1.5))), 0.44)
    assert not engraved.cuts
    assert [m.label for m in engraved.marks] == ["pocket"]
    assert engraved.area == pytest.approx(80 * 50)


def test_countersinks_on_either_side() -> None:
    plate = cq.Workplane().box(60, 40, 3).faces(">Z").workplane().pushPoints([(-15, 0)]).cskHole(5, 9, 90)
    plate = plate.faces("<Z").workplane().pushPoints([(15, 5)]).cskHole(4, 8, 90)
    flat = unfold(plate, 0.44)
    assert sorted(c.dia or 0 for c in flat.cuts) == pytest.approx([4, 5])
    assert sorted(m.label for m in flat.marks) == ["countersink 8.00", "countersink 9.00"]
    assert {m.face for m in flat.marks} == {"up", "down"}
    assert "unfold.area" in codes(flat, "fine")


def test_counterbore() -> None:
    flat = unfold(cq.Workplane().box(60, 40, 6).faces(">Z").workplane().cboreHole(5, 10, 3), 0.44)
    assert [c.dia for c in flat.cuts] == pytest.approx([5])
    assert [m.label for m in flat.marks] == ["counterbore 10.00"]
    assert "unfold.area" in codes(flat, "fine")


def test_plain_hole_through_a_skin_in_two_faces() -> None:
    """The lower skin keeps a seam and has rounded corners: its faces are no floor of a counterbore."""
    left, right = (cq.Workplane().box(40, 40, 1, centered=False).translate((x, 0, 0)) for x in (0, 40))
    upper = cq.Workplane().box(80, 40, 1, centered=False).translate((0, 0, 1))
    right, upper = (s.edges("|Z and >X").fillet(6) for s in (right, upper))
    plate = left.union(right, clean=False).union(upper, clean=False)
    for turned in (plate, plate.rotate((0, 0, 0), (1, 0, 0), 180)):
        y = 20 if turned is plate else -20
        drilled = turned.cut(cq.Workplane().center(60, y).circle(1.5).extrude(2, both=True), clean=False)
        flat = unfold(drilled, 0.44)
        assert [c.dia for c in flat.cuts] == pytest.approx([3])
        assert not flat.marks
        assert "unfold.area" in codes(flat, "fine")


@pytest.mark.parametrize(
    ("inside", "outside", "legs"),
    [(2, 0, "zed"), (2, 0, "angle"), (2, 2, "angle"), (2, 2, "zed"), (3, 1, "zed"), (0, 2.5, "zed")],
)
def test_bends_whose_two_sides_are_not_concentric(inside: float, outside: float, legs: str) -> None:
    """The inside radius counts: panels end at the inside's tangent lines, whichever side is laid flat."""
    t, a = 2.0, math.pi / 2 * (inside + K * 2.0)
    zed = [(0, 0), (50, 0), (50, 40), (90, 40), (90, 42), (48, 42), (48, 2), (0, 2)]
    angle = [(0, 0), (50, 0), (50, 40), (48, 40), (48, 2), (0, 2)]
    solid = cq.Workplane().polyline(zed if legs == "zed" else angle).close().extrude(30)

    def rounded(solid: Any, corner: tuple[float, float], radius: float) -> Any:
        box = cq.selectors.BoxSelector((corner[0] - 0.1, corner[1] - 0.1, -1), (corner[0] + 0.1, corner[1] + 0.1, 31))
        return solid.edges(box).fillet(radius) if radius else solid

    solid = rounded(rounded(solid, (48, 2), inside), (50, 0), outside)
    expected = 48 - inside + a + 38 - inside
    if legs == "zed":
        solid = rounded(rounded(solid, (50, 40), inside), (48, 42), outside)
        expected = 48 - inside + a + 38 - 2 * inside + a + 40 - inside
    flat = unfold(solid, bend=K)
    assert {f.radius for f in flat.folds} == {inside}
    assert sorted(flat.size) == pytest.approx(sorted((expected, 30)), abs=1e-6)
    assert flat.thickness == t


def test_dimple_is_a_mark() -> None:
    plate = cq.Workplane().box(80, 60, 1.0, centered=(True, True, False))
    up = (
        cq.Workplane("XZ")
        .moveTo(0, 0)
        .lineTo(12, 0)
        .threePointArc((8, 3.3), (0, 5))
        .close()
        .revolve(360, (0, 0, 0), (0, 1, 0))
    )
    hollow = (
        cq.Workplane("XZ")
        .moveTo(0, 0)
        .lineTo(10.8, 0)
        .threePointArc((7.3, 2.6), (0, 4))
        .close()
        .revolve(360, (0, 0, 0), (0, 1, 0))
    )
    plate = plate.union(up.translate((0, 0, 1.0))).cut(
        hollow.translate((0, 0, -0.001)).union(cq.Workplane().circle(10.8).extrude(0.5))
    )
    flat = unfold(plate, 0.44)
    assert flat.area == pytest.approx(80 * 60, rel=1e-6)
    assert not flat.cuts
    (mark,) = flat.marks
    assert mark.kind == "formed"
    assert "unfold.formed" in codes(flat, "caution")


def test_opening_in_a_formed_feature_is_named() -> None:
    """A flared hole: a cone of 45 degrees down to a bore; the hole to cut first holds the metal that the flare lacks."""
    t, q = 1.5, 1.5 / math.sqrt(2)
    profile = [(11, -5), (16, 0), (30, 0), (30, t), (16 - (math.sqrt(2) - 1) * t, t), (11 - q, -5 + q)]
    flare = cq.Workplane("XZ").polyline(profile).close().revolve(360, (0, 0, 0), (0, 1, 0))
    plate = cq.Workplane().box(120, 80, t, centered=(True, True, False)).faces(">Z").workplane().hole(60)
    solid = plate.union(flare)
    flat = unfold(solid, 0.44)
    assert [m.label for m in flat.marks] == ["drawn hole"]
    (said,) = (f for f in flat.findings if f.code == "unfold.fitting")
    assert f"bore of dia {2 * (11 - q):.3g} mm" in said.what
    assert "constant volume" in said.what
    # The pilot is given to a hundredth of a millimetre: pi/2 x 24 x 0.005 mm² at most.
    assert flat.area * t == pytest.approx(solid.val().Volume(), abs=0.3)


def test_louvre_is_a_mark() -> None:
    """A quarter-round hood, slit along one side: its ends are doubly curved."""
    t = 1.0
    outer = cq.Workplane("YZ").ellipse(8, 6).extrude(30, both=True).edges().fillet(4)
    outer = outer.cut(cq.Workplane().box(100, 100, 100, centered=(True, True, False)).translate((0, 0, -100)))
    outer = outer.cut(cq.Workplane().box(100, 100, 100, centered=(True, False, True)))
    inner = cq.Workplane("YZ").ellipse(7, 5).extrude(29, both=True).edges().fillet(3)
    inner = inner.cut(cq.Workplane().box(100, 100, 100, centered=(True, False, True)).translate((0, 0.01, 0)))
    plate = cq.Workplane().box(100, 60, t, centered=(True, True, False)).union(outer).cut(inner)
    flat = unfold(plate, 0.44)
    assert flat.area == pytest.approx(6000, rel=1e-6)
    assert [m.kind for m in flat.marks] == ["formed"]
    assert not flat.cuts


def bead_plate(t: float = 1.0, through: bool = False) -> Any:
    """A bead of constant thickness: two envelopes a thickness apart, shoulders and crown concentric."""

    def envelope(z: float, shrink: float, shoulder: float, crown: float) -> Any:
        bump = cq.Workplane().slot2D(100 - 2 * shrink, 24 - 2 * shrink).extrude(8 + z).faces(">Z").edges().fillet(crown)
        whole = cq.Workplane().box(160, 80, 30, centered=(True, True, False)).translate((0, 0, z - 30)).union(bump)
        inside = cq.selectors.BoxSelector((-52, -14, z - 0.1), (52, 14, z + 0.1))
        return whole.edges(inside).fillet(shoulder)

    return envelope(t, 0, 2.0, 4.0).cut(envelope(0, t, 2.0 + t, 4.0 - t))


def test_straight_bead_is_a_mark_and_not_folds() -> None:
    """Its shoulders are concentric cylinders, tangent to the plate: they look like folds and are none."""
    flat = unfold(bead_plate(), 0.44)
    assert not flat.folds
    assert not flat.cuts
    assert flat.area == pytest.approx(160 * 80)
    assert [m.label for m in flat.marks] == ["bead"]
    assert any("cylinder of radius" in f.what for f in flat.findings if f.code == "unfold.undeveloped")


def test_boss_is_a_mark() -> None:
    plate = cq.Workplane().box(60, 40, 2, centered=(True, True, False)).union(cq.Workplane().circle(4).extrude(9))
    flat = unfold(plate, 0.44)
    assert flat.area == pytest.approx(2400)
    assert not flat.cuts
    assert [m.label for m in flat.marks] == ["boss"]


@pytest.mark.parametrize(
    ("name", "solid"),
    [
        ("cube", lambda: cq.Workplane().box(30, 30, 30)),
        ("ball", lambda: cq.Workplane().sphere(20)),
        ("round bar", lambda: cq.Workplane().circle(10).extrude(100)),
        ("wedge", lambda: cq.Workplane().polyline([(0, 0), (60, 0), (60, 20)]).close().extrude(40)),
        ("stepped block", lambda: cq.Workplane().box(60, 60, 20).union(cq.Workplane().box(30, 30, 60))),
        ("two thicknesses", lambda: cq.Workplane().box(60, 60, 2).union(cq.Workplane().box(60, 30, 6))),
        ("torus", lambda: cq.Workplane().add(cq.Solid.makeTorus(30, 8))),
    ],
)
def test_what_is_no_sheet_is_refused(name: str, solid: Any) -> None:
    with pytest.raises(NotASheet, match=r"not a sheet of one thickness.*face"):
        unfold(solid(), 0.44)
