"""Large displacements: the load is raised in steps that adapt, each brought into balance by Newton's method.

Where the load cannot rise any further the arc length takes over, and the load at which the part snaps
through is reported.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy import sparse

from tinbook.strength.shell.corotation import State, rotation_vector, state, turned_by
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.linear import Held, Shell, require_held
from tinbook.strength.shell.solve import Factor, NotSolved, assemble, factorise

Progress = Callable[[float, str], None]

STEPS = 200
"""Most load steps of one run."""
FIRST = 0.25
"""First part of the load tried."""
TOLERANCE = 1e-5
"""Work of the forces out of balance over that of the load."""
TURNS = 14
"""Most iterations of one step."""
AHEAD = 2.0
"""A step this many times longer than its first tangent predicted may have jumped to another branch."""
SMALLEST = 0.02
"""Load step below which the arc length takes over."""

STIFF: Final = 1e3
"""How much stiffer a lip is than a patch of sheet as large as an element: sinks in by less than a thousandth of what bends."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """One-sided stops as springs.

    Parameters
    ----------
    at : array (k,)
        Nodes.
    rows : array (k, 3)
        Directions in which they push.
    stiffness : array (k,)
        N/mm.
    start : array (k,) of bool
        Which touch as soon as a load begins.
    """

    at: Index
    rows: Array
    stiffness: Array
    start: npt.NDArray[np.bool_]

    def closed(self, u: Array) -> npt.NDArray[np.bool_]:
        """Return which touch at displacements (n, 3)."""
        gap = np.einsum("ki,ki->k", self.rows, u[self.at])
        return np.where(gap == 0.0, self.start, gap < 0.0)

    def push(self, u: Array) -> Array:
        """Return the lip's forces on the nodes (n, 6), N."""
        gap = np.einsum("ki,ki->k", self.rows, u[self.at])
        out = np.zeros((len(u), 6))
        force = (self.stiffness * np.maximum(-gap, 0.0))[:, None] * self.rows
        for k in range(3):
            out[:, k] = np.bincount(self.at, force[:, k], len(u))
        return out

    def matrix(self, u: Array, held: Held) -> Any:
        """Return the stiffness of what touches, in the nodes' own axes, sparse (6 n, 6 n)."""
        on = self.closed(u)
        at = self.at[on]
        row = np.zeros((len(at), 6))
        row[:, :3] = self.rows[on]
        place = np.full(len(u), -1)
        place[held.skew] = np.arange(len(held.skew))
        turned = place[at] >= 0
        row[turned] = np.einsum("kji,kj->ki", held.basis[place[at[turned]]], row[turned])
        blocks = self.stiffness[on, None, None] * row[:, :, None] * row[:, None, :]
        i = (6 * at[:, None, None] + np.arange(6)[:, None]) + np.zeros((1, 6), dtype=np.int64)
        j = i.transpose(0, 2, 1)
        n = 6 * len(u)
        return sparse.coo_array((blocks.ravel(), (i.ravel(), j.ravel())), shape=(n, n)).tocsr()


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """The equilibrium path from no load to full load.

    Parameters
    ----------
    steps : tuple of Step
        States in balance, the unloaded one first.
    complete : bool
        Whether the full load was reached.
    snap : float or None
        Part of the load at which the part first snaps through, None if it does not.
    reaction : array (n, 6)
        At the last state, in space.
    """

    steps: tuple[Step, ...]
    complete: bool
    snap: float | None
    reaction: Array

    @property
    def last(self) -> Step:
        """The last state."""
        return self.steps[-1]


def _top(walked: list[tuple[float, float]]) -> float:
    """Return the highest load on the way: the top of a parabola through the last three points."""
    (s0, a), (s1, b), (s2, c) = walked[-3:] if len(walked) >= 3 else [(-1.0, 0.0), *walked[-2:]]
    left, right = (b - a) / (s1 - s0), (c - b) / (s2 - s1)
    bow = (right - left) / (s2 - s0)
    if bow >= 0:
        return b
    at = min(max((s0 + s1) / 2 - left / (2 * bow), s0), s2)
    return max(a + left * (at - s0) + bow * (at - s0) * (at - s1), b)


class _Run:
    def __init__(self, model: Shell, held: Held, load: Array, touch: Touch | None, tell: Callable[[str], None]) -> None:
        self.model, self.held, self.touch, self.tell = model, held, touch, tell
        self.free = held.free(model.order)
        self.space = load
        self.load = held.from_space(load).ravel()
        n = len(model.points)
        self.u, self.r = np.zeros((n, 3)), np.tile(np.eye(3), (n, 1, 1))
        self.solves = 0

    def forces(self, s: State) -> Array:
        n = len(self.model.points)
        f = s.force.reshape(-1, 4, 6)
        total: Array = np.stack(
            [np.bincount(self.model.quads.ravel(), f[:, :, k].ravel(), n) for k in range(6)], axis=1
        )
        total = total.astype(np.float64)
        if self.touch is not None:
            total = total - self.touch.push(self.u)
        return self.held.from_space(total).ravel()

    def factor(self, s: State) -> Factor | None:
        """Return the factors of the tangent, None where it is singular."""
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
        full = np.zeros(self.model.unknowns)
        full[self.free] = step
        full = self.held.to_space(full.reshape(-1, 6))
        self.u = self.u + full[:, :3]
        self.r = turned_by(full[:, 3:]) @ self.r

    def step_at(self, factor: float, s: State) -> Step:
        displacement = np.concatenate((self.u, rotation_vector(self.r)), axis=1)
        return Step(factor=factor, displacement=displacement, local=s.local)


def follow(
    model: Shell,
    held: Held,
    load: Array,
    *,
    touch: Touch | None = None,
    progress: Progress | None = None,
) -> Path:
    """Load a part up to the given load with large displacements.

    Parameters
    ----------
    model : Shell
    held : Held
    load : array (n, 6)
        Forces at full load, N; they keep their direction.
    touch : Touch, optional
        Lips that push and never pull; they may be needed to hold the part.
    progress : callable, optional
        Called before each system is solved with the part of the load reached and a word; what it raises ends the run.

    Returns
    -------
    Path
        Where the load cannot be reached, `complete` is False and the last state is the last in balance.

    Raises
    ------
    NotSolved
        When not even a thousandth of the load finds a balance.
    """
    if touch is None:
        require_held(model, held)

    def tell(more: str = "") -> None:
        if progress is not None:
            progress(min(max(at, 0.0), 1.0), f"{at:.0%} of the load{more}")

    at = 0.0
    run = _Run(model, held, load, touch, tell)
    s = state(model, run.u, run.r)
    steps = [run.step_at(0.0, s)]
    size, arc = FIRST, 0.0
    snap: float | None = None
    before = np.zeros(len(run.free))
    walked = [(0.0, 0.0)]
    done = False
    for _ in range(STEPS):
        kept = run.u, run.r
        result = _arc_step(run, at, s, arc, before) if arc else _load_step(run, at, s, min(size, 1.0 - at))
        if arc and result is not None and result[0] > 1.0 + 1e-9:
            run.u, run.r = kept
            result = _load_step(run, at, s, 1.0 - at)
        if result is None:
            run.u, run.r = kept
            if arc:
                arc /= 2
                if arc < 1e-5 * max(walked[-1][0], 1e-12):
                    break
                continue
            size /= 2
            if size < SMALLEST and at == 0.0 and size < SMALLEST / 16:
                raise NotSolved("no balance was found even at a small part of the load; no number is shown")
            if size < SMALLEST and at > 0.0:
                # The load may be near its maximum: switch to arc-length control.
                arc = float(np.linalg.norm(before)) * min(SMALLEST / max(at - steps[-2].factor, 1e-9), 1.0)
            continue
        now, s, change, turns, stable = result
        walked.append((walked[-1][0] + float(np.linalg.norm(change)), now))
        if snap is None and now < at:
            snap = _top(walked)
        at, before = now, change
        steps.append(run.step_at(at, s))
        tell()
        if abs(at - 1.0) < 1e-9:
            done = True
            break
        if arc:
            arc *= 1.4 if turns <= 5 else 0.7 if turns > 8 else 1.0
            if stable and snap is not None and at > snap:
                arc, size = 0.0, 0.1
        else:
            size *= 2.0 if turns <= 6 else 0.6 if turns > 9 else 1.0
    reaction: Array = (run.forces(s) - at * run.load) * held.fixed.ravel().astype(np.float64)
    space = held.to_space(reaction.reshape(-1, 6))
    if touch is not None:
        space = space + touch.push(run.u)
    return Path(steps=tuple(steps), complete=done, snap=snap, reaction=space)


Result = tuple[float, State, Array, int, bool]


def _load_step(run: _Run, at: float, s: State, size: float) -> Result | None:
    target = at + size
    change = np.zeros(len(run.free))
    work, straight = 0.0, 0.0
    for turn in range(1, TURNS + 1):
        factor = run.factor(s)
        # Beyond an unstable state the step could reach another branch unnoticed.
        if factor is None or (turn > 1 and factor.negative):
            return None
        rest = target * run.load[run.free] - run.forces(s)[run.free]
        step = factor.lu.solve(rest)
        if not np.isfinite(step).all():
            return None
        run.move(step)
        change += step
        size_now = float(np.linalg.norm(change))
        if turn == 1:
            straight = size_now
        elif size_now > AHEAD * straight:
            return None
        energy = abs(float(step @ rest))
        work = max(work, abs(float(change @ run.load[run.free])) * target, 1e-30)
        if turn > 1 and energy > 1e6 * work:
            return None
        s = state(run.model, run.u, run.r)
        if energy < TOLERANCE * work and turn > 1:
            return target, s, change, turn, factor.negative == 0
    return None


def _arc_step(run: _Run, at: float, s: State, arc: float, before: Array) -> Result | None:
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
            # The last piece ends at full load.
            if now < 1.0 < now + more:
                return _load_step(run, at, s, 1.0 - at)
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
