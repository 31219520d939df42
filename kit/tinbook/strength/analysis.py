"""Stiffness and strength of a made part: from part, supports and loads to deflection, stress and reactions.

Every linear answer is put into the equations of large displacements; where it
is not in balance there, the answer is that of large displacements. Every
number comes with its support, and with the difference to a coarser mesh.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from tinbook.errors import BadValue
from tinbook.making.made import Made
from tinbook.strength.contact import linear as contact
from tinbook.strength.loads import Load, nodal, riding
from tinbook.strength.mesh.build import mesh
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.result import LINEAR, Buckling, Modes, Reaction, Static
from tinbook.strength.shell import eigen, stress
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.balance import Balance, balanced
from tinbook.strength.shell.corotation import State
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.nonlinear import CLOSE, FIRST, Path, Step
from tinbook.strength.supports import Stops, Support, lips, on_mesh

Progress = Callable[[float, str], None]


Model = tuple[Mesh, sh.Shell]

YIELD_TO: Final = 10.0
"""Times the load up to which first yield is looked for in an answer that is shown."""
BUCKLES_FROM: Final = 0.1
"""Departure from linear displacements at the buckling load above which linear buckling says nothing (own choice)."""
SLACK: Final = 0.02
"""How little a lip may pull or be sunk into where the contact of the linear answer still stands (own choice)."""
SEARCHES: Final = 6
"""Most states next to the linear answer that are tried to find first yield."""


def model_of(
    made: Made,
    size: float | None = None,
    finer_beads: float = 1.0,
    supports: Sequence[Support] = (),
    fine_rims: bool = True,
) -> Model:
    """Return the mesh and the shell model of a part; `size` is the largest side of an element, mm.

    The mesh follows the inner lines of lips among the supports.
    """
    m = mesh(made, size, finer_beads=finer_beads, lips=lips(supports), fine_rims=fine_rims)
    material = made.sheet.material
    given = material.youngs, material.poisson, material.density
    return m, sh.shell(m.points, m.quads, m.thickness, *given, normals=m.normals)


def both_models(made: Made, size: float | None = None, supports: Sequence[Support] = ()) -> tuple[Model, Model]:
    """Return the model of a part and one twice as coarse; several analyses may share them."""
    fine = model_of(made, size, supports=supports)
    return fine, model_of(made, 2 * fine[0].size, supports=supports)


def static(
    made: Made,
    supports: Sequence[Support],
    loads: Sequence[Load],
    *,
    size: float | None = None,
    large: bool | None = None,
    compare: bool = True,
    yield_to: float = 1.0,
    models: tuple[Model, Model] | None = None,
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
        Run a mesh twice as coarse too; the difference is the error shown.
    yield_to : float, optional
        Times the load up to which first yield is looked for, 1 or more.
    models : pair of models, optional
        What `both_models` gave for these supports, so that another analysis need not mesh the part again.
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
    tell = progress or (lambda done, word: None)
    tell(0.0, "mesh")
    m, model = model_of(made, size, supports=supports) if models is None else models[0]
    share = 0.75 if compare else 0.95
    fine = _static(made, m, model, supports, loads, large, yield_to, lambda a, w: tell(0.05 + a * share, w))
    error = None
    if compare:
        tell(0.05 + share, "coarser mesh")
        m2, model2 = model_of(made, 2 * m.size, supports=supports) if models is None else models[1]
        coarse = _static(
            made, m2, model2, supports, loads, large, yield_to, lambda a, w: tell(0.8 + 0.2 * a, "coarser mesh")
        )
        error = fine.differs(coarse)
    tell(1.0, "done")
    return replace(fine, error=error)


def _static(
    made: Made,
    m: Mesh,
    model: sh.Shell,
    supports: Sequence[Support],
    loads: Sequence[Load],
    large: bool | None,
    yield_to: float,
    tell: Progress,
) -> Static:
    stops = on_mesh(made, m, supports)
    force = nodal(made, m, model, loads)
    tell(0.1, "linear")
    active, linear, reaction, system = contact.linear(model, stops, force)
    yields = made.sheet.material.yield_min

    def use(state: State | Step) -> float:
        return max(float(skin.max()) for skin in _skins(model, state)) / yields

    def near(factor: float, stable: bool = True) -> Balance | None:
        found = balanced(system, linear, force, factor, stable)
        if found is None or not stops.one_sided.any():
            return found
        # What rests on a lip is known of the linear answer only.
        rest = contact.rests(stops, active, found.step.displacement, found.reaction, SLACK)
        return found if rest and found.departs <= LINEAR else None

    top, bottom = sh.equivalent(model, linear)
    times = yields / max(float(max(top.max(), bottom.max())), 1e-30)
    balance = None if large else near(1.0)
    path: Path | None = None
    if large or (large is None and balance is None):
        first = min(FIRST, max(times, FIRST / 16))
        path, active = contact.large(
            model,
            stops,
            active,
            force,
            lambda a, w: tell(0.1 + 0.85 * a, w),
            use=use,
            far=yield_to,
            first=first,
        )
        first_yield, watched = path.first_yield, path.watched
    else:
        found, watched = _yield_near(near, use, times, yield_to)
        if found is None and times <= yield_to and large is None:
            # Steps as if the load were the one of first yield by linear theory: the answer depends on no load asked.
            scaled = times * force
            way, _ = contact.large(
                model, stops, active, scaled, lambda a, w: tell(0.5, "first yield"), use=use, far=yield_to / times
            )
            found, watched = times * way.first_yield, times * way.watched
        first_yield = math.inf if found is None else found
    corrected = balance if large is None and not stops.one_sided.any() else None
    step = path.last if path else corrected.step if corrected else None
    u = linear if step is None else step.displacement
    if step is not None:
        top, bottom = _skins(model, step)
        reaction = path.reaction if path else corrected.reaction if corrected else reaction
    departs = balance.departs if balance else math.inf
    return Static(
        mesh=m,
        material=made.sheet.material.key,
        thickness=made.thickness,
        supports=tuple(s.title for s in supports),
        loads=tuple(load.title for load in loads),
        displacement=u,
        top=top,
        bottom=bottom,
        reactions=_reactions(supports, stops, active, reaction),
        large=path is not None or (large is None and departs > LINEAR),
        complete=path.complete if path else True,
        reached=path.last.factor if path else 1.0,
        snap=path.snap if path else None,
        yield_stress=yields,
        first_yield=first_yield,
        held=tuple(supports),
        reaction=reaction,
        watched=watched,
        linear_deflection=float(np.linalg.norm(linear[:, :3], axis=1).max()),
        departs=departs,
    )


def _skins(model: sh.Shell, state: State | Step) -> tuple[Array, Array]:
    return stress.equivalent(model.elements, model.quads, len(model.points), state.local)


def _yield_near(
    near: Callable[[float, bool], Balance | None], use: Callable[[State | Step], float], times: float, most: float
) -> tuple[float | None, float]:
    """Return first yield in parts of the load, found next to the linear answer, and up to where it was looked for.

    Parameters
    ----------
    near : callable
        The balance at a part of the load, and whether to prove that it is stable.
    use : callable
        Greatest stress of a state over the yield stress.
    times : float
        First yield by linear theory.
    most : float
        Largest part of the load tried.

    Returns
    -------
    float or None
        None where the linear answer is not near enough.
    float
        Part of the load up to which that is known.
    """
    factor = min(times, most)
    for _ in range(SEARCHES):
        found = near(factor, False)
        if found is None and factor == most > 1:
            factor = most = max(most / 2, 1.0)
            continue
        if found is None:
            return None, 1.0
        now = use(found.step)
        if abs(now - 1) < CLOSE or (factor >= most and now < 1):
            break
        factor = min(factor / now, most)
    else:
        return None, 1.0
    if near(factor, True) is None:
        return None, 1.0
    return (math.inf if now < 1 - CLOSE else factor), factor


def _reactions(
    supports: Sequence[Support], stops: Stops, active: contact.Mask, reaction: Array
) -> tuple[Reaction, ...]:
    out = []
    count = np.zeros(len(reaction))
    for k in range(len(supports)):
        count[np.unique(stops.at[(stops.support == k) & active])] += 1
    total = max(
        float(np.abs(reaction[:, :3].sum(axis=0)).max(initial=0.0)), float(np.abs(reaction[:, :3]).max(initial=0.0))
    )
    for k, s in enumerate(supports):
        nodes = np.unique(stops.at[(stops.support == k) & active])
        # A corner held by two supports gives each its half.
        force = (reaction[nodes, :3] / count[nodes, None]).sum(axis=0)
        force = np.where(np.abs(force) < 1e-6 * total, 0.0, force)
        lifted = int(((stops.support == k) & np.logical_not(active)).sum())
        out.append(Reaction(title=s.title, force=(float(force[0]), float(force[1]), float(force[2])), lifted=lifted))
    return tuple(out)


def modes(
    made: Made,
    supports: Sequence[Support],
    *,
    count: int = 6,
    size: float | None = None,
    cargo: float = 0.0,
    cargo_on: Sequence[str] = ("base",),
    compare: bool = True,
    models: tuple[Model, Model] | None = None,
    progress: Progress | None = None,
) -> Modes:
    """Work out natural frequencies and mode shapes.

    Parameters
    ----------
    made : Made
    supports : sequence of Support
        One-sided ones count as holding, a lip of some width along its inner line.
    count : int, optional
    size : float or None, optional
        Largest side of an element, mm.
    cargo : float, optional
        Mass that rides on the panels without stiffening them, kg.
    cargo_on : sequence of str, optional
    compare : bool, optional
        Run a mesh twice as coarse too.
    models : pair of models, optional
        As in `static`.
    progress : callable, optional

    Returns
    -------
    Modes
    """
    m, model = model_of(made, size, supports=supports) if models is None else models[0]
    tell = progress or (lambda done, word: None)

    def run(m: Mesh, model: sh.Shell) -> tuple[Array, Array]:
        stops = on_mesh(made, m, supports)
        extra = riding(m, model, cargo, cargo_on) if cargo else None
        return eigen.frequencies(sh.system(model, contact.held(model, stops, stops.firm)), count, extra=extra)

    tell(0.1, "modes")
    f, shapes = run(m, model)
    errors: tuple[float, ...] = ()
    if compare:
        tell(0.7, "coarser mesh")
        f2, _ = run(*(model_of(made, 2 * m.size, supports=supports) if models is None else models[1]))
        errors = tuple(float(abs(b / a - 1)) for a, b in zip(f, f2, strict=False))
    return Modes(
        mesh=m,
        frequencies=tuple(float(v) for v in f),
        shapes=shapes,
        supports=tuple(s.title for s in supports),
        cargo=cargo,
        error=errors[0] if errors else None,
        errors=errors,
    )


def buckling(
    made: Made, supports: Sequence[Support], loads: Sequence[Load], *, count: int = 1, size: float | None = None
) -> Buckling:
    """Work out at how many times the loads the part buckles, by linear theory.

    Parameters
    ----------
    made : Made
    supports, loads : sequences
    count : int, optional
    size : float or None, optional

    Returns
    -------
    Buckling

    Raises
    ------
    BadValue
        A one-sided support: linear theory cannot tell whether it lifts.
    """
    m, model = model_of(made, size, supports=supports)
    stops = on_mesh(made, m, supports)
    if stops.one_sided.any():
        raise BadValue("supports", "a lip", "supports that hold both ways, for buckling by linear theory")
    s = sh.system(model, contact.held(model, stops, np.ones(len(stops.at), dtype=bool)))
    force = nodal(made, m, model, loads)
    u, _ = sh.displaced(s, force)
    factors, shapes = eigen.buckling(s, u, count)
    near = balanced(s, u, force, float(factors[0]), stable=False)
    return Buckling(
        mesh=m,
        factors=tuple(float(v) for v in factors),
        shapes=shapes,
        supports=tuple(x.title for x in supports),
        loads=tuple(x.title for x in loads),
        bends=near is None or near.departs > BUCKLES_FROM,
    )


def buckling_compared(
    made: Made, supports: Sequence[Support], loads: Sequence[Load], size: float | None, tell: Progress
) -> tuple[Buckling, float]:
    """Return `buckling`, and the difference of its load on a mesh twice as coarse."""
    tell(0.92, "buckling")
    fine = buckling(made, supports, loads, size=size)
    tell(0.97, "buckling, coarser mesh")
    coarse = buckling(made, supports, loads, size=2 * fine.mesh.size)
    return fine, abs(coarse.factors[0] / fine.factors[0] - 1)
