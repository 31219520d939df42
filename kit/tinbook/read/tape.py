"""The outline that best fits sides and diagonals measured by tape, with the residual of each reading."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from itertools import combinations, product
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadValue, of_kind
from tinbook.finding import Findings, caution
from tinbook.part.outline import check_edge_name
from tinbook.plane.corners import CornerKey
from tinbook.plane.loops import Array, Edge, Loop, Point
from tinbook.read import outliers
from tinbook.read.fitting import rounded
from tinbook.read.taped import SCATTER, Reading, TapedOutline, disagreement, suspect
from tinbook.tolerances import FITTED

MOST_EDGES: Final = 40
MOST_HOLLOW: Final = 12
"""Edges of an outline with hollow corners, whose triangles are tried both ways over: 2^10 at most."""

FREE: Final = 1e-6
"""A shape that can change by this part of its size without any reading changing is not determined."""


def outline_from_tape(
    sides: Mapping[str, Any],
    diagonals: Mapping[tuple[CornerKey, CornerKey], Any],
    *,
    rises: Mapping[str, Any] | None = None,
    hollow: Iterable[CornerKey] = (),
    tol: Any = "2 mm",
) -> TapedOutline:
    """Fit an outline to side lengths and diagonals.

    Parameters
    ----------
    sides : mapping of edge name to length or None
        In order round the opening, anticlockwise seen from above; from corner to corner. None where a
        side could not be measured.
    diagonals : mapping of (corner, corner) to length
        A corner is named by its two edges, "front/sill" or ("front", "sill").
    rises : mapping of edge name to length, optional
        How far a curved edge stands off its chord at the middle, positive outward; it is drawn as an arc.
    hollow : iterable of corners, optional
        Corners that point inward (more than 180 degrees inside); the tape cannot tell.
    tol : length
        Largest residual that still passes for reading and straightness of the tape, greater than 0. A reading is
        taken to scatter by a quarter of it (standard deviation).

    Returns
    -------
    TapedOutline
        The first edge from (0, 0) along +x, the opening on the side of +y.

    Raises
    ------
    BadValue
        Readings that leave the shape free (naming the corners that can move), contradict the triangle
        inequality, or contradict each other by more than `tol`.

    Notes
    -----
    Least squares over all readings alike, in a trust region, from corners placed triangle by triangle.
    """
    limit = units.positive(tol, "tol")
    of_kind(sides, Mapping, "sides", "{'front': '900 mm', ...} in order round the opening")
    of_kind(diagonals, Mapping, "diagonals", "{('front/sill', 'rear/tunnel'): '980 mm', ...}")
    names = tuple(check_edge_name(n, "side") for n in sides)
    n = len(names)
    if not 3 <= n <= MOST_EDGES:
        raise BadValue("sides", n, f"3 to {MOST_EDGES} sides")
    corners = [f"{names[i - 1]}/{names[i]}" for i in range(n)]
    pairs: dict[tuple[int, int], tuple[str, float]] = {}
    for i, (name, value) in enumerate(sides.items()):
        if value is not None:
            pairs[_ordered(i, (i + 1) % n)] = name, units.positive(value, f"side '{name}'")
    for key, value in diagonals.items():
        if not isinstance(key, tuple) or len(key) != 2:
            raise BadValue("diagonal", key, "a pair of corners, such as ('front/sill', 'rear/tunnel')")
        a, b = (_corner(k, names) for k in key)
        name = f"{corners[a]} to {corners[b]}"
        if a == b:
            raise BadValue(f"diagonal '{name}'", value, "two different corners")
        if _ordered(a, b) in pairs:
            raise BadValue(f"diagonal '{name}'", value, f"each length once; it is '{pairs[_ordered(a, b)][0]}' already")
        pairs[_ordered(a, b)] = name, units.positive(value, f"diagonal '{name}'")
    inward = {_corner(k, names) for k in hollow}
    if inward and n > MOST_HOLLOW:
        raise BadValue(
            "hollow", tuple(corners[i] for i in sorted(inward)), f"at most {MOST_HOLLOW} sides with hollow corners"
        )
    _enough(n, len(pairs), corners, pairs)
    _triangles(pairs)
    points = _best(n, pairs, inward, corners)
    return _answer(names, points, pairs, corners, dict(rises or {}), limit)


def _ordered(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)


def _corner(key: Any, names: tuple[str, ...]) -> int:
    """Return the index of a corner: corner i lies where edge i starts."""
    pair = tuple(key.split("/")) if isinstance(key, str) else key
    n = len(names)
    for i in range(n):
        if pair in ((names[i - 1], names[i]), (names[i], names[i - 1])):
            return i
    raise BadValue("corner", key, "one of: " + ", ".join(f"{names[i - 1]}/{names[i]}" for i in range(n)))


def _enough(n: int, count: int, corners: list[str], pairs: Mapping[tuple[int, int], tuple[str, float]]) -> None:
    """Refuse fewer readings than the shape has freedoms."""
    short = 2 * n - 3 - count
    if short > 0:
        missing = [f"{corners[a]} to {corners[b]}" for a, b in combinations(range(n), 2) if (a, b) not in pairs]
        raise BadValue(
            "readings",
            count,
            f"{2 * n - 3} or more for {n} corners: the shape can still lean; measure {short} more, for instance "
            + ", ".join(missing[:3]),
        )


def _triangles(pairs: Mapping[tuple[int, int], tuple[str, float]]) -> None:
    """Refuse three readings round a triangle of which one is longer than the two others together."""
    for (a, b), (name, length) in pairs.items():
        for c in {k for pair in pairs for k in pair} - {a, b}:
            if (p := pairs.get(_ordered(a, c))) and (q := pairs.get(_ordered(b, c))) and length >= p[1] + q[1]:
                valid = f"less than '{p[0]}' and '{q[0]}' together ({p[1] + q[1]:g} mm)"
                raise BadValue(f"reading '{name}'", length, valid)


def _best(n: int, pairs: Mapping[tuple[int, int], tuple[str, float]], inward: set[int], corners: list[str]) -> Array:
    """Return corner places, shape (n, 2), with the least sum of squared residuals."""
    starts = [_placed(n, pairs, flips) for flips in (product((1, -1), repeat=n - 2) if inward else [()])]
    found: list[tuple[float, Array]] = []
    for start in starts:
        if start is None:
            # No chain of triangles reaches every corner: begin with a round shape of about the right size.
            around = 1.2 * max(length for _, length in pairs.values()) / 2
            a = math.tau * np.arange(n) / n
            start = around * np.column_stack((np.cos(a), np.sin(a)))
        elif inward and _inward(start) != inward:
            continue
        points, cost = _settled(start, pairs)
        if _inward(points) == inward:
            found.append((cost, points))
    if not found:
        asked = ", ".join(corners[i] for i in sorted(inward)) or "no corner"
        raise BadValue(
            "readings", len(pairs), f"readings that agree with {asked} pointing inward; name others in hollow="
        )
    points = min(found, key=lambda f: f[0])[1]
    free = _freedom(points, pairs)
    if free is not None:
        moving = [corners[i] for i in np.argsort(-free)[:2] if free[i] > 0.3 * free.max()]
        raise BadValue(
            "readings", len(pairs), f"readings that hold every corner; {' and '.join(moving)} can still move"
        )
    return points


def _placed(n: int, pairs: Mapping[tuple[int, int], tuple[str, float]], flips: tuple[int, ...]) -> Array | None:
    """Place corners triangle by triangle; None when some hang on fewer than two readings to placed ones.

    Without `flips` every triangle turns the way of a shape without hollow corners.
    """
    (a, b), (_, length) = min(pairs.items(), key=lambda item: (item[0][1] - item[0][0], item[0]))
    at: dict[int, Array] = {a: np.zeros(2), b: np.array([length, 0.0])}
    while len(at) < n:
        best: tuple[float, int, int, int] | None = None
        for c in set(range(n)) - set(at):
            known = [k for k in at if _ordered(c, k) in pairs]
            for p, q in combinations(sorted(known), 2):
                # The fattest triangle places a corner best.
                base = float(np.hypot(*(at[q] - at[p])))
                rp, rq = pairs[_ordered(c, p)][1], pairs[_ordered(c, q)][1]
                height = 2 * _heron(base, rp, rq) / base if base else 0.0
                if best is None or height > best[0]:
                    best = height, c, p, q
        if best is None:
            return None
        height, c, p, q = best
        u = (at[q] - at[p]) / np.hypot(*(at[q] - at[p]))
        base = float(np.hypot(*(at[q] - at[p])))
        along = (base**2 + pairs[_ordered(c, p)][1] ** 2 - pairs[_ordered(c, q)][1] ** 2) / (2 * base)
        # In a shape without hollow corners p, q, c turn left exactly when they stand so in the order of corners.
        left = 1 if (p < q) == (not p < c < q) else -1
        if flips:
            left *= flips[len(at) - 2]
        at[c] = at[p] + along * u + left * height * np.array([-u[1], u[0]])
    return np.array([at[i] for i in range(n)])


def _heron(a: float, b: float, c: float) -> float:
    """Return the area of a triangle by its sides, 0 when they do not close."""
    s = (a + b + c) / 2
    return math.sqrt(max(s * (s - a) * (s - b) * (s - c), 0.0))


def _settled(points: Array, pairs: Mapping[tuple[int, int], tuple[str, float]]) -> tuple[Array, float]:
    """Return the corners with the least sum of squared residuals next to given ones, and that sum."""
    from scipy.optimize import least_squares

    def at(x: Array) -> tuple[Array, Array]:
        return _residuals(x.reshape(-1, 2), pairs)

    found = least_squares(lambda x: at(x)[0], points.ravel(), lambda x: at(x)[1], ftol=1e-15, xtol=1e-15, gtol=1e-15)
    return found.x.reshape(-1, 2), 2.0 * found.cost


def _residuals(points: Array, pairs: Mapping[tuple[int, int], tuple[str, float]]) -> tuple[Array, Array]:
    """Return fitted less measured for each reading, and the derivatives by the corners' coordinates."""
    d = np.zeros(len(pairs))
    jacobian = np.zeros((len(pairs), points.size))
    for row, ((a, b), (_, length)) in enumerate(pairs.items()):
        v = points[b] - points[a]
        far = float(np.hypot(*v)) or 1e-12
        d[row] = far - length
        jacobian[row, 2 * b : 2 * b + 2] = v / far
        jacobian[row, 2 * a : 2 * a + 2] = -v / far
    return d, jacobian


def _freedom(points: Array, pairs: Mapping[tuple[int, int], tuple[str, float]]) -> Array | None:
    """Return how far each corner moves in a change of shape that leaves every reading unchanged, else None."""
    jacobian = _residuals(points, pairs)[1]
    # Shifts and the turn of the whole are no change of shape: held by three more rows.
    n = len(points)
    held = np.zeros((3, 2 * n))
    centred = points - points.mean(axis=0)
    held[0, ::2], held[1, 1::2] = 1.0, 1.0
    held[2, ::2], held[2, 1::2] = -centred[:, 1], centred[:, 0]
    held /= np.linalg.norm(held, axis=1)[:, None]
    _, s, v = np.linalg.svd(np.vstack((jacobian, held)))
    if len(s) == 2 * n and s[-1] > FREE * s[0]:
        return None
    move = v[-1].reshape(-1, 2)
    return np.asarray(np.hypot(move[:, 0], move[:, 1]))


def _inward(points: Array) -> set[int]:
    """Return the corners that turn to the right."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turns = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return {int(i) for i in np.flatnonzero(turns < 0)}


def _answer(
    names: tuple[str, ...],
    points: Array,
    pairs: Mapping[tuple[int, int], tuple[str, float]],
    corners: list[str],
    rises: dict[str, Any],
    limit: float,
) -> TapedOutline:
    d, jacobian = _residuals(points, pairs)
    test = outliers.tested(-d, jacobian, SCATTER * limit)
    readings = tuple(
        Reading(
            name=name,
            measured=length,
            fitted=length + float(off),
            share=float(test.shares[i]),
            standardised=float(test.standardised[i]),
            hidden=float(test.hidden[i]),
        )
        for i, ((name, length), off) in enumerate(zip(pairs.values(), d, strict=True))
    )
    group = [readings[i] for i in test.group]
    worst = max(readings, key=lambda r: abs(r.residual))
    if abs(worst.residual) > limit:
        raise BadValue(
            "readings",
            f"up to {abs(worst.residual):.1f} mm apart",
            f"readings that agree within tol={limit:g} mm; {suspect(group)} "
            f"(residuals: {', '.join(f'{r.name} {r.residual:+.1f}' for r in readings)})",
        )
    unchecked = [r.name for r in readings if r.share < outliers.CHECKED]
    found = [disagreement(group, test.limit)] if group else []
    if unchecked:
        missing = [
            f"{corners[a]} to {corners[b]}" for a, b in combinations(range(len(names)), 2) if (a, b) not in pairs
        ]
        remedy = f"measure one more, such as {missing[0]}" if missing else "measure the sides again"
        what = "no other reading would show an error in these"
        where, n = ", ".join(unchecked), len(unchecked)
        found.append(caution("tape.unchecked", where, what, remedy, n, 0, "", "geometry"))
    loop = rounded(Loop(_edges(names, points, rises)))
    return TapedOutline(loop=loop, readings=readings, tol=limit, findings=Findings(found).rounded(FITTED))


def _edges(names: tuple[str, ...], points: Array, rises: dict[str, Any]) -> tuple[Edge, ...]:
    """Return edges with the first along +x from (0, 0), chords bowed by their rises."""
    v = points[1] - points[0]
    c, s = v / np.hypot(*v)
    turned = (points - points[0]) @ np.array([[c, -s], [s, c]])
    places: list[Point] = [(float(x) + 0.0, float(y) + 0.0) for x, y in turned]
    places[0], places[1] = (0.0, 0.0), (float(np.hypot(*v)), 0.0)
    bulges = dict.fromkeys(names, 0.0)
    for name, value in rises.items():
        if name not in bulges:
            raise BadValue("rise", name, f"one of: {', '.join(names)}")
        i = names.index(name)
        rise = units.length(value, f"rise of '{name}'")
        half = math.dist(places[i], places[(i + 1) % len(names)]) / 2
        if abs(rise) > half:
            raise BadValue(f"rise of '{name}'", value, f"at most {half:.1f} mm, half its chord")
        # Outward is to the right of an anticlockwise run: an arc that turns left bows outward.
        bulges[name] = rise / half
    return tuple(Edge(places[i], places[(i + 1) % len(names)], bulges[name], name) for i, name in enumerate(names))
