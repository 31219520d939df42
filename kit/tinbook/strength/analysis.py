"""Stiffness and strength of a made part: from part, supports and loads to deflection, stress and reactions.

Every linear answer is put into the equations of large displacements; where it
is not in balance there, the answer is that of large displacements. Every
number comes with its support, and with the difference to a coarser mesh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from tinbook.errors import BadValue
from tinbook.making.made import Made
from tinbook.progress import Progress, telling
from tinbook.strength.loaded import Loaded
from tinbook.strength.loads import Load, nodal, riding
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.meshed import Meshed, Meshes
from tinbook.strength.meshed import model_of as model_of
from tinbook.strength.refine import finer
from tinbook.strength.result import SETTLED, Buckling, Modes, Static
from tinbook.strength.shell import eigen
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.balance import balanced
from tinbook.strength.shell.constraints import rigid_part
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.solve import NotSolved
from tinbook.strength.shell.threads import one_thread
from tinbook.strength.supports import Support

YIELD_TO: Final = 10.0
"""Times the load up to which first yield is looked for in an answer that is shown."""
BUCKLES_FROM: Final = 0.1
"""Departure from linear displacements at the buckling load above which linear buckling says nothing (own choice)."""
ROUNDS: Final = 4
"""Most meshes that are made finer where stress is steep."""
MOST: Final = 3.6
"""Elements of all those meshes over those of the first: so stress costs at most four times one mesh and its coarser one."""

RIGID: Final = 0.999
"""Part of a displacement that is a rigid motion from which on the supports decide alone (own choice)."""
SMALL: Final = 1000
"""Elements of a first mesh so small that its cost does not matter."""


@one_thread()
def static(
    made: Made,
    supports: Sequence[Support],
    loads: Sequence[Load],
    *,
    size: float | None = None,
    large: bool | None = None,
    compare: bool = True,
    settle: bool = True,
    yield_to: float = 1.0,
    meshes: Meshes | None = None,
    progress: Progress | None = None,
) -> Static:
    """Work out deflection, stress and reactions.

    Parameters
    ----------
    made : Made
    supports, loads : sequences
        See `strength.supports`, `strength.loads`.
    size : float or None, optional
        Largest side of an element, mm; None takes a 32nd of the shorter side of the largest panel.
    large : bool or None, optional
        Large displacements; None takes them where the linear answer is not in balance in its displaced shape.
    compare : bool, optional
        Run a mesh twice as coarse too; the differences are the errors shown.
    settle : bool, optional
        With `compare`: run meshes that are finer where stress is steep too, until the greatest stress of the last two
        agrees.
    yield_to : float, optional
        Times the load up to which first yield is looked for, 1 or more.
    meshes : Meshes, optional
        Of this part, these supports and this size, so that several analyses mesh and factorise once.
    progress : callable, optional
        Called with the fraction done, 0 to 1, and a word.

    Returns
    -------
    Static

    Raises
    ------
    BadValue, UnknownName
        Before the solve: supports or loads that are not on the part, a motion left free, too fine a mesh.
    NotSolved
        No balance was found.
    """
    far = 0.0

    def tell(done: float, word: str) -> None:
        nonlocal far
        # First yield may be looked for from no load on; what is told never goes back.
        far = max(far, done)
        if progress is not None:
            progress(far, word)

    tell(0.0, "mesh")

    both = meshes or Meshes(made, supports, size)
    stable_to = 0.0

    def run(on: Meshed, start: float, share: float, word: str = "") -> Loaded:
        return Loaded(on, loads, large, lambda a, w: tell(start + share * a, word or w), stable_to, yield_to)

    last = run(both.first, 0.05, 0.4)
    answer = last.answer()
    if not compare:
        tell(0.9, "first yield")
        found = last.answer(*last.first_yield(yield_to))
        tell(1.0, "done")
        return found
    tell(0.45, "coarser mesh")
    # Whether a balance is stable is counted once, on the first mesh.
    stable_to = last.stable_to
    deflection, peak = answer.differs(run(both.coarse, 0.45, 0.1, "coarser mesh").answer())
    _require_firm(last.mesh, answer.displacement, deflection, "under the load it")
    room, fine = MOST * max(len(last.mesh.quads), SMALL), None
    rounds = ROUNDS if last.path is None else ROUNDS // 2
    for k in range(rounds if settle and answer.complete else 0):
        fine = finer(made, last.mesh, last.model, last.local, fine, last.reads)
        if fine is None:
            peak = min(peak, SETTLED)
            break
        tell(0.55 + 0.08 * k, "finer where stress is steep")
        try:
            on = Meshed(made, supports, last.mesh.size, fine)
            room -= len(on.mesh.quads)
            if room < 0:
                break
            last = run(on, 0.55 + 0.08 * k, 0.08, "finer where stress is steep")
        except (NotSolved, BadValue):
            # The answer before stands, with its own difference.
            break
        before, answer = answer, last.answer()
        _, peak = answer.differs(before)
        if peak <= SETTLED or not answer.complete:
            break
    tell(0.9, "first yield")
    found = last.answer(*last.first_yield(yield_to))
    tell(1.0, "done")
    return replace(found, error=(deflection, peak))


@one_thread()
def modes(
    made: Made,
    supports: Sequence[Support],
    *,
    count: int = 6,
    size: float | None = None,
    cargo: float = 0.0,
    cargo_on: Sequence[str] = ("base",),
    compare: bool = True,
    meshes: Meshes | None = None,
    progress: Progress | None = None,
) -> Modes:
    """Work out natural frequencies and mode shapes.

    Parameters
    ----------
    made : Made
    supports : sequence of Support
        On lips the vibrations are small ones about the state at rest: where the own weight lifts a corner nothing holds.
    count : int, optional
    size : float or None, optional
        Largest side of an element, mm.
    cargo : float, optional
        Mass that rides on the panels without stiffening them, kg.
    cargo_on : sequence of str, optional
    compare : bool, optional
        Run a mesh twice as coarse too.
    meshes : Meshes, optional
        As in `static`.
    progress : callable, optional

    Returns
    -------
    Modes
    """
    both = meshes or Meshes(made, supports, size)
    tell = telling(progress)

    def run(on: Meshed) -> tuple[Array, Array]:
        extra = riding(on.mesh, on.model, cargo, cargo_on) if cargo else None
        return eigen.frequencies(on.resting(extra), count, extra=extra)

    tell(0.1, "modes")
    f, shapes = run(both.first)
    errors: tuple[float, ...] = ()
    if compare:
        tell(0.7, "coarser mesh")
        f2, _ = run(both.coarse)
        errors = tuple(float(abs(b / a - 1)) for a, b in zip(f, f2, strict=False))
        for k, error in enumerate(errors):
            _require_firm(both.first.mesh, shapes[k], error, f"at frequency {k + 1} it")
    return Modes(
        mesh=both.first.mesh,
        frequencies=tuple(float(v) for v in f),
        shapes=shapes,
        supports=tuple(s.title for s in supports),
        cargo=cargo,
        error=errors[0] if errors else None,
        errors=errors,
    )


def _require_firm(m: Mesh, moves: Array, differs: float, what: str) -> None:
    """Raise where a part only moves as a whole, on a hold that follows the mesh: single points, or a line of them."""
    if differs <= SETTLED:
        return
    part, motion = rigid_part(m.points, moves[:, :3])
    if part >= RIGID:
        raise NotSolved(
            f"the supports hold too loosely: {what} does little but {motion}, by an amount that follows the mesh; hold it "
            "along an edge, at rims of holes or at points farther apart"
        )


@one_thread()
def buckling(
    made: Made,
    supports: Sequence[Support],
    loads: Sequence[Load],
    *,
    count: int = 1,
    size: float | None = None,
    on: Meshed | None = None,
) -> Buckling:
    """Work out at how many times the loads the part buckles, by linear theory.

    Parameters
    ----------
    made : Made
    supports, loads : sequences
    count : int, optional
    size : float or None, optional
    on : Meshed, optional
        Of this part, these supports and this size.

    Returns
    -------
    Buckling

    Raises
    ------
    BadValue
        A one-sided support: linear theory cannot tell whether it lifts.
    """
    on = on or Meshed(made, supports, size)
    if on.stops.one_sided.any():
        raise BadValue("supports", "a lip", "supports that hold both ways, for buckling by linear theory")
    s = on.system
    force = nodal(made, on.mesh, on.model, loads)
    u, _ = sh.displaced(s, force)
    factors, shapes = eigen.buckling(s, u, count)
    near = balanced(s, u, force, float(factors[0]))
    return Buckling(
        mesh=on.mesh,
        factors=tuple(float(v) for v in factors),
        shapes=shapes,
        supports=tuple(x.title for x in supports),
        loads=tuple(x.title for x in loads),
        bends=near is None or near.departs > BUCKLES_FROM,
    )


def buckling_compared(both: Meshes, loads: Sequence[Load], tell: Progress) -> tuple[Buckling, float]:
    """Return `buckling`, and the difference of its load on a mesh twice as coarse."""
    tell(0.92, "buckling")
    fine = buckling(both.made, both.supports, loads, on=both.first)
    tell(0.97, "buckling, coarser mesh")
    coarse = buckling(both.made, both.supports, loads, on=both.coarse)
    return fine, abs(coarse.factors[0] / fine.factors[0] - 1)
