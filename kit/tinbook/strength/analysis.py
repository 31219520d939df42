"""Stiffness and strength of a made part: from part, supports and loads to deflection, stress and reactions.

Small deflections are computed linearly; where the sheet moves by more than
half its thickness the large-displacement analysis runs instead. Every
number comes with its support, and with the difference to a coarser mesh.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from tinbook.calc.plates import SMALL_DEFLECTION
from tinbook.errors import BadValue
from tinbook.making.made import Made
from tinbook.strength.contact import linear as contact
from tinbook.strength.loads import Load, nodal, riding
from tinbook.strength.mesh.build import mesh
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.result import Buckling, Modes, Reaction, Static
from tinbook.strength.shell import eigen, stress
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.nonlinear import Path, Step
from tinbook.strength.supports import Stops, Support, lips, on_mesh

Progress = Callable[[float, str], None]


Model = tuple[Mesh, sh.Shell]


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
        Large displacements; None decides by the linear deflection (more than half the thickness).
    compare : bool, optional
        Run a mesh twice as coarse too; the difference is the error shown.
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
    fine = _static(made, m, model, supports, loads, large, lambda a, w: tell(0.05 + a * share, w))
    error = None
    if compare:
        tell(0.05 + share, "coarser mesh")
        m2, model2 = model_of(made, 2 * m.size, supports=supports) if models is None else models[1]
        coarse = _static(
            made, m2, model2, supports, loads, fine.large, lambda a, w: tell(0.8 + 0.2 * a, "coarser mesh")
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
    tell: Progress,
) -> Static:
    stops = on_mesh(made, m, supports)
    force = nodal(made, m, model, loads)
    tell(0.1, "linear")
    active, linear, reaction = contact.linear(model, stops, force)
    u = linear
    deflection = float(np.linalg.norm(u[:, :3], axis=1).max())
    beyond = deflection > SMALL_DEFLECTION * made.thickness
    path: Path | None = None
    if large or (large is None and beyond):
        path, active = contact.large(model, stops, active, force, lambda a, w: tell(0.1 + 0.85 * a, w))
        u, reaction = path.last.displacement, path.reaction
    top, bottom = _stress(model, u, path.last if path else None)
    yields = made.sheet.material.yield_min
    worst = float(max(top.max(), bottom.max()))
    first_yield = _first_yield(model, path, yields) if path else (yields / worst if worst > 0 else math.inf)
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
        large=path is not None,
        complete=path.complete if path else True,
        reached=path.last.factor if path else 1.0,
        snap=path.snap if path else None,
        yield_stress=yields,
        first_yield=first_yield,
        linear_deflection=deflection,
        held=tuple(supports),
        reaction=reaction,
    )


def _stress(model: sh.Shell, u: Array, step: Step | None) -> tuple[Array, Array]:
    if step is None:
        return sh.equivalent(model, u)
    return stress.equivalent(model.elements, model.quads, len(model.points), step.local)


def _first_yield(model: sh.Shell, path: Path, limit: float) -> float:
    """Return the part of the load at which the skin first yields, between load steps by a straight line."""
    before = (0.0, 0.0)
    for s in path.steps[1:]:
        top, bottom = _stress(model, s.displacement, s)
        now = float(max(top.max(), bottom.max()))
        if now >= limit:
            (f0, s0), f1 = before, s.factor
            return f0 + (f1 - f0) * (limit - s0) / (now - s0)
        before = (s.factor, now)
    return math.inf


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
        force = np.where(np.abs(force) < 1e-7 * total, 0.0, force)
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
    u, _ = sh.displaced(s, nodal(made, m, model, loads))
    factors, shapes = eigen.buckling(s, u, count)
    return Buckling(
        mesh=m,
        factors=tuple(float(v) for v in factors),
        shapes=shapes,
        supports=tuple(x.title for x in supports),
        loads=tuple(x.title for x in loads),
        bends=float(np.linalg.norm(u[:, :3], axis=1).max()) * float(factors[0]) > SMALL_DEFLECTION * made.thickness,
    )
