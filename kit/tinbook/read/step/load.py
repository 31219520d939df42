"""Get solids out of whatever the user holds: a STEP file, a CadQuery object, a kernel shape."""

from __future__ import annotations

import json
import math
import os
import re
import signal
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

from OCP.BinTools import BinTools
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Pnt, gp_Trsf
from OCP.TopoDS import TopoDS, TopoDS_Shape

from tinbook.errors import BadFile, BadValue, Mistake
from tinbook.finding import NOTHING, Finding, Findings, caution, fine
from tinbook.paths import existing
from tinbook.read.step import guard as step_guard
from tinbook.values import dataclass

MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "ft": 304.8,
}
"""Units the user may name for a file that states none."""

LARGEST = 400_000_000
"""Bytes: a larger file is an assembly to be taken apart first."""

SECONDS = "TINBOOK_READ_SECONDS"
"""Environment variable: seconds of computing that a file may take, where none are given."""

MEGABYTES = 4096
"""Memory that reading may take, and as much again as fifty times the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """One solid and where it came from.

    Parameters
    ----------
    name : str
        Name of the product in the file, else of the file.
    shape : TopoDS_Solid
        In mm.
    count : int
        How often the same solid stands in the source.
    findings : Findings
        Units, damage, loose surfaces.
    """

    name: str
    shape: Any
    count: int = 1
    findings: Findings = NOTHING


def load(source: Any, *, units: str | None = None, trusted: bool = False, seconds: float | None = None) -> list[Loaded]:
    """Return the solids of a source.

    Parameters
    ----------
    source : path, CadQuery Workplane, Shape or Assembly, or TopoDS_Shape
        Where to look.
    units : {"mm", "cm", "m", "in", "ft"}, optional
        Unit of a file that states none; refused when the file states one.
    trusted : bool
        Read the file in this process: quicker, but a damaged file can end the process, and no limit holds.
    seconds : float, optional
        Seconds of computing that a file may take on a machine at full speed, 1 to 86400; a slow or busy machine
        gets more. Else TINBOOK_READ_SECONDS, else 5 and one more for each 100 kB.

    Raises
    ------
    BadFile
        Not a STEP file, damaged, or without a solid.
    BadValue
        A source of another kind, or unknown units.

    Notes
    -----
    Limits: files of 400 MB; the seconds above; 4 GB of memory and fifty times the file.
    """
    if units is not None and units not in MM:
        raise BadValue("units", units, f"one of {', '.join(MM)}")
    if isinstance(source, (str, os.PathLike)):
        return _from_file(Path(source), units, trusted, seconds)
    return _from_object(source)


def _from_object(source: Any) -> list[Loaded]:
    shapes: list[tuple[str, Any]] = []
    if hasattr(source, "traverse") and hasattr(source, "children"):  # an Assembly
        for name, node in source.traverse():
            last = str(name).rsplit("/", 1)[-1]
            shapes += [(last, shape) for shape in _shapes(getattr(node, "obj", None))]
    else:
        shapes = [("", s) for s in _shapes(source)]
    if not shapes:
        valid = "a path to a STEP file, or a CadQuery Workplane, Shape or Assembly"
        raise BadValue("source", type(source).__name__, valid)
    found: dict[int, Loaded] = {}
    loose = 0
    for name, shape in shapes:
        solids, free = step_guard.solids_of(shape)
        loose += free
        for k, solid in enumerate(solids):
            key = hash(solid)
            if key in found:
                found[key] = replace(found[key], count=found[key].count + 1)
            else:
                found[key] = Loaded(name=f"{name} {k + 1}".strip() if len(solids) > 1 else name, shape=solid)
    if not found:
        raise BadValue("source", f"{loose} loose face(s)", "at least one closed solid")
    return _named(list(found.values()), "part")


def _shapes(source: Any) -> list[Any]:
    if source is None:
        return []
    if hasattr(source, "wrapped"):
        return [] if source.wrapped is None else [source.wrapped]
    if hasattr(source, "ShapeType"):
        return [source]
    if hasattr(source, "vals"):
        return [s for v in source.vals() for s in _shapes(v)]
    return []


def _from_file(path: Path, units: str | None, trusted: bool, seconds: float | None) -> list[Loaded]:
    text = _read(path)
    may = seconds_for(len(text), seconds)
    said, mistakes = _look(text)
    if mistakes:
        raise BadFile(str(path), mistakes)
    made = step_guard.contents(str(path)) if trusted else _aside(path, len(text), may)
    if made is None:
        raise BadFile(str(path), [Mistake("file", "the kernel cannot read it; valid: a STEP file with solids")])
    if not made.solids:
        what = "surfaces only, no closed solid" if made.loose else "no solid"
        if b"TESSELLATED" in text or b"TRIANGULATED" in text:
            what = "a mesh only, no solid with true faces"
        raise BadFile(str(path), [Mistake("DATA section", f"{what}; valid: at least one MANIFOLD_SOLID_BREP")])
    findings, scale = _units(path, made, units)
    if made.damaged or said:
        what = said[0] if said else "some records do not fit their type"
        findings.append(caution("unfold.file", path.name, f"the file is damaged: {what}", "ask for it again"))
    if made.loose:
        what = f"{made.loose} face(s) belong to no solid and were left aside"
        findings.append(caution("unfold.file", path.name, what, "look whether they matter"))
    solids = []
    for name, shape, count, valid in made.solids:
        own = list(findings)
        if not valid:
            what = "the kernel finds this solid's faces or edges inconsistent"
            own.append(caution("unfold.file", name or path.stem, what, "compare the flat with the part"))
        solids.append(Loaded(name=name, shape=_scaled(shape, scale), count=count, findings=Findings(own)))
    return _named(solids, path.stem)


def _named(solids: list[Loaded], stem: str) -> list[Loaded]:
    """Give every solid a name of its own."""
    used: set[str] = set()
    made = []
    for s in solids:
        # The kernel's writer names nameless products after itself.
        plain = "" if re.match(r"Open CASCADE STEP translator", s.name) else s.name
        base = name = plain or stem
        n = 1
        while name in used:
            n += 1
            name = f"{base} ({n})"
        used.add(name)
        made.append(replace(s, name=name))
    return made


def _read(path: Path) -> bytes:
    shown = str(path)
    existing(path, "a STEP file, .step or .stp")
    size = path.stat().st_size
    if size == 0:
        raise BadFile(shown, [Mistake("file", "empty; valid: a STEP file (ISO 10303-21)")])
    if size > LARGEST:
        raise BadFile(
            shown, [Mistake("file", f"{size} bytes; valid: at most {LARGEST} bytes, one part or a small set")]
        )
    try:
        text = path.read_bytes()
    except OSError as e:
        raise BadFile(shown, [Mistake("file", f"cannot be read: {e.strerror}; valid: a readable file")]) from None
    if b"ISO-10303-21" not in text[:4096]:
        kind = "a ZIP archive" if text[:2] == b"PK" else "not a STEP file"
        raise BadFile(shown, [Mistake("first line", f"{kind}; valid: a text file that starts with ISO-10303-21;")])
    return text


_STRING = re.compile(rb"/\*.*?\*/|'(?:[^']|'')*'", re.DOTALL)
_DEFINED = re.compile(rb"(?:^|;)\s*#(\d+)\s*=")
_USED = re.compile(rb"#(\d+)\s*[,)\s]")
_LARGE = re.compile(rb"[-+]?\d+\.\d*[Ee]\+?\d{3,}")


def _look(text: bytes) -> tuple[list[str], list[Mistake]]:
    """Look through the text: what is doubtful, and what makes it useless."""
    plain = _STRING.sub(b"''", text)
    start, end = plain.find(b"DATA;"), plain.rfind(b"ENDSEC;")
    if start < 0:
        return [], [Mistake("file", "no DATA section; valid: HEADER, DATA, ENDSEC")]
    if end < start or b"END-ISO-10303-21" not in plain[end:]:
        return [], [Mistake("end of file", "cut short; valid: ENDSEC; END-ISO-10303-21;")]
    data = plain[start + 5 : end]
    if b"\x00" in data:
        return [], [Mistake("DATA section", "binary content; valid: text")]
    defined = _DEFINED.findall(data)
    names = set(defined)
    if not names:
        return [], [Mistake("DATA section", "no records; valid: #1 = NAME(...);")]
    mistakes = []
    # The kernel reads such a number as infinite, and with an infinite vector it can work for ever.
    for number in (n.decode() for n in _LARGE.findall(data)):
        if math.isinf(float(number)):
            mistakes.append(Mistake(number, "out of range; valid: a number below 1.7E308"))
            break
    if len(names) != len(defined):
        seen: set[bytes] = set()
        twice = next(n for n in defined if n in seen or seen.add(n))  # type: ignore[func-returns-value]
        mistakes.append(Mistake(f"#{twice.decode()}", "defined twice; valid: each record once"))
    for record in data.split(b";"):
        if record.count(b"(") != record.count(b")"):
            shown = record.strip()[:40].decode("ascii", "replace")
            mistakes.append(Mistake(shown, "brackets do not match; valid: #1 = NAME(...);"))
            if len(mistakes) > 9:
                break
    doubts = []
    missing = set(_USED.findall(data)) - names
    if missing:
        first = min(missing, key=int).decode()
        doubts.append(f"{len(missing)} record(s) are referred to but missing, such as #{first}")
    return doubts, mistakes


def seconds_for(size: int, asked: float | None) -> float:
    """Return the seconds of computing that a file of so many bytes may take on a machine at full speed."""
    name, value = "seconds", asked
    if asked is None:
        name, said = SECONDS, os.environ.get(SECONDS, "")
        if not said:
            return 5.0 + size / 100_000
        try:
            value = float(said)
        except ValueError:
            raise BadValue(SECONDS, said, "seconds of computing, 1 to 86400") from None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 1.0 <= value <= 86_400.0:
        raise BadValue(name, value, "seconds of computing, 1 to 86400")
    return float(value)


def _aside(path: Path, size: int, seconds: float) -> step_guard.Contents:
    """Read in a child process, so that a crash, an endless loop or a hunger for memory there stays there."""
    memory = MEGABYTES + 50 * size // 1_000_000
    with tempfile.TemporaryDirectory(prefix="tinbook-") as folder:
        command = [sys.executable, "-P", step_guard.__file__, str(path.resolve()), folder, str(seconds), str(memory)]
        wall = 60 + 30 * seconds
        try:
            done = subprocess.run(  # noqa: S603 - our own interpreter on our own file
                command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, timeout=wall
            )
        except subprocess.TimeoutExpired:
            raise _slow(path, f"reading did not end within {wall:.0f} s", seconds) from None
        table = Path(folder) / "contents.json"
        if done.returncode != 0 or not table.exists():
            limit = Path(folder) / "limit"
            raise _failed(
                path, done.returncode, done.stderr, limit.read_text() if limit.exists() else "", seconds, memory
            )
        said = json.loads(table.read_text("utf-8"))
        made = step_guard.Contents(units=said["units"], loose=said["loose"], damaged=said["damaged"])
        made.solids = [(s["name"], restored(s["file"]), s["count"], s["valid"]) for s in said["solids"]]
        return made


def _slow(path: Path, what: str, seconds: float) -> BadFile:
    more = f"{max(60, 10 * math.ceil(seconds))}"
    cure = f"more time: unfold(..., seconds={more}), --seconds {more} or {SECONDS}={more}"
    return BadFile(str(path), [Mistake("time", f"{what}; that says nothing about the file; valid: {cure}")])


def _failed(path: Path, code: int, heard: bytes, limit: str, seconds: float, memory: int) -> BadFile:
    """Say why the child did not read a file: time, memory, a missing library, or damage."""
    if b"ModuleNotFoundError" in heard or b"ImportError" in heard:
        return BadFile(str(path), [Mistake("geometry kernel", heard.decode("utf-8", "replace")[-300:])])
    if code == -getattr(signal, "SIGXCPU", 24):
        return _slow(
            path, f"reading took more than {limit or f'{seconds:.0f}'} s of computing, its limit here", seconds
        )
    if code in (4, -9) or b"bad_alloc" in heard:
        what = f"reading took more than {memory} MB of memory, its limit; valid: one part or a small set"
        return BadFile(str(path), [Mistake("memory", what)])
    what = "damaged: the geometry kernel cannot make sense of it; valid: an undamaged STEP file"
    return BadFile(str(path), [Mistake("DATA section", what)])


def restored(file: Any) -> Any:
    """Return the solid in a file, or in bytes held open, of the kernel's own binary form."""
    shape = TopoDS_Shape()
    BinTools.Read_s(shape, file)
    return TopoDS.Solid_s(shape)


def _units(path: Path, made: step_guard.Contents, units: str | None) -> tuple[list[Finding], float]:
    named = sorted({u.lower() for u in made.units})
    if not named:
        if units is None:
            what = "the file states no unit of length; taken as mm"
            return [caution("unfold.units", path.name, what, 'say units="in" if it is in inches')], 1.0
        return [fine("unfold.units", path.name, f"no unit in the file; read as {units}, as asked")], MM[units]
    if units is not None:
        raise BadValue("units", units, f"left out: {path.name} states its own unit ({', '.join(named)})")
    if named in (["millimetre"], ["millimeter"], ["mm"]):
        return [], 1.0
    what = f"drawn in {', '.join(named)}; converted to mm"
    if len(named) > 1:
        return [caution("unfold.units", path.name, what, "compare a length that you know with the flat")], 1.0
    return [fine("unfold.units", path.name, what)], 1.0


def _scaled(shape: Any, scale: float) -> Any:
    if scale == 1.0:
        return shape
    move = gp_Trsf()
    move.SetScale(gp_Pnt(0, 0, 0), scale)
    return TopoDS.Solid_s(BRepBuilderAPI_Transform(shape, move, True).Shape())
