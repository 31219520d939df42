"""One step of load with large displacements: a state in balance, and Newton's way from one to the next."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from tinbook.strength.shell.corotation import State, inner, rotation_vector, state, turned_by
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Held, Shell
from tinbook.strength.shell.solve import Factor, NotSolved, assemble, factorise
from tinbook.strength.shell.touch import Touch
from tinbook.values import dataclass

TOLERANCE: Final = 1e-5
"""Work of the forces out of balance over that of the load."""
TURNS: Final = 14
"""Most iterations of one step."""
CLOSING: Final = 0.25
"""A correction with an old tangent that does more than this part of the work of the one before closes in too slowly."""
CHORD: Final = 1e-8
"""The tolerance of a correction with an old tangent: what it leaves is of its own size."""
AHEAD: Final = 2.0
"""A step this many times longer than its first tangent predicted may have jumped to another branch."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Step:
    """An equilibrium state.

    Parameters
    ----------
    factor : float
        Part of the load.
    displacement : array (n, 6)
        Displacement in mm and rotation vector.
    local : array (m, 24)
        Local unknowns of the elements, for stress.
    """

    factor: float
    displacement: Array
    local: Array


class Run:
    """A model, its supports and its load, and where it is now: displacements `u` and rotations `r` of the nodes."""

    def __init__(self, model: Shell, held: Held, load: Array, touch: Touch | None, tell: Callable[[str], None]) -> None:
        self.model, self.held, self.touch, self.tell = model, held, touch, tell
        self.free = held.free(model.order)
        self.space = load
        self.load = held.from_space(load).ravel()
        n = len(model.points)
        self.u, self.r = np.zeros((n, 3)), np.tile(np.eye(3), (n, 1, 1))
        self.solves = 0
        self.ready: Factor | None = None

    def forces(self, s: State) -> Array:
        """Return the inner forces less those of lips, in the nodes' own axes (6 n,)."""
        total = inner(self.model, s)
        if self.touch is not None:
            total = total - self.touch.push(self.u)
        return self.held.from_space(total).ravel()

    def factor(self, s: State) -> Factor | None:
        """Return the factors of the tangent, None where it is singular; those that are ready serve once."""
        if self.ready is not None:
            ready, self.ready = self.ready, None
            return ready
        if s.tangent is None:
            s = state(self.model, self.u, self.r)
        assert s.tangent is not None
        self.solves += 1
        self.tell(f", system {self.solves}")
        matrix = assemble(self.model.where, self.held.matrices(self.model.quads, s.tangent))
        if self.touch is not None:
            matrix = matrix + self.touch.matrix(self.u, self.held)
        try:
            return factorise(matrix, self.free)
        except NotSolved:
            return None

    def move(self, step: Array) -> None:
        """Move the free unknowns on."""
        full = np.zeros(self.model.unknowns)
        full[self.free] = step
        full = self.held.to_space(full.reshape(-1, 6))
        self.u = self.u + full[:, :3]
        self.r = turned_by(full[:, 3:]) @ self.r

    def step_at(self, factor: float, s: State) -> Step:
        """Return the present state as a step."""
        displacement = np.concatenate((self.u, rotation_vector(self.r)), axis=1)
        return Step(factor=factor, displacement=displacement, local=s.local)


Result = tuple[float, State, Array, int, bool]


def load_step(run: Run, at: float, s: State, size: float) -> Result | None:
    """Raise the load from `at` by `size`; None where no balance next to the state is found.

    Each tangent serves as long as corrections with it close in fast: the forces cost a sixth of a new tangent. The last
    tangent stands next to the balance, so that its pivots tell whether that is stable.
    """
    target = at + size
    load = target * run.load[run.free]
    change = np.zeros(len(run.free))
    work, straight = 0.0, 0.0
    for turn in range(1, TURNS + 1):
        factor = run.factor(s)
        # Beyond an unstable state the step could reach another branch unnoticed.
        if factor is None or (turn > 1 and factor.negative):
            return None
        before = math.inf
        while True:
            rest = load - run.forces(s)[run.free]
            step = factor.lu.solve(rest)
            if not np.isfinite(step).all():
                return None
            energy = abs(float(step @ rest))
            if energy > CLOSING * before:
                break
            run.move(step)
            change += step
            size_now = float(np.linalg.norm(change))
            straight = straight or size_now
            if size_now > AHEAD * straight:
                return None
            work = max(work, abs(float(change @ load)), 1e-30)
            if (math.isfinite(before) or turn > 1) and energy > 1e6 * work:
                return None
            s = state(run.model, run.u, run.r, tangent=False)
            if energy < (TOLERANCE if math.isinf(before) else CHORD) * work:
                if turn > 1:
                    return target, s, change, turn, factor.negative == 0
                if math.isfinite(before):
                    break
            before = energy
    return None


def arc_step(run: Run, at: float, s: State, arc: float, before: Array, goal: float) -> Result | None:
    """One step of given length along the path, load and displacement together (Riks, Ramm: normal plane renewed)."""
    load = run.load[run.free]
    change = np.zeros(len(run.free))
    now, stable = at, True
    for turn in range(1, TURNS + 4):
        factor = run.factor(s)
        if factor is None:
            return None
        unit = factor.lu.solve(load)
        if turn == 1:
            sign = 1.0 if float(unit @ before) >= 0 else -1.0
            more = sign * arc / max(float(np.linalg.norm(unit)), 1e-30)
            # The last piece ends at the goal.
            if now < goal < now + more:
                return load_step(run, at, s, goal - at)
            step, energy = more * unit, np.inf
            stable = factor.negative == 0
        else:
            rest = now * load - run.forces(s)[run.free]
            out = factor.lu.solve(rest)
            more = -float(change @ out) / float(change @ unit)
            step = out + more * unit
            energy = abs(float(out @ rest))
        if not np.isfinite(step).all():
            return None
        now += more
        change += step
        run.move(step)
        s = state(run.model, run.u, run.r)
        if turn > 1 and energy < TOLERANCE * max(abs(float(change @ load)) * max(abs(now), 0.05), 1e-30):
            return now, s, change, turn, stable
    return None
