"""Stills against the kernel's solid, by rays of the tests' own: silhouette, drawn edges, missing edges, balloons."""

from __future__ import annotations

import struct
import zlib
from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely
from made_samples import channel, pan, tunnel
from numpy.typing import NDArray

import tinbook as tb
from tinbook.errors import UnknownName
from tinbook.making.assembled import Assembled
from tinbook.making.folded import Folded
from tinbook.making.preview.drawing import Drawing, drawing
from tinbook.making.preview.view import EDGE, Side, corner_view
from tinbook.making.solid import mesh
from tinbook.making.solid.build import solid
from tinbook.space import SPACE
from tinbook.write.assembly import balloon_tips, member_drawing, parts_list
from tinbook.write.details import details, section
from tinbook.write.folded import folded_drawing, folded_svg
from tinbook.write.png import METAL, shades_png

Floats = NDArray[np.float64]
SHOP = tb.Shop.demo()


@cache
def mount() -> Assembled:
    """An assembly of welded plates, cushions, sleeves and a bolt."""
    return tb.assemble(tb.families.body_mount(), SHOP)


@cache
def half_folded() -> Folded:
    """A box in the middle of its last fold: a solid has no bend that is still flat."""
    return tb.fold_sequence(tb.make(tb.families.folded_box(), SHOP)).state(3, 0.5)


PARTS = [(channel, "up"), (channel, "down"), (tunnel, "up"), (pan, "up")]
SAMPLES = [*PARTS, (mount, "up"), (half_folded, "up")]
"""Parts, an assembly, and a part in the middle of a fold step: one function draws them all."""
OFF = 0.15
"""mm between the kernel's triangles (0.02 mm off its faces) and the preview's (0.08 mm) that tells nothing."""


@cache
def drawn(sample: Any, side: Side) -> Drawing:
    it = sample()
    if isinstance(it, Assembled):
        return member_drawing(it, dict.fromkeys(it.assembly.names, (0.0, 0.0, 0.0)))
    return drawing([((it,), SPACE)], corner_view(side)) if isinstance(it, Folded) else folded_drawing(it, side)


@cache
def solids(sample: Any) -> tuple[Any, ...]:
    """The kernel's bodies of a sample."""
    import cadquery as cq

    it = sample()
    if isinstance(it, Assembled):
        return tuple(s for name in it.assembly.names for s in cq.Shape.cast(it.shape(name)).Solids())
    return (solid(it),) if isinstance(it, Folded) else (it.solid,)


@cache
def solid_in_view(sample: Any, side: Side) -> Floats:
    """Corners of the kernel's triangles in the picture's coordinates, shape (m, 3, 3)."""
    found = []
    for body in solids(sample):
        mesh.triangulate(body, 0.02)
        points, triangles = mesh.triangles(body)
        found.append(corner_view(side).flat(points)[triangles])
    return np.concatenate(found)


def hidden(at: Floats, corners: Floats, above: float) -> NDArray[np.bool_]:
    """Which points have metal more than `above` before them, by a tree of boxes and each triangle's plane."""
    tree = shapely.STRtree(shapely.polygons(corners[:, :, :2]))
    point, tri = tree.query(shapely.points(at[:, :2]), predicate="intersects")
    a, b, c = (corners[tri, k] for k in range(3))
    n = np.cross(b - a, c - a)
    flat = np.abs(n[:, 2]) < 1e-9
    depth = a[:, 2] - ((at[point, 0] - a[:, 0]) * n[:, 0] + (at[point, 1] - a[:, 1]) * n[:, 1]) / np.where(
        flat, 1.0, n[:, 2]
    )
    found = np.zeros(len(at), dtype=np.bool_)
    found[point[~flat & (depth > at[point, 2] + above)]] = True
    return found


@pytest.mark.parametrize(("sample", "side"), SAMPLES)
def test_the_silhouette_is_the_solids(sample: Any, side: Side) -> None:
    """Pixels whose middle the solid's triangles cover, against those that are shaded."""
    d = drawn(sample, side)
    area = shapely.union_all(shapely.polygons(solid_in_view(sample, side)[:, :, :2]))
    j, i = np.indices(d.item.shape)
    x, y = (d.grid.low[k] + (n + 0.5) * d.grid.pitch for k, n in ((0, i), (1, j)))
    shapely.prepare(area)
    metal, ours = shapely.contains_xy(area, x, y), d.item >= 0
    assert (metal & ours).sum() / (metal | ours).sum() >= 0.995


@pytest.mark.parametrize(("sample", "side"), SAMPLES)
def test_every_drawn_line_can_be_seen(sample: Any, side: Side) -> None:
    """Each drawn edge lies on an edge of the solid that no metal hides, found by rays to the eye."""
    d, corners = drawn(sample, side), solid_in_view(sample, side)
    edges = sharp_edges(sample, side)
    seen = edges[~hidden(edges, corners, OFF)]
    tree = shapely.STRtree(shapely.points(seen[:, :2]))
    runs = [shapely.LineString(run) for run in d.lines[EDGE]]
    places = shapely.points(
        [p.coords[0] for run in runs for p in (run.interpolate(t, normalized=True) for t in (0.2, 0.5, 0.8))]
    )
    _, far = tree.query_nearest(places, return_distance=True, all_matches=False)
    # Ends of bends are drawn on chords, and the solid's edges are looked at every mm.
    assert (far <= 1.0).mean() >= 0.995


def sharp_edges(sample: Any, side: Side) -> Floats:
    """Places on the kernel's edges between faces that meet at more than 25 degrees, every mm, in the picture."""
    import cadquery as cq
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE
    from OCP.TopExp import TopExp
    from OCP.TopoDS import TopoDS
    from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape

    found: list[Any] = []
    for body in solids(sample):
        faces = TopTools_IndexedDataMapOfShapeListOfShape()
        TopExp.MapShapesAndAncestors_s(body.wrapped, TopAbs_EDGE, TopAbs_FACE, faces)
        for k in range(1, faces.Extent() + 1):
            edge = cq.Edge(TopoDS.Edge_s(faces.FindKey(k)))
            pair = [cq.Face(TopoDS.Face_s(f)) for f in faces.FindFromIndex(k)]
            if len(pair) != 2:
                continue
            middle = edge.positionAt(0.5)
            a, b = (f.normalAt(middle) for f in pair)
            if a.dot(b) < np.cos(np.radians(25)):
                n = max(2, int(edge.Length()))
                found += [p.toTuple() for p in edge.positions([(i + 0.5) / n for i in range(n)])]
    return corner_view(side).flat(np.array(found))


@pytest.mark.parametrize(("sample", "side"), SAMPLES)
def test_no_visible_edge_is_missing(sample: Any, side: Side) -> None:
    d, corners = drawn(sample, side), solid_in_view(sample, side)
    edges = sharp_edges(sample, side)
    seen = edges[~hidden(edges, corners, OFF)]
    lines = shapely.multilinestrings([shapely.LineString(run) for kind in d.lines for run in kind])
    far = shapely.distance(lines, shapely.points(seen[:, :2]))
    assert (far <= 2 * d.grid.pitch).mean() >= 0.995


def unpacked(data: bytes) -> tuple[NDArray[np.uint8], list[tuple[int, ...]]]:
    """Return rows of palette numbers and the palette of a PNG, read by the standard's own description."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    at, parts = 8, {}
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size : at + 12 + size])[0] == zlib.crc32(kind + body)
        parts[kind] = body
        at += 12 + size
    columns, rows, depth, colour = struct.unpack(">IIBB", parts[b"IHDR"][:10])
    assert (depth, colour) == (8, 3)
    raw = np.frombuffer(zlib.decompress(parts[b"IDAT"]), np.uint8).reshape(rows, columns + 1)
    assert not raw[:, 0].any(), "no filter"
    palette = [tuple(parts[b"PLTE"][k : k + 3]) for k in range(0, len(parts[b"PLTE"]), 3)]
    return raw[:, 1:], palette


@pytest.mark.parametrize(("sample", "side"), PARTS)
def test_a_png_says_what_was_seen_in_few_bytes_that_stay_the_same(sample: Any, side: Side) -> None:
    d = drawn(sample, side)
    data = shades_png(d)
    assert len(data) <= 100_000
    index, palette = unpacked(data)
    assert ((index[::-1] > 0) == (d.item >= 0)).all()
    lightest = np.nanargmax(d.shade)
    assert palette[index[::-1].flat[lightest]] > palette[1]
    assert all(low <= v <= high for colour in palette[1:] for v, low, high in zip(colour, *METAL, strict=True))
    again = folded_drawing(tb.make(sample().part, sample().shop), side)
    assert shades_png(again) == data
    assert again.lines == d.lines


def test_a_bead_is_shaded_and_its_far_side_is_hidden() -> None:
    """Across a bead that stands up, one side is lighter and the other clearly darker than the flat sheet."""
    d = drawn(pan, "up")
    view = corner_view()
    shades = []
    for x in np.arange(125.0, 156.0, 1.0):
        p = view.flat(np.array([(x, 300.0, 1.2)]))[0]
        j, i = (int((p[k] - d.grid.low[k]) / d.grid.pitch) for k in (1, 0))
        shades.append(d.shade[j, i])
    flat = shades[0]
    assert max(shades) > flat
    assert min(shades) < flat - 0.05
    assert len({round(float(s), 3) for s in shades}) >= 4


@pytest.fixture(scope="module")
def lid() -> Any:
    return tb.assemble(tb.families.lid_on_struts(), SHOP)


def test_every_balloon_points_at_metal_of_its_row(lid: Any) -> None:
    """A ray from the eye through a balloon's tip meets first a member of the balloon's row: by all solids' triangles."""
    names = list(lid.assembly.names)
    d = member_drawing(lid, dict.fromkeys(names, (0.0, 0.0, 0.0)))
    tips = balloon_tips(lid, names, d)
    view, best = corner_view(), dict.fromkeys(tips, (-np.inf, ""))
    for name in names:
        shape = lid.shape(name)
        mesh.triangulate(shape, 0.05)
        points, triangles = mesh.triangles(shape)
        corners = view.flat(points)[triangles]
        tree = shapely.STRtree(shapely.polygons(corners[:, :, :2]))
        for row, tip in tips.items():
            for k in tree.query(shapely.Point(tip), predicate="intersects"):
                a, b, c = corners[k]
                n = np.cross(b - a, c - a)
                if abs(n[2]) > 1e-9:
                    depth = a[2] - ((tip[0] - a[0]) * n[0] + (tip[1] - a[1]) * n[1]) / n[2]
                    best[row] = max(best[row], (float(depth), name))
    assert [row.number for row, (_, name) in best.items() if name not in row.members] == []
    # What has no balloon is not seen anywhere.
    unseen = [row for row in parts_list(lid) if row not in tips]
    assert all((d.item != names.index(name)).all() for row in unseen for name in row.members)


def test_a_picture_of_an_assembly_keeps_within_bytes(lid: Any) -> None:
    text = tb.write.assembled_svg(lid)
    assert len(text.encode()) <= 100_000
    assert text == tb.write.assembled_svg(tb.assemble(tb.families.lid_on_struts(), SHOP))


def test_a_picture_holds_no_address_and_no_script() -> None:
    text = folded_svg(channel())
    assert text.count("href=") == text.count('href="data:image/png;base64,') == 1
    assert "<script" not in text


@pytest.mark.parametrize(("sample", "side"), [*PARTS, (tunnel, "down")])
def test_a_section_is_enlarged_of_what_can_be_seen(sample: Any, side: Side) -> None:
    """By rays against the solid: one of the section's places on the part is bare, and it is the one pointed at."""
    view, d = corner_view(side), drawn(sample, side)
    found = details(sample(), view, max(d.box[2] - d.box[0], d.box[3] - d.box[1]))
    corners = solid_in_view(sample, side)
    for one, at in found:
        places = view.flat(np.array(one.outside))
        here = np.hypot(*(places[:, :2] - np.array(at)).T) < 1e-6
        assert not hidden(places[here], corners, OFF).all()
    kinds = [one.words[0].split()[0] for one, _ in found]
    assert len(kinds) == len(set(kinds))
    assert (kinds[0] if kinds else "") == {"channel": "", "tunnel": "hem", "pan": "bead"}[sample.__name__] or kinds


def test_the_section_of_a_channel_is_its_volume_over_its_length() -> None:
    part = (
        tb.Part("HN-U", sheet="DC01 2.0", base=tb.Outline.rectangle(200, 60)).fold("front", leg=30).fold("rear", leg=30)
    )
    made = tb.make(part, SHOP)
    z = made.strips[0]
    frame = tb.part.Frame(z.ruling(z.allowance / 2, 2.0)(100.0, 0.0, 1.0), z.frame.x, z.frame.y, z.frame.z)
    whole = section(made.folded, frame, 500.0)
    assert whole.area * 200.0 == pytest.approx(made.solid.Volume(), rel=5e-3)
    # Within 8 mm of the middle of the bend there is its arc and a piece of each leg, everywhere 2 mm thick.
    near = section(made.folded, frame, 8.0)
    assert near.area == pytest.approx(2.0 * near.length / 2 - 2.0 * 2.0, rel=0.05)


def test_an_assembly_from_below_shows_what_it_hides_from_above() -> None:
    wide, small = (
        tb.Part(number, sheet="DC01 2.0", base=tb.Outline.rectangle(side, side))
        for number, side in (("WIDE", 200), ("SMALL", 60))
    )
    stack = tb.Assembly("STACK").add("wide", wide).add("small", small, tb.part.frame_at((70.0, 70.0, -2.0)))
    made = tb.assemble(stack, SHOP)
    shown = {side: str(tb.write.assembled_svg(made, side)) for side in ("up", "down")}
    assert ("<title>SMALL</title>" in shown["up"], "<title>SMALL</title>" in shown["down"]) == (False, True)
    assert "assembled, from below</title>" in shown["down"]
    for wrong in ("left", None, 3):
        with pytest.raises(UnknownName, match="up, down"):
            tb.write.assembled_svg(made, wrong)
