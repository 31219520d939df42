"""Read a STEP file with the kernel; runs alone in a child process, because damaged files can bring the kernel down.

Imports nothing of the kit: the parent starts this file by its path.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from OCP.BinTools import BinTools
from OCP.BRep import BRep_Tool
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.IFSelect import IFSelect_RetDone
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TColStd import TColStd_SequenceOfAsciiString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_FACE, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.XCAFDoc import XCAFDoc_DocumentTool


@dataclass
class Contents:
    """What a file holds.

    Parameters
    ----------
    solids : list of (name, shape, count, valid)
        Every distinct solid, how often it stands in the assembly, and whether the kernel's check passes it.
    units : list of str
        Names of the length units in the file.
    loose : int
        Faces that belong to no solid.
    damaged : bool
        Whether the kernel's own check of the file failed somewhere.
    """

    solids: list[tuple[str, Any, int, bool]] = field(default_factory=list)
    units: list[str] = field(default_factory=list)
    loose: int = 0
    damaged: bool = False


def contents(path: str) -> Contents | None:
    """Return what a STEP file holds, None when the kernel cannot read it at all."""
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(False)
    reader.SetLayerMode(False)
    if reader.ReadFile(path) != IFSelect_RetDone:
        return None
    made = Contents()
    made.damaged = not reader.ChangeReader().WS().ModelCheckList(False).IsEmpty(True)
    names = [TColStd_SequenceOfAsciiString() for _ in range(3)]
    reader.ChangeReader().FileUnits(*names)
    made.units = [names[0].Value(i + 1).ToCString() for i in range(names[0].Length())]
    document = TDocStd_Document(TCollection_ExtendedString("step"))
    if not reader.Transfer(document):
        return None
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    free = TDF_LabelSequence()
    tool.GetFreeShapes(free)
    found: dict[Any, list[Any]] = {}
    for i in range(free.Length()):
        _collect(tool, free.Value(i + 1), "", found, made)
    made.solids = [(name, shape, count, _valid(shape)) for name, shape, count in found.values()]
    return made


def _collect(tool: Any, label: Any, given: str, found: dict[Any, list[Any]], made: Contents) -> None:
    name = _name(label) or given
    if tool.IsAssembly_s(label):
        parts = TDF_LabelSequence()
        tool.GetComponents_s(label, parts)
        for i in range(parts.Length()):
            part, target = parts.Value(i + 1), TDF_Label()
            if tool.GetReferredShape_s(part, target):
                _collect(tool, target, _name(part) or name, found, made)
        return
    shape = tool.GetShape_s(label)
    solids, loose = solids_of(shape)
    made.loose += loose
    for k, solid in enumerate(solids):
        key = _key(solid)
        if key in found:
            found[key][2] += 1
        else:
            found[key] = [f"{name} {k + 1}" if len(solids) > 1 else name, solid, 1]


def _key(solid: Any) -> Any:
    # The same body placed twice is one part, wherever it stands.
    return hash(solid.Located(TopLoc_Location()))


def solids_of(shape: Any) -> tuple[list[Any], int]:
    """Return the solids with true faces in a shape, and the number of faces outside any of them."""
    solids, loose = [], 0
    for solid in explored(shape, TopAbs_SOLID):
        # A face of a mesh has triangles and no surface; asking it for one later would end the process.
        true = [BRep_Tool.Surface_s(TopoDS.Face_s(face)) is not None for face in explored(solid, TopAbs_FACE)]
        if true and all(true):
            solids.append(TopoDS.Solid_s(solid))
        loose += not all(true)
    return solids, loose + sum(1 for _ in explored(shape, TopAbs_FACE, TopAbs_SOLID))


def explored(shape: Any, *kinds: Any) -> Iterator[Any]:
    """Return the parts of a shape of one kind, outside of any of a second kind where there is one."""
    ex = TopExp_Explorer(shape, *kinds)
    while ex.More():
        yield ex.Current()
        ex.Next()


def _name(label: Any) -> str:
    attribute = TDataStd_Name()
    if not label.FindAttribute(TDataStd_Name.GetID_s(), attribute):
        return ""
    text: str = attribute.Get().ToExtString()
    # The kernel's own default names say nothing.
    return "" if text in ("NONE", "SOLID", "COMPOUND", "ASSEMBLY") or text.startswith("=>[") else text.strip()


def _valid(shape: Any) -> bool:
    """Ask the kernel's check, except where a face has so many openings that the check, quadratic in them, takes minutes."""
    crowded = any(face.NbChildren() > 60 for face in explored(shape, TopAbs_FACE))
    return crowded or bool(BRepCheck_Analyzer(shape).IsValid())


REFERENCE = 0.002
"""CPU seconds that `_speed`'s loop takes on the machine for which the limits were chosen."""


def _speed() -> float:
    """Return how much slower than the reference this machine computes now, 1 to 20: load counts."""
    start, total = time.process_time(), 0
    for i in range(40_000):
        total += i * i % 7
    return min(max((time.process_time() - start) / REFERENCE, 1.0), 20.0)


def _limited(folder: str, seconds: float, megabytes: int) -> None:
    """Limit this process in computing time and memory, and note the limit for the parent."""
    limit = math.ceil(seconds * _speed())
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource  # not on Windows, where only the parent's clock counts

        spent = math.ceil(time.process_time())  # what loading the kernel took is not the file's fault
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_CPU, (spent + limit, spent + limit + 5))
        resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))
    with open(os.path.join(folder, "limit"), "w", encoding="ascii") as out:
        out.write(str(limit))


def main(path: str, folder: str, seconds: float, megabytes: int) -> int:
    """Write solids as binary files and a table of contents into a folder.

    Returns
    -------
    int
        0 when read, 3 when unreadable, 4 when memory ran out.
    """
    STEPCAFControl_Reader()  # loads what the kernel loads once
    _limited(folder, seconds, megabytes)
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    try:
        made = contents(path)
        if made is None:
            return 3
        table: list[dict[str, object]] = []
        for i, (name, shape, count, valid) in enumerate(made.solids):
            file = os.path.join(folder, f"{i}.bin")
            BinTools.Write_s(shape, file)
            table.append({"name": name, "file": file, "count": count, "valid": valid})
    except MemoryError:
        return 4
    except Exception as e:
        if "OutOfMemory" in type(e).__name__:
            return 4
        raise
    said = {"solids": table, "units": made.units, "loose": made.loose, "damaged": made.damaged}
    with open(os.path.join(folder, "contents.json"), "w", encoding="utf-8") as out:
        json.dump(said, out)
    return 0


if __name__ == "__main__":
    code = main(sys.argv[1], sys.argv[2], float(sys.argv[3]), int(sys.argv[4]))
    # Leave without the kernel's own tidying up, which a damaged model can crash as well.
    os._exit(code)
