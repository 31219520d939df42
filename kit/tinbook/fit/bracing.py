"""Braces: what holds the body in shape while metal is out of it, set before anything is cut."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.finding import Finding, Findings, caution, fine
from tinbook.fit.places import cross
from tinbook.htmltable import html_table
from tinbook.plane.loops import Edge
from tinbook.read.scans.border import picked
from tinbook.read.scans.mesh import Scan
from tinbook.read.scans.nearest import nearest, tree_of
from tinbook.space import Vec, vec
from tinbook.tracing import Drawing, Numbers, Traced
from tinbook.values import dataclass

MOST: Final = 40
"""Points of one card."""
EVERY: Final = 6
"""Up to so many points every two are joined where no pairs are given."""
APART: Final = 50.0
"""mm: points nearer to each other than this need no brace (own proposal)."""
OFF: Final = 10.0
"""mm: a point farther from the scan than this was picked on something else (own proposal)."""
FLAT: Final = 0.02
"""Of their extent: points that stand off their plane by no more lie in it."""
AGAIN: Final = 1.0
"""mm: a brace that has changed by more after the cut has moved (common practice)."""
CAUTIONS: Final = (
    "Set the body down on its mounts, level, and weld every brace in before anything is cut; measure each once more then.",
    f"Measure again after the cut: a brace that differs by more than {AGAIN:g} mm has moved; do not weld the new part in yet.",
    "Tack braces to sound metal, clear of the cut and of what the new part lies on; take the battery off before welding.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Brace:
    """A temporary brace.

    Parameters
    ----------
    ends : (str, str)
        Its points.
    distance : float
        Between them, mm.
    cut : float
        Length to cut it to, mm.
    slope : float
        Against the level, degrees.
    """

    ends: tuple[str, str]
    distance: float
    cut: float
    slope: float

    @property
    def row(self) -> tuple[str, ...]:
        """Cells of its table."""
        return "-".join(self.ends), f"{self.distance:.1f}", f"{self.cut:.0f}", f"{self.slope:.0f}", ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BraceCard:
    """Where braces go, and what a tape reads along each before and after the cut.

    Parameters
    ----------
    name : str
        For headings and files.
    places : dict of str to (float, float, float)
        The points, mm, on the scan where one was given.
    braces : tuple of Brace
        In the order asked for.
    free : int
        Ways in which the points can move that no brace stops.
    findings : Findings
        What should be looked at.
    """

    name: str
    places: dict[str, Vec]
    braces: tuple[Brace, ...]
    free: int
    findings: Findings

    @property
    def numbers(self) -> tuple[Numbers, ...]:
        """Its tables."""
        heads = ("brace", "point to point, mm", "cut to, mm", "slope, degrees", "before the cut")
        points = tuple((n, *(f"{round(v, 1) + 0.0:.1f}" for v in p)) for n, p in self.places.items())
        return (
            Numbers(heads=heads, rows=tuple(b.row for b in self.braces)),
            Numbers(heads=("point", "x, mm", "y, mm", "z, mm"), rows=points, by_hand=False),
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be said with the dimensions."""
        return (*CAUTIONS, *map(str, self.findings))

    def drawing(self) -> Drawing:
        """Return the card for paper: the braces seen from above."""
        at = {n: (p[0], p[1]) for n, p in self.places.items()}
        lines = [Traced(kind="cut", edges=(Edge(at[a], at[b]),)) for a, b in (b.ends for b in self.braces)]
        lines += [cross(n, p, 2) for n, p in at.items()]
        title = f"Braces before anything is cut, {self.name}, seen from above, mm"
        return Drawing(name=self.name, lines=tuple(lines), numbers=self.numbers, notes=self.notes, heading=title)

    def __repr__(self) -> str:
        return f"<{self.name}: {len(self.braces)} braces between {len(self.places)} points>"

    def _repr_html_(self) -> str:
        first, second = self.numbers
        return html_table(first.heads, first.rows, notes=self.notes) + html_table(second.heads, second.rows)


def brace_card(
    points: Mapping[str, Sequence[Any]],
    pairs: Sequence[tuple[str, str]] | None = None,
    *,
    scan: Scan | None = None,
    lap: Any = "20 mm",
    name: str = "braces",
) -> BraceCard:
    """Return the temporary braces between points of the body, to be set before anything is cut.

    Parameters
    ----------
    points : mapping of str to (length, length, length)
        Points of sound metal round the cut, measured or picked on a scan; z upward.
    pairs : sequence of (str, str), optional
        Which points a brace joins; by default every two of up to six points.
    scan : Scan, optional
        Of the body: each point is moved to the nearest place on it.
    lap : length
        How far a brace reaches beyond each of its points, to be tacked.
    name : str
        For headings and files.

    Returns
    -------
    BraceCard
        With a caution where the braces alone let points move against each other: the metal that stays must hold these.

    Notes
    -----
    Whether bars hold their joints is told by the rank of their rigidity matrix (Maxwell, 1864; from memory); points in one
    plane are looked at within it.
    """
    of_kind(points, Mapping, "points", "{name: (x, y, z)}")
    of_kind(scan, (Scan, type(None)), "scan", "a Scan, as tb.read_scan gives one")
    of_kind(name, str, "name", "a text")
    if not name.strip():
        raise BadValue("name", name, "a text that is not empty")
    if not 2 <= len(points) <= MOST:
        raise BadValue("points", len(points), f"2 to {MOST} points")
    at = {str(n): picked(p, f"point '{n}'") for n, p in points.items()}
    found: list[Finding] = []
    if scan is not None:
        at, found = _on_scan(at, scan)
    reach = units.length(lap, "lap")
    if reach < 0:
        raise BadValue("lap", lap, "0 mm or more")
    braces = []
    for a, b in _pairs(pairs, at):
        way = at[b] - at[a]
        long = float(np.linalg.norm(way))
        if long < APART:
            raise BadValue(f"brace {a}-{b}", f"{long:.1f} mm", f"points {APART:g} mm or more apart")
        slope = math.degrees(math.asin(min(1.0, abs(float(way[2])) / long)))
        braces.append(Brace(ends=(a, b), distance=long, cut=long + 2 * reach, slope=slope))
    free = _free(
        np.array(list(at.values())), [(list(at).index(a), list(at).index(b)) for a, b in (x.ends for x in braces)]
    )
    if free:
        what = f"the braces alone let the points move against each other in {free} way(s)"
        remedy = "add a diagonal, or make sure that metal which stays holds them"
        found.append(caution("brace.free", name, what, remedy, free, 0, "", "geometry"))
    else:
        found.append(
            fine("brace.free", name, "the braces alone hold the points against each other", 0, 0, "", "geometry")
        )
    places = {n: vec(p) for n, p in at.items()}
    return BraceCard(name=name, places=places, braces=tuple(braces), free=free, findings=Findings(found))


def _pairs(pairs: Any, at: Mapping[str, Any]) -> list[tuple[str, str]]:
    if pairs is None:
        if len(at) > EVERY:
            raise BadValue("pairs", pairs, f"which points a brace joins: beyond {EVERY} points not every two")
        return list(combinations(at, 2))
    if not units.is_sequence(pairs) or not pairs:
        raise BadValue("pairs", pairs, "(point, point) for each brace")
    found: list[tuple[str, str]] = []
    for pair in pairs:
        if not units.is_sequence(pair) or len(pair) != 2 or pair[0] == pair[1]:
            raise BadValue("pair", pair, "two different points")
        for n in pair:
            if n not in at:
                raise UnknownName("point of a brace", n, at)
        if set(pair) in map(set, found):
            raise BadValue("pair", pair, "each brace once")
        found.append((pair[0], pair[1]))
    return found


def _on_scan(at: Mapping[str, Any], scan: Scan) -> tuple[dict[str, Any], list[Finding]]:
    """Return the points on the scan, and which lie far from it."""
    if not len(scan.triangles):
        raise BadValue("scan", scan.name, "a mesh with triangles")
    near = nearest(tree_of(scan.points, scan.triangles), np.array(list(at.values())))
    moved = {n: near.place[k] for k, n in enumerate(at)}
    what, remedy = "it was moved so far to lie on the scan", "pick it again, on the metal that was scanned"
    far = [
        caution("brace.point", f"point '{n}'", what, remedy, float(d), OFF, source="geometry")
        for n, d in zip(at, near.distance, strict=True)
        if d > OFF
    ]
    return moved, far


def _free(points: Any, bars: Sequence[tuple[int, int]]) -> int:
    """Return in how many ways points can move against each other that no bar stops."""
    centred = points - points.mean(axis=0)
    _, spread, axes = np.linalg.svd(centred, full_matrices=False)
    flat = len(points) <= 3 or spread[2] <= FLAT * spread[0]
    n, k = len(points), 2 if flat else 3
    if n == 2:
        return 0 if bars else 1
    place = centred @ axes[:2].T if flat else centred
    matrix = np.zeros((len(bars), k * n))
    for row, (i, j) in zip(matrix, bars, strict=True):
        way = (place[j] - place[i]) / np.linalg.norm(place[j] - place[i])
        row[k * i : k * i + k], row[k * j : k * j + k] = -way, way
    rank = int(np.linalg.matrix_rank(matrix, tol=1e-6)) if len(bars) else 0
    return k * n - k * (k + 1) // 2 - rank
