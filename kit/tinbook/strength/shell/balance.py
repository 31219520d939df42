"""Whether a linear answer is true: the forces inside the displaced shape must balance the load.

The linear answer is put into the elements with large displacements. What is out of balance moves it further, on the
stiffness that is factorised already, until nothing is (a modified Newton iteration); then the tangent
says whether that balance is stable. Where the iteration closes in slowly the part has changed its stiffness too much,
and the load must be raised in steps (`nonlinear.follow`).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from tinbook.strength.shell.corotation import state, turned_by
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import System
from tinbook.strength.shell.steps import Run, Step
from tinbook.values import dataclass

ROUNDS: Final = 20
"""Most corrections."""
CLOSING: Final = 0.3
"""A correction longer than this part of the last but one closes in too slowly. Of two in turn one settles the sheet in
its plane and moves it out of it, the next takes that back."""
SETTLED: Final = 3e-6
"""Last correction over the largest displacement."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balance:
    """A state in balance with large displacements, reached from the linear answer.

    Parameters
    ----------
    step : Step
        The state.
    reaction : array (n, 6)
        N, in space.
    departs : float
        Largest difference to the linear displacements over the largest of these.
    """

    step: Step
    reaction: Array
    departs: float


def balanced(s: System, linear: Array, force: Array, factor: float = 1.0) -> Balance | None:
    """Return the balance next to a linear answer, None where it is not near; `stable` says whether it stays there.

    Parameters
    ----------
    s : System
        Factorised without load.
    linear : array (n, 6)
        Linear displacements under the forces.
    force : array (n, 6)
        N.
    factor : float, optional
        Part of the forces.
    """
    run = Run(s.model, s.held, factor * force, None, lambda word: None)
    moved = factor * linear
    size = float(np.linalg.norm(moved[:, :3], axis=1).max())
    extent = float(np.ptp(s.model.points, axis=0).max())
    if not size < extent:
        return None
    size = max(size, 1e-12 * extent)
    run.u, run.r = moved[:, :3].copy(), turned_by(moved[:, 3:])
    before = [size, size]
    for _ in range(ROUNDS):
        now = state(s.model, run.u, run.r, tangent=False)
        rest = run.load - run.forces(now)
        at = run.u
        run.move(s.factor.lu.solve(rest[s.free]))
        change = float(np.linalg.norm(run.u - at, axis=1).max())
        # A comparison with a value that is not finite is false.
        if change < SETTLED * size:
            break
        if not change < CLOSING * before[0]:
            return None
        before = [before[1], change]
    else:
        return None
    now = state(s.model, run.u, run.r, tangent=False)
    departs = float(np.linalg.norm(run.u - moved[:, :3], axis=1).max()) / size
    reaction = np.where(s.held.fixed.ravel(), run.forces(now) - run.load, 0.0).reshape(-1, 6)
    return Balance(step=run.step_at(factor, now), reaction=s.held.to_space(reaction), departs=departs)


def stable(s: System, found: Balance, force: Array) -> bool:
    """Return whether a balance is stable: no pivot of its tangent is negative."""
    run = Run(s.model, s.held, force, None, lambda word: None)
    u = found.step.displacement
    tangent = run.factor(state(s.model, u[:, :3], turned_by(u[:, 3:])))
    return tangent is not None and not tangent.negative
