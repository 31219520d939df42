"""Unfolding against reading the same file: a perforated tray of 300 to 5 000 faces.

Wanted: 0.5 s for 300 faces once the file is read; growth no worse than n^1.2.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from frame import Case, Job, benchmark

SIZES = (300, 1200, 5000)


def tray(faces: int, folder: Path) -> Path:
    """Write a tray with four returns and so many round holes that the solid has about `faces` faces."""
    import cadquery

    import tinbook as tb

    rows = max(2, round(((faces - 30) / 1.6) ** 0.5))
    columns = max(2, round((faces - 30) / rows))
    base = tb.Outline.rectangle(columns * 8 + 40, rows * 8 + 40)
    part = tb.Part("HN-TL", rev="A", sheet="DC01 1.5", base=base)
    for edge in base.names:
        part = part.fold(edge, "up", leg=25)
    part = part.hole_grid((20, 20), (columns, rows), (8, 8), dia=4)
    path = folder / f"tray_{faces}.step"
    cadquery.exporters.export(cadquery.Workplane(tb.make(part, tb.Shop.demo()).solid), str(path))
    return path


@benchmark
def unfolding() -> Iterator[Case]:
    from tinbook.read.step import unfold
    from tinbook.read.step_load import load

    def jobs(path: Path) -> tuple[Job, Job]:
        import cadquery

        solid = cadquery.Shape.cast(load(path, trusted=True)[0].shape)
        return (lambda: unfold(solid)), (lambda: load(path, trusted=True))

    with tempfile.TemporaryDirectory() as name:
        made = {n: jobs(tray(n, Path(name))) for n in SIZES}
        for n, (ours, base) in made.items():
            wanted = 0.5 if n == 300 else None
            yield Case(
                name=f"unfold, {n} faces", against="read the same file", ours=ours, base=base, rounds=3, seconds=wanted
            )
        small, large = made[SIZES[0]][0], made[SIZES[-1]][0]
        yield Case(
            name="unfold, 5000 faces",
            against="unfold, 300 faces",
            ours=large,
            base=small,
            rounds=3,
            slower=(SIZES[-1] / SIZES[0]) ** 1.2,
        )
