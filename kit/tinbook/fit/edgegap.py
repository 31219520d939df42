"""Gap and lap along one edge, its limits, its verdict, and how far it would have to move."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from tinbook.finding import Finding, caution, fine, stop
from tinbook.fit.surface import Surface
from tinbook.plane.loops import Array, Edge
from tinbook.space import Frame
from tinbook.values import dataclass

STEP: Final = 2.0
"""mm: stations along an edge, and places across the lap."""
DEEP: Final = 40.0
"""mm: farthest from the edge at which a lap is looked for."""
TOGETHER: Final = 9
"""Stations whose median stands for the middle one."""
LEAST_SEEN: Final = 0.1
"""Share of a leg that must have something opposite: less are strays."""
TOUCH: Final = 0.3
"""mm: metal that seems to run in by no more lies on (own proposal: what a scan places)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What an edge must keep, mm.

    Parameters
    ----------
    gap : float or None
        Largest gap.
    lap : float or None
        Least lap that lies on the lip.
    clear : float or None
        Least clearance.
    """

    gap: float | None = None
    lap: float | None = None
    clear: float | None = None


Lying: TypeAlias = Callable[..., Array]
"""Gives the signed gap at points with normals, each shape (n, 3), as shape (n,); NaN where nothing lies opposite.

Further it takes what is told how far the work is.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeGap:
    """One edge of a part against the body, mm.

    Parameters
    ----------
    name, use : str
        The edge and what it is for.
    folded : bool
        Whether a leg hangs on it; its gap is then the leg's.
    limits : Limits
        Of its use.
    least, mean, largest : float or None
        Gap; None where nothing lies opposite.
    lap_least, lap_mean : float or None
        Lap on the lip; None for a folded edge.
    covered : float
        Share of the edge that has something opposite.
    """

    name: str
    use: str
    folded: bool
    limits: Limits
    least: float | None = None
    mean: float | None = None
    largest: float | None = None
    lap_least: float | None = None
    lap_mean: float | None = None
    covered: float = 0.0

    @property
    def change(self) -> float:
        """How far the edge of the outline must move to keep its limits, mm, positive outward; 0 where it need not."""
        if not self.folded:
            lap = self.limits.lap
            return 0.0 if lap is None or self.lap_least is None else round(max(lap - self.lap_least, 0.0), 1)
        if self.least is None or self.mean is None:
            return 0.0
        clear = self.limits.clear or 0.0
        if self.least < clear:
            return round(self.least - clear, 1)
        if self.limits.gap is not None and self.mean > self.limits.gap:
            return round(self.mean - max(clear, self.limits.gap / 2), 1)
        return 0.0

    @property
    def row(self) -> tuple[str, ...]:
        """Cells of its table."""
        numbers = (self.least, self.mean, self.largest, self.lap_least, self.lap_mean)
        shown = ["" if v is None else f"{v + 0.0:.1f}" for v in numbers]
        return self.name, self.use, *shown, f"{self.change:+.1f}" if self.change else "none"

    def verdict(self) -> Iterator[Finding]:
        """Yield what is said of it."""
        where, m = f"edge '{self.name}'", self.limits
        if self.least is None or self.largest is None:
            if self.lap_least is None:
                remedy = "scan that side too, or look at it on the body"
                yield caution(
                    "fit.unknown", where, "nothing of the scan lies opposite, so its gap is not known", remedy
                )
        else:
            yield from self._gap(where, m, self.least, self.largest)
        if not self.folded and m.lap is not None and self.lap_least is not None:
            if self.lap_least < m.lap - 0.05:
                what, remedy = (
                    f"too little of it lies on the lip for a {self.use}",
                    f"move the edge out by {self.change:.1f} mm",
                )
                yield stop("fit.lap", where, what, remedy, self.lap_least, m.lap)
            else:
                yield fine("fit.lap", where, "enough of it lies on the lip", self.lap_least, m.lap)

    def _gap(self, where: str, m: Limits, least: float, largest: float) -> Iterator[Finding]:
        cure = (
            f"move the edge by {self.change:+.1f} mm"
            if self.change and self.folded
            else "dress the lip, or joggle the edge"
        )
        if m.clear is not None and least < m.clear:
            yield stop("fit.gap", where, "it comes too near the body", cure, least, m.clear)
        elif m.clear is None and least < -TOUCH:
            yield stop("fit.gap", where, "it runs into the body", cure, least, -TOUCH)
        elif m.gap is not None and largest > m.gap:
            yield stop("fit.gap", where, f"it stands off too far for a {self.use}", cure, largest, m.gap)
        else:
            value, limit = (largest, m.gap) if m.gap is not None else (least, m.clear)
            yield fine("fit.gap", where, f"good for a {self.use} edge".replace("edge edge", "edge"), value, limit)
        if self.covered < 0.5:
            what = "less than half of it has something opposite in the scan"
            yield caution("fit.unknown", where, what, "look at the rest on the body", 100 * self.covered, 50.0, "%")


def lapped_edge(
    e: Edge, use: str, limits: Limits, lying: Lying, frame: Frame, height: float, down: bool, over: Any
) -> EdgeGap:
    """Return an edge that lies on the body.

    Parameters
    ----------
    e : Edge
        Of the base panel's outline, run anticlockwise.
    use, limits
        What it is for.
    lying : Lying
        Gives gaps.
    frame : Frame
        Where the panel lies in the body.
    height : float
        Of the face that lies on the body, mm.
    down : bool
        Whether that is the down face.
    over : callable or None
        How far points lie over the rim's metal; None where the rim was not drawn.
    """
    count = max(2, round(e.length / STEP))
    share = (np.arange(count) + 0.5) / count
    place, way = np.array([e.at(s) for s in share]), np.array([e.direction(s) for s in share])
    inward = np.column_stack((-way[:, 1], way[:, 0]))
    depth = np.arange(STEP / 2, DEEP, STEP)
    xy = (place[:, None] + depth[None, :, None] * inward[:, None]).reshape(-1, 2)
    points = frame.points(np.column_stack((xy, np.full(len(xy), height))))
    gap = lying(points, np.tile(frame.z, (len(xy), 1))).reshape(count, -1)
    if not down:
        gap = -gap
    if over is not None:
        lap = over(frame.points(np.column_stack((place, np.full(count, height)))))
    else:
        there = ~np.isnan(gap)
        lap = np.where(there.all(axis=1), DEEP, there.argmin(axis=1) * STEP)
        lap = _medians(lap)
    on_lip = depth[None, :] <= np.maximum(lap, 0.0)[:, None]
    gap = np.where(on_lip, gap, np.nan)
    known = ~np.isnan(gap).all(axis=1)
    numbers = _numbers(_medians(np.array([np.nanmedian(row) for row in gap[known]])))
    has_lap = over is not None or known.any()
    return EdgeGap(
        name=e.name, use=use, folded=False, limits=limits, covered=float(known.mean()), **numbers,
        lap_least=float(lap.min()) if has_lap else None, lap_mean=float(lap.mean()) if has_lap else None,
    )  # fmt: skip


def folded_edge(
    e: Edge, use: str, limits: Limits, surface: Surface, own: npt.NDArray[np.bool_], gaps: Array, frame: Frame
) -> EdgeGap:
    """Return an edge on which a leg hangs: the gap of the leg's outer face, by cells along the edge.

    Parameters
    ----------
    e, use, limits, frame
        See `lapped_edge`.
    surface, gaps
        Of the part.
    own : array of bool, shape (m,)
        Which triangles are the leg's.
    """
    dx, dy = e.direction(0.5)
    outer = own & (surface.normals @ np.array(frame.vector(dy, -dx)) > 0.5)
    count = int(outer.sum())
    seen = outer & ~np.isnan(gaps)
    if seen.sum() < LEAST_SEEN * count:
        return EdgeGap(name=e.name, use=use, folded=True, limits=limits)
    along = (surface.middles[seen] - frame(*e.start)) @ np.array(frame.vector(dx, dy))
    cell = np.floor(along / (STEP * TOGETHER)).astype(int)
    numbers = _numbers(np.array([np.median(gaps[seen][cell == c]) for c in np.unique(cell)]))
    return EdgeGap(name=e.name, use=use, folded=True, limits=limits, covered=float(seen.sum() / count), **numbers)


def _medians(values: Array) -> Array:
    from scipy.ndimage import median_filter

    found: Array = median_filter(values, size=TOGETHER, mode="nearest")
    return found


def _numbers(values: Array) -> dict[str, float]:
    """Return least, mean and largest of stations."""
    if not len(values):
        return {}
    return {"least": float(values.min()), "mean": float(values.mean()), "largest": float(values.max())}
