"""What an unfolded solid shows and carries: panels with their frames, the folded view, surfaces written as splines."""

from __future__ import annotations

import pickle
from typing import Any

import pytest
from bentstrip import K, R, T, angle_bracket, codes

from tinbook.read.step.unfold import NotASheet, unfold

cq = pytest.importorskip("cadquery")


def test_coplanar_faces_are_one_panel() -> None:
    """Two plates made one without cleaning: the seam between their faces is no edge of the flat."""
    a = cq.Workplane().box(30, 20, 2, centered=False)
    both = a.union(a.translate((30, 0, 0)), clean=False)
    flat = unfold(both, 0.44)
    assert len(flat.outer) == 4
    assert flat.size == pytest.approx((60, 20))
    assert len(flat.panels) == 1


def test_folded_view() -> None:
    flat = unfold(angle_bracket(), bend=K)
    points, triangles, owner = flat.folded.triangles()
    a, b, c = (points[triangles[:, i]] for i in range(3))
    import numpy as np

    volume = float(np.sum(np.einsum("ij,ij->i", a, np.cross(b, c)))) / 6
    assert volume == pytest.approx(flat.folded.volume, rel=2e-3)
    assert set(flat.folded.face_names.values()) == {"panel 1", "panel 2", "fold 1"}
    assert len(owner) == len(triangles)
    assert flat.folded.solid.Volume() == pytest.approx(flat.folded.volume)
    plain = flat.flat
    assert type(plain).__name__ == "FlatPattern"
    assert plain.area == flat.area


def test_travels_to_another_process_and_shows_itself() -> None:
    flat = unfold(angle_bracket(), bend=K)
    back = pickle.loads(pickle.dumps(flat))
    assert back.flat == flat.flat
    assert back.folded.solid.Volume() == pytest.approx(flat.folded.volume)
    assert len(repr(flat)) < 200
    assert "<svg" in flat._repr_svg_()


def test_panels_carry_their_frames() -> None:
    """Each panel's own outline, carried by its frame, lies on the solid; carried by its move, in the flat."""
    flat = unfold(angle_bracket(60, 40, 80), bend=K)
    base, leg = flat.panels
    assert base.outer.area == pytest.approx(60 * 80)
    assert leg.outer.area == pytest.approx(40 * 80)
    for p in flat.panels:
        for x, y in p.outer.points:
            corner = cq.Vertex.makeVertex(*p.frame(x, y))
            assert flat.folded.solid.distance(corner) < 1e-6
        moved = p.outer.moved(p.flat)
        x0, y0, x1, y1 = moved.box
        assert x0 > -1e-6
        assert y0 > -1e-6
        assert x1 < flat.size[0] + 1e-6
        assert y1 < flat.size[1] + 1e-6
    assert sum(a * b for a, b in zip(base.frame.z, leg.frame.z, strict=True)) == pytest.approx(0, abs=1e-9)


def as_splines(solid: Any) -> Any:
    """The same solid with every surface and curve a rational spline, as some programs write it."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return cq.Shape.cast(BRepBuilderAPI_NurbsConvert(solid.val().wrapped, True).Shape())


def test_planes_cylinders_and_holes_written_as_splines() -> None:
    plate = angle_bracket().cut(cq.Workplane().pushPoints([(15, 20), (40, 60)]).circle(4).extrude(9))
    plain, splines = unfold(plate, bend=K), unfold(as_splines(plate), bend=K)
    assert splines.area == pytest.approx(plain.area, rel=1e-9)
    assert splines.size == pytest.approx(plain.size, abs=1e-7)
    assert [c.dia for c in splines.cuts] == pytest.approx([8, 8], abs=1e-7)
    assert [(f.angle, f.radius) for f in splines.folds] == [(90.0, R)]
    assert len(splines.outer) == 4


def test_cone_written_as_a_spline() -> None:
    points = [(20, 0), (40, 40), (41.6, 39.2), (21.6, -0.8)]
    cone = cq.Workplane("XZ").polyline(points).close().revolve(150, (0, 0, 0), (0, 1, 0))
    plain, splines = unfold(cone, bend=K), unfold(as_splines(cone), bend=K)
    assert "unfold.cone" in codes(splines)
    assert splines.area == pytest.approx(plain.area, rel=1e-6)


def test_bend_that_is_not_round_is_named_as_not_done() -> None:
    """A strip whose bend follows a spline: half its metal would be lost, so it is refused and the face named."""
    curve = [(30, 0), (38, 3), (42, 12), (42, 20)]
    inner = cq.Edge.makeSpline([cq.Vector(*p) for p in curve], tangents=[cq.Vector(1, 0), cq.Vector(0, 1)])
    path = cq.Wire.assembleEdges(
        [
            cq.Edge.makeLine(cq.Vector(0, 0), cq.Vector(30, 0)),
            inner,
            cq.Edge.makeLine(cq.Vector(42, 20), cq.Vector(42, 50)),
        ]
    )
    strip = cq.Workplane("YZ").rect(T, 40).sweep(cq.Workplane(obj=path))
    assert strip.val().isValid()
    with pytest.raises(NotASheet, match="doubly curved"):
        unfold(strip, 0.44)
