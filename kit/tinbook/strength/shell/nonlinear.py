"""Large displacements: the load is raised in steps that adapt, each brought into balance by Newton's method.

Where the load cannot rise any further the arc length takes over, and the load at which the part snaps
through is reported.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from tinbook.progress import Progress
from tinbook.strength.shell.corotation import State, state, turned_by
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Held, Shell, require_held
from tinbook.strength.shell.solve import Factor, NotSolved
from tinbook.strength.shell.steps import Run, Step, arc_step, load_step
from tinbook.strength.shell.touch import Touch
from tinbook.values import dataclass

STEPS = 200
"""Most load steps of one run."""
FIRST = 0.25
"""First part of the load tried."""
SMALLEST = 0.02
"""Load step below which the arc length takes over, for steps that begin with `FIRST`."""

CROSSINGS: Final = 6
"""Most states tried between two steps to find where a skin yields."""
CLOSE: Final = 2e-3
"""How near to the yield stress is near enough."""


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
    start: Step | None = None,
    ready: Factor | None = None,
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
    start : Step, optional
        A known state in balance: from there the load is raised up to `far`, or until yield is found.
    ready : Factor, optional
        Of the part without load.

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
    run.ready = ready
    if start is not None:
        at, goal = start.factor, far
        run.u, run.r = start.displacement[:, :3], turned_by(start.displacement[:, 3:])
    s = state(model, run.u, run.r, tangent=False)
    steps = [run.step_at(at, s)]
    size, arc, smallest = first, 0.0, SMALLEST * first / FIRST
    snap: float | None = None
    before = np.zeros(len(run.free))
    walked = [(0.0, at)]
    used, yields = use(s) if use and at else 0.0, math.inf
    end: tuple[int, State, Array] | None = (1, s, run.u) if start is not None else None
    for _ in range(STEPS):
        kept = run.u, run.r
        result = arc_step(run, at, s, arc, before, goal) if arc else load_step(run, at, s, min(size, goal - at))
        if arc and result is not None and result[0] > goal + 1e-9:
            run.u, run.r = kept
            result = load_step(run, at, s, goal - at)
        if result is None:
            run.u, run.r = kept
            if arc:
                arc /= 2
                if arc < 1e-5 * max(walked[-1][0], 1e-12):
                    break
                continue
            size /= 2
            if size < smallest and at == 0.0 and size < min(smallest / 16, first / 200):
                raise NotSolved("no balance was found even at a small part of the load; no number is shown")
            if size < smallest and at > 0.0:
                if len(steps) < 2 or (end is not None and start is None):
                    break
                # The load may be near its maximum: switch to arc-length control.
                arc = float(np.linalg.norm(before)) * min(smallest / max(at - steps[-2].factor, 1e-9), 1.0)
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
        if min(most - 1, most - used) < CLOSE:
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
