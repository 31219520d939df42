"""Files read again from the disk and held against the part: the blank's area and openings, the solid's volume."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import tinbook.making.solid as solids
from tinbook.errors import BadValue
from tinbook.finding import Finding, Findings, fine, stop
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made, need_made
from tinbook.read.dxf.flat import read_dxf
from tinbook.write.whole_set import AssemblyFiles, PartFiles

NEAR: Final = 1e-6
"""Part of an area or a volume by which what was read may differ: files carry 15 digits, curves none but arcs."""


def read_back(made: Made | Assembled, files: PartFiles | AssemblyFiles) -> Findings:
    """Read the cut file and the STEP file of each part again, and hold them against what was made.

    Parameters
    ----------
    made : Made or Assembled
        What was written.
    files : PartFiles or AssemblyFiles
        From `write_files`.

    Returns
    -------
    Findings
        `file.blank` for each cut file: net area, in mm², and number of openings; `file.solid` for each STEP file:
        volume, in mm³, and number of solids. A stop where one differs.

    Raises
    ------
    BadFile
        A file that is gone or cannot be read.
    """
    if isinstance(made, Assembled):
        if not isinstance(files, AssemblyFiles) or len(files.parts) != len(made.made):
            raise BadValue("read_back files", type(files).__name__, "the files that write_files wrote of this assembly")
        found = [_solid(files.step, *solids.stepfile.solids_of(map(made.shape, made.assembly.names)))]
        for (_, one), own in zip(made.made, files.parts, strict=True):
            found += _of_part(one, own)
        return Findings(found)
    need_made(made, "read_back")
    if not isinstance(files, PartFiles):
        raise BadValue("read_back files", type(files).__name__, "the files that write_files wrote of this part")
    return Findings(_of_part(made, files))


def _of_part(made: Made, files: PartFiles) -> Iterator[Finding]:
    flat = made.flat
    assert flat is not None
    again = read_dxf(files.cut)
    same = len(again.cuts) == len(flat.cuts)
    what = f"read again, it has closed contours and {len(again.cuts)} of {len(flat.cuts)} openings"
    yield _held("file.blank", files.cut, what, again.area, flat.area, "mm²", same)
    yield _solid(files.step, *solids.stepfile.solids_of([made.shape]))


def _solid(file: Path, volume: float, count: int) -> Finding:
    again, found = solids.stepfile.read_again(file)
    what = f"read again, it has {found} of {count} solids"
    return _held("file.solid", file, what, again, volume, "mm³", found == count)


def _held(code: str, file: Path, what: str, value: float, wanted: float, unit: str, same: bool) -> Finding:
    if same and abs(value - wanted) <= NEAR * wanted:
        return fine(code, file.name, what, value, wanted, unit, "geometry")
    remedy = "write it again; if it stays so, report it to the authors"
    return stop(code, file.name, what, remedy, value, wanted, unit, "geometry")
