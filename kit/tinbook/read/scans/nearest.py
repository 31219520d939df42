"""Exact distances: from points to triangles, and the least one between two meshes.

A tree of boxes over the triangles in the order of a space-filling curve, walked by compiled code. A search is
exact: a box is passed over only when it lies farther away than what was found.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from numba import njit

from tinbook.errors import BadValue
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.progress import Progress, in_turn, portions, quiet
from tinbook.read.scans.mesh import face_normals, unit_rows
from tinbook.values import dataclass

LEAF: Final = 4
"""Triangles in a leaf, at most."""
DEEP: Final = 64
"""Boxes that may wait; a tree of two million triangles is 20 deep."""


@dataclass(frozen=True, slots=True, eq=False)
class Tree:
    """Boxes over triangles: box 1 holds all, box i holds boxes 2 i and 2 i + 1, the last half are the leaves.

    Parameters
    ----------
    corners : array, shape (m, 3, 3)
        Triangles in the order of the leaves, mm.
    number : array, shape (m,)
        The number of each in the mesh.
    first : array, shape (leaves + 1,)
        Where each leaf begins.
    boxes : array, shape (2 leaves, 6)
        Lowest and highest corner of each box.
    """

    corners: Array
    number: Index
    first: Index
    boxes: Array


def curve_order(points: Array) -> Index:
    """Return the order of points along a space-filling curve (Morton's), so that neighbours stand together."""
    low = points.min(axis=0)
    span = float((points.max(axis=0) - low).max()) or 1.0
    cell = ((points - low) / span * 2097151.0).astype(np.uint64)
    key = np.zeros(len(points), np.uint64)
    for k in range(3):
        v = cell[:, k]
        for shift, mask in (
            (32, 0x1F00000000FFFF), (16, 0x1F0000FF0000FF), (8, 0x100F00F00F00F00F), (4, 0x10C30C30C30C30C3),
            (2, 0x1249249249249249),
        ):  # fmt: skip
            v = (v | (v << np.uint64(shift))) & np.uint64(mask)
        key |= v << np.uint64(k)
    return np.argsort(key, kind="stable")


def tree_of(points: Array, triangles: Index, tell: Progress = quiet) -> Tree:
    """Return the tree over a mesh: points, shape (n, 3), and at least one triangle, shape (m, 3)."""
    tell(0.0, "corners of the triangles")
    if not len(triangles):
        raise BadValue("mesh", "no triangles", "a mesh; a cloud of points has no surface to measure to")
    corners = points[triangles]
    real = np.flatnonzero(_areas(corners) > 0)  # the others are edges of their neighbours
    if not len(real):
        raise BadValue("mesh", f"{len(triangles)} triangles without area", "a mesh with a surface")
    tell(0.3, "triangles in order")
    order = real[curve_order(corners[real].mean(axis=1))]
    tell(0.7, "boxes round them")
    corners = np.ascontiguousarray(corners[order])
    m = len(order)
    leaves = 1 << max(math.ceil(math.log2(m / LEAF)), 0)
    first = np.arange(leaves + 1) * m // leaves
    boxes = np.empty((2 * leaves, 6))
    boxes[leaves:, :3] = np.minimum.reduceat(corners.min(axis=1), first[:-1])
    boxes[leaves:, 3:] = np.maximum.reduceat(corners.max(axis=1), first[:-1])
    while leaves > 1:
        below = boxes[leaves : 2 * leaves]
        leaves //= 2
        boxes[leaves : 2 * leaves, :3] = np.minimum(below[::2, :3], below[1::2, :3])
        boxes[leaves : 2 * leaves, 3:] = np.maximum(below[::2, 3:], below[1::2, 3:])
    return Tree(corners, order, first, boxes)


def _areas(corners: Array) -> Array:
    found: Array = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """The nearest place on a mesh for each of n points.

    Parameters
    ----------
    distance : array, shape (n,)
        mm.
    triangle : array, shape (n,)
        Number of the triangle; -1, and an infinite distance, where none is within reach.
    place : array, shape (n, 3)
        The nearest place.
    share : array, shape (n, 3)
        Weights of the triangle's corners at that place; 0 away from a corner or an edge.
    """

    distance: Array
    triangle: Index
    place: Array
    share: Array

    def part(self, numbers: Index) -> Near:
        """Return it for some of the points."""
        return Near(self.distance[numbers], self.triangle[numbers], self.place[numbers], self.share[numbers])


def nearest(tree: Tree, points: Array, reach: float = math.inf, tell: Progress = quiet) -> Near:
    """Return the nearest place of a mesh for each point, shape (n, 3), within `reach` mm."""
    if not len(points):
        return Near(np.zeros(0), np.zeros(0, np.int64), np.zeros((0, 3)), np.zeros((0, 3)))
    order = curve_order(points)
    local = np.ascontiguousarray(points[order], float)
    triangle, weights = np.empty(len(points), np.int64), np.empty((len(points), 3))
    for some in in_turn(portions(len(points)), tell, "distances"):
        found, share = _search(tree.corners, tree.first, tree.boxes, local[some], min(reach, 1e150))
        triangle[order[some]], weights[order[some]] = found, share
    there = triangle >= 0
    place = np.einsum("nk,nkj->nj", weights, tree.corners[triangle])
    distance = np.where(there, np.linalg.norm(points - place, axis=1), np.inf)
    return Near(distance, np.where(there, tree.number[triangle], -1), place, weights)


def signed(mesh_points: Array, triangles: Index, near: Near, points: Array) -> Array:
    """Return distances with a sign, mm: positive on the side to which the triangles look, shape (n,).

    Notes
    -----
    The normal at an edge is the mean of both triangles, at a corner that of all round it, weighed by angle; with
    these the sign is right everywhere round a closed mesh (Baerentzen and Aanaes, Signed distance computation using
    the angle weighted pseudonormal, IEEE Trans. Vis. Comput. Graph. 11, 2005; from memory).
    """
    used = np.unique(near.triangle)
    round_it = np.isin(triangles, triangles[used]).any(axis=1)
    local = triangles[round_it]
    n = unit_rows(face_normals(mesh_points, local))
    at_corner = np.zeros((len(mesh_points), 3))
    for k in range(3):
        p, q, r = (mesh_points[local[:, (k + j) % 3]] for j in range(3))
        u, v = q - p, r - p
        cosine = np.einsum("ij,ij->i", u, v) / np.maximum(np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1), 1e-300)
        angle = np.arccos(np.clip(cosine, -1.0, 1.0))
        np.add.at(at_corner, local[:, k], n * angle[:, None])
    number = np.full(len(triangles), -1)
    number[round_it] = np.arange(len(local))
    t = number[near.triangle]
    zero = near.share <= 1e-12
    normal = n[t]
    corner = zero.sum(axis=1) == 2
    which = near.share.argmax(axis=1)
    normal[corner] = at_corner[local[t[corner], which[corner]]]
    edge = zero.sum(axis=1) == 1
    if edge.any():
        a, b = local[:, (0, 1, 2)].ravel(), local[:, (1, 2, 0)].ravel()
        key = np.minimum(a, b) * len(mesh_points) + np.maximum(a, b)
        sides, place = np.unique(key, return_inverse=True)
        sums = np.zeros((len(sides), 3))
        np.add.at(sums, place, np.repeat(n, 3, axis=0))
        # The edge opposite corner k runs from corner k + 1 to corner k + 2: number k + 1 of the three above.
        opposite = (zero[edge].argmax(axis=1) + 1) % 3
        normal[edge] = sums[place.reshape(-1, 3)[t[edge], opposite]]
    side = np.einsum("ij,ij->i", points - near.place, normal)
    return np.where(side < 0, -near.distance, near.distance)


def least(tree: Tree, points: Array, triangles: Index, enough: float = math.inf) -> tuple[float, Array, Array]:
    """Return the least distance between two meshes, mm, and where on each it is; 0 where they meet.

    Parameters
    ----------
    tree : Tree
        Of the larger mesh.
    points, triangles : arrays, shapes (n, 3) and (m, 3)
        The other mesh.
    enough : float
        Only distances below this are looked for, mm; `enough` and the first corners come back if there are none.
    """
    corners = points[triangles]
    corners = corners[_areas(corners) > 0]
    corners = np.ascontiguousarray(corners[curve_order(corners.mean(axis=1))])
    gap, on_tree, on_other = _least(tree.corners, tree.first, tree.boxes, corners, min(enough, 1e150))
    return float(gap), on_tree, on_other


@njit(cache=True)
def _box_square(boxes: Any, i: int, p: Any) -> float:
    """Return the squared distance of a point from a box."""
    s = 0.0
    for k in range(3):
        d = max(boxes[i, k] - p[k], p[k] - boxes[i, 3 + k], 0.0)
        s += d * d
    return s


@njit(cache=True)
def _on_triangle(t: Any, p: Any, w: Any) -> float:
    """Return the squared distance of a point from a triangle; `w` gets the nearest place's weights.

    By the regions in which corner, edge or face is nearest (Ericson, Real-Time Collision Detection, 2005; from memory).
    """
    d1 = d2 = d3 = d4 = d5 = d6 = 0.0
    for k in range(3):
        u, v = t[1, k] - t[0, k], t[2, k] - t[0, k]
        d1 += u * (p[k] - t[0, k])
        d2 += v * (p[k] - t[0, k])
        d3 += u * (p[k] - t[1, k])
        d4 += v * (p[k] - t[1, k])
        d5 += u * (p[k] - t[2, k])
        d6 += v * (p[k] - t[2, k])
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    w[0], w[1], w[2] = 1.0, 0.0, 0.0
    if d1 <= 0 and d2 <= 0:
        pass
    elif d3 >= 0 and d4 <= d3:
        w[0], w[1] = 0.0, 1.0
    elif vc <= 0 and d1 >= 0 and d3 <= 0 and d1 > d3:
        s = d1 / (d1 - d3)
        w[0], w[1] = 1 - s, s
    elif d6 >= 0 and d5 <= d6:
        w[0], w[2] = 0.0, 1.0
    elif vb <= 0 and d2 >= 0 and d6 <= 0 and d2 > d6:
        s = d2 / (d2 - d6)
        w[0], w[2] = 1 - s, s
    elif va <= 0 and d4 - d3 >= 0 and d5 - d6 >= 0 and d4 - d3 + d5 - d6 > 0:
        s = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        w[0], w[1], w[2] = 0.0, 1 - s, s
    elif va + vb + vc > 0:
        total = va + vb + vc
        w[0], w[1], w[2] = va / total, vb / total, vc / total
    square = 0.0
    for k in range(3):
        d = p[k] - (w[0] * t[0, k] + w[1] * t[1, k] + w[2] * t[2, k])
        square += d * d
    return square


@njit(cache=True)
def _search(corners: Any, first: Any, boxes: Any, points: Any, reach: float) -> Any:
    """Return the nearest triangle and the weights of its corners for each point."""
    n, leaves = points.shape[0], first.shape[0] - 1
    found, share = np.zeros(n, np.int64), np.zeros((n, 3))
    stack, far = np.zeros(DEEP, np.int64), np.zeros(DEEP)
    w = np.zeros(3)
    last = 0
    for i in range(n):
        p = points[i]
        # The triangle of the point before is a good first guess.
        best, at = _on_triangle(corners[last], p, w), last
        share[i] = w
        if best > reach * reach:
            best, at = reach * reach, -1
        stack[0], far[0], top = 1, _box_square(boxes, 1, p), 1
        while top:
            top -= 1
            if far[top] >= best:
                continue
            node = stack[top]
            if node >= leaves:
                for k in range(first[node - leaves], first[node - leaves + 1]):
                    square = _on_triangle(corners[k], p, w)
                    if square < best:
                        best, at = square, k
                        share[i] = w
                continue
            a, b = _box_square(boxes, 2 * node, p), _box_square(boxes, 2 * node + 1, p)
            nearer = 2 * node if a <= b else 2 * node + 1
            if max(a, b) < best:
                stack[top], far[top] = 4 * node + 1 - nearer, max(a, b)
                top += 1
            if min(a, b) < best:
                stack[top], far[top] = nearer, min(a, b)
                top += 1
        found[i] = at
        last = at if at >= 0 else last
    return found, share


@njit(cache=True)
def _segments(a: Any, b: Any, c: Any, d: Any, p: Any, q: Any) -> float:
    """Return the squared distance of two segments a-b and c-d; `p` and `q` get the nearest places (Ericson, as above)."""
    aa = ee = f = cc = bb = 0.0
    for k in range(3):
        u, v, r = b[k] - a[k], d[k] - c[k], a[k] - c[k]
        aa += u * u
        ee += v * v
        f += v * r
        cc += u * r
        bb += u * v
    denom = aa * ee - bb * bb
    s = min(max((bb * f - cc * ee) / denom, 0.0), 1.0) if denom > 1e-12 * aa * ee else 0.0
    t = (bb * s + f) / ee if ee > 0 else 0.0
    if t < 0.0:
        t, s = 0.0, (min(max(-cc / aa, 0.0), 1.0) if aa > 0 else 0.0)
    elif t > 1:
        t, s = 1.0, (min(max((bb - cc) / aa, 0.0), 1.0) if aa > 0 else 0.0)
    square = 0.0
    for k in range(3):
        p[k], q[k] = a[k] + s * (b[k] - a[k]), c[k] + t * (d[k] - c[k])
        square += (p[k] - q[k]) ** 2
    return square


@njit(cache=True)
def _pierces(a: Any, b: Any, t: Any, p: Any) -> bool:
    """Whether a segment goes through a triangle; `p` gets the place (Moeller and Trumbore, 1997; from memory)."""
    u, v, w = t[1] - t[0], t[2] - t[0], b - a
    h = np.cross(w, v)
    det = np.dot(u, h)
    if abs(det) < 1e-12 * (np.dot(u, u) + np.dot(v, v)) * math.sqrt(np.dot(w, w)):
        return False
    r = a - t[0]
    x = np.dot(r, h) / det
    g = np.cross(r, u)
    y = np.dot(w, g) / det
    s = np.dot(v, g) / det
    if x < 0 or y < 0 or x + y > 1 or s < 0 or s > 1:
        return False
    p[:] = a + s * w
    return True


@njit(cache=True)
def _between(s: Any, t: Any, p: Any, q: Any, best: float) -> float:
    """Return the squared distance of two triangles if it is below `best`, else `best`; `p` and `q` get the places."""
    w, u, v = np.zeros(3), np.zeros(3), np.zeros(3)
    for k in range(3):
        for a, b, turned in ((s, t, False), (t, s, True)):
            square = _on_triangle(b, a[k], w)
            if square < best:
                best = square
                on = w[0] * b[0] + w[1] * b[1] + w[2] * b[2]
                p[:], q[:] = (on, a[k]) if turned else (a[k], on)
            if _pierces(a[k], a[(k + 1) % 3], b, u):
                p[:], q[:] = u, u
                return 0.0
        for j in range(3):
            square = _segments(s[k], s[(k + 1) % 3], t[j], t[(j + 1) % 3], u, v)
            if square < best:
                best = square
                p[:], q[:] = u, v
    return best


@njit(cache=True)
def _least(corners: Any, first: Any, boxes: Any, others: Any, enough: float) -> Any:
    """Return the least distance between a tree and other triangles, and where it is."""
    leaves = first.shape[0] - 1
    best, p, q = enough * enough, corners[0, 0].copy(), others[0, 0].copy()
    stack = np.zeros(2 * DEEP, np.int64)
    for i in range(others.shape[0]):
        t = others[i]
        low, high = np.minimum(np.minimum(t[0], t[1]), t[2]), np.maximum(np.maximum(t[0], t[1]), t[2])
        stack[0], top = 1, 1
        while top and best > 0:
            top -= 1
            node = stack[top]
            gap = 0.0
            for k in range(3):
                d = max(boxes[node, k] - high[k], low[k] - boxes[node, 3 + k], 0.0)
                gap += d * d
            if gap >= best:
                continue
            if node >= leaves:
                for k in range(first[node - leaves], first[node - leaves + 1]):
                    best = min(best, _between(corners[k], t, p, q, best))
            else:
                stack[top], stack[top + 1] = 2 * node, 2 * node + 1
                top += 2
    return math.sqrt(best), p, q
