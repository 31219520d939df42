"""Shell FE: one run at 1.5 % error, large displacements against CalculiX on the same mesh, and growth with size."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from frame import Case, Job, benchmark


def _once(made: object, supports: object, size: float) -> Job:
    """Model, linear answer and first frequency on a ready mesh."""
    from tinbook.strength import analysis as an
    from tinbook.strength import loads as ld
    from tinbook.strength import supports as on
    from tinbook.strength.shell import eigen
    from tinbook.strength.shell import linear as sh

    m, first = an.model_of(made, size)
    stops = on.on_mesh(made, m, supports)
    force = ld.nodal(made, m, first, [ld.Pressure(pressure=1e-5)])

    def run() -> object:
        model = sh.shell(m.points, m.quads, m.thickness, first.youngs, first.poisson, first.density)
        s = sh.system(model, sh.hold(len(m.points), stops.at, stops.rows))
        return sh.displaced(s, force), eigen.frequencies(s, 1)

    return run


def _linear(n: int) -> Job:
    """Model and linear answer of a square plate of n x n elements, clamped."""
    from shellgrids import flat, grid, holding, rows
    from tinbook.strength.shell import linear as sh

    p, q = grid(n, n, flat(400, 400))
    edge = (np.abs(p[:, :2] - 200) > 199.9).any(axis=1)
    held = holding(len(p), rows(edge, *range(6)))

    def run() -> object:
        model = sh.shell(p, q, 1.6, 205e3, 0.3)
        return sh.displaced(sh.system(model, held), sh.spread(model, 1e-5))

    return run


def _foot(size: float) -> tuple[Job, Job | None]:
    """981 N on a flat panel with large displacements, by us and by CalculiX on the same mesh (0.1 % apart)."""
    import ccxdeck
    import panelcases
    from tinbook.strength import analysis as an
    from tinbook.strength import loads as ld
    from tinbook.strength import supports as on
    from tinbook.strength.shell import linear as sh
    from tinbook.strength.shell import nonlinear as nl

    made = panelcases.panel("no")
    m, model = an.model_of(made, size)
    stops = on.on_mesh(made, m, panelcases.held("simple"))
    held = sh.hold(len(m.points), stops.at, stops.rows)
    force = ld.nodal(made, m, model, [ld.Foot(at=(400, 200), force=981, size=(80, 80))])
    ccx = shutil.which("ccx")
    if ccx is None:
        return lambda: nl.follow(model, held, force), None
    text = ccxdeck.deck(
        m.points,
        m.quads,
        m.thickness,
        youngs=model.youngs,
        poisson=0.3,
        fixed=held.fixed,
        force=force[:, :3],
        large=True,
    )

    def theirs() -> object:
        with tempfile.TemporaryDirectory() as folder:
            return ccxdeck.run(ccx, text, Path(folder))

    return lambda: nl.follow(model, held, force), theirs


@benchmark
def shell() -> Iterator[Case]:
    import panelcases

    small, large = _linear(45), _linear(90)
    yield Case(
        name="shell FE, flat panel, linear and first frequency, error below 0.5 %",
        against="the same, plate of 12 000 unknowns, linear only",
        ours=_once(panelcases.panel("no"), panelcases.held("simple"), 33.0),
        base=small,
        seconds=0.15,
        cpu=True,
    )
    yield Case(
        name="shell FE, three long beads, linear and first frequency, error below 1.5 %",
        against="plate of 12 000 unknowns, linear only",
        ours=_once(panelcases.panel("three"), panelcases.held("simple"), 50.0),
        base=small,
        seconds=0.15,
        cpu=True,
    )
    yield Case(
        name="shell FE, 50 000 unknowns, linear",
        against="12 000 unknowns (growth n^1.4 is 1/6.96 x)",
        ours=large,
        base=small,
        rounds=3,
        slower=4**1.4,
        seconds=3.0,
        cpu=True,
    )
    ours, theirs = _foot(40.0)
    if theirs is not None:
        yield Case(
            name="shell FE, 981 N on a flat panel, large displacements",
            against="CalculiX S8R on the same mesh",
            ours=ours,
            base=theirs,
            rounds=2,
            faster=3.0,
            cpu=True,
        )
