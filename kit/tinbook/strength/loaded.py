"""A part under its loads on one mesh: linear, next to it or in steps, and where its skin first yields."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from tinbook.progress import Progress
from tinbook.space import vec
from tinbook.strength.contact import linear as contact
from tinbook.strength.loads import Load, nodal
from tinbook.strength.meshed import Meshed
from tinbook.strength.result import LINEAR, Reaction, Static
from tinbook.strength.shell import element as el
from tinbook.strength.shell import stress
from tinbook.strength.shell.balance import Balance, balanced, stable
from tinbook.strength.shell.corotation import State
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.nonlinear import CLOSE, FIRST, Path
from tinbook.strength.shell.steps import Step
from tinbook.strength.singular import Reads
from tinbook.strength.supports import Stops, Support

SLACK: Final = 0.02
"""How little a lip may pull or be sunk into where the contact of the linear answer still stands (own choice)."""
SEARCHES: Final = 6
"""Most states next to the linear answer that are tried to find first yield."""


class Loaded:
    """A part under its loads on one mesh.

    Parameters
    ----------
    on : Meshed
    loads : sequence
    large : bool or None
        As in `analysis.static`.
    tell : callable
        Called with the fraction done, 0 to 1, and a word.
    stable_to : float, optional
        Part of the load up to which a balance near the linear answer is known to be stable from another mesh.
    look_to : float, optional
        Part of the load up to which first yield will be looked for.
    """

    def __init__(
        self,
        on: Meshed,
        loads: Sequence[Load],
        large: bool | None,
        tell: Progress,
        stable_to: float = 0.0,
        look_to: float = 1.0,
    ) -> None:
        self.made, self.mesh, self.model, self.supports, self.loads = on.made, on.mesh, on.model, on.supports, loads
        self.large, self.tell, self.stable_to = large, tell, stable_to
        self.stops = on.stops
        self.force = nodal(self.made, self.mesh, self.model, loads)
        self.yields = self.made.sheet.material.yield_min
        self.reads = Reads(self.made, self.mesh, self.supports)
        tell(0.1, "linear")
        self.active, self.linear, self.reaction, self.system = contact.linear(
            on.model, on.stops, self.force, lambda: on.system
        )
        self.local = el.to_local(self.linear[self.model.quads].reshape(-1, 8, 3), self.model.elements.axes)
        self.times = self.yields / max(self.stress(self.local), 1e-30)
        self.balance = None if large else self._beside(look_to)
        self.path: Path | None = None
        if large or (large is None and self.balance is None):
            self.path, self.active = self._follow()
            self.local, self.reaction = self.path.last.local, self.path.reaction
        elif large is None and self.balance is not None and not self.stops.one_sided.any():
            self.local, self.reaction = self.balance.step.local, self.balance.reaction

    def skins(self, local: Array) -> tuple[Array, Array]:
        """Return the von Mises stress (n,) of both skins for local unknowns of the elements, MPa, where it is read."""
        top, bottom = self._raw(local)
        return self.reads.read(top), self.reads.read(bottom)

    def _raw(self, local: Array) -> tuple[Array, Array]:
        return stress.equivalent(self.model.elements, self.model.quads, len(self.model.points), local)

    def stress(self, local: Array) -> float:
        """Return the greatest von Mises stress, MPa."""
        return max(float(skin.max()) for skin in self.skins(local))

    def _use(self, state: State | Step) -> float:
        return self.stress(state.local) / self.yields

    def _beside(self, look_to: float) -> Balance | None:
        """Return the balance under the load if it is near the linear answer and stable."""
        found = self._near(1.0)
        if found is None or self.stable_to >= 1.0:
            return found
        # Near the linear answer the lowest stiffness falls ever faster, if at all (it is concave in the load): one count
        # where first yield is near covers every smaller load too.
        far = min(self.times, look_to)
        if not ((far > 1 and self._stable(far, self._near(far))) or self._stable(1.0, found)):
            return None
        return found

    def _stable(self, factor: float, found: Balance | None) -> bool:
        """Return whether there is a balance and it is stable."""
        if found is None:
            return False
        # Two meshes place first yield a little apart.
        if factor > 1.05 * self.stable_to:
            if not stable(self.system, found, self.force):
                return False
            self.stable_to = factor
        return True

    def _near(self, factor: float) -> Balance | None:
        found = balanced(self.system, self.linear, self.force, factor)
        if found is None or not self.stops.one_sided.any():
            return found
        # What rests on a lip is known of the linear answer only.
        rest = contact.rests(self.stops, self.active, found.step.displacement, found.reaction, SLACK)
        return found if rest and found.departs <= LINEAR else None

    def _follow(self, **watch: Any) -> tuple[Path, contact.Mask]:
        def tell(share: float, word: str) -> None:
            self.tell(0.1 + 0.85 * share, word)

        if not self.stops.one_sided.any() and ("start" not in watch or watch["start"].factor == 0):
            watch["ready"] = self.system.factor
        return contact.large(self.model, self.stops, self.active, self.force, tell, **watch)

    def first_yield(self, most: float) -> tuple[float, float]:
        """Return the part of the load at which a skin first yields, and up to which part it was looked for.

        Parameters
        ----------
        most : float
            Largest part of the load tried.
        """
        if self.path is None:
            found, known = self._yield_near(most)
            if found is not None or self.large is False or self.times > most:
                return (math.inf if found is None else found), known
            unloaded = Step(factor=0.0, displacement=0 * self.linear, local=0 * self.local)
            return self._yield_from(unloaded, FIRST * self.times, most)
        steps = self.path.steps
        used = [self._use(s) for s in steps]
        over = next((k for k, u in enumerate(used) if u >= 1), None)
        reached = max(s.factor for s in steps[:over])
        if self.path.snap is not None and reached >= 0.99 * self.path.snap:
            # It jumps there, and yields as it does or later.
            return (math.inf if over is None else self.path.snap), self.path.last.factor
        if over is None:
            if not self.path.complete or most <= 1:
                return math.inf, self.path.last.factor
            return self._yield_from(self.path.last, self.path.last.factor, most)
        before, there = steps[over - 1], steps[over]
        # A little beyond where a straight line between the two says, or small steps where it was the first one.
        share = FIRST if over == 1 else 1.05 * (1 - used[over - 1]) / (used[over] - used[over - 1])
        return self._yield_from(before, share * (there.factor - before.factor), max(there.factor, 1.0))

    def _yield_from(self, start: Step, first: float, most: float) -> tuple[float, float]:
        """Return the same from a state in balance on, raising the load by `first` to begin with."""
        way, _ = self._follow(use=self._use, start=start, first=first, far=most)
        return way.first_yield, way.watched

    def _yield_near(self, most: float) -> tuple[float | None, float]:
        """Return the same next to the linear answer; None where that is not near enough."""
        factor = min(self.times, most)
        for _ in range(SEARCHES):
            found = self._near(factor)
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
        if not self._stable(factor, found):
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
            hot=self.reads.hot(*self._raw(self.local)),
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
        out.append(Reaction(title=s.title, force=vec(force), lifted=lifted))
    return tuple(out)
