"""Invariants 3, 4 and 6: the DXF read back by other code, the preview beside the solid, the same bytes again."""

from __future__ import annotations

import io
import math

import ezdxf
import pytest
import shapely
from ezdxf import path as dxfpath
from hypothesis import given, settings

from counts import count
from strategies import SHOP, parts
from tinbook.making.resolve import make
from tinbook.write.dxf import dxf_bytes

CUT_LAYERS = ("cut_outer", "cut_inner")


def _area_inside(entity) -> float:
    """Area by shapely of a finely chorded path; the reader knows nothing of our loops."""
    # A path of the reader draws a circle by four Bézier curves, which are 0.03 % off; its circle itself has true chords.
    curve = entity if entity.dxftype() == "CIRCLE" else dxfpath.make_path(entity)
    points = [(v.x, v.y) for v in curve.flattening(1e-4)]
    return shapely.Polygon(points).area


@given(parts())
@settings(max_examples=count(80, 1000))
def test_dxf_read_back(part):
    made = make(part, SHOP)
    if made.flat is None:
        return
    doc = ezdxf.read(io.StringIO(dxf_bytes(made.flat).decode("utf-8")))
    assert doc.audit().has_errors is False
    assert doc.units == ezdxf.units.MM
    areas: dict[str, float] = {}
    seen: set[str] = set()
    for e in doc.modelspace():
        assert e.dxftype() in ("LWPOLYLINE", "CIRCLE"), "the default file holds what is cut and nothing else"
        if e.dxftype() == "LWPOLYLINE":
            assert e.closed
            key = str(sorted((round(x, 5), round(y, 5)) for x, y in e.get_points("xy")))
        else:
            key = f"{e.dxf.center.x:.5f} {e.dxf.center.y:.5f} {e.dxf.radius:.5f}"
        assert key not in seen, "an entity stands twice"
        seen.add(key)
        areas[e.dxf.layer] = areas.get(e.dxf.layer, 0.0) + _area_inside(e)
    assert len(seen) == 1 + len(made.flat.cuts)
    outer, *inner = sorted(areas.values(), reverse=True)
    assert outer - math.fsum(inner) == pytest.approx(made.flat.area, rel=1e-5)


@given(parts())
@settings(max_examples=count(80, 1000))
def test_preview_agrees_with_the_solid(part):
    made = make(part, SHOP)
    if not made.ok:
        return
    preview, solid = made.preview, made.solid
    assert preview.volume == pytest.approx(solid.Volume(), rel=5e-3)
    low, high = preview.positions.min(axis=0), preview.positions.max(axis=0)
    box = solid.BoundingBox(tolerance=1e-4)
    assert low == pytest.approx((box.xmin, box.ymin, box.zmin), abs=0.1)
    assert high == pytest.approx((box.xmax, box.ymax, box.zmax), abs=0.1)


@given(parts())
@settings(max_examples=count(80, 1000))
def test_the_same_part_gives_the_same_flat(part):
    first, again = make(part, SHOP), make(part, SHOP)
    assert first.flat == again.flat
    assert first.findings == again.findings
    if first.flat is not None:
        assert dxf_bytes(first.flat) == dxf_bytes(again.flat)


@given(parts(forms=False))
@settings(max_examples=count(40, 400))
def test_the_other_hand_is_a_true_mirror(part):
    one, two = make(part, SHOP), make(part.mirrored(), SHOP)
    assert (one.flat is None) == (two.flat is None)
    if one.flat is None:
        return
    assert two.flat.area == pytest.approx(one.flat.area, rel=1e-12)
    x0, y0, x1, y1 = one.flat.outer.box
    assert two.flat.outer.box == pytest.approx((-x1, y0, -x0, y1), abs=1e-9)
    for a, b in zip(one.strips, two.strips, strict=True):
        assert (a.angle, a.direction, a.radius) == (b.angle, b.direction, b.radius)
        x, y, z = a.frame.origin
        assert b.frame.origin == pytest.approx((-x, y, z), abs=1e-9)
