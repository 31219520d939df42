"""Unfolding a perforated tray of 300 to 5 000 faces, against reading the same tray from a file.

Wanted: 0.5 s for 300 faces once the file is read; growth no worse than n^1.2. Reading is not measured
at 5 000 faces: the kernel mends each face quadratically in its openings there.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from frame import Case, benchmark

SIZES = (300, 1200, 5000)


def tray(faces: int) -> Any:
    """Return a tray with four returns and so many round holes that the solid has about `faces` faces."""
    import tinbook as tb

    rows = max(2, round(((faces - 46) / 1.6) ** 0.5))
    columns = max(2, round((faces - 46) / rows))
    base = tb.Outline.rectangle(columns * 8 + 40, rows * 8 + 40)
    part = tb.Part("HN-TL", rev="A", sheet="DC01 1.5", base=base)
    for edge in base.names:
        part = part.fold(edge, "up", leg=25)
    part = part.hole_grid((24, 24), (columns, rows), (8, 8), dia=4)
    return tb.make(part, tb.Shop.demo()).solid


@benchmark
def unfolding() -> Iterator[Case]:
    import cadquery

    from tinbook.read.step.load import load
    from tinbook.read.step.unfold import unfold

    solids = {n: tray(n) for n in SIZES}
    with tempfile.TemporaryDirectory() as name:
        for n in SIZES[:2]:
            path = Path(name) / f"tray_{n}.step"
            cadquery.exporters.export(cadquery.Workplane(solids[n]), str(path))
            yield Case(
                name=f"unfold, {n} faces",
                against="read the same tray from a file",
                ours=lambda n=n: unfold(solids[n], 0.44),
                base=lambda path=path: load(path, trusted=True),
                rounds=3,
                seconds=0.5 if n == SIZES[0] else None,
                slower=1.0,
            )
    yield Case(
        name=f"unfold, {SIZES[-1]} faces",
        against=f"unfold, {SIZES[0]} faces",
        ours=lambda: unfold(solids[SIZES[-1]], 0.44),
        base=lambda: unfold(solids[SIZES[0]], 0.44),
        rounds=3,
        slower=(SIZES[-1] / SIZES[0]) ** 1.2,
    )
