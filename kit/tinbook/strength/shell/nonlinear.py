"""Large displacements: the load is raised in steps that adapt, each brought into balance by Newton's method.

Where the load cannot rise any further the arc length takes over, and the load at which the part snaps
through is reported.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from tinbook.progress import Progress
from tinbook.strength.shell.corotation import State, rotation_vector, state, turned_by
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Held, Shell, require_held
from tinbook.strength.shell.solve import Factor, NotSolved, assemble, factorise
from tinbook.strength.shell.touch import Touch

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

CROSSINGS: Final = 6
"""Most states tried between two steps to find where a skin yields."""
CLOSE: Final = 2e-3
"""How near to the yield stress is near enough."""


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
    first_yield : float
        Part of the load at which the skin first yields; infinite where it does not, or was not watched.
    watched : float
        Part of the load up to which it was watched; may lie beyond the last state.
    """

    steps: tuple[Step, ...]
    complete: bool
    snap: float | None
    reaction: Array
    first_yield: float = math.inf
    watched: float = 0.0

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

    def forces(self, s: State) -> Array:
        """Return the inner forces less those of lips, in the nodes' own axes (6 n,)."""
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


def follow(
    model: Shell,
    held: Held,
    load: Array,
    *,
    touch: Touch | None = None,
    progress: Progress | None = None,
    use: Callable[[State], float] | None = None,
    far: float = 1.0,
    first: float = FIRST,
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
    use : callable, optional
        Returns the greatest stress of a state over the yield stress; where it reaches 1 the load is found by iteration.
    far : float, optional
        Part of the load up to which yield is looked for, 1 or more.
    first : float, optional
        First part of the load tried.

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

    at, goal = 0.0, 1.0
    run = Run(model, held, load, touch, tell)
    s = state(model, run.u, run.r)
    steps = [run.step_at(0.0, s)]
    size, arc = first, 0.0
    snap: float | None = None
    before = np.zeros(len(run.free))
    walked = [(0.0, 0.0)]
    used, yields = 0.0, math.inf
    end: tuple[int, State, Array] | None = None
    for _ in range(STEPS):
        kept = run.u, run.r
        result = _arc_step(run, at, s, arc, before) if arc else load_step(run, at, s, min(size, goal - at))
        if arc and result is not None and result[0] > 1.0 + 1e-9:
            run.u, run.r = kept
            result = load_step(run, at, s, 1.0 - at)
        if result is None:
            run.u, run.r = kept
            if arc:
                arc /= 2
                if arc < 1e-5 * max(walked[-1][0], 1e-12):
                    break
                continue
            size /= 2
            if size < SMALLEST and at == 0.0 and size < min(SMALLEST / 16, first / 200):
                raise NotSolved("no balance was found even at a small part of the load; no number is shown")
            if size < SMALLEST and at > 0.0:
                if end is not None:
                    break
                # The load may be near its maximum: switch to arc-length control.
                arc = float(np.linalg.norm(before)) * min(SMALLEST / max(at - steps[-2].factor, 1e-9), 1.0)
            continue
        now, new, change, turns, stable = result
        walked.append((walked[-1][0] + float(np.linalg.norm(change)), now))
        if snap is None and now < at:
            snap = _top(walked)
        if use is not None and math.isinf(yields):
            more = use(new)
            if more >= 1.0:
                yields = _crossing(run, kept, (at, s, used), (now, more), use if not arc else None)
                yields = yields if snap is None else min(yields, snap)
            used = more
        at, before, s = now, change, new
        steps.append(run.step_at(at, s))
        tell()
        if abs(at - goal) < 1e-9:
            if end is None:
                end = len(steps), s, run.u
            if goal >= far or math.isfinite(yields):
                break
            goal = far
        elif end is not None and math.isfinite(yields):
            break
        if arc:
            arc *= 1.4 if turns <= 5 else 0.7 if turns > 8 else 1.0
            if stable and snap is not None and at > snap:
                arc, size = 0.0, 0.1
        else:
            size *= 2.0 if turns <= 6 else 0.6 if turns > 9 else 1.0
    watched = at if use is not None else 0.0
    count, s, run.u = (len(steps), s, run.u) if end is None else end
    last = steps[count - 1].factor
    reaction: Array = (run.forces(s) - last * run.load) * held.fixed.ravel().astype(np.float64)
    space = held.to_space(reaction.reshape(-1, 6))
    if touch is not None:
        space = space + touch.push(run.u)
    return Path(
        steps=tuple(steps[:count]),
        complete=end is not None,
        snap=snap,
        reaction=space,
        first_yield=yields,
        watched=watched,
    )


def _crossing(
    run: Run,
    kept: tuple[Array, Array],
    low: tuple[float, State, float],
    high: tuple[float, float],
    use: Callable[[State], float] | None,
) -> float:
    """Return the part of the load at which the use reaches 1 between two states; a straight line where `use` is None."""
    end = run.u, run.r
    (at, s, used), (top, most) = low, high
    for _ in range(CROSSINGS if use is not None else 0):
        if most - used < CLOSE:
            break
        # Not too near an end, or one end would never move.
        share = min(max((1 - used) / (most - used), 0.1), 0.9)
        run.u, run.r = kept
        found = load_step(run, at, s, share * (top - at))
        if found is None or use is None:
            break
        now = use(found[1])
        if now >= 1.0:
            top, most = found[0], now
        else:
            (at, s, used), kept = (found[0], found[1], now), (run.u, run.r)
        if abs(now - 1.0) < CLOSE:
            break
    run.u, run.r = end
    return at + (top - at) * (1 - used) / (most - used)


Result = tuple[float, State, Array, int, bool]


def load_step(run: Run, at: float, s: State, size: float) -> Result | None:
    """Raise the load from `at` by `size`; None where no balance next to the state is found."""
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


def _arc_step(run: Run, at: float, s: State, arc: float, before: Array) -> Result | None:
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
                return load_step(run, at, s, 1.0 - at)
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
