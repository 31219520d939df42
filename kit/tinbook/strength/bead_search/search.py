"""Which beads, and where: layouts with the highest first frequency and the least foot deflection for the least rolling.

Every layout that is tried is made and checked on the shop's tools first, then
run as shells on a coarse mesh. What is shown comes from a finer one, with the
difference between two. The closed-form estimate takes no part: it knows only
even beads on simply supported edges.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from typing import Any, Final

import numpy as np
import shapely

from tinbook.errors import BadValue, CannotMake, OutOfRange, of_kind
from tinbook.executors import pool, sweep
from tinbook.finding import Finding
from tinbook.flatpattern import Direction
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.progress import telling
from tinbook.rules.near import line
from tinbook.rules.registry import live
from tinbook.shop.shop import Shop
from tinbook.strength import analysis as an
from tinbook.strength.bead_search.candidate import Layout, first_ones, trimmed, varied
from tinbook.strength.bead_search.result import DIGITS, BeadLayouts, Figures, Row, rounded
from tinbook.strength.bead_search.zone import Zone, zone
from tinbook.strength.loads import FOOT, Foot, nodal
from tinbook.strength.meshed import Meshes
from tinbook.strength.request import Held, supports_of
from tinbook.strength.shell import eigen
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.solve import NotSolved
from tinbook.strength.shell.threads import one_thread
from tinbook.strength.supports import Support, on_mesh
from tinbook.values import dataclass

SPOILS: Final = ("bead.fold", "bead.edge", "bead.hole", "bead.pitch")
"""Cautions that a person may accept; the search rejects such a layout."""
GENERATION: Final = 16
"""Layouts run at once. Never the number of workers: the search must not depend on it."""
RUNS: Final = 128


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Data sent to a worker with each task."""

    part: Part
    shop: Shop
    supports: tuple[Support, ...]
    panel: str
    side: Direction
    feet: tuple[Foot, ...]
    size: float

    def made(self, layout: Layout) -> Made:
        """Return the part made with a layout."""
        return make(layout.onto(self.part, self.panel, self.side), self.shop)


def bead_layouts(
    part: Part,
    shop: Shop,
    supports: Held | None = None,
    *,
    panel: str = "base",
    side: Direction = "up",
    feet: Sequence[Foot] | None = None,
    rolls: Sequence[str] | None = None,
    directions: Sequence[float] = (0.0, 90.0),
    keep_off: Sequence[tuple[tuple[float, float], tuple[float, float]]] = (),
    most: float | None = None,
    seed: int = 1,
    runs: int = RUNS,
    members: int = 6,
    size: float | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    progress: Callable[[float, str], None] | None = None,
    seconds: float | None = None,
) -> BeadLayouts:
    """Look for bead layouts of a panel.

    Parameters
    ----------
    part : Part
        Its beads in this panel are replaced; everything else stays.
    shop : Shop
        Gives rolls, their passes and the roller's throat.
    supports : str, Support or several, optional
        How the part is held, in the words of `strength_of` ("clamped: front,
        rear") or from `strength.supports`. A lip counts as holding for the
        frequency.
    panel : str, optional
        Panel that gets the beads.
    side : {"up", "down"}, optional
        To which they stand out.
    feet : sequence of Foot or None, optional
        Where a foot may stand, each alone; the worst counts. None puts 1.1 kN
        on 100 x 100 mm in the middle; () leaves feet out of it.
    rolls : sequence of str or None, optional
        Keys of roll pairs; None for all that take the sheet.
    directions : sequence of float, optional
        Of the beads from the panel's x, degrees.
    keep_off : sequence of ((x, y), (x, y)), optional
        Corners of rectangles that beads must leave flat, mm in the panel's
        frame; what lies on a lip is left flat anyhow.
    most : float or None, optional
        Most metres run through the rolls.
    seed : int, optional
        Another one searches otherwise; the same one gives the same answer on
        any executor and any number of workers.
    runs : int, optional
        Layouts tried, and so the bound of the search.
    members : int, optional
        Most layouts that are shown.
    size : float or None, optional
        Largest side of an element of the finer mesh, mm; None takes a 16th of
        the panel's shorter side.
    executor : Executor or None, optional
        Any of `concurrent.futures`; None for processes of our own.
    workers : int or None, optional
        Processes of our own.
    progress : callable, optional
        Called with the fraction done, 0 to 1, and a word.
    seconds : float or None, optional
        After so long no new layout is tried; the answer then says that it was cut short.

    Returns
    -------
    BeadLayouts
        No row is beaten by another in frequency, foot deflection and rolling at once.

    Raises
    ------
    CannotMake
        The part has stop findings before any bead, or no rolls take its sheet.
    BadValue, UnknownName
        Values, supports, feet or panel that the part does not have.
    """
    of_kind(part, Part, "bead_layouts", "a Part: beads are laid before it is made")
    of_kind(shop, Shop, "bead_layouts shop", "a Shop")
    _whole(runs, 1, "runs")
    _whole(members, 1, "members")
    _whole(seed, 0, "seed")
    if most is not None and (isinstance(most, bool) or not isinstance(most, (int, float)) or not most > 0):
        raise BadValue("bead layouts: most", most, "metres through the rolls, greater than 0")
    bare = Layout().onto(part, panel, side)
    drawn = make(bare.mirrored() if bare.other_hand else bare, shop)
    plain = make(bare, shop)
    stops = live(plain).stops
    if stops:
        raise CannotMake(f"beads cannot cure this part: {stops[0]}")
    held = supports_of(plain, supports)
    box = drawn.panel(panel).boundary.box
    size = min(box[2] - box[0], box[3] - box[1]) / 16 if size is None else size
    standing = _feet(plain, panel, feet)
    zones = _zones(drawn, shop, panel, rolls, directions, [*_boxes(keep_off), *_lips(drawn, panel, held)])
    task = Task(part=bare, shop=shop, supports=held, panel=panel, side=side, feet=standing, size=float(size))
    # Check supports and feet here, so that errors are raised before a worker starts.
    _coarse(replace(task, size=2 * task.size), Layout())
    search = _Search(task, zones, random.Random(seed), most)  # noqa: S311 -- the same for the same seed is what is wanted
    began, cut_short = time.monotonic(), False
    tell = telling(progress)
    with pool(executor, workers) as at_work:
        while search.tried < runs:
            if seconds is not None and time.monotonic() - began > seconds:
                cut_short = True
                break
            batch = search.next_ones(min(GENERATION, runs - search.tried))
            if not batch:
                break
            tell(0.7 * search.tried / runs, f"layout {search.tried + 1} of {runs}")
            search.learn(batch, sweep(partial(_coarse, task), batch, at_work, chunk=1))
        chosen = [Layout(), *search.front(members)]
        tell(0.7, "finer mesh")
        figures = sweep(
            partial(_final, task), chosen, at_work, chunk=1, progress=lambda k, n: tell(0.7 + 0.3 * k / n, "finer mesh")
        )
    rows = [Row(layout=x, figures=f) for x, f in zip(chosen, figures, strict=True)]
    kept = [rows[0], *(r for r in rows[1:] if not any(o.beats(r) for o in rows))]
    return BeadLayouts(
        part=part,
        panel=panel,
        side=side,
        outline=drawn.panel(panel).boundary,
        rows=tuple(sorted(kept, key=lambda r: (r.layout.rolled, r.layout.lines))),
        tried=tuple((x.rolled, f, w) for x, (f, w) in search.known.items() if math.isfinite(f)),
        refused=search.refused,
        zones=tuple(zones),
        supports=tuple(s.title for s in held),
        feet=tuple(f.title for f in standing),
        seed=seed,
        runs=search.tried,
        size=task.size,
        cut_short=cut_short,
    )


class _Search:
    """The layouts tried so far, from which the next ones are drawn."""

    def __init__(self, task: Task, zones: list[Zone], rng: random.Random, most: float | None) -> None:
        self.task, self.zones, self.rng, self.most = task, zones, rng, most
        self.known: dict[Layout, tuple[float, float]] = {}
        self.seen: set[Layout] = set()
        self.refused = 0
        self.tried = 0
        self.waiting = first_ones(zones, most)

    def next_ones(self, count: int) -> list[Layout]:
        """Return layouts not tried before that the shop can make, at most `count`."""
        batch: list[Layout] = []
        for _ in range(60 * count):
            if len(batch) == count:
                break
            layout = self.waiting.pop(0) if self.waiting else self._varied()
            if layout is not None and layout not in self.seen:
                self.seen.add(layout)
                if self._may(layout):
                    batch.append(layout)
                else:
                    self.refused += 1
        self.tried += len(batch)
        return batch

    def _varied(self) -> Layout | None:
        parents = self._both_fronts()
        if not parents:
            return None
        parent = parents[int(self.rng.random() * len(parents))]
        if self.rng.random() < 0.3:  # the best by frequency is varied more often than the middle of the front
            parent = max(parents, key=lambda x: self.known[x][0])
        child = varied(parent, self.zones, self.rng)
        if child is None or self.most is None:
            return child
        own = next(z for z in self.zones if (z.roll.key, z.direction) == (child.roll, child.direction))
        return trimmed(child, own, self.most)

    def _may(self, layout: Layout) -> bool:
        made = self.task.made(layout)
        return not any(_spoils(f) for f in live(made))

    def learn(self, batch: Sequence[Layout], figures: Sequence[tuple[float, float]]) -> None:
        self.known.update(zip(batch, figures, strict=True))

    def _both_fronts(self) -> list[Layout]:
        """Return what no other beats in frequency for its rolling, or in foot deflection for its rolling."""
        out: dict[Layout, None] = {}
        for which, sign in ((0, -1.0), (1, 1.0)):
            best = math.inf
            ranked = sorted(self.known.items(), key=lambda item: (item[0].rolled, sign * item[1][which]))
            for layout, figures in ranked:
                if math.isfinite(figures[which]) and sign * figures[which] < best:
                    best = sign * figures[which]
                    out[layout] = None
        return list(out)

    def front(self, members: int) -> list[Layout]:
        """Return the best by frequency, the best under the foot, and others between, far from each other."""
        found = self._both_fronts()
        if not found:
            return []
        at = np.array([(x.rolled, *self.known[x]) for x in found])
        at = np.where(np.isfinite(at), at, 0.0)
        reach = np.ptp(at, axis=0)
        at = at / np.where(reach > 0, reach, 1.0)
        picked = [int(np.argmax(at[:, 1]))]
        if self.task.feet and (low := int(np.argmin(at[:, 2]))) not in picked and members > 1:
            picked.append(low)
        while len(picked) < min(members, len(found)):
            away = np.linalg.norm(at[:, None] - at[picked][None], axis=2).min(axis=1)
            picked.append(int(np.argmax(np.round(away, DIGITS))))
        return [found[k] for k in dict.fromkeys(picked)]


def _spoils(finding: Finding) -> bool:
    return finding.severity == "stop" or (finding.severity == "caution" and finding.code in SPOILS)


@one_thread()
def _coarse(task: Task, layout: Layout) -> tuple[float, float]:
    """Return first frequency, Hz, and the largest deflection under small loads at the feet's places, mm, to steer by.

    Held on both sides everywhere; linear, so the deflection is one of stiffness only. What does not solve is nan.
    """
    made = task.made(layout)
    m, model = an.model_of(made, 2 * task.size, supports=task.supports, fine_rims=False)
    stops = on_mesh(made, m, task.supports)
    forces = [nodal(made, m, model, [f]) for f in task.feet]
    try:
        s = sh.system(model, sh.hold(len(m.points), stops.at[stops.firm], stops.rows[stops.firm]))
        frequency = float(eigen.frequencies(s, 1)[0][0])
        worst = max((float(np.abs(sh.displaced(s, f)[0][:, :3]).max()) for f in forces), default=0.0)
    except NotSolved:
        return math.nan, math.nan
    return rounded(frequency), rounded(worst)


@one_thread()
def _final(task: Task, layout: Layout) -> Figures:
    """Return what is shown of a layout: two meshes, large displacements under a foot."""
    made = task.made(layout)
    meshes = Meshes(made, task.supports, task.size)
    first = an.modes(made, task.supports, count=1, meshes=meshes)
    figures = Figures(frequency=first.first, frequency_error=first.error or 0.0)
    try:
        sags = [an.static(made, task.supports, [f], settle=False, meshes=meshes) for f in task.feet]
        worst = max(sags, key=lambda s: s.deflection) if sags else None
    except (OutOfRange, NotSolved):
        return replace(figures, deflection=math.inf)
    if worst is None:
        return figures
    return replace(
        figures,
        deflection=worst.deflection,
        deflection_error=worst.error[0] if worst.error else 0.0,
        large=worst.large,
        first_yield=min(s.first_yield for s in sags),
    )


def _whole(value: Any, least: int, field: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or value < least:
        raise BadValue(f"bead layouts: {field}", value, f"a whole number from {least}")


def _feet(made: Made, panel: str, feet: Sequence[Foot] | None) -> tuple[Foot, ...]:
    if feet is not None:
        for f in feet:
            if not isinstance(f, Foot):
                raise BadValue("bead layouts: feet", type(f).__name__, "loads made by strength.loads.Foot")
        return tuple(feet)
    sheet = shapely.Polygon(made.panel(panel).boundary.chords())
    middle = sheet.centroid
    if not sheet.buffer(-71.0).contains(middle):
        middle = shapely.maximum_inscribed_circle(sheet).coords[0]
        middle = shapely.Point(middle)
    return (Foot(at=(round(middle.x, 1), round(middle.y, 1)), force=FOOT, panel=panel),)


def _boxes(keep_off: Sequence[tuple[tuple[float, float], tuple[float, float]]]) -> list[Any]:
    try:
        return [shapely.box(min(a, c), min(b, d), max(a, c), max(b, d)) for (a, b), (c, d) in keep_off]
    except (TypeError, ValueError):
        valid = "pairs of opposite corners, ((x, y), (x, y)) in mm"
        raise BadValue("bead layouts: keep_off", keep_off, valid) from None


def _lips(drawn: Made, panel: str, supports: Sequence[Support]) -> list[Any]:
    """Return the strips that lie on something: a bead there would hold the sheet off it."""
    out = []
    for s in supports:
        if s.at == "edge" and s.reach > 0 and s.panel == panel:
            edges = [e for e in drawn.panel(panel).boundary.edges if e.name == s.where]
            out.append(shapely.buffer(line(edges), s.reach))
    return out


def _zones(
    drawn: Made,
    shop: Shop,
    panel: str,
    rolls: Sequence[str] | None,
    directions: Sequence[float],
    keep_off: Sequence[Any],
) -> list[Zone]:
    material, t = drawn.sheet.material, drawn.sheet.nominal
    named = shop.rolls if rolls is None else tuple(shop.roll(key) for key in rolls)
    usable = [r for r in named if r.takes(material, t)]
    if not usable:
        listed = ", ".join(r.key for r in named) or "none"
        raise CannotMake(f"no bead rolls take {material.key} {t:g} mm (looked at: {listed})")
    if not directions:
        raise BadValue("bead layouts: directions", directions, "at least one angle in degrees")
    for d in directions:
        if isinstance(d, bool) or not isinstance(d, (int, float)) or not math.isfinite(d):
            raise BadValue("bead layouts: directions", d, "an angle in degrees")
    found = [zone(drawn, panel, r, float(d) % 180.0, keep_off) for d in directions for r in usable]
    return [z for z in found if z.reach() is not None]
