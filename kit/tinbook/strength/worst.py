"""The worst place for a foot or a wheel on a panel: every place on one factorisation, the worst ones followed to first yield.

Linear theory says quickly how stress runs over all places, but thin sheet under a load in mid-panel carries it as
a membrane later. So places are picked where stress is great and deflection great, less and little, and followed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from tinbook.calc.limits import above_zero
from tinbook.errors import BadValue, OutOfRange, UnknownName, of_kind
from tinbook.htmltable import html_table
from tinbook.making.made import Made, need_made
from tinbook.progress import telling
from tinbook.strength.analysis import YIELD_TO, static
from tinbook.strength.loads import Foot, heel
from tinbook.strength.meshed import Meshed, Meshes
from tinbook.strength.refine import mises
from tinbook.strength.request import default_size, strength_choices, supports_of
from tinbook.strength.shell import element as el
from tinbook.strength.shell.solve import NotSolved
from tinbook.strength.shell.threads import one_thread
from tinbook.strength.singular import Reads
from tinbook.units import figures
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.part.part import Part
    from tinbook.plane.loops import Loop
    from tinbook.progress import Progress
    from tinbook.strength.request import Held
    from tinbook.svg import Picture

ACROSS: Final = 13
"""Most places along a side of the panel."""
LESS: Final = (1.0, 0.5, 0.25)
"""Parts of the greatest linear deflection up to which the place of the greatest stress is followed."""
SAME: Final = 0.02
"""Places whose linear stress and deflection differ by less are mirror images: one of them is followed."""
LIGHT: Final = 100.0
"""Part of the force from which a place is followed."""
NOTE: Final = (
    "The map is linear theory on one mesh, every place on one factorisation. First yield is followed with large "
    "displacements where marked, on the same mesh: ask tb.strength_of with this load for its ±."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A place followed to first yield.

    Parameters
    ----------
    at : (float, float)
        Middle of the patch, mm in the panel's frame.
    newtons : float or None
        Force at which a skin first yields; None where it is above `above`.
    above : float
        Force up to which yield was looked for, N.
    """

    at: tuple[float, float]
    newtons: float | None
    above: float

    @property
    def words(self) -> str:
        """First yield in words."""
        return f"not up to {figures(self.above)} N" if self.newtons is None else f"{figures(self.newtons)} N"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WorstPlace:
    """Result of `worst_place`; shows itself in a notebook as a map.

    Parameters
    ----------
    part : Part
    load : Foot
        At the worst place; `strength_of` takes it.
    stands : tuple of Stand
        Places that were followed, the worst first.
    places : array (k, 2)
        All places, mm in the panel's frame.
    stress, deflection : array (k,)
        Greatest von Mises stress in MPa and deflection in mm with the load there, by linear theory.
    step : (float, float)
        Distance of the places, mm.
    outline : Loop
        Of the panel.
    supports : tuple of str
    """

    part: Part
    load: Foot
    stands: tuple[Stand, ...]
    places: el.Array
    stress: el.Array
    deflection: el.Array
    step: tuple[float, float]
    outline: Loop
    supports: tuple[str, ...]

    @property
    def worst(self) -> Stand:
        """The place where the least force makes the sheet yield."""
        return self.stands[0]

    def rows(self) -> list[tuple[str, str]]:
        """Return the table's rows: (place, first yield)."""
        return [("at ({:g}, {:g})".format(*s.at), s.words) for s in self.stands]

    def notes(self) -> list[str]:
        """Return what must be read with it."""
        return [f"Load: {self.load.name} on {self.load.size[0]:g} x {self.load.size[1]:g} mm.",
                "Held by: " + "; ".join(self.supports) + ".", NOTE, *self.part.cautions]  # fmt: skip

    def __str__(self) -> str:
        head = f"{self.part.number} rev {self.part.rev}: worst place for a {self.load.name} on '{self.load.panel}'"
        return "\n".join([head, *(f"  {a}: first yield {b}" for a, b in self.rows()), *self.notes()])

    def __repr__(self) -> str:
        x, y = self.worst.at
        return f"<worst place ({x:g}, {y:g}): first yield {self.worst.words}>"

    def picture(self) -> Picture:
        """Return the map: linear stress with the load at each place, and the places that were followed."""
        from tinbook.strength.worst_map import picture

        return picture(self)

    def _repr_html_(self) -> str:
        title = f"{self.part.number}: where a {self.load.name} on '{self.load.panel}' makes it yield first"
        return str(self.picture()) + html_table(
            ("place, mm", "first yield"), self.rows(), caption=title, notes=self.notes()
        )


@one_thread()
def worst_place(
    made: Made,
    supports: Held | None = None,
    load: str | Foot = "foot",
    *,
    panel: str = "base",
    size: float | None = None,
    progress: Progress | None = None,
) -> WorstPlace:
    """Find the place on a panel where a foot, a heel or a wheel makes the sheet yield at the least force.

    Parameters
    ----------
    made : Made
    supports : str, Support or several, optional
        As in `strength_of`; lips count as holding both ways for the map.
    load : str or Foot, optional
        "foot", "heel", or a `Foot` with its own force, patch and name (its place and panel do not matter).
    panel : str, optional
    size : float, optional
        Largest side of an element, mm, as in `strength_of`.
    progress : callable, optional
        Called with 0 to 1 and a word; raise `Cancelled` in it to end the search.

    Returns
    -------
    WorstPlace

    Raises
    ------
    BadValue, UnknownName
        Another load, a panel without room for it, nothing that holds.
    NotSolved
        No place found a balance.
    """
    need_made(made, "worst_place")
    foot = _patch(load, made, panel)
    held = supports_of(made, supports)
    tell = telling(progress)
    places, step = _places(made, foot)
    tell(0.0, "mesh")
    meshes = Meshes(made, held, default_size(made) if size is None else size)
    sag, peak = _map(meshes.first, foot, places, lambda done: tell(0.1 + 0.3 * done, "every place"))
    stands = []
    picked = _picked(places, sag, peak, foot.size)
    for k, i in enumerate(picked):
        tell(0.4 + 0.6 * k / len(picked), "first yield")
        # A light load is next to linear theory; from there the steps lead to first yield and end.
        there = replace(foot, at=(float(places[i, 0]), float(places[i, 1])), force=foot.force / LIGHT)
        try:
            r = static(made, held, [there], compare=False, yield_to=YIELD_TO * LIGHT, meshes=meshes)
        except (NotSolved, OutOfRange):
            continue
        found = r.first_yield * there.force if math.isfinite(r.first_yield) else None
        stands.append(Stand(at=there.at, newtons=found, above=r.watched * there.force))
    if not stands:
        raise NotSolved("no place finds a balance under this load; no number is shown")
    stands.sort(key=lambda s: s.above * YIELD_TO if s.newtons is None else s.newtons)
    tell(1.0, "done")
    return WorstPlace(
        part=made.part,
        load=replace(foot, at=stands[0].at),
        stands=tuple(stands),
        places=places,
        stress=peak,
        deflection=sag,
        step=step,
        outline=made.panel(panel).boundary,
        supports=tuple(s.title for s in held),
    )


def _patch(load: str | Foot, made: Made, panel: str) -> Foot:
    made.panel(panel)
    if isinstance(load, str):
        if load not in ("foot", "heel"):
            raise UnknownName("load", load, ("foot", "heel"))
        foot = Foot(at=(0.0, 0.0)) if load == "foot" else heel((0.0, 0.0))
    else:
        of_kind(load, Foot, "load", '"foot", "heel" or a strength.Foot')
        foot = load
    above_zero("N", **{"load force": foot.force})
    above_zero("mm", **{"load length": foot.size[0], "load width": foot.size[1]})
    return replace(foot, panel=panel)


def _places(made: Made, foot: Foot) -> tuple[el.Array, tuple[float, float]]:
    """Return the places (k, 2) of a grid over the panel where the whole patch is on metal, and its steps."""
    panel = made.panel(foot.panel)
    sheet = shapely.Polygon(panel.boundary.chords(), [h.loop.chords() for h in panel.holes])
    x0, y0, x1, y1 = sheet.bounds
    a, b = foot.size
    steps, axes = [], []
    for low, high, wide in ((x0, x1, a), (y0, y1, b)):
        room = high - low - wide
        count = min(max(math.ceil(room / (wide / 2)) + 1, 1), ACROSS) if room > 0 else 1
        axes.append(np.round(np.linspace(low + wide / 2, max(high - wide / 2, low + wide / 2), count), 1))
        steps.append(room / (count - 1) if count > 1 else wide)
    x, y = (g.ravel() for g in np.meshgrid(*axes))
    whole = shapely.box(x - a / 2, y - b / 2, x + a / 2, y + b / 2)
    outside = shapely.area(shapely.difference(whole, shapely.Polygon(sheet.exterior)))
    # A patch may reach over a small hole, but not off the panel.
    good = (outside <= 0.001 * a * b) & (shapely.area(shapely.intersection(whole, sheet)) > 0.5 * a * b)
    if not good.any():
        choices = strength_choices(made).places.get("foot", {})
        raise BadValue("panel", foot.panel, f"one with room for {a:g} x {b:g} mm; a foot has room on: "
                       + (", ".join(choices) or "none"))  # fmt: skip
    return np.column_stack((x, y))[good], (steps[0], steps[1])


def _map(on: Meshed, foot: Foot, places: el.Array, tell: Callable[[float], None]) -> tuple[el.Array, el.Array]:
    """Return the greatest deflection and stress (k,) by linear theory with the foot at each place."""
    model, s = on.model, on.system
    e = model.elements
    read = Reads(on.made, on.mesh, on.supports).nodes[on.mesh.quads].all(axis=1)
    sag, peak = np.zeros(len(places)), np.zeros(len(places))
    t = e.thickness[:, None, None]
    for k, (x, y) in enumerate(places.tolist()):
        tell(k / len(places))
        force = replace(foot, at=(x, y)).at_nodes(on.made, on.mesh, model)
        u = np.zeros(model.unknowns)
        u[s.free] = s.factor.lu.solve(s.held.from_space(force).ravel()[s.free])
        space = s.held.to_space(u.reshape(-1, 6))
        sag[k] = np.linalg.norm(space[:, :3], axis=1).max()
        n, m = el.resultants(e, el.to_local(space[model.quads].reshape(-1, 8, 3), e.axes))
        both = np.maximum(mises(n / t + 6 * m / t**2), mises(n / t - 6 * m / t**2)).max(axis=1)
        peak[k] = both[read].max(initial=0.0)
    return sag, peak


def _picked(places: el.Array, sag: el.Array, peak: el.Array, size: tuple[float, float]) -> list[int]:
    """Return the places to follow: the middle, and the greatest stress where it moves much, less and little."""
    middle = places.mean(axis=0)
    picked = [int(np.argmin(np.linalg.norm(places - middle, axis=1)))]
    for part in LESS:
        some = sag <= part * sag.max() * (1 + 1e-9)
        for i in picked:
            # Patches that overlap and mirror images say the same.
            some &= (np.abs(places - places[i]) >= 0.999 * np.asarray(size)).any(axis=1)
            some &= (np.abs(peak / peak[i] - 1) > SAME) | (np.abs(sag / sag[i] - 1) > SAME)
        if some.any():
            picked.append(int(np.argmax(np.where(some, np.round(peak / peak.max(), 6), -1.0))))
    return picked
