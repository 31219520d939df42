"""Whether the linear answer of an assembly is true: forces inside its displaced shells and joints must balance the load.

As `shell.balance` does it for a part: the linear answer goes into elements with large displacements, what is out of balance
moves it on by the stiffness that is factorised, until nothing is; where that does not close in, the load is raised in three
steps. Joints and links stay linear, contacts as they settled: those that have opened hold nothing back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

import numpy as np

from tinbook.strength.assemblies.system import System
from tinbook.strength.shell import element as el
from tinbook.strength.shell.corotation import State, inner, rotation_vector, state, turned_by
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Shell
from tinbook.strength.shell.solve import Factor, NotSolved, assemble, factorise
from tinbook.values import dataclass

ROUNDS: Final = 25
"""Most corrections on one factor."""
NEWTON: Final = 12
"""Most factorisations where that does not close in."""
CLOSING: Final = 0.5
"""A correction longer than this part of the last but one closes in too slowly."""
FAR: Final = 5.0
"""A correction longer than so many times the linear displacement leads nowhere."""
SETTLED: Final = 1e-3
"""Last correction over the largest displacement."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balanced:
    """A state in balance next to the linear one.

    Parameters
    ----------
    u : array (unknowns,)
    local : array (m, 24)
        What strains each element, its own axes.
    departs : float
        Largest difference to the linear displacements over the largest of these.
    """

    u: Array
    local: Array
    departs: float


def shell_of(s: System) -> Shell:
    """Return the shells alone, for the elements with large displacements."""
    w = s.whole
    nodes = np.arange(len(w.points))
    given: dict[str, Any] = {"youngs": 0.0, "poisson": 0.0, "density": 0.0}
    return Shell(points=w.points, quads=w.quads, elements=w.elements, where=w.where, order=nodes, **given)


def balanced(s: System, model: Shell, linear: Array, tell: Callable[[], None], opened: Any = None) -> Balanced | None:
    """Return the balance that belongs to a linear answer; None where none is found, or one that is not stable.

    Parameters
    ----------
    s : System
    model : Shell
        Its shells, as `shell_of` gives them.
    linear : array (unknowns,)
        Displacements that balance the load by linear theory, with contacts as they settled.
    tell : callable
        Called before each factorisation; what it raises ends the run.
    opened : sparse (unknowns, unknowns), optional
        Stiffness in the system of contacts that have opened: they hold nothing back.
    """
    load = s.matrix @ linear
    if opened is not None:
        load = load - opened @ linear
        s = replace(s, others=(s.others - opened).tocsr())
    found = _beside(s, model, linear, load)
    return _raised(s, model, linear, load, tell) if found is None else found


def linear_local(s: System, u: Array) -> Array:
    """Return what strains each element by linear theory (m, 24), its own axes."""
    e = s.whole.elements
    return np.asarray(el.to_local(u.reshape(-1, 6)[s.whole.quads].reshape(-1, 8, 3), e.axes))


def stable(s: System, model: Shell, u: Array, opened: Any = None) -> bool:
    """Return whether the tangent at displacements (n, 6) has no negative pivot: nothing has buckled; `opened` as above."""
    if opened is not None:
        s = replace(s, others=(s.others - opened).tocsr())
    now = state(model, u[:, :3], turned_by(u[:, 3:]))
    try:
        return _tangent(s, model, now).negative == 0
    except NotSolved:
        return False


def _beside(s: System, model: Shell, linear: Array, load: Array) -> Balanced | None:
    """Move the linear answer on by the stiffness that is factorised."""
    start = linear.reshape(-1, 6)
    size = max(float(np.linalg.norm(start[:, :3], axis=1).max()), 1e-30)
    moved, turned = start[:, :3].copy(), turned_by(start[:, 3:])
    before = [np.inf, np.inf]
    for _ in range(ROUNDS):
        now = state(model, moved, turned, tangent=False)
        step = np.zeros_like(linear)
        step[s.order] = s.factor.lu.solve(_rest(s, model, now, moved, turned, load)[s.order])
        moved, turned, change = _on(moved, turned, step, size)
        if change < SETTLED:
            return _found(model, moved, turned, linear, size)
        # A comparison with a value that is not finite is false.
        if not change < min(CLOSING * before[0], FAR):
            return None
        before = [before[1], change]
    return None


def _raised(s: System, model: Shell, linear: Array, load: Array, tell: Callable[[], None]) -> Balanced | None:
    """Raise the load in thirds by Newton's method, then close in."""
    size = max(float(np.linalg.norm(linear.reshape(-1, 6)[:, :3], axis=1).max()), 1e-30)
    n = len(model.points)
    moved, turned = np.zeros((n, 3)), np.tile(np.eye(3), (n, 1, 1))
    for k in range(NEWTON):
        tell()
        now = state(model, moved, turned)
        rest = _rest(s, model, now, moved, turned, min(1.0, (k + 1) / 3) * load)
        try:
            factor = _tangent(s, model, now)
        except NotSolved:
            return None
        step = np.zeros_like(linear)
        step[s.order] = factor.lu.solve(rest[s.order])
        moved, turned, change = _on(moved, turned, step, size)
        if not change < FAR:
            return None
        if k > 2 and change < SETTLED:
            return _found(model, moved, turned, linear, size) if factor.negative == 0 else None
    return None


def _rest(s: System, model: Shell, now: State, moved: Array, turned: Array, load: Array) -> Array:
    """Return what of the load the inner forces do not balance."""
    u = np.concatenate((moved, rotation_vector(turned)), axis=1).ravel()
    return np.asarray(load - inner(model, now).ravel() - s.others @ u)


def _tangent(s: System, model: Shell, now: State) -> Factor:
    assert now.tangent is not None
    return factorise(assemble(model.where, now.tangent) + s.others, s.order)


def _on(moved: Array, turned: Array, step: Array, size: float) -> tuple[Array, Array, float]:
    by = step.reshape(-1, 6)
    return moved + by[:, :3], turned_by(by[:, 3:]) @ turned, float(np.linalg.norm(by[:, :3], axis=1).max()) / size


def _found(model: Shell, moved: Array, turned: Array, linear: Array, size: float) -> Balanced:
    now = state(model, moved, turned, tangent=False)
    departs = float(np.linalg.norm(moved - linear.reshape(-1, 6)[:, :3], axis=1).max()) / size
    u = np.concatenate((moved, rotation_vector(turned)), axis=1).ravel()
    return Balanced(u=u, local=now.local, departs=departs)
