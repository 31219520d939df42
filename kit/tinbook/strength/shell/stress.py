"""Stress of a solved shell at its nodes, both skins.

The element is most exact in its middle; from there the stress is carried to
the corners with the slope that the neighbours' middles give, and averaged at
the nodes. So the peak at a clamped edge is not cut off. Across a sharp fold
nothing is carried or averaged.

Over the thickness stress is linear where the sheet is flat. In the round of a
fold or of a bead's shoulder the inner skin is shorter than the outer one, so
the same turn strains it more: Winkler's curved bar (in the chapters on curved
bars of Timoshenko's Strength of Materials and of Roark; from memory, tested
against the exact bar), here in both directions at once.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from tinbook.strength.shell import element as el
from tinbook.strength.shell.element import Array, Index

TIGHTEST: Final = 0.7
"""Largest curvature used, times half the thickness: an inside radius of 0.21 thicknesses.

The inner skin is within 2 % of the exact curved bar up to here (within 0.5 % down to a third of the thickness); the
outer one reads up to 8 % low (3 % at half the thickness), where it is far from the worst.
"""

FLAT: Final = 2e-3
"""Thickness times curvature below which a sheet counts as flat: less than a thousandth of stress."""

_ACROSS: Final = np.polynomial.legendre.leggauss(10)
"""Points and weights over the thickness, -1 to 1: integrals within 1e-7 at the tightest curvature."""

SAME_SHEET = math.cos(math.radians(35))
"""Neighbours whose normals differ by less are one smooth sheet."""


def neighbours(quads: Index, nodes: int) -> tuple[Index, Index]:
    """Return pairs of elements that share a node, both ways, each pair once."""
    m = len(quads)
    order = np.argsort(quads.ravel(), kind="stable")
    node, owner = quads.ravel()[order], order // 4
    count = np.bincount(node, minlength=nodes)
    first = np.cumsum(count) - count
    # Every element at a node beside every other one at it.
    repeat = count[node]
    a = np.repeat(owner, repeat)
    within = np.arange(len(a)) - np.repeat(np.cumsum(repeat) - repeat, repeat)
    b = owner[np.repeat(first[node], repeat) + within]
    key = np.unique(a[a != b] * m + b[a != b])
    return key // m, key % m


def corner_states(elements: el.Elements, quads: Index, nodes: int, displacement: Array) -> tuple[Array, Array]:
    """Return membrane force (m, 4, 3) in N/mm and moment (m, 4, 3) in N at the corners, local axes.

    Parameters
    ----------
    elements : Elements
    quads : array (m, 4)
    nodes : int
    displacement : array (m, 24)
        Local unknowns of each element's corners.
    """
    force, moment = el.resultants(elements, displacement)
    part = (elements.weights / elements.area[:, None])[:, :, None]
    middle = np.concatenate(((force * part).sum(axis=1), (moment * part).sum(axis=1)), axis=1)
    a, b = neighbours(quads, nodes)
    cos = np.einsum("ei,ei->e", elements.axes[a, 2], elements.axes[b, 2])
    a, b = a[cos > SAME_SHEET], b[cos > SAME_SHEET]
    centre = elements.corners.mean(axis=1)
    step = np.einsum("eij,ej->ei", elements.axes[a, :2], centre[b] - centre[a])
    # The neighbour's tensors in this element's axes: a turn in the plane.
    turn = np.einsum("eij,ekj->eik", elements.axes[a, :2], elements.axes[b, :2])
    turn /= np.linalg.norm(turn, axis=2, keepdims=True)
    there = np.concatenate((_turned(middle[b, :3], turn), _turned(middle[b, 3:], turn)), axis=1)
    weight = 1.0 / np.maximum((step**2).sum(axis=1), 1e-12)
    m = len(quads)
    gram, right = np.zeros((m, 2, 2)), np.zeros((m, 2, 6))
    np.add.at(gram, a, weight[:, None, None] * step[:, :, None] * step[:, None, :])
    np.add.at(right, a, weight[:, None, None] * step[:, :, None] * (there - middle[a])[:, None, :])
    slope = np.linalg.pinv(gram, rcond=1e-3) @ right
    at = middle[:, None] + elements.local[:, :, :2] @ slope
    return at[:, :, :3], at[:, :, 3:]


def _turned(s: Array, q: Array) -> Array:
    """Return tensors (k, 3; xx, yy, xy) seen in axes turned by q (k, 2, 2)."""
    tensor = np.stack((s[:, 0], s[:, 2], s[:, 2], s[:, 1]), axis=1).reshape(-1, 2, 2)
    out = q @ tensor @ q.transpose(0, 2, 1)
    return np.stack((out[:, 0, 0], out[:, 1, 1], out[:, 0, 1]), axis=1)


def skins(elements: el.Elements, quads: Index, nodes: int, displacement: Array) -> tuple[Array, Array]:
    """Return the stress (m, 4, 3) at the corners on the top and the bottom skin, MPa, local axes."""
    force, moment = corner_states(elements, quads, nodes, displacement)
    t = elements.thickness[:, None, None]
    top, bottom = force / t + moment * 6 / t**2, force / t - moment * 6 / t**2
    bent = np.flatnonzero(np.abs(elements.bow).max(axis=(1, 2)) * elements.thickness > FLAT)
    if len(bent):
        e, k = force[bent] / t[bent], moment[bent] * 6 / t[bent] ** 2
        poisson = elements.plane[bent, 0, 1] / elements.plane[bent, 0, 0]
        top[bent], bottom[bent] = curved_skins(e, k, elements.bow[bent] * t[bent] / 2, poisson)
    return top, bottom


def curved_skins(middle: Array, bending: Array, bow: Array, poisson: Array) -> tuple[Array, Array]:
    """Return the stress (k, c, 3) on the top and the bottom skin of curved sheet, MPa.

    Normals stay straight, so the strain at height z is (e + k z) / (1 + z / R) in either principal direction. Across the
    tighter bend e and k are those of the same force and moment (what balance asks for), along it
    those of the flat sheet (what the part's shape asks for).

    Parameters
    ----------
    middle, bending : array (k, c, 3; xx, yy, xy)
        Stress N / t and 6 M / t² at c points of k elements, as in a flat sheet.
    bow : array (k, 2, 2)
        Half the thickness times how the normal turns along x, y: positive where the top is the outside of the bend.
    poisson : array (k,)
    """
    size, ways = np.linalg.eigh(bow)
    turn = ways.transpose(0, 2, 1)
    # The tighter bend first.
    swap = np.abs(size[:, 0]) < np.abs(size[:, 1])
    size[swap], turn[swap] = size[swap, ::-1], turn[swap, ::-1]
    size = np.clip(size, -TIGHTEST, TIGHTEST)
    turn = np.repeat(turn, middle.shape[1], axis=0)
    nu = poisson[:, None]

    def strains(s: Array) -> Array:
        s = _turned(s.reshape(-1, 3), turn).reshape(s.shape)
        return np.stack((s[..., 0] - nu * s[..., 1], s[..., 1] - nu * s[..., 0], s[..., 2] * (1 - nu**2)), axis=-1)

    e, k = strains(middle), strains(bending)
    at, weight = _ACROSS
    fibre = 1 + size[:, :, None] * at
    ratio = fibre[:, 1] / fibre[:, 0]
    # Force and moment of a stretch and a turn: of the fibres across the bend; of a shear, halved over both faces.
    for j, share in ((0, ratio), (2, (ratio + 1 / ratio + 2) / 4)):
        a, b, c = ((share * at**p) @ weight for p in range(3))
        det = (a * c - b**2)[:, None]
        a, b, c = a[:, None], b[:, None], c[:, None]
        n, m = 2 * e[..., j], 2 / 3 * k[..., j]
        e[..., j], k[..., j] = (c * n - b * m) / det, (a * m - b * n) / det
    skins = []
    for side in (1.0, -1.0):
        shorter = 1 / (1 + side * size)
        one, two, shear = np.moveaxis((e + side * k) * np.column_stack((shorter, shorter.mean(axis=1)))[:, None], 2, 0)
        s = np.stack((one + nu * two, two + nu * one, shear), axis=-1) / (1 - nu**2)[..., None]
        skins.append(_turned(s.reshape(-1, 3), turn.transpose(0, 2, 1)).reshape(s.shape))
    return skins[0], skins[1]


def equivalent(elements: el.Elements, quads: Index, nodes: int, displacement: Array) -> tuple[Array, Array]:
    """Return the von Mises stress (nodes,) of the top and the bottom skin, MPa; at a fold the worse of its sides."""
    top, bottom = skins(elements, quads, nodes, displacement)
    return _nodal(elements, quads, nodes, top), _nodal(elements, quads, nodes, bottom)


def _nodal(elements: el.Elements, quads: Index, nodes: int, stress: Array) -> Array:
    """Average tensors in space over each smooth sheet at a node, then take the worst sheet."""
    m = len(quads)
    s = np.stack((stress[..., 0], stress[..., 2], stress[..., 2], stress[..., 1]), axis=-1).reshape(m, 4, 2, 2)
    plane = elements.axes[:, None, :2]
    space = plane.transpose(0, 1, 3, 2) @ s @ plane
    # The nearest element counts most: a coarse flat one must not outweigh a fine bead.
    near = 1.0 / elements.area
    weight = near[:, None, None, None]
    node = quads.ravel()
    normal = np.repeat(elements.axes[:, 2], 4, axis=0)
    # Group by the first element at each node; those that differ too much in direction form a second group.
    first = np.full(nodes, -1)
    first[node[::-1]] = np.arange(4 * m)[::-1]
    other = np.einsum("ij,ij->i", normal, normal[first[node]]) < SAME_SHEET
    worst = np.zeros(nodes)
    for mine in (~other, other):
        if not mine.any():
            continue
        total = np.zeros((nodes, 3, 3))
        np.add.at(total, node[mine], (space * weight).reshape(-1, 3, 3)[mine])
        share = np.bincount(node[mine], np.repeat(near, 4)[mine], nodes)
        t = total[share > 0] / share[share > 0, None, None]
        dev = t - np.trace(t, axis1=1, axis2=2)[:, None, None] / 3 * np.eye(3)
        worst[share > 0] = np.maximum(worst[share > 0], np.sqrt(1.5 * (dev**2).sum(axis=(1, 2))))
    return worst
