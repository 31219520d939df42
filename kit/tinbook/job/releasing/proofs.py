"""What a release proves before it leaves: files read back, STEP unfolded by the independent reader, layouts judged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tinbook.errors import TinbookError
from tinbook.finding import Finding, fine, stop
from tinbook.job.nested import JobNest
from tinbook.job.nesting.by_hand import faults
from tinbook.making.made import Made
from tinbook.read.dxf.flat import read_dxf
from tinbook.read.unfolding import unfold

SAME: Final = 1e-4
"""Part of an area by which the blank that an independent reader unfolds may differ from the cut file's."""
_REMEDY: Final = "nothing was released; report it to the authors with the job's file"


def unfolded_again(made: Made, step: Path, cut: Path) -> Finding:
    """Unfold a part's STEP file by the independent reader, and hold the blank against the cut file.

    Parameters
    ----------
    made : Made
        The part; each fold found in the file gets the K of the fold of ours that is nearest in angle and radius.
    step, cut : Path
        Its files.

    Returns
    -------
    Finding
        `proof.unfolded`: net area, mm², openings and thickness. Parts with formed metal are not unfolded: that is said.
    """
    where = step.name
    if any(p.risen for p in made.panels) or any(z.formed for z in made.folded.zones):
        return fine("proof.unfolded", where, "has beads or other forms: held by its volume, not unfolded")

    def k(angle: float, radius: float, _: float) -> float:
        near = min(made.strips, key=lambda s: (round(abs(s.radius - radius), 2), abs(s.angle - angle)))
        # A flattened hem has an allowance and no K: that which its width in the blank stands for.
        return (
            near.bend.k if near.bend.k is not None else _k_of(near.allowance, near.angle, near.radius, made.thickness)
        )

    try:
        found = unfold(step, k, trusted=True) if made.strips else unfold(step, 0.5, trusted=True)
    except TinbookError as wrong:
        return stop("proof.unfolded", where, f"the independent reader refuses it: {wrong}"[:300], _REMEDY)
    drawn = read_dxf(cut)
    area, wanted = found.area, drawn.area
    what = f"unfolded again, {len(found.cuts)} of {len(drawn.cuts)} openings, {found.thickness:.3f} mm thick"
    same = len(found.cuts) == len(drawn.cuts) and abs(found.thickness - made.thickness) < 1e-3
    if same and abs(area - wanted) <= SAME * wanted:
        return fine("proof.unfolded", where, what, area, wanted, "mm²", "geometry")
    return stop("proof.unfolded", where, what, _REMEDY, area, wanted, "mm²", "geometry")


def _k_of(allowance: float, angle: float, radius: float, thickness: float) -> float:
    turned = angle * 3.141592653589793 / 180.0
    return min(1.0, max(0.0, (allowance / turned - radius) / thickness))


def layouts_judged(nested: JobNest) -> Iterator[Finding]:
    """Yield what shapely finds in each layout: overlaps, gaps, margins, grain; fine where there is nothing."""
    for group in nested.groups:
        for n, layout in enumerate(group.nest.layouts, 1):
            wrong = faults(layout, group.nest.blanks, group.nest.gap, group.nest.margins, n)
            yield from wrong
            if not wrong:
                what = f"{len(layout.placements)} blanks: no overlap, gap and margins kept"
                yield fine("proof.layout", f"{group.sheet}, plate {n} ('{layout.plate.name}')", what)
