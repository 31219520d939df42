"""STEP files good, odd and damaged: every one ends in a flat or in an error that says what is wrong."""

from __future__ import annotations

import math
import os
import re
import signal
import subprocess
import sys
import types
from collections.abc import Callable
from pathlib import Path
from typing import Any

import bentstrip
import pytest

from tinbook.errors import BadFile, BadValue, TinbookError
from tinbook.read.step import guard as step_guard
from tinbook.read.step import load as step_load
from tinbook.read.step import unfold as step
from tinbook.read.step.unfold import NotASheet, Unfolded, unfold, unfold_each

cq = pytest.importorskip("cadquery")


def test_file_reads_like_the_solid(text: str, write: Callable[[str | bytes], Path]) -> None:
    """Once through the child process and once here: the same flat."""
    path = write(text)
    before = path.read_bytes()
    aside, here = unfold(path, 0.44), unfold(path, 0.44, trusted=True)
    assert aside.outer == here.outer
    assert aside.cuts == here.cuts
    assert aside.name == "case"
    assert path.read_bytes() == before


def in_inches(text: str) -> str:
    """The same numbers, said to be inches."""
    number = re.search(r"#(\d+) = \( LENGTH_UNIT\(\) NAMED_UNIT\(\*\) SI_UNIT\(\.MILLI\.,\.METRE\.\) \);", text)
    assert number
    n = number.group(1)
    return text.replace(
        number.group(0),
        f"#{n} = ( CONVERSION_BASED_UNIT('INCH',#90001) LENGTH_UNIT() NAMED_UNIT(#90002) );\n"
        "#90001 = LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),#90003);\n"
        "#90002 = DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.);\n"
        "#90003 = ( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) );",
    )


def without_units(text: str) -> str:
    return re.sub(r"GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\([^)]*\)\)\s*", "", text)


def test_inch_file_is_converted_and_said(text: str, write: Callable[[str | bytes], Path]) -> None:
    plain = unfold(write(text), 0.44, trusted=True)
    path = write(in_inches(text))
    inch = unfold(path, 0.44, trusted=True)
    assert inch.thickness == pytest.approx(1.5 * 25.4)
    assert inch.size == pytest.approx([25.4 * v for v in plain.size], rel=1e-9)
    assert any(f.code == "unfold.units" and "inch" in f.what for f in inch.findings)
    with pytest.raises(BadValue, match=r"units.*states its own unit"):
        unfold(path, 0.44, units="mm", trusted=True)


def test_file_without_units_is_said_and_can_be_told(text: str, write: Callable[[str | bytes], Path]) -> None:
    path = write(without_units(text))
    plain = unfold(path, 0.44, trusted=True)
    assert plain.thickness == pytest.approx(1.5)
    (said,) = [f for f in plain.findings if f.code == "unfold.units"]
    assert said.severity == "caution"
    assert "units" in said.remedy
    assert unfold(path, 0.44, units="in", trusted=True).thickness == pytest.approx(1.5 * 25.4)
    with pytest.raises(BadValue, match="one of mm, cm, m, in, ft"):
        unfold(path, 0.44, units="furlong")


def test_product_names_and_counts(tmp_path: Path) -> None:
    angle, zed = bentstrip.solid(cq, [50, (90, 2), 30], 1.5, 40), bentstrip.solid(cq, [30, (90, 2), 9], 1, 40)
    both = cq.Assembly(name="HN-WC").add(angle, name="HN-WC-1").add(zed, name="HN-WC-2", loc=cq.Location((0, 0, 90)))
    path = tmp_path / "set.step"
    both.export(str(path))
    every = {one.name: told for one, told in unfold_each(step_load.load(path), 0.44)}
    assert list(every) == ["HN-WC-1", "HN-WC-2"]
    assert isinstance(every["HN-WC-2"], Unfolded)
    assert every["HN-WC-2"].thickness == pytest.approx(1.0)
    with pytest.raises(BadValue, match="HN-WC-1, HN-WC-2"):
        unfold(path, 0.44, trusted=True)


BROKEN: dict[str, tuple[Callable[[str], str | bytes], str]] = {
    "empty": (lambda s: "", "empty"),
    "not STEP": (lambda s: "solid made of words\n" * 9, "not a STEP file"),
    "archive": (lambda s: b"PK\x03\x04" + os.urandom(200), "ZIP"),
    "binary": (lambda s: bytes(range(256)) * 40, "not a STEP file"),
    "cut short": (lambda s: s[: len(s) // 2], "cut short"),
    "header only": (lambda s: s[: s.index("DATA;")], "no DATA"),
    "no records": (lambda s: s[: s.index("DATA;") + 5] + "\nENDSEC;\nEND-ISO-10303-21;\n", "no records"),
    "record twice": (lambda s: s.replace("#12 =", "#11 =", 1), "defined twice"),
    "bracket lost": (lambda s: s.replace("CARTESIAN_POINT('',(", "CARTESIAN_POINT('',", 1), "brackets"),
    "binary inside": (lambda s: s.replace("DATA;", "DATA;\x00\x01", 1), "binary content"),
    "no shape": (lambda s: s.replace("MANIFOLD_SOLID_BREP", "ADVANCED_NOTHING", 1), "no solid|damaged"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_file_says_what_is_wrong(name: str, text: str, write: Callable[[str | bytes], Path]) -> None:
    spoil, says = BROKEN[name]
    with pytest.raises(BadFile, match=says) as caught:
        unfold(write(spoil(text)), 0.44)
    assert "case.step" in str(caught.value)
    assert caught.value.mistakes


def test_missing_file_folder_and_wrong_source(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="does not exist"):
        unfold(tmp_path / "none.step", 0.44)
    with pytest.raises(BadFile, match="is a folder"):
        unfold(tmp_path, 0.44)
    for source in (42, None, [1, 2], object()):
        with pytest.raises(BadValue, match="path to a STEP file"):
            unfold(source, 0.44)
    with pytest.raises(BadValue, match="closed solid"):
        unfold(cq.Workplane().rect(20, 10).extrude(2).faces(">Z"), 0.44)


def test_too_large_file(text: str, write: Callable[[str | bytes], Path], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(step_load, "LARGEST", 1000)
    with pytest.raises(BadFile, match="at most 1000 bytes"):
        unfold(write(text), 0.44)


def test_surfaces_only(tmp_path: Path) -> None:
    path = tmp_path / "skin.step"
    shell = cq.Workplane().box(30, 20, 2).faces(">Z or >X").vals()
    cq.exporters.export(cq.Workplane(cq.Compound.makeCompound(shell)), str(path))
    with pytest.raises(BadFile, match="surfaces only"):
        unfold(path, 0.44)


def mesh_solid() -> Any:
    """A solid of triangles without surfaces, as tessellated files hold them."""
    from OCP.BRep import BRep_Builder
    from OCP.gp import gp_Pnt
    from OCP.Poly import Poly_Triangle, Poly_Triangulation
    from OCP.TopoDS import TopoDS_Face, TopoDS_Shell, TopoDS_Solid

    corners = [(0, 0, 0), (40, 0, 0), (0, 30, 0), (0, 0, 2)]
    mesh = Poly_Triangulation(4, 4, False)
    for i, p in enumerate(corners):
        mesh.SetNode(i + 1, gp_Pnt(*p))
    for i, (a, b, c) in enumerate([(1, 3, 2), (1, 2, 4), (2, 3, 4), (3, 1, 4)]):
        mesh.SetTriangle(i + 1, Poly_Triangle(a, b, c))
    build, face, shell, solid = BRep_Builder(), TopoDS_Face(), TopoDS_Shell(), TopoDS_Solid()
    build.MakeFace(face, mesh)
    build.MakeShell(shell)
    build.Add(shell, face)
    build.MakeSolid(solid)
    build.Add(solid, shell)
    return solid


def test_mesh_only(tmp_path: Path) -> None:
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

    with pytest.raises(BadValue, match="closed solid"):
        unfold(mesh_solid(), 0.44)
    path = tmp_path / "mesh.step"
    writer = STEPControl_Writer()
    writer.Transfer(mesh_solid(), STEPControl_AsIs)
    writer.Write(str(path))
    assert "TESSELLATED" in path.read_text()
    with pytest.raises(BadFile, match="mesh only"):
        unfold(path, 0.44)


def test_reference_of_the_wrong_kind_does_not_end_the_process(text: str, write: Callable[[str | bytes], Path]) -> None:
    """A vertex that points to an edge brings the kernel down: only the child may fall."""
    edge = re.search(r"#(\d+) = EDGE_CURVE", text)
    assert edge
    spoiled = re.sub(r"(VERTEX_POINT\('',)#\d+", rf"\g<1>#{edge.group(1)}", text, count=3)
    with pytest.raises(BadFile, match=r"damaged|no solid|surfaces"):
        unfold(write(spoiled), 0.44)


def test_endless_reading_is_stopped(
    text: str, write: Callable[[str | bytes], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(command: list[str], **options: object) -> None:
        raise subprocess.TimeoutExpired(command, 1)

    monkeypatch.setattr(step_load.subprocess, "run", never)
    with pytest.raises(BadFile, match="did not end"):
        unfold(write(text), 0.44)


def test_time_that_ran_out_is_not_called_damage(
    text: str, write: Callable[[str | bytes], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A healthy file whose reader is ended by its limit of computing time."""
    path = write(text)
    ended = {"code": -int(signal.SIGXCPU)}

    def slow(command: list[str], **options: object) -> types.SimpleNamespace:
        (Path(command[4]) / "limit").write_text("7")
        return types.SimpleNamespace(returncode=ended["code"], stderr=b"")

    monkeypatch.setattr(step_load.subprocess, "run", slow)
    with pytest.raises(BadFile, match=r"more than 7 s of computing.*nothing about the file.*seconds=60") as caught:
        unfold(path, 0.44)
    assert "damaged" not in str(caught.value)
    ended["code"] = 4
    with pytest.raises(BadFile, match=r"more than 4\d\d\d MB of memory"):
        unfold(path, 0.44)


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process are not Windows'")
@pytest.mark.parametrize(("limit", "says"), [("seconds", "s of computing"), ("memory", "MB of memory")])
def test_reader_is_ended_by_its_limits(
    limit: str, says: str, write: Callable[[str | bytes], Path], text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A child that computes or allocates without end, under the limits that the reader sets itself."""
    endless = "while True: pass" if limit == "seconds" else "x = [bytearray(1 << 26) for _ in range(10**6)]"
    script = write(text).with_name("child.py")
    own = Path(step_guard.__file__).parent
    script.write_text(
        f"import sys; sys.path.insert(0, {str(own)!r})\n"
        "import guard\n"
        f"guard._limited(sys.argv[2], {0.2 if limit == 'seconds' else 20.0}, 1000)\n"
        "try:\n"
        f"    {endless}\n"
        "except MemoryError:\n"
        "    sys.exit(4)\n"
    )
    monkeypatch.setattr(step_load.step_guard, "__file__", str(script))
    with pytest.raises(BadFile, match=says):
        unfold(write(text), 0.44)


def test_seconds_are_asked_for_and_checked(
    text: str, write: Callable[[str | bytes], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, given = write(text), []

    def run(command: list[str], **options: object) -> types.SimpleNamespace:
        given.append(float(command[5]))
        return types.SimpleNamespace(returncode=3, stderr=b"")

    monkeypatch.setattr(step_load.subprocess, "run", run)
    monkeypatch.delenv("TINBOOK_READ_SECONDS", raising=False)
    for seconds, env in ((None, ""), (90, ""), (None, "45"), (90, "45")):
        monkeypatch.setenv("TINBOOK_READ_SECONDS", env)
        with pytest.raises(BadFile):
            unfold(path, 0.44, seconds=seconds)
    assert given == [pytest.approx(5 + len(text) / 100_000), 90, 45, 90]
    for wrong in (0, -1, 1e9, "ten", True, math.nan):
        with pytest.raises(BadValue, match="seconds"):
            unfold(path, 0.44, seconds=wrong)  # type: ignore[arg-type]
    monkeypatch.setenv("TINBOOK_READ_SECONDS", "soon")
    with pytest.raises(BadValue, match="TINBOOK_READ_SECONDS"):
        unfold(path, 0.44)


def test_solid_of_too_many_faces_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(step, "MOST_FACES", 5)
    with pytest.raises(NotASheet, match="6 faces; valid: at most 5"):
        unfold(cq.Workplane().box(40, 20, 1), 0.44)


def test_outline_that_the_plane_cannot_hold_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Numbers out of range in an injured file make polygons that are none (two in 6 000 mutated files)."""
    import shapely

    def hollow(*_: object, **__: object) -> None:
        raise shapely.errors.GEOSException("Shell empty after removing invalid points")

    monkeypatch.setattr(step, "stands", hollow)
    with pytest.raises(NotASheet, match="cannot follow this solid's geometry"):
        unfold(cq.Workplane().box(40, 20, 1))


def test_degenerate_solids() -> None:
    bow = cq.Workplane().polyline([(0, 0), (40, 20), (40, 0), (0, 20)]).close().extrude(2)
    thin = cq.Workplane().box(40, 20, 1e-5)
    for solid in (bow, thin):
        try:
            flat = unfold(solid, 0.44)
        except TinbookError:
            continue
        assert flat.area > 0
        assert [f for f in flat.findings if f.severity != "fine"]


def test_a_number_that_is_infinite_is_named_before_the_kernel_reads_it(
    text: str, write: Callable[[str | bytes], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A vector of length 1.E400 kept the kernel busy until the reader's time was over."""
    monkeypatch.setattr(step_load, "_aside", lambda *a: pytest.fail("the kernel was asked"))
    (vector, *_) = re.findall(r"VECTOR\('',#\d+,1\.\)", text)
    spoilt = text.replace(vector, vector.replace(",1.)", ",1.E400)"), 1)
    with pytest.raises(BadFile, match=r"1\.E400: out of range"):
        unfold(write(spoilt), 0.44)
