"""Scans of 50 000 to 800 000 points: read, laid on the vehicle and mapped; and the rim of an opening.

Wanted: growth no worse than n log n from 50 000 points on, in processor time. The opening is the same at every size, so that
a scan of more points is a finer one.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from frame import Case, benchmark

FIRST = 50_000
SIZES = (100_000, 200_000, 400_000, 800_000)
TARGETS = {"A": (0, 0, 0), "B": (500, 0, 0), "C": (0, 300, 0), "D": (400, 300, 50)}


def growth(count: int) -> float:
    """Return what n log n allows over the first size."""
    return count * math.log(count) / (FIRST * math.log(FIRST))


def lip_of(opening: Any, count: int) -> Any:
    """Return a scan of some `count` points of the lip round an opening."""
    from tinbook.read.scans.practice import practice_scan

    wide = 100.0
    area = opening.loop.length * wide + 4 * wide**2
    # Points stand in rows, each at the corner of two triangles of equal sides.
    return practice_scan(opening, lip=wide, spacing=math.sqrt(area / count / math.sqrt(0.75)), seed=1)


@benchmark
def scans() -> Iterator[Case]:
    import tinbook as tb
    from tinbook.space import SPACE

    opening = tb.Outline.rectangle(500, 400)
    pan = tb.make(tb.Part("HN-B1", sheet="DC01 1.5", base=opening.offset(20)), tb.Shop.demo())

    def mapped(file: Path) -> object:
        laid = tb.read.align_by_targets(tb.read_scan(file, face="mating", unit="mm"), TARGETS, TARGETS)
        return tb.fit.fit_map(pan, laid.scan, at=SPACE)

    with tempfile.TemporaryDirectory() as name:
        made = {n: lip_of(opening, n) for n in (FIRST, *SIZES)}
        files = {n: tb.write.write_scan(scan, Path(name) / f"lip_{n}.ply") for n, scan in made.items()}
        jobs = {
            "read, lay and map": lambda n: mapped(files[n]),
            "rim of an opening": lambda n: tb.read.outline_from_scan(replace(made[n])),
        }
        for what, job in jobs.items():
            for n in SIZES:
                yield Case(
                    name=f"{what}, {n} points of a scan",
                    against=f"{FIRST} points",
                    ours=lambda n=n, job=job: job(n),
                    base=lambda job=job: job(FIRST),
                    rounds=2,
                    cpu=True,
                    slower=growth(n),
                )
