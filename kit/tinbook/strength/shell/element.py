"""The four-node shell element, all elements at once: stiffness, mass, stress, all as arrays over the elements.

A flat facet in the mean plane of its corners. Bending by Mindlin's plate with
the transverse shear tied at mid-sides (MITC4, Dvorkin and Bathe 1984);
membrane with four incompatible modes (Taylor, Beresford and Wilson 1976), so
that it bends in its plane without locking; the rotation about the normal held
softly to the membrane's own (Hughes and Brezzi 1989). Corners off the mean
plane hang on it by rigid links, so rigid motions stay free of strain.

Six unknowns a node: displacements u, v, w in mm and the rotation vector in radians.
"""

from __future__ import annotations

import math
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from tinbook.values import dataclass

Array: TypeAlias = npt.NDArray[np.float64]
Index: TypeAlias = npt.NDArray[np.int64]

XI: Final = np.array([-1.0, 1.0, 1.0, -1.0])
ETA: Final = np.array([-1.0, -1.0, 1.0, 1.0])
GAUSS: Final = tuple((float(x) / math.sqrt(3), float(e) / math.sqrt(3)) for x, e in zip(XI, ETA, strict=True))

SHEAR: Final = 5.0 / 6.0
"""Shear correction factor for a parabolic distribution over the thickness (Reissner)."""

DRILL: Final = (1e-3, 0.1, 0.1)
"""Tie of the normal rotation as part of the shear modulus: floor, multiple of t²/area, ceiling.

With t²/area it stays as soft as bending however thin the sheet (so it never
locks), and its error falls with the mesh like every other.
"""

_MEMBRANE: Final = np.array([6 * i + k for i in range(4) for k in (0, 1)])
_BENDING: Final = np.array([6 * i + k for i in range(4) for k in (2, 3, 4)])
_DRILLING: Final = np.array([*_MEMBRANE, *(6 * i + 5 for i in range(4))])


def shape(xi: float | Array, eta: float | Array) -> tuple[Array, Array]:
    """Return the bilinear functions (..., 4) and their derivatives by xi and eta (2, ..., 4) at places (..., 1)."""
    n = (1 + XI * xi) * (1 + ETA * eta) / 4
    return n, np.stack((XI * (1 + ETA * eta), ETA * (1 + XI * xi))) / 4


def frames(corners: Array) -> tuple[Array, Array]:
    """Return centre (m, 3) and axes (m, 3, 3; rows x, y, normal) of quads with corners (m, 4, 3).

    The normal is square to both diagonals, x and y halve the angles between
    them: the same rule in the unloaded and the loaded state, whatever corner comes first up to quarter turns.
    """
    d1, d2 = corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]
    n = np.cross(d1, d2)
    n /= np.linalg.norm(n, axis=1, keepdims=True)
    x = d1 / np.linalg.norm(d1, axis=1, keepdims=True) - d2 / np.linalg.norm(d2, axis=1, keepdims=True)
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    return corners.mean(axis=1), np.stack((x, np.cross(n, x), n), axis=1)


def corner_sines(corners: Array) -> Array:
    """Return the smallest sine of each quad's corners, seen along its normal; at most 0 where it is not convex."""
    _, axes = frames(corners)
    ahead = np.roll(corners, -1, axis=1) - corners
    back = np.roll(ahead, 1, axis=1)
    cross = np.einsum("eci,ei->ec", np.cross(back, ahead), axes[:, 2])
    size = np.linalg.norm(ahead, axis=2) * np.linalg.norm(back, axis=2)
    return np.asarray((cross / np.maximum(size, 1e-30)).min(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Elements:
    """Constant data of m elements.

    Parameters
    ----------
    corners : array (m, 4, 3)
        Corners in space, mm.
    axes : array (m, 3, 3)
        Rows are the local x, y and normal.
    local : array (m, 4, 3)
        Corners in the local frame about the centre; the third is the distance off the mean plane.
    thickness : array (m,)
        mm.
    area : array (m,)
        mm².
    weights : array (m, 4)
        Area belonging to each 2 x 2 point, mm².
    membrane : array (m, 4, 3, 8)
        Membrane strain at the points from u, v of the corners, incompatible modes eliminated.
    bending : array (m, 4, 3, 12)
        Curvature at the points from w, rx, ry of the corners.
    plane : array (m, 3, 3)
        Plane-stress matrix, MPa.
    stiffness : array (m, 24, 24)
        In the local frame, acting on the corners' own unknowns.
    bow : array (m, 2, 2)
        Curvature of the surface that the facet stands for, 1/mm: how the normal turns along local x, y.
    """

    corners: Array
    axes: Array
    local: Array
    thickness: Array
    area: Array
    weights: Array
    membrane: Array
    bending: Array
    plane: Array
    stiffness: Array
    bow: Array

    def __len__(self) -> int:
        return len(self.thickness)


def plane_stress(youngs: float, poisson: float) -> Array:
    """Return the matrix from in-plane strain (engineering shear) to stress, MPa."""
    return (
        youngs
        / (1 - poisson**2)
        * np.array([[1.0, poisson, 0.0], [poisson, 1.0, 0.0], [0.0, 0.0, (1.0 - poisson) / 2]])
    )


def _gradients(xy: Array, xi: float, eta: float) -> tuple[Array, Array, Array]:
    """Return Jacobian (m, 2, 2), its determinant (m,) and the functions' gradients (m, 2, 4)."""
    _, dn = shape(xi, eta)
    jac = dn @ xy
    det = jac[:, 0, 0] * jac[:, 1, 1] - jac[:, 0, 1] * jac[:, 1, 0]
    return jac, det, _over(jac, det) @ dn


def _over(jac: Array, det: Array) -> Array:
    """Return the inverses (m, 2, 2): written out, which is much cheaper than a solver called for each."""
    out = np.empty_like(jac)
    out[:, 0, 0], out[:, 1, 1] = jac[:, 1, 1], jac[:, 0, 0]
    out[:, 0, 1], out[:, 1, 0] = -jac[:, 0, 1], -jac[:, 1, 0]
    return out / det[:, None, None]


def _rows(gradient: Array) -> Array:
    """Return strain rows (m, 3, 2 k) of k functions with gradients (m, 2, k), unknowns u, v in turn."""
    m, _, k = gradient.shape
    b = np.zeros((m, 3, 2 * k))
    b[:, 0, 0::2] = b[:, 2, 1::2] = gradient[:, 0]
    b[:, 1, 1::2] = b[:, 2, 0::2] = gradient[:, 1]
    return b


def build(corners: Array, thickness: Array, youngs: float, poisson: float, normals: Array | None = None) -> Elements:
    """Set up elements.

    Parameters
    ----------
    corners : array (m, 4, 3)
        Corners in order round each quad, mm.
    thickness : array (m,)
        mm.
    youngs, poisson : float
        MPa, -.
    normals : array (m, 4, 3), optional
        Of the true surface at the corners; flat facets without.

    Returns
    -------
    Elements
    """
    m = len(corners)
    centre, axes = frames(corners)
    local = (corners - centre[:, None]) @ axes.transpose(0, 2, 1)
    xy, off = local[:, :, :2], local[:, :, 2]
    plane = np.broadcast_to(plane_stress(youngs, poisson), (m, 3, 3))
    shear = youngs / (2 * (1 + poisson))

    jac0, _, grad0 = _gradients(xy, 0.0, 0.0)
    b_u, b_a, b_k, b_s = (
        np.empty((m, 4, 3, 8)),
        np.empty((m, 4, 3, 4)),
        np.empty((m, 4, 3, 12)),
        np.empty((m, 4, 2, 12)),
    )
    weights = np.empty((m, 4))
    tied = _tied_shear(xy)
    for g, (xi, eta) in enumerate(GAUSS):
        jac, det, grad = _gradients(xy, xi, eta)
        weights[:, g] = det
        b_u[:, g] = _rows(grad)
        # Bubbles 1 - xi², 1 - eta², their gradients by the centre's Jacobian (its determinant cancels): passes the patch test.
        bubble = np.array([[-2 * xi, 0.0], [0.0, -2 * eta]])
        b_a[:, g] = _rows(_over(jac0, det) @ bubble)
        b = np.zeros((m, 3, 12))
        b[:, 0, 2::3] = grad[:, 0]
        b[:, 1, 1::3] = -grad[:, 1]
        b[:, 2, 2::3], b[:, 2, 1::3] = grad[:, 1], -grad[:, 0]
        b_k[:, g] = b
        along = np.stack(
            (
                (1 - eta) / 2 * tied[:, 0] + (1 + eta) / 2 * tied[:, 1],
                (1 - xi) / 2 * tied[:, 2] + (1 + xi) / 2 * tied[:, 3],
            ),
            axis=1,
        )
        b_s[:, g] = _over(jac, det) @ along

    # Static condensation of the incompatible membrane modes.
    flat_a, flat_u = b_a.reshape(m, 12, 4), b_u.reshape(m, 12, 8)
    stressed = (plane[:, None] @ b_a * weights[:, :, None, None]).reshape(m, 12, 4).transpose(0, 2, 1)
    membrane = (flat_u - flat_a @ np.linalg.solve(stressed @ flat_a, stressed @ flat_u)).reshape(m, 4, 3, 8)

    t = np.broadcast_to(np.asarray(thickness, dtype=np.float64), (m,)).copy()
    stiffness = np.zeros((m, 24, 24))
    _add(stiffness, _MEMBRANE, _gather(membrane, plane, weights * t[:, None]))
    bend = _gather(b_k, plane, weights * (t**3 / 12)[:, None])
    cut = np.broadcast_to(SHEAR * shear * np.eye(2), (m, 2, 2))
    _add(stiffness, _BENDING, bend + _gather(b_s, cut, weights * t[:, None]))
    area = weights.sum(axis=1)
    spin = np.zeros((m, 4, 12))
    spin[:, :, 0:8:2], spin[:, :, 1:8:2] = -grad0[:, None, 1] / 2, grad0[:, None, 0] / 2
    spin[:, range(4), range(8, 12)] = -1.0
    low, times, high = DRILL
    tie = np.clip(times * t**2 / area, low, high) * shear * t * area / 4
    _add(stiffness, _DRILLING, spin.transpose(0, 2, 1) @ spin * tie[:, None, None])
    if np.abs(off).max(initial=0.0) > 1e-9 * math.sqrt(float(area.max(initial=0.0))):
        link = np.broadcast_to(np.eye(24), (m, 24, 24)).copy()
        for i in range(4):
            link[:, 6 * i, 6 * i + 4] = -off[:, i]
            link[:, 6 * i + 1, 6 * i + 3] = off[:, i]
        stiffness = link.transpose(0, 2, 1) @ stiffness @ link
    bow = np.zeros((m, 2, 2))
    if normals is not None:
        bow = grad0 @ (normals @ axes[:, :2].transpose(0, 2, 1))
        bow = (bow + bow.transpose(0, 2, 1)) / 2
    return Elements(
        corners=corners,
        axes=axes,
        local=local,
        thickness=t,
        area=area,
        weights=weights,
        membrane=membrane,
        bending=b_k,
        plane=plane,
        stiffness=stiffness,
        bow=bow,
    )


def _tied_shear(xy: Array) -> Array:
    """Return the covariant shear strains at the mid-sides (m, 4, 12): along xi at eta -1, +1; along eta at xi -1, +1."""
    rows = np.zeros((len(xy), 4, 12))
    for k, (i, j) in enumerate(((0, 1), (3, 2), (0, 3), (1, 2))):
        half = (xy[:, j] - xy[:, i]) / 2
        rows[:, k, 3 * i], rows[:, k, 3 * j] = -0.5, 0.5
        for n in (i, j):
            rows[:, k, 3 * n + 1] = -half[:, 1] / 2
            rows[:, k, 3 * n + 2] = half[:, 0] / 2
    return rows


def _gather(b: Array, d: Array, weights: Array) -> Array:
    """Return the sum over the points of b' d b times the weights."""
    m, g, r, c = b.shape
    right = (d[:, None] @ b * weights[:, :, None, None]).reshape(m, g * r, c)
    return np.asarray(b.reshape(m, g * r, c).transpose(0, 2, 1) @ right)


def _add(total: Array, at: Index, part: Array) -> None:
    total[:, at[:, None], at] += part


def turned(matrices: Array, axes: Array) -> Array:
    """Return local matrices (m, 24, 24) in space: each 3 x 3 block turned."""
    m = len(matrices)
    blocks = matrices.reshape(m, 24, 8, 3) @ axes[:, None]
    blocks = blocks.reshape(m, 8, 3, 24).transpose(0, 1, 3, 2) @ axes[:, None]
    return np.asarray(blocks.transpose(0, 1, 3, 2).reshape(m, 24, 24))


def to_local(values: Array, axes: Array) -> Array:
    """Return vectors of all corners (m, 8, 3) in the local frames, as (m, 24)."""
    return np.asarray((values @ axes.transpose(0, 2, 1)).reshape(len(values), 24))


def shared_mass(elements: Elements, density: float) -> Array:
    """Return the consistent mass of the corners (m, 4, 4), kg -> tonnes (N, mm, s units); the same for u, v and w.

    Parameters
    ----------
    elements : Elements
    density : float
        kg/m³.

    Returns
    -------
    array (m, 4, 4)
    """
    n = np.stack([shape(x, e)[0] for x, e in GAUSS])
    return np.asarray(
        np.einsum("eg,gi,gj->eij", elements.weights * (elements.thickness * density * 1e-12)[:, None], n, n)
    )


def straight(elements: Elements, d: Array) -> Array:
    """Return local unknowns (m, 24) carried to the mean plane over the rigid links."""
    q = d.reshape(-1, 4, 6).copy()
    off = elements.local[:, :, 2]
    q[:, :, 0] -= off * q[:, :, 4]
    q[:, :, 1] += off * q[:, :, 3]
    return q


def resultants(elements: Elements, d: Array) -> tuple[Array, Array]:
    """Return membrane forces (m, 4, 3) in N/mm and moments (m, 4, 3) in N at the points, from local unknowns (m, 24)."""
    q = straight(elements, d)
    eps = np.einsum("egij,ej->egi", elements.membrane, q[:, :, :2].reshape(-1, 8))
    kap = np.einsum("egij,ej->egi", elements.bending, q[:, :, 2:5].reshape(-1, 12))
    t = elements.thickness[:, None, None]
    return eps @ elements.plane * t, kap @ elements.plane * (t**3 / 12)


def geometric(elements: Elements, force: Array) -> tuple[Array, Array]:
    """Return the stiffness (m, 4, 4) that membrane forces (m, 4, 3) lend displacements out of the plane and in it, N/mm.

    In the plane only their mean gradient counts: a sliver's incompatible modes have next to no stiffness of their own against
    the rest, which then would seem to buckle (a fold of 1.5 degrees, two hundredths of a millimetre wide).
    """
    xy = elements.local[:, :, :2]
    total = np.zeros((len(elements), 4, 4))

    def lent(n: Array, grad: Array, area: Array) -> Array:
        tensor = np.stack((n[:, 0], n[:, 2], n[:, 2], n[:, 1]), axis=1).reshape(-1, 2, 2)
        return np.asarray(grad.transpose(0, 2, 1) @ tensor @ grad * area[:, None, None])

    for g, (xi, eta) in enumerate(GAUSS):
        _, det, grad = _gradients(xy, xi, eta)
        total += lent(force[:, g], grad, det)
    mean = (force * elements.weights[:, :, None]).sum(axis=1) / elements.area[:, None]
    return total, lent(mean, _gradients(xy, 0.0, 0.0)[2], elements.area)
