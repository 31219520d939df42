"""How forms draw the sheet in, and where the blank carries a point because of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from tinbook.making.folded import MadePanel
from tinbook.part.forms.form import MadeForm, Pull
from tinbook.plane.loops import Array, Edge, Loop, Point
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True)
class Draw:
    """Where the blank carries a point of a panel: pulled out by its forms, less `back`."""

    pulls: tuple[Pull, ...] = ()
    back: Point = (0.0, 0.0)

    def __call__(self, p: Point) -> Point:
        """Return the point carried."""
        x, y = p
        for pull in self.pulls:
            u = (p[0] - pull.centre[0]) * pull.normal[0] + (p[1] - pull.centre[1]) * pull.normal[1]
            share = max(-1.0, min(1.0, u / pull.half)) * pull.draw / 2
            x, y = x + share * pull.normal[0], y + share * pull.normal[1]
        return x - self.back[0], y - self.back[1]

    def all(self, xy: Array) -> Array:
        """Return points carried, shape (n, 2)."""
        if not self.pulls:
            still: Array = xy - np.array(self.back)
            return still
        flat = np.array([(*p.centre, *p.normal, p.half, p.draw / 2) for p in self.pulls])
        normal = flat[:, 2:4]
        u = xy[:, :1] * normal[:, 0] + xy[:, 1:2] * normal[:, 1] - (flat[:, :2] * normal).sum(axis=1)
        share = np.minimum(np.maximum(u / flat[:, 4], -1.0), 1.0) * flat[:, 5]
        out: Array = xy + (share[:, :, None] * normal).sum(axis=1) - np.array(self.back)
        return out


def drawn(forms: Iterable[MadeForm], boundary: Loop, name: str) -> Draw:
    """Return where the blank must carry a point of a panel, so that it lies right once the forms have drawn in.

    The middle of the panel's own root, its edge "fold:<name>", stays where it is.

    Each straight bead moves what lies beside it outward by half its draw; on
    the bead itself the shift rises evenly. A curved bead counts by its chord.
    The draw is taken as even along the sheet, though it fades past the
    run-outs: edges parallel to the beads are right, the rest is the nearest
    simple guess (own proposal; a test strip settles the draw factor).
    """
    move = Draw(tuple(pull for f in forms if (pull := f.pull()) is not None))
    root = [p for e in boundary.edges if e.name == f"fold:{name}" for p in (e.start, e.end)]
    if not root or not move.pulls:
        return move
    middle = (root[0][0] + root[-1][0]) / 2, (root[0][1] + root[-1][1]) / 2
    there = move(middle)
    return replace(move, back=(there[0] - middle[0], there[1] - middle[1]))


def footprints(panel: MadePanel) -> list[Loop]:
    """Return the outlines of a panel's forms in the flat pattern, where the blank carries them before they are formed."""
    move = drawn(panel.forms, panel.boundary, panel.name)
    loops = [f.footprint for f in panel.forms if f.footprint is not None]
    carried = (Loop(tuple(Edge(move(e.start), move(e.end), e.bulge) for e in loop)) for loop in loops)
    return [loop.moved(panel.flat) for loop in carried]
