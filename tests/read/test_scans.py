"""Scans read from files that another library wrote, units asked for, and files that are no scans."""

from __future__ import annotations

import contextlib
import random
from itertools import product

import numpy as np
import pytest
from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkIOGeometry import vtkOBJWriter, vtkSTLWriter
from vtkmodules.vtkIOPLY import vtkPLYReader, vtkPLYWriter

import tinbook as tb
from counts import wanted_in_full
from injuries import injured, seeds
from tinbook.errors import BadFile, BadValue
from tinbook.read.scans.mesh import Scan, edges, smooth_normals
from tinbook.read.scans.nearest import least, nearest, signed, tree_of
from tinbook.read.scans.practice import CLEAN, Flaws, practice_scan

PLATE = practice_scan(tb.Outline.rectangle(80, 60), lip=10, spacing=4, flaws=Flaws(missing=0.0, bits=0), seed=7)


def sphere(radius: float = 50.0, rings: int = 24):
    """A closed mesh about the origin, and the largest depth of its triangles below the true sphere."""
    a = np.linspace(0, np.pi, rings + 1)[1:-1]
    b = np.linspace(0, 2 * np.pi, 2 * rings, endpoint=False)
    ring = [(radius * np.sin(u) * np.cos(v), radius * np.sin(u) * np.sin(v), radius * np.cos(u)) for u in a for v in b]
    points = np.array([*ring, (0, 0, radius), (0, 0, -radius)])
    n, m = 2 * rings, len(ring)
    t = []
    for i, j in product(range(rings - 2), range(n)):
        p, q = i * n + j, i * n + (j + 1) % n
        t += [(p, p + n, q), (q, p + n, q + n)]
    t += [(m, j, (j + 1) % n) for j in range(n)]
    t += [(m + 1, m - n + (j + 1) % n, m - n + j) for j in range(n)]
    corners = np.array(t)
    flat = points[corners]
    normal = np.cross(flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0])
    depth = np.einsum("ij,ij->i", flat[:, 0], normal) / np.linalg.norm(normal, axis=1)
    return points, corners, radius - float(depth.min())


def poly(points, triangles):
    data = vtkPolyData()
    places = vtkPoints()
    places.SetData(numpy_to_vtk(np.asarray(points, np.float64), deep=True))
    data.SetPoints(places)
    cells = vtkCellArray()
    begins = np.arange(0, 3 * len(triangles) + 1, 3, dtype=np.int64)
    corners = np.ascontiguousarray(triangles, np.int64).ravel()
    cells.SetData(*(numpy_to_vtkIdTypeArray(a, deep=True) for a in (begins, corners)))
    data.SetPolys(cells)
    return data


def written(path, points, triangles, text=False, big=False):
    kind = {".ply": vtkPLYWriter, ".stl": vtkSTLWriter, ".obj": vtkOBJWriter}[path.suffix]
    writer = kind()
    writer.SetInputData(poly(points, triangles))
    writer.SetFileName(str(path))
    if path.suffix != ".obj":
        writer.SetFileTypeToASCII() if text else writer.SetFileTypeToBinary()
    if big:
        writer.SetDataByteOrderToBigEndian()
    elif path.suffix == ".ply":
        writer.SetDataByteOrderToLittleEndian()
    writer.Write()
    return path


def as_set(points, triangles):
    """Triangles by the places of their corners, the least corner first."""
    rows = np.round(points[triangles], 3) + 0.0
    return sorted(min(tuple(map(tuple, np.roll(t, k, axis=0).tolist())) for k in range(3)) for t in rows)


@pytest.mark.parametrize(
    ("end", "text", "big"),
    [
        (".ply", True, False),
        (".ply", False, False),
        (".ply", False, True),
        (".stl", True, False),
        (".stl", False, False),
        (".obj", True, False),
    ],
)
def test_meshes_that_another_library_wrote_are_read_right(tmp_path, end, text, big):
    path = written(tmp_path / f"Längsträger links 2{end}", PLATE.points, PLATE.triangles, text, big)
    scan = tb.read_scan(path, face="mating", unit="mm")
    assert len(scan.points) == len(PLATE.points)
    assert as_set(scan.points, scan.triangles) == as_set(PLATE.points, PLATE.triangles)


def test_a_scan_that_was_written_comes_back_to_the_last_bit_and_another_library_reads_it(tmp_path):
    file = tb.write.write_scan(PLATE, tmp_path)
    assert file.name == "practice_scan_7.ply"
    back = tb.read_scan(file, face="mating", unit="mm")
    assert (back.points == PLATE.points).all()
    assert (back.triangles == PLATE.triangles).all()
    reader = vtkPLYReader()
    reader.SetFileName(str(file))
    reader.Update()
    assert reader.GetOutput().GetNumberOfPoints() == len(PLATE.points)
    assert reader.GetOutput().GetNumberOfPolys() == len(PLATE.triangles)
    with pytest.raises(BadValue):
        tb.write.write_scan(PLATE, tmp_path / "a.txt")
    with pytest.raises(BadValue):
        tb.write.write_scan(None, tmp_path)


def test_a_binary_stl_of_the_other_byte_order_is_read(tmp_path):
    path = written(tmp_path / "a.stl", PLATE.points, PLATE.triangles)
    data = path.read_bytes()
    words = np.frombuffer(data[84:], np.dtype([("f", "<f4", 12), ("c", "<u2")]))
    count = len(words).to_bytes(4, "big")
    (tmp_path / "b.stl").write_bytes(data[:80] + count + words.astype([("f", ">f4", 12), ("c", ">u2")]).tobytes())
    scan = tb.read_scan(tmp_path / "b.stl", face="mating", unit="mm")
    assert as_set(scan.points, scan.triangles) == as_set(PLATE.points, PLATE.triangles)


def test_colours_normals_quads_and_backward_corners_are_taken_as_they_stand(tmp_path):
    """A unit cube's face by hand: a quad is two triangles; colours, textures and groups are passed over."""
    square = [(0, 0, 0), (100, 0, 0), (100, 100, 0), (0, 100, 0)]
    head = "ply\nformat ascii 1.0\ncomment hand made\nelement vertex 4\nproperty uchar red\nproperty float x\n"
    head += "property float y\nproperty float z\nproperty uchar blue\nelement face 1\nproperty uchar part\n"
    head += "property list uchar int vertex_indices\nelement edge 1\nproperty int a\nend_header\n"
    rows = "".join(f"255 {x} {y} {z} 7\n" for x, y, z in square)
    (tmp_path / "q.ply").write_text(f"{head}{rows}9 4 0 1 2 3\n5\n")
    obj = (
        "o plate\nvt 0 0\n"
        + "".join(f"v {x} {y} {z} 0.5 0.5 0.5\n" for x, y, z in square)
        + "g face\nf -4/1 -3/1 -2/1 -1/1\n"
    )
    (tmp_path / "q.obj").write_text(obj)
    for name in ("q.ply", "q.obj"):
        scan = tb.read_scan(tmp_path / name, face="mating", unit="mm")
        assert scan.points.tolist() == [list(map(float, p)) for p in square]
        assert scan.triangles.tolist() == [[0, 1, 2], [0, 2, 3]]


def test_points_alone_are_a_cloud(tmp_path):
    rows = "\n".join(f"v {x} {y} 0" for x, y in product(range(0, 50, 5), range(0, 50, 5)))
    (tmp_path / "cloud.obj").write_text(rows)
    scan = tb.read_scan(tmp_path / "cloud.obj", face="mating", unit="mm")
    assert len(scan.triangles) == 0
    assert scan.findings.of("scan.cloud")
    with pytest.raises(BadValue, match="seen_from"):
        tb.read_scan(tmp_path / "cloud.obj", face="far", sheet=1.2, unit="mm")
    far = tb.read_scan(tmp_path / "cloud.obj", face="far", sheet=1.2, unit="mm", seen_from=(0, 0, 5))
    assert far.points[:, 2] == pytest.approx(-1.2)


def test_the_unit_is_stated_or_follows_from_a_stated_size(tmp_path):
    path = written(tmp_path / "m.ply", PLATE.points / 1000.0, PLATE.triangles)
    across = max(PLATE.size)
    with pytest.raises(BadValue, match=r"98\.9 mm if in m,"):
        tb.read_scan(path, face="mating")
    with pytest.raises(BadFile, match="Its longest side would be"):
        tb.read_scan(path, face="mating", unit="mm")
    with pytest.raises(BadValue, match="within a factor"):
        tb.read_scan(path, face="mating", size="0.4 m")
    p, q = PLATE.points[0] / 1000, PLATE.points[-1] / 1000
    apart = float(np.linalg.norm(PLATE.points[0] - PLATE.points[-1]))
    for asked in ({"unit": "m"}, {"size": across * 1.1}, {"size": (p, q, apart)}):
        assert max(tb.read_scan(path, face="mating", **asked).size) == pytest.approx(across, rel=1e-5)


def test_sheet_and_coating_lie_between_the_scanner_and_the_metal(tmp_path):
    """A ball scanned from outside: its mating face lies inside by sheet and coating, r - 1.5 - 0.3."""
    points, triangles, _ = sphere()
    path = written(tmp_path / "ball.ply", points, triangles)
    bare = tb.read_scan(path, face="far", sheet="1.5 mm", coating="0.3 mm", unit="mm")
    assert np.linalg.norm(bare.points, axis=1) == pytest.approx(50 - 1.8, abs=0.01)
    part = tb.read_scan(path, face="mating", coating=[((-60, -60, 0), (60, 60, 60), 2.0)], unit="mm")
    far = np.linalg.norm(part.points, axis=1)
    assert far[points[:, 2] > 1] == pytest.approx(48, abs=0.01)
    assert far[points[:, 2] < -1] == pytest.approx(50, abs=0.01)
    assert "1.80 mm" in str(bare.findings.of("scan.face"))


def test_a_mesh_inside_out_is_refused_or_turned(tmp_path):
    points, triangles, _ = sphere()
    path = written(tmp_path / "ball.stl", points, triangles[:, ::-1])
    with pytest.raises(BadFile, match="turn_over"):
        tb.read_scan(path, face="mating", unit="mm")
    scan = tb.read_scan(path, face="mating", unit="mm", turn_over=True)
    assert (np.einsum("ij,ij->i", smooth_normals(scan), scan.points) > 0).all()
    path = written(tmp_path / "plate.stl", PLATE.points, PLATE.triangles)
    with pytest.raises(BadFile, match="look away from seen_from"):
        tb.read_scan(path, face="mating", unit="mm", seen_from=(0, 0, -1))


def test_what_is_odd_in_a_mesh_is_said(tmp_path):
    """Three triangles on one edge, one without area, one that looks the other way."""
    rows = "v 0 0 0\nv 100 0 0\nv 0 100 0\nv 0 -100 0\nv 50 0 90\nv 200 100 0\n"
    (tmp_path / "odd.obj").write_text(rows + "f 1 2 3\nf 2 1 4\nf 1 2 5\nf 1 1 2\nf 2 3 6\n")
    scan = tb.read_scan(tmp_path / "odd.obj", face="mating", unit="mm")
    told = " ".join(map(str, scan.findings))
    assert "1 edges belong to more than two" in told
    assert "1 triangles have no area" in told
    assert "1 edges lie between triangles that look opposite ways" in told
    assert len(scan.triangles) == 4


BAD = {
    "empty.ply": b"",
    "short.stl": b"solid",
    "text.ply": b"hello",
    "promise.ply": b"ply\nformat binary_little_endian 1.0\nelement vertex 1000000000000\nproperty float x\nproperty float y\n"
    b"property float z\nend_header\n" + bytes(36),
    "promise.stl": bytes(80) + (10**9).to_bytes(4, "little") + bytes(50),
    "list.ply": b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\n"
    b"property list uchar int vertex_indices\nend_header\n0 0 0 9 0 0 0 9 0\n1e18 0 1 2\n",
    "endless.ply": b"ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
    b"element face 1\nproperty list float int vertex_indices\nend_header\n"
    + bytes(36)
    + b"\0\0\xc0\x7f"
    + bytes(12),  # NaN corners
    "nan.obj": b"v 0 0 0\nv 100 nan 0\nv 0 100 0\nf 1 2 3\n",
    "far.obj": b"v 0 0 0\nv 1e9 0 0\nv 0 1e9 0\nf 1 2 3\n",
    "huge.obj": b"v 0 0 0\nv 1e308 0 0\nv 0 -1e308 0\nf 1 2 3\n",
    "corner.obj": b"v 0 0 0\nv 9 0 0\nv 0 9 0\nf 1 2 4\n",
    "word.obj": b"v 0 0 zero\nv 9 0 0\nv 0 9 0\nf 1 2 3\n",
    "one.obj": b"v 5 5 5\nv 5 5 5\nv 5 5 5\nf 1 2 3\n",
    "type.ply": b"ply\nformat ascii 1.0\nelement vertex 3\nproperty text x\nend_header\n",
    "scan.step": b"ISO-10303-21",
}


@pytest.mark.parametrize("name", BAD)
def test_files_that_are_no_scans_are_named(tmp_path, name):
    (tmp_path / name).write_bytes(BAD[name])
    with pytest.raises(BadFile, match=name):
        tb.read_scan(tmp_path / name, face="mating", unit="mm")
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize(
    "asked",
    [
        {"face": "top"}, {"face": "far"}, {"face": "far", "sheet": -1}, {"face": "mating", "unit": "parsec"},
        {"face": "mating", "coating": -0.1}, {"face": "mating", "coating": [(1, 2)]}, {"face": "mating", "coating": [((0, 0), (1, 1), 1)]},
        {"face": "mating", "unit": "mm", "size": 100}, {"face": "mating", "unit": None, "size": (1, 2)}, {"face": None},
        {"face": "mating", "seen_from": (0, 0, 0)}, {"face": "mating", "seen_from": "up"}, {"face": "mating", "seen_from": (1, 2)},
        {"face": "mating", "coating": float("nan")}, {"face": "far", "sheet": "16 ga"}, {"face": "mating", "unit": 25.4},
    ],
)  # fmt: skip
def test_wrong_answers_are_named(tmp_path, asked):
    path = written(tmp_path / "p.ply", PLATE.points, PLATE.triangles)
    with pytest.raises(BadValue):
        tb.read_scan(path, **{"unit": "mm", **asked})


@pytest.mark.parametrize(
    ("points", "triangles"),
    [
        (np.zeros((0, 3)), np.zeros((0, 3), int)), (np.full((4, 3), np.nan), np.zeros((0, 3), int)),
        (np.array([(0.0, 0, 0), (1e9, 0, 0), (0, 1, 0)]), np.zeros((0, 3), int)), (np.eye(3), np.array([(0, 1, 3)])),
        (np.eye(3), np.array([(0, 1, -1)])), (np.eye(3), [(0, 1, 2)]), (np.eye(3), np.eye(3)), (None, None), ("x", "y"),
        (np.zeros((5, 2)), np.zeros((0, 3), int)), (np.eye(3), np.zeros((2, 4), int)),
    ],
)  # fmt: skip
def test_a_scan_that_is_none_is_named(points, triangles):
    with pytest.raises(BadValue, match=r"points|triangles"):
        Scan(name="odd", points=points, triangles=triangles)


@pytest.mark.parametrize("end", [".ply", ".stl", ".obj", "binary.ply", "binary.stl"])
def test_injured_files_give_a_scan_or_a_message(tmp_path, end):
    path = written(tmp_path / f"a{end}", PLATE.points, PLATE.triangles, text=not end.startswith("binary"))
    whole = path.read_bytes()
    for seed in seeds(f"scan {end}", 1000 if wanted_in_full() else 12):
        path.write_bytes(injured(whole, random.Random(seed)))
        with contextlib.suppress(BadFile, BadValue):  # any other error fails
            scan = tb.read_scan(path, face="far", sheet=1, unit="mm", seen_from=(0, 0, 1))
            assert np.isfinite(scan.points).all(), seed
            assert scan.triangles.max(initial=0) < len(scan.points), seed


def test_distances_to_a_ball_are_exact_within_its_chords():
    """Distance to a sphere is | |p| - r |, negative inside; the mesh lies at most `depth` below it."""
    points, triangles, depth = sphere()
    p = np.random.default_rng(3).normal(size=(2000, 3)) * 40
    near = nearest(tree_of(points, triangles), p)
    gap = signed(points, triangles, near, p)
    true = np.linalg.norm(p, axis=1) - 50.0
    clear = np.abs(true) > depth
    assert (np.sign(gap) == np.sign(true))[clear].all()
    assert ((gap >= true - 1e-9) & (gap <= true + depth + 1e-9)).all()
    assert np.linalg.norm(p - near.place, axis=1) == pytest.approx(near.distance)


def test_distances_equal_those_of_every_triangle_in_turn():
    """The tree against all pairs: a point's distance to each triangle's plane, edges and corners, by numpy alone."""
    rng = np.random.default_rng(5)
    points, triangles = rng.normal(size=(60, 3)) * 20, rng.integers(0, 60, (90, 3))
    triangles = triangles[
        (triangles[:, 0] != triangles[:, 1])
        & (triangles[:, 1] != triangles[:, 2])
        & (triangles[:, 2] != triangles[:, 0])
    ]
    p = rng.normal(size=(200, 3)) * 25
    best = np.full(len(p), np.inf)
    for t in points[triangles]:
        n = np.cross(t[1] - t[0], t[2] - t[0])
        n /= np.linalg.norm(n)
        foot = p - np.outer((p - t[0]) @ n, n)
        inside = np.all([np.cross(t[(k + 1) % 3] - t[k], foot - t[k]) @ n >= 0 for k in range(3)], axis=0)
        best = np.where(inside, np.minimum(best, np.abs((p - t[0]) @ n)), best)
        for k in range(3):
            u = t[(k + 1) % 3] - t[k]
            s = np.clip((p - t[k]) @ u / (u @ u), 0, 1)
            best = np.minimum(best, np.linalg.norm(p - t[k] - s[:, None] * u, axis=1))
    assert nearest(tree_of(points, triangles), p).distance == pytest.approx(best, abs=1e-9)


def test_two_balls_are_apart_by_their_centres_less_their_radii():
    points, triangles, depth = sphere()
    tree = tree_of(points, triangles)
    for shift in ((130.0, 0.0, 0.0), (70.0, 70.0, 70.0), (0.0, 30.0, 20.0)):
        gap, a, b = least(tree, points + shift, triangles)
        true = max(float(np.linalg.norm(shift)) - 100.0, 0.0)
        assert true <= gap + 1e-9 <= true + 2 * depth + 2e-9
        assert np.linalg.norm(a - b) == pytest.approx(gap, abs=1e-9)


def test_the_practice_mesh_is_a_clean_surface_with_two_borders():
    scan = practice_scan(tb.Outline.rectangle(200, 150), lip=12, spacing=3, flaws=CLEAN)
    _, count, way = edges(scan)
    assert count.max() == 2
    assert not way[count == 2].any()
