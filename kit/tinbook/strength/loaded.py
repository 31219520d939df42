"""A part under its loads on one mesh: linear, next to it or in steps, and where its skin first yields."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from tinbook.making.made import Made
from tinbook.strength import refine
from tinbook.strength.contact import linear as contact
from tinbook.strength.loads import Load, nodal
from tinbook.strength.mesh.build import Fine, mesh
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.result import LINEAR, Reaction, Static
from tinbook.strength.shell import element as el
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell import stress
from tinbook.strength.shell.balance import Balance, balanced
from tinbook.strength.shell.corotation import State
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.nonlinear import CLOSE, FIRST, Path, Step
from tinbook.strength.supports import Stops, Support, lips, on_mesh

Progress = Callable[[float, str], None]
Model = tuple[Mesh, sh.Shell]

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
    fine: Fine | None = None,
) -> Model:
    """Return the mesh and the shell model of a part; `size` is the largest side of an element, mm.

    The mesh follows the inner lines of lips among the supports.
    """
    m = mesh(made, size, finer_beads=finer_beads, lips=lips(supports), fine_rims=fine_rims, fine=fine)
    material = made.sheet.material
    given = material.youngs, material.poisson, material.density
    return m, sh.shell(m.points, m.quads, m.thickness, *given, normals=m.normals)


def both_models(made: Made, size: float | None = None, supports: Sequence[Support] = ()) -> tuple[Model, Model]:
    """Return the model of a part and one twice as coarse; several analyses may share them."""
    fine = model_of(made, size, supports=supports)
    return fine, model_of(made, 2 * fine[0].size, supports=supports)


class Loaded:
    """A part under its loads on one mesh.

    Parameters
    ----------
    made : Made
    on : (Mesh, Shell)
    supports, loads : sequences
    large : bool or None
        As in `analysis.static`.
    tell : callable
        Called with the fraction done, 0 to 1, and a word.
    """

    def __init__(
        self,
        made: Made,
        on: Model,
        supports: Sequence[Support],
        loads: Sequence[Load],
        large: bool | None,
        tell: Progress,
    ) -> None:
        self.made, (self.mesh, self.model), self.supports, self.loads = made, on, supports, loads
        self.large, self.tell = large, tell
        self.stops = on_mesh(made, self.mesh, supports)
        self.force = nodal(made, self.mesh, self.model, loads)
        self.yields = made.sheet.material.yield_min
        self.reads = refine.Reads(self.mesh, made.thickness, self._at("point"), self._at("edge", turns=True))
        tell(0.1, "linear")
        self.active, self.linear, self.reaction, self.system = contact.linear(self.model, self.stops, self.force)
        self.local = el.to_local(self.linear[self.model.quads].reshape(-1, 8, 3), self.model.elements.axes)
        self.times = self.yields / max(self.stress(self.local), 1e-30)
        self.balance = None if large else self._near(1.0)
        self.path: Path | None = None
        if large or (large is None and self.balance is None):
            self.path, self.active = self._follow(self.force, FIRST)
            self.local, self.reaction = self.path.last.local, self.path.reaction
        elif large is None and self.balance is not None and not self.stops.one_sided.any():
            self.local, self.reaction = self.balance.step.local, self.balance.reaction

    def _at(self, kind: str, turns: bool = False) -> list[int]:
        """Return the nodes of supports of a kind; those that may turn, and no others hold them from it, if so asked."""
        mine = [k for k, s in enumerate(self.supports) if s.at == kind]
        firm = [k for k in mine if turns and "turn along" in self.supports[k].stops]
        held = self.stops.at[np.isin(self.stops.support, mine)]
        return [int(n) for n in np.setdiff1d(held, self.stops.at[np.isin(self.stops.support, firm)])]

    def skins(self, local: Array) -> tuple[Array, Array]:
        """Return the von Mises stress (n,) of both skins for local unknowns of the elements, MPa, where it is read."""
        top, bottom = stress.equivalent(self.model.elements, self.model.quads, len(self.model.points), local)
        return self.reads.read(top), self.reads.read(bottom)

    def stress(self, local: Array) -> float:
        """Return the greatest von Mises stress, MPa."""
        return max(float(skin.max()) for skin in self.skins(local))

    def _use(self, state: State | Step) -> float:
        return self.stress(state.local) / self.yields

    def _near(self, factor: float, stable: bool = True) -> Balance | None:
        found = balanced(self.system, self.linear, self.force, factor, stable)
        if found is None or not self.stops.one_sided.any():
            return found
        # What rests on a lip is known of the linear answer only.
        rest = contact.rests(self.stops, self.active, found.step.displacement, found.reaction, SLACK)
        return found if rest and found.departs <= LINEAR else None

    def _follow(self, force: Array, first: float, far: float = 0.0) -> tuple[Path, contact.Mask]:
        def tell(share: float, word: str) -> None:
            self.tell(0.1 + 0.85 * share, word)

        use = self._use if far else None
        return contact.large(self.model, self.stops, self.active, force, tell, use=use, far=far or 1.0, first=first)

    def first_yield(self, most: float) -> tuple[float, float]:
        """Return the part of the load at which a skin first yields, and up to which part it was looked for.

        Parameters
        ----------
        most : float
            Largest part of the load tried.
        """
        found: float | None = None
        known, times = 1.0, min(self.times, most)
        if self.path is None:
            found, known = self._yield_near(most)
        else:
            used = [self._use(s) for s in self.path.steps]
            over = next((k for k, u in enumerate(used) if u >= 1), None)
            reached = max(s.factor for s in self.path.steps[: len(used) if over is None else over])
            if self.path.snap is not None and reached >= 0.99 * self.path.snap:
                # It jumps there, and yields as it does or later.
                return (math.inf if over is None else self.path.snap), self.path.last.factor
            if over is not None:
                times, most = self.path.steps[over].factor, 1.0
            elif not self.path.complete or most <= 1:
                return math.inf, self.path.last.factor
        if found is not None or self.large is False or (self.path is None and self.times > most):
            return (math.inf if found is None else found), known
        # Steps as if the load were the one of first yield by linear theory: the answer depends on no load asked.
        way, _ = self._follow(times * self.force, FIRST, max(most / times, 1.0))
        return times * way.first_yield, times * way.watched

    def _yield_near(self, most: float) -> tuple[float | None, float]:
        """Return the same next to the linear answer; None where that is not near enough."""
        factor = min(self.times, most)
        for _ in range(SEARCHES):
            found = self._near(factor, False)
            if found is None and factor == most > 1:
                factor = most = max(most / 2, 1.0)
                continue
            if found is None:
                return None, 1.0
            now = self._use(found.step)
            if abs(now - 1) < CLOSE or (factor >= most and now < 1):
                break
            factor = min(factor / now, most)
        else:
            return None, 1.0
        if self._near(factor, True) is None:
            return None, 1.0
        return (math.inf if now < 1 - CLOSE else factor), factor

    def answer(self, first_yield: float = math.inf, watched: float = 0.0) -> Static:
        """Return the result, with first yield as `first_yield` gave it."""
        path, balance = self.path, self.balance
        u = self.linear
        if path is not None:
            u = path.last.displacement
        elif balance is not None and self.local is balance.step.local:
            u = balance.step.displacement
        top, bottom = self.skins(self.local)
        departs = balance.departs if balance else math.inf
        return Static(
            mesh=self.mesh,
            material=self.made.sheet.material.key,
            thickness=self.made.thickness,
            supports=tuple(s.title for s in self.supports),
            loads=tuple(load.title for load in self.loads),
            displacement=u,
            top=top,
            bottom=bottom,
            reactions=_reactions(self.supports, self.stops, self.active, self.reaction),
            large=path is not None or (self.large is None and departs > LINEAR),
            complete=path.complete if path else True,
            reached=path.last.factor if path else 1.0,
            snap=path.snap if path else None,
            yield_stress=self.yields,
            first_yield=first_yield,
            watched=watched,
            linear_deflection=float(np.linalg.norm(self.linear[:, :3], axis=1).max()),
            departs=departs,
            sharp=self.reads.count,
            held=tuple(self.supports),
            reaction=self.reaction,
        )


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
