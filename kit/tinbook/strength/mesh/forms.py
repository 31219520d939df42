"""Quads on forms as they are: rows along a path and fans in its round ends, half of that, or rings about a centre."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from tinbook.part.forms.profiles import Lanced, Profile, Swept, Turned
from tinbook.plane.loops import Edge
from tinbook.strength.mesh.planar import Ring, divide
from tinbook.strength.shell.element import Array, Index
from tinbook.tolerances import SAME_POINT
from tinbook.values import dataclass

FINEST_TURN: Final = math.radians(36)
"""Largest turn of the profile over one element at the ordinary mesh."""

OUT: Final = 0.55
"""How far an arc's chords go out, as a part of their sagitta (mean over the arc).

With 2/3 they would enclose the arc's area, with 1/3 have its length; 0.55 leaves deflection and frequency of
the ordinary mesh within 0.3 % of one four times finer, for long and cross beads 3 to 8 mm deep.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A form in the panel's frame.

    Parameters
    ----------
    points : array (n, 3)
        x, y and the height of the mid-surface above the flat one, mm.
    quads : array (m, 4)
        Anticlockwise in x, y.
    rim : array
        Nodes on the footprint, anticlockwise, corners and halves in turn.
    normals : array (n, 3)
        Of the sheet as formed, not of its facets.
    """

    points: Array
    quads: Index
    rim: Index
    normals: Array

    @property
    def ring(self) -> Ring:
        """The footprint as a boundary of the flat around it."""
        p = self.points[self.rim, :2]
        return Ring(points=p[0::2], halves=p[1::2])


def stations(form: Swept, finer: float = 1.0) -> tuple[Array, Array, Array]:
    """Return half of the mid-surface's profile: distances from the centre line, heights and slopes, from the flat to the crown.

    Parameters
    ----------
    form : Swept
    finer : float, optional
        Divides the turn of one element.

    Notes
    -----
    Nodes inside an arc go out from its centre by about half the sagitta of a chord: the chords
    then bend and stretch like the arc, not like a smaller one. The ends of an arc stay where it meets the
    next one, so the nodes inside go out for them as well.
    """
    shape, thickness = form.section, form.section.thickness
    turn = shape.turn_rad
    n = 2 * max(1, math.ceil(turn / (2 * FINEST_TURN / finer) - 1e-9))
    a = np.linspace(0.0, turn, n + 1)
    rho, crown = shape.shoulder + thickness / 2, shape.crown + thickness / 2
    out = OUT * (1 - math.cos(turn / n / 2))
    inner = np.ones(n + 1)
    inner[1:-1] += out * n / (n - 1)
    up_d = shape.width / 2 - rho * inner * np.sin(a)
    up_z = rho * (1 - inner * np.cos(a))
    top = np.ones(n + 1)
    top[:-1] += out * n / (n - 0.5)
    over_d, over_z = (crown * top * np.sin(a))[::-1], (shape.depth - crown * (1 - top * np.cos(a)))[::-1]
    d, z = np.concatenate((up_d, over_d[1:])), np.concatenate((up_z, over_z[1:]))
    d[-1] = 0.0
    slope = np.concatenate((a, a[-2::-1]))
    return (d, z, slope) if form.up else (d, -z, -slope)


def patch(profile: Profile, size: float, finer: float = 1.0, wanted: Callable[[Array], Array] | None = None) -> Patch:
    """Mesh a form.

    Parameters
    ----------
    profile : Swept or Turned
        Its skins.
    size : float
        Length of two elements along it, mm.
    finer : float, optional
        Finer profile, and finer fans from 2 on.
    wanted : callable, optional
        Length of two elements wanted at places (k, 2), mm.

    Returns
    -------
    Patch
    """
    if isinstance(profile, Lanced):
        return _lanced(profile, size, finer, wanted)
    return _swept(profile, size, finer, wanted) if isinstance(profile, Swept) else _turned(profile, size, finer)


def _turned(form: Turned, size: float, finer: float) -> Patch:
    """Mesh a turned form in rings, from its foot to the rim of its opening."""
    rows, slope = [], []
    for e in form.middle:
        n = max(2, math.ceil(2 * e.length / size), math.ceil(abs(e.sweep) * finer / FINEST_TURN))
        rows += [e.at(k / n) for k in range(n)]
        slope += [e.direction(k / n) for k in range(n)]
    rows.append(form.middle[-1].end)
    slope.append(form.middle[-1].direction(1.0))
    (r, z), (dr, dz) = np.array(rows).T, np.array(slope).T
    m = 2 * max(8, math.ceil(4 * finer), math.ceil(math.tau * form.foot / size))
    a = np.arange(m) * (math.tau / m)
    c, s = np.cos(a), np.sin(a)
    x, y = form.centre[0] + r[:, None] * c, form.centre[1] + r[:, None] * s
    height = np.broadcast_to((z - form.thickness / 2)[:, None], x.shape)
    points = np.stack((x, y, height), axis=-1).reshape(-1, 3)
    upward = np.broadcast_to(-dr[:, None], x.shape)
    normals = np.stack((dz[:, None] * c, dz[:, None] * s, upward), axis=-1).reshape(-1, 3)
    index = np.arange(x.size).reshape(x.shape)
    after = np.roll(index, -1, axis=1)
    quads = np.stack((index[:-1], after[:-1], after[1:], index[1:]), axis=-1).reshape(-1, 4)
    return Patch(points=points, quads=quads, rim=index[0], normals=normals)


def _divided(e: Edge, size: float, wanted: Callable[[Array], Array] | None) -> list[float]:
    """Return the fractions of an edge at which elements begin and have their middles, its end left out."""
    n = max(1, math.ceil(e.length / size - 1e-9), math.ceil(abs(e.sweep) / math.radians(40)))
    f = np.linspace(0, 1, n + 1)
    if wanted is not None:
        samples = np.array([e.at(s) for s in np.linspace(0, 1, 4 * n + 1)])
        f = divide(np.minimum(wanted(samples), e.length / n), e.length)
    both: list[float] = np.stack((f[:-1], (f[:-1] + f[1:]) / 2), axis=1).ravel().tolist()
    return both


def _lanced(form: Lanced, size: float, finer: float, wanted: Callable[[Array], Array] | None) -> Patch:
    """Mesh the left half of a swept form with a free edge at the slit, whose other edge, the flat sheet's, lies under it."""
    whole, slit = _swept(form.whole, size, finer, wanted, halved=True), form.slit
    dx, dy = slit.direction()
    left = (whole.points[:, :2] - slit.start) @ (-dy, dx)
    quads = whole.quads[left[whole.quads].sum(axis=1) > SAME_POINT]
    # From the far end round the back to the near end; the edge of the flat sheet leads on to the far end.
    rim = whole.rim[left[whole.rim] > -SAME_POINT]
    used, place = np.unique(quads, return_inverse=True)
    edge = np.array([(*slit.at(s), 0.0) for s in _divided(slit, size, wanted)[1:]])
    return Patch(
        points=np.concatenate((whole.points[used], edge)),
        quads=place.reshape(quads.shape),
        rim=np.append(np.searchsorted(used, rim), len(used) + np.arange(len(edge))),
        normals=np.concatenate((whole.normals[used], np.tile((0.0, 0.0, 1.0), (len(edge), 1)))),
    )


def _swept(
    form: Swept, size: float, finer: float, wanted: Callable[[Array], Array] | None, halved: bool = False
) -> Patch:
    """Mesh a swept form; elements of one that is halved end at its centre line."""
    d, z, slope = stations(form, finer)
    half = len(d) - 1
    offset, height = np.concatenate((-d, d[-2::-1])), np.concatenate((z, z[-2::-1]))
    lean = np.concatenate((-slope, slope[-2::-1]))
    rows: list[tuple[tuple[float, float], tuple[float, float]]] = []
    for e in form.path:
        rows += [(e.at(s), e.direction(s)) for s in _divided(e, size, wanted)]
    last = form.path[-1]
    rows.append((last.end, last.direction(1.0)))
    at, along = np.array([r[0] for r in rows]), np.array([r[1] for r in rows])
    left = np.stack((-along[:, 1], along[:, 0]), axis=1)
    xy = at[:, None] + left[:, None] * offset[None, :, None]
    points = [np.concatenate((xy, np.broadcast_to(height[None, :, None], (*xy.shape[:2], 1))), axis=2).reshape(-1, 3)]
    upward = np.broadcast_to(np.cos(lean)[None, :, None], (*xy.shape[:2], 1))
    normals = [np.concatenate((left[:, None] * np.sin(lean)[None, :, None], upward), axis=2).reshape(-1, 3)]
    index = np.arange(xy.shape[0] * xy.shape[1]).reshape(xy.shape[:2])
    quads = [np.stack((index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]), axis=-1).reshape(-1, 4)]
    count = index.size
    sectors = max(4, math.ceil(2 * finer), math.ceil(math.pi * form.section.width / 2 / size))
    sectors = 2 * (sectors + (sectors % 2 if halved else 0))
    rims: list[Index] = []
    for end in (-1, 0):
        # From the right round the far end to the left, then from the left round the start to the right.
        side, forth = (-left[-1], along[-1]) if end else (left[0], -along[0])
        first = index[end, : half + 1] if end else index[end, : half - 1 : -1]
        last_row = index[end, : half - 1 : -1] if end else index[end, : half + 1]
        p, up, q, rim = _fan(at[end], side, forth, np.stack((d, z, slope)), sectors, first, last_row, count)
        points.append(p)
        normals.append(up)
        quads.append(q)
        rims.append(rim)
        count += len(p)
    rim = np.concatenate((index[:-1, 0], rims[0][:-1], index[:0:-1, -1], rims[1][:-1]))
    return Patch(points=np.concatenate(points), quads=np.concatenate(quads), rim=rim, normals=np.concatenate(normals))


def _fan(
    centre: Array, side: Array, forth: Array, profile: Array, sectors: int, first: Index, last: Index, count: int
) -> tuple[Array, Array, Index, Index]:
    """Mesh half a disc between two half rows of nodes; returns new points, normals, quads and the rim's nodes."""
    d = profile[0]
    half = len(d) - 1
    phi = np.linspace(0, math.pi, sectors + 1)
    ray = np.cos(phi)[:, None] * side + np.sin(phi)[:, None] * forth
    node = np.full((half, sectors + 1), -1, dtype=np.int64)
    node[:, 0], node[:, -1] = first[:half], last[:half]
    points: list[Array] = []
    normals: list[Array] = []
    for j in range(half):
        for k in range(1, sectors):
            # In the innermost ring odd rays carry the middle of a triangle at the pole, a little further out.
            middle = j == half - 1 and k % 2 == 1
            r = 1.15 * d[j] if middle else d[j]
            h, lean = (float(np.interp(-r, -d, v)) if middle else v[j] for v in profile[1:])
            node[j, k] = count + len(points)
            points.append(np.array([*(centre + r * ray[k]), h]))
            normals.append(np.array([*(math.sin(lean) * ray[k]), math.cos(lean)]))
    quads: list[tuple[int, ...]] = [
        (node[j, k], node[j, k + 1], node[j + 1, k + 1], node[j + 1, k])
        for j in range(half - 2)
        for k in range(sectors)
    ]
    pole = int(first[half])
    a, b = half - 2, half - 1
    for k in range(0, sectors, 2):
        quads += [
            (pole, node[b, k], node[b, k + 1], node[b, k + 2]),
            (node[b, k], node[a, k], node[a, k + 1], node[b, k + 1]),
            (node[b, k + 2], node[b, k + 1], node[a, k + 1], node[a, k + 2]),
        ]
    return np.array(points), np.array(normals), np.array(quads, dtype=np.int64), node[0]
