"""One-sided supports: which parts of a sheet rest on their lip, and which have lifted off.

Where the sheet touches it can only push; where it would pull it has lifted. What rests is found on
the stiffness seen from the lip (its Schur complement): no lift below zero, no
push below zero, and never both at once. That is a least-squares problem with
one answer (Lawson and Hanson 1974), where opening and closing by turns may go
round in circles.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import nnls

from tinbook.progress import Progress
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.constraints import free_motions
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.nonlinear import Path, follow
from tinbook.strength.shell.solve import NotSolved, solving
from tinbook.strength.shell.touch import STIFF, Touch
from tinbook.strength.supports import Stops

Mask: TypeAlias = npt.NDArray[np.bool_]
ROUNDS: Final = 12
"""Most rounds in which one-sided supports open and close."""
BLOCK: Final = 64
"""Right-hand sides solved together."""
UNSETTLED: Final = "the edge on its lip keeps lifting and falling: no contact settles; no number is shown"


def held(model: sh.Shell, stops: Stops, active: Mask) -> sh.Held:
    """Return what the active stops hold."""
    return sh.hold(len(model.points), stops.at[active], stops.rows[active])


def linear(
    model: sh.Shell, stops: Stops, force: Array, firm: Callable[[], sh.System] | None = None
) -> tuple[Mask, Array, Array, sh.System]:
    """Return the stops that act, displacements (n, 6), reactions (n, 6) under forces (n, 6), and the system that they hold.

    Parameters
    ----------
    model : Shell
    stops : Stops
    force : array (n, 6)
        N.
    firm : callable, optional
        Returns the system of the firm stops, if that is factorised already.

    Raises
    ------
    BadValue
        A rigid motion is left free.
    NotSolved
        Nothing settles.
    """
    near = stops.firm | ~stops.one_sided
    if free_motions(model.points, held(model, stops, near)):
        near = np.ones(len(stops.at), dtype=bool)
    active = near.copy()
    for _ in range(ROUNDS):
        ready = firm is not None and np.array_equal(active, stops.firm)
        system = firm() if firm and ready else sh.system(model, held(model, stops, active))
        u, reaction = sh.displaced(system, force)
        if not stops.one_sided.any() or rests(stops, active, u, reaction):
            return active, u, reaction, system
        # Every stop that touched before or is penetrated now may be active; one problem decides for all of them.
        near = near | active | (_gap(stops, u) < -1e-9 * _deep(u))
        if (near != active).any():
            system = sh.system(model, held(model, stops, near))
            u, reaction = sh.displaced(system, force)
        active = _touching(system, stops, near, _push(stops, reaction))
    raise NotSolved(UNSETTLED)


def large(model: sh.Shell, stops: Stops, active: Mask, force: Array, tell: Progress, **watch: Any) -> tuple[Path, Mask]:
    """Return the way to full load in large displacements, and the stops that act at its end.

    Parameters
    ----------
    model : Shell
    stops : Stops
    active : array (k,) of bool
        Stops that act to begin with.
    force : array (n, 6)
        At full load, N.
    tell : callable
        Called with the part of the load reached, 0 to 1, and a word.
    **watch
        `use`, `far`, `first`, `start` and `ready` of `nonlinear.follow`.
    """
    if not stops.one_sided.any():
        return follow(model, held(model, stops, active), force, progress=tell, **watch), active
    one, same = _once(stops, stops.one_sided)
    e = model.elements
    d = model.youngs * float(e.thickness.mean()) ** 3 / (12 * (1 - model.poisson**2))
    touch = Touch(
        at=stops.at[one],
        rows=stops.rows[one, :3],
        stiffness=np.full(len(one), STIFF * d / float(np.median(e.area))),
        start=active[one],
    )
    path = follow(model, held(model, stops, ~stops.one_sided), force, touch=touch, progress=tell, **watch)
    active = active.copy()
    active[stops.one_sided] = touch.closed(path.last.displacement[:, :3])[same]
    return path, active


def _once(stops: Stops, which: Mask) -> tuple[Index, Index]:
    """Return the places of stops without those that hold a node the same way again, and where each of all is there."""
    mine = np.flatnonzero(which)
    key = np.column_stack((stops.at[mine], np.round(stops.rows[mine], 9)))
    _, first, same = np.unique(key, axis=0, return_index=True, return_inverse=True)
    return mine[first], same.ravel()


def _push(stops: Stops, reaction: Array) -> Array:
    return np.asarray(np.einsum("ki,ki->k", reaction[stops.at], stops.rows))


def _gap(stops: Stops, u: Array) -> Array:
    return np.asarray(np.where(stops.one_sided, np.einsum("ki,ki->k", u[stops.at], stops.rows), 0.0))


def _deep(u: Array) -> float:
    return max(float(np.abs(u[:, :3]).max(initial=0.0)), 1e-12)


def rests(stops: Stops, active: Mask, u: Array, reaction: Array, slack: float = 1e-6) -> bool:
    """Return whether nothing pulls and nothing sinks in, within a part of the greatest push and displacement."""
    push = _push(stops, reaction)[stops.one_sided & active]
    gap = _gap(stops, u)[~active]
    return bool((push > -slack * np.abs(push).max(initial=1e-12)).all() and (gap > -slack * _deep(u)).all())


def _touching(system: sh.System, stops: Stops, near: Mask, push: Array) -> Mask:
    """Return the stops that act, of those near to touching, all of which the system holds; `push` is theirs, N."""
    mine = near & stops.one_sided
    one, same = _once(stops, mine)
    lift = lifts(_seen_from(system, stops.at[one], stops.rows[one]), push[one])
    out = near.copy()
    out[mine] = (lift <= 1e-9 * max(float(lift.max(initial=0.0)), 1e-12))[same]
    return out


def _seen_from(system: sh.System, at: Index, rows: Array) -> Array:
    """Return the stiffness seen from held directions: pushes (k, k) where each in turn moves by one, mm."""
    n, k = system.model.unknowns, len(at)
    moved = np.zeros((k, 6))
    basis = {int(node): b for node, b in zip(system.held.skew, system.held.basis, strict=True)}
    for j, (node, row) in enumerate(zip(at.tolist(), rows, strict=True)):
        moved[j] = basis[node].T @ row if node in basis else row
    out = np.zeros((k, k))
    for start in range(0, k, BLOCK):
        which = np.arange(start, min(start + BLOCK, k))
        u = np.zeros((n, len(which)))
        for c, j in enumerate(which.tolist()):
            u[6 * at[j] : 6 * at[j] + 6, c] = moved[j]
        u[system.free] = -system.factor.lu.solve(np.ascontiguousarray((system.matrix @ u)[system.free]))
        force = (system.matrix @ u).reshape(-1, 6, len(which))
        out[:, which] = np.einsum("ki,kic->kc", moved, force[at])
    return (out + out.T) / 2


def lifts(stiff: Array, push: Array) -> Array:
    """Return lifts x >= 0 where push + stiff x >= 0 and one of the two is nought."""
    if not (push < 0).any():
        return np.zeros(len(push))
    # The stiffness may be singular for a uniform lift; a small addition keeps the Cholesky factor real.
    with solving(UNSETTLED):
        root = cholesky(stiff + np.eye(len(push)) * 1e-10 * float(np.diag(stiff).max()), lower=True)
        right: Any = -solve_triangular(root, push, lower=True)
        return np.asarray(nnls(root.T, right)[0])
