"""How forms draw the sheet in, and where the blank carries a point because of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from tinbook.part.forms.form import MadeForm, Pull
from tinbook.plane.loops import Array, Point


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
        u = xy @ normal.T - (flat[:, :2] * normal).sum(axis=1)
        share = np.minimum(np.maximum(u / flat[:, 4], -1.0), 1.0) * flat[:, 5]
        out: Array = xy + share @ normal - np.array(self.back)
        return out


def drawn(forms: Iterable[MadeForm]) -> Draw:
    """Return where the blank must carry a point, so that it lies right once the forms have drawn in.

    Each straight bead moves what lies beside it outward by half its draw; on
    the bead itself the shift rises evenly. A curved bead counts by its chord.
    The draw is taken as even along the sheet, though it fades past the
    run-outs: edges parallel to the beads are right, the rest is the nearest
    simple guess (own proposal; a test strip settles the draw factor).
    """
    return Draw(tuple(pull for f in forms if (pull := f.pull()) is not None))
