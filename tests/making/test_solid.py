"""The folded solid against areas, against parts built another way in plain CadQuery, and against bad input."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import cadquery as cq
import numpy as np
import pytest
from OCP.BRepCheck import BRepCheck_Analyzer

from byhand import BENT, PARTS, PLATE, STRAIGHT, beaded, drilled, fold, hole, leg, made, panel, renamed, tray
from strategies import SHOP
from tinbook.errors import CannotMake
from tinbook.finding import Finding, Findings
from tinbook.making.folded import Folded
from tinbook.making.resolve import make
from tinbook.making.solid import kernel, mesh
from tinbook.making.solid.build import SOLID, solid
from tinbook.part.features import Fold
from tinbook.part.forms.beadshape import BeadProfile
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, circle, polygon, slot


def areas(m: Folded) -> float:
    """Volume by design.md's formula: panels t, strips at the middle of the sheet; bead-free parts only."""
    t = m.thickness
    v = sum(t * (p.boundary.area - sum(abs(h.loop.area) for h in p.holes)) for p in m.panels)
    for s in m.zones:
        flat = sum(r.area for r in s.regions) - sum(abs(h.loop.area) for h in s.holes)
        v += flat / s.bend.allowance * math.radians(s.angle) * t * (s.radius + t / 2)
    return v


def through_holes(shape: cq.Solid) -> int:
    """Genus of a solid by Euler and Poincaré: V - E + F - (inner loops) = 2 - 2 G."""
    inner = sum(len(f.innerWires()) for f in shape.Faces())
    # A full cylinder's wire runs its seam twice; that is already right in V - E + F.
    euler = len(shape.Vertices()) - len(shape.Edges()) + len(shape.Faces()) - inner
    assert euler % 2 == 0
    return (2 - euler) // 2


@pytest.mark.parametrize("name", PARTS)
def test_one_valid_solid(name: str) -> None:
    make, holes = PARTS[name]
    m = make()
    s = solid(m)
    assert isinstance(s, cq.Solid)
    assert s.ShapeType() == "Solid"
    assert BRepCheck_Analyzer(s.wrapped).IsValid()
    assert len(s.Shells()) == 1
    assert through_holes(s) == holes
    if not any(p.beads for p in m.panels):
        assert s.Volume() == pytest.approx(areas(m), rel=1e-9)
    assert solid(m) is s


def extruded_angle(leg_a: float, leg_b: float, t: float, radius: float, angle: float, length: float) -> cq.Solid:
    """Return a bent sheet as the sweep of its profile, legs counted from the tangent lines, folded up."""
    a = math.radians(angle)
    s, c = math.sin(a), math.cos(a)
    m, mid = (0.0, t + radius), a / 2

    def on(r: float, turn: float) -> tuple[float, float]:
        return m[0] + r * math.sin(turn), m[1] - r * math.cos(turn)

    out, inn = on(radius + t, a), on(radius, a)
    w = (
        cq.Workplane("YZ")
        .moveTo(-leg_a, 0)
        .lineTo(0, 0)
        .threePointArc(on(radius + t, mid), out)
        .lineTo(out[0] + leg_b * c, out[1] + leg_b * s)
        .lineTo(inn[0] + leg_b * c, inn[1] + leg_b * s)
        .lineTo(*inn)
        .threePointArc(on(radius, mid), (0, t))
        .lineTo(-leg_a, t)
        .close()
        .extrude(length)
    )
    return w.val()


@pytest.mark.parametrize("angle", [30.0, 90.0, 135.0, 185.0])
def test_angle_is_the_swept_profile(angle: float) -> None:
    base = panel(renamed(polygon([(0, 0), (120, 0), (120, 50), (0, 50)]), {0: "fold:a"}))
    strip, child = fold(base, "a", leg(120, 30, "a"), angle=angle, radius=3.0, t=2.0)
    ours = solid(made([base, child], [strip], 2.0))
    # The fold is on the base's lower edge, so outward there is -y: turn the swept one about z.
    theirs = extruded_angle(50, 30, 2.0, 3.0, angle, 120).rotate((0, 0, 0), (0, 0, 1), 180).translate((120, 0, 0))
    assert theirs.Volume() == pytest.approx(ours.Volume(), rel=1e-9)
    assert ours.intersect(theirs).Volume() == pytest.approx(ours.Volume(), rel=1e-7)


def cadquery_bead(width: float, depth: float, shoulder: float, t: float, length: float) -> cq.Shape:
    """Return the metal of a straight bead with its run-outs as a swept profile and two turned halves.

    The profile is drawn from the defining circles: shoulder centres at half the
    width, crown centre on the axis, tangent where the line of centres crosses.
    """
    a, r = width / 2, shoulder
    reach = (a * a + depth * depth) / (2 * depth)
    crown = reach - r - t  # inside
    sh, cr = np.array((a, t + r)), np.array((0.0, depth - crown))
    d = (sh - cr) / np.linalg.norm(sh - cr)
    assert np.linalg.norm(sh - cr) == pytest.approx(reach)
    low, high = cr + crown * d, cr + (crown + t) * d
    mid = d + np.array((0.0, 1.0))
    mid /= np.linalg.norm(mid)
    dip = -d + np.array((0.0, -1.0))
    dip /= np.linalg.norm(dip)

    def outline(w: cq.Workplane, side: float) -> cq.Workplane:
        def at(p: Any) -> tuple[float, float]:
            return side * float(p[0]), float(p[1])

        return (
            w.moveTo(*at((a, 0)))
            .lineTo(*at((a, t)))
            .threePointArc(at(sh + r * dip), at(high))
            .threePointArc(at(cr + (crown + t) * mid), at((0, depth + t)))
            .lineTo(*at((0, depth)))
            .threePointArc(at(cr + crown * mid), at(low))
            .threePointArc(at(sh + (r + t) * dip), at((a, 0)))
            .close()
        )

    out = None
    for side in (1.0, -1.0):
        half = outline(cq.Workplane("XZ"), side).extrude(-length)
        turned = outline(cq.Workplane("XZ"), side).revolve(180, (0, 0, 0), (0, side, 0))
        other = turned.rotate((0, 0, 0), (0, 0, 1), 180)
        near, far = (turned, other) if turned.val().Center().y < 0 else (other, turned)
        for piece in (half, near, far.translate((0, length, 0))):
            out = piece if out is None else out.union(piece)
    return out.val()


def test_bead_is_the_swept_and_turned_profile() -> None:
    t = 1.2
    ours = solid(made([panel(PLATE, beads=beaded(STRAIGHT, "up", 18, 5, 2, 60).panels[0].beads)], t=t))
    metal = cadquery_bead(18, 5, 2, t, 180.0)
    profile = BeadProfile(width=18, depth=5, shoulder=2, thickness=t)
    area = 180 * 18 + math.pi * 81
    assert metal.Volume() == pytest.approx(ours.Volume() - (300 * 200 - area) * t, rel=1e-6)
    assert profile.volume([Edge((60, 100), (240, 100))]) == pytest.approx(metal.Volume(), rel=1e-6)
    placed = metal.rotate((0, 0, 0), (0, 0, 1), -90).translate((60, 100, 0))
    assert ours.intersect(placed).Volume() == pytest.approx(metal.Volume(), rel=1e-6)


@pytest.mark.parametrize("way", ["up", "down"])
def test_bead_stands_out_by_its_depth_and_can_be_left_out(way: str) -> None:
    m = beaded(BENT, way, 18, 5, 2, 30)
    low, high = kernel.box(solid(m).wrapped)
    assert (low[2], high[2]) == pytest.approx((0, 6.2) if way == "up" else (-5, 1.2), abs=1e-6)
    plain = solid(m, suppress_beads=True)
    assert plain.Volume() == pytest.approx((300 * 200 - math.pi * 16) * 1.2, rel=1e-9)
    assert plain.isValid()
    assert solid(m) is not plain


def test_exchange_file_brings_the_same_solid_back(tmp_path: Path) -> None:
    for name in ("hole through 90 up 0.2", "bead bent down", "bead half round up", "bead shallow, wide shoulders up"):
        s = solid(PARTS[name][0]())
        file = tmp_path / "part.step"
        s.exportStep(str(file))
        back = cq.importers.importStep(str(file)).val()
        assert back.ShapeType() == "Solid"
        assert back.isValid()
        assert back.Volume() == pytest.approx(s.Volume(), rel=1e-6)
        assert len(back.Faces()) == len(s.Faces())


def test_many_holes_take_the_way_round_the_checker() -> None:
    m = tray(120)
    s = solid(m)
    assert s.isValid()  # the kernel's checker on everything, once
    assert through_holes(s) == 120
    assert s.Volume() == pytest.approx(areas(m), rel=1e-9)


def test_triangles_of_the_kernel() -> None:
    s = solid(tray(30))
    mesh.triangulate(s, 0.02)
    p, t = mesh.triangles(s)
    a, b, c = (p[t[:, k]] for k in range(3))
    assert np.einsum("ij,ij->", a, np.cross(b, c)) / 6 == pytest.approx(s.Volume(), rel=2e-3)
    assert p.min(axis=0) == pytest.approx((-3.5, -3.5, 0), abs=1e-6)


def refused(m: Folded, says: str) -> None:
    with pytest.raises(CannotMake, match=says):
        solid(m, name="HN-TEST")
    assert SOLID.known(m, False) is None


def with_holes(*loops: Any, count: int = 0) -> Folded:
    row = drilled([(20 + 10 * i, 20) for i in range(count)], 5)
    return made([panel(PLATE, (*row, *(hole(loop) for loop in loops)))])


@pytest.mark.parametrize("count", [0, 20])
@pytest.mark.parametrize(
    "loops",
    [
        (circle((100, 100), 20), circle((110, 100), 20)),
        (circle((100, 100), 20), circle((102, 100), 5)),
        (circle((298, 100), 20),),
        (circle((400, 100), 20),),
        (slot((295, 100), 40, 10), circle((50, 100), 10)),
        (slot((150, 100), 60, 10), circle((150, 100), 30)),
        (polygon([(100, 100), (140, 140), (140, 100), (100, 140)]),),
    ],
)
def test_loops_that_cross_are_refused(loops: tuple[Any, ...], count: int) -> None:
    refused(with_holes(*loops, count=count), "HN-TEST: no solid: ")
    assert solid(with_holes(count=count)).isValid()


def test_pieces_that_do_not_meet_are_refused() -> None:
    base = panel(renamed(PLATE, {0: "fold:a"}))
    strip, child = fold(base, "a", leg(300, 30, "a"))
    assert solid(made([base, child], [strip])).isValid()
    refused(made([base, child]), "no bend strip meets")
    short = fold(base, "a", leg(290, 30, "a"))[1]
    refused(made([base, short], [strip]), "does not meet panel 'a'")
    refused(made([base], [strip]), "does not meet panel 'a'")
    refused(made([base, child], [replace(strip, radius=0.0)]), "radius of 0 mm")
    stray = replace(strip, holes=(hole(circle((500, 2), 1), "stray"),))
    refused(made([base, child], [stray]), "a hole lies outside")
    refused(made([]), "no panel")


def test_stop_findings_and_broken_numbers_are_refused() -> None:
    stop = Finding(code="fold.leg", severity="stop", where="fold 'a'", what="too short", remedy="longer")
    whole = make(Part("HN-BT", sheet="DC01 1.5", base=Outline.rectangle(200, 100)), SHOP)
    with pytest.raises(CannotMake, match=r"HN-BT: no solid: .*too short"):
        _ = replace(whole, findings=Findings((stop,))).solid
    bad = made([panel(polygon([(0, 0), (math.nan, 0), (10, 10)]))])
    refused(bad, "no solid")
    twice = made([panel(polygon([(0, 0), (0, 0), (10, 0), (10, 10)]))])
    refused(twice, "no solid")
    crossed = made([panel(polygon([(0, 0), (10, 0), (0, 10), (12, 10)]))])
    refused(crossed, "no solid")


def test_a_hair_of_slant_is_no_broken_solid():
    """Corners half a micron apart, as a read file leaves them: a leg's end slants by two millionths."""
    lower = polygon([(0, 0), (290, 0), (290 + 7.2e-7, 57.94022), (7.2e-7, 57.9408)], ("base", "a", "top", "b"))
    upper = polygon([(0, 0), (290, 0), (290, 45), (0, 45)], ("base", "a", "end", "b"))
    part = Part(
        "HN-X",
        sheet="DC01 0.8",
        base=Outline.rectangle(290, 120),
        folds=(
            Fold(
                name="f", panel="base", edge="front", direction="up", angle=17.898312, leg=(57.94, 57.94), shape=lower
            ),
            Fold(name="g", panel="f", edge="top", direction="down", angle=17.898312, leg=(45, 45), shape=upper),
        ),
    )
    assert make(part, SHOP).solid.isValid()
