"""Clearance along a movement that an assembly declares: a lid that opens under a body, a tray that slides past it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tinbook.errors import BadValue
from tinbook.fit.clearance import FINE, MOST, Clearance, through
from tinbook.fit.surface import surface_of
from tinbook.making.assembled import Assembled
from tinbook.progress import Progress
from tinbook.read.scans.mesh import Scan
from tinbook.space import SPACE, Frame


def moving_clearance(
    made: Assembled,
    movement: str,
    body: Any,
    *,
    at: Frame = SPACE,
    subject: str = "fixed part",
    keep: Any = None,
    progress: Progress | None = None,
) -> Clearance:
    """Return how near the members of a movement come to the body, from its one end to the other.

    Parameters
    ----------
    made : Assembled
        Of an assembly that declares the movement.
    movement : str
        Its name.
    body : Made, Assembled, Scan, path of a STEP file, CadQuery or kernel shape
        What stands; not the assembly itself, whose hinges touch.
    at : Frame
        Where the assembly's coordinates lie in the body.
    subject, keep, progress
        See `clearance_of` and `rocking`.

    Returns
    -------
    Clearance
        In steps in which no point moves by more than 2 mm.
    """
    if not isinstance(made, Assembled):
        raise BadValue("made", type(made).__name__, "an assembled assembly, as tb.assemble gives one")
    if body is made:
        raise BadValue("body", made.assembly.number, "something other than the assembly itself, whose hinges touch")
    m = made.assembly.movement(movement)
    own = surface_of(made)
    moves = np.isin(own.names, m.members)
    if not moves.any():
        raise BadValue("movement", movement, "one that moves a part of the assembly")
    used, number = np.unique(own.triangles[moves], return_inverse=True)
    corners = number.reshape(-1, 3)
    # No point moves farther than the turn times its arm, or the slide.
    arm = 1.0
    if m.kind == "turn":
        off = own.points[used] - m.at
        arm = math.radians(1) * float(np.linalg.norm(np.cross(off, m.axis), axis=1).max())
    count = min(MOST, max(2, math.ceil((m.high - m.low) * arm / FINE) + 1))
    amounts = sorted({*np.linspace(m.low, m.high, count).tolist(), 0.0})
    # In the body's coordinates: out of them, along the movement, and back.
    poses = [(f"{m.name}, {a:.1f} {m.unit}", a, at @ m.carried(a) @ at.inverse()) for a in amounts]
    thing = Scan(name=", ".join(m.members), points=own.points[used], triangles=corners)
    return through(thing, body, poses, at, subject, keep, progress)
