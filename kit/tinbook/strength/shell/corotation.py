"""Elements in large rotations: each keeps its linear stiffness in a frame that turns with it.

Corotational formulation (Rankin and Nour-Omid 1988; Felippa and Haugen 2005): strains stay small,
rotations may be large.
"""

from __future__ import annotations

import numpy as np

from tinbook.strength.shell import element as el
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Shell
from tinbook.values import dataclass


def skew(v: Array) -> Array:
    """Return the matrices of v x (..., 3, 3)."""
    out = np.zeros((*v.shape[:-1], 3, 3))
    out[..., 0, 1], out[..., 0, 2] = -v[..., 2], v[..., 1]
    out[..., 1, 0], out[..., 1, 2] = v[..., 2], -v[..., 0]
    out[..., 2, 0], out[..., 2, 1] = -v[..., 1], v[..., 0]
    return out


def turned_by(w: Array) -> Array:
    """Return the rotations (n, 3, 3) by rotation vectors (n, 3)."""
    a = np.linalg.norm(w, axis=1)[:, None, None]
    s = skew(w)
    one = np.where(a > 1e-8, np.sin(a) / np.maximum(a, 1e-30), 1.0)
    two = np.where(a > 1e-4, (1 - np.cos(a)) / np.maximum(a, 1e-30) ** 2, 0.5)
    return np.asarray(np.eye(3) + one * s + two * (s @ s))


def rotation_vector(r: Array) -> Array:
    """Return the rotation vectors (..., 3) of rotations below half a turn."""
    axial = (
        np.stack((r[..., 2, 1] - r[..., 1, 2], r[..., 0, 2] - r[..., 2, 0], r[..., 1, 0] - r[..., 0, 1]), axis=-1) / 2
    )
    sine = np.linalg.norm(axial, axis=-1)
    angle = np.arctan2(sine, (np.trace(r, axis1=-2, axis2=-1) - 1) / 2)
    return np.asarray(axial * np.where(sine > 1e-8, angle / np.maximum(sine, 1e-30), 1.0)[..., None])


def _spin(local: Array) -> Array:
    """Return how the frame turns with the corners' displacements (m, 3, 24), corners (m, 4, 3) in the frame."""
    g = np.zeros((len(local), 3, 4, 6))
    a1, b1 = (local[:, 2, :2] - local[:, 0, :2]).T
    a2, b2 = (local[:, 3, :2] - local[:, 1, :2]).T
    cross = a1 * b2 - a2 * b1
    for first, last, x, y, a, b in ((0, 2, -a2, -b2, a1, b1), (1, 3, a1, b1, a2, b2)):
        length = a * a + b * b
        for corner, sign in ((first, -1.0), (last, 1.0)):
            g[:, 0, corner, 2] = sign * x / cross
            g[:, 1, corner, 2] = sign * y / cross
            g[:, 2, corner, 0] = -sign * b / length / 2
            g[:, 2, corner, 1] = sign * a / length / 2
    return g.reshape(-1, 3, 24)


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Elements in a displaced state: local unknowns, inner forces in space, and the tangent when asked for."""

    local: Array
    force: Array
    tangent: Array | None


def inner(model: Shell, s: State) -> Array:
    """Return the inner forces at the nodes (n, 6), in space."""
    f = s.force.reshape(-1, 4, 6)
    return np.stack([np.bincount(model.quads.ravel(), f[:, :, k].ravel(), len(model.points)) for k in range(6)], axis=1)


def state(model: Shell, u: Array, rotation: Array, tangent: bool = True) -> State:
    """Evaluate the elements.

    Parameters
    ----------
    model : Shell
    u : array (n, 3)
        Displacements, mm.
    rotation : array (n, 3, 3)
        Rotation of each node.
    tangent : bool, optional
        Whether to work out the tangent stiffness.
    """
    e = model.elements
    m = len(e)
    corners = (model.points + u)[model.quads]
    centre, axes = el.frames(corners)
    local = (corners - centre[:, None]) @ axes.transpose(0, 2, 1)
    theta = rotation_vector(axes[:, None] @ rotation[model.quads] @ e.axes.transpose(0, 2, 1)[:, None])
    d = np.concatenate((local - e.local, theta), axis=2).reshape(m, 24)
    p = (e.stiffness @ d[:, :, None])[:, :, 0].reshape(m, 4, 6)
    # Rotation vectors do not add like spins: h carries one to the other.
    s = skew(theta)
    angle = (theta**2).sum(axis=2)[..., None, None]
    h = np.eye(3) - s / 2 + (1 / 12 + angle / 720) * (s @ s)
    p[:, :, 3:] = (h.transpose(0, 1, 3, 2) @ p[:, :, 3:, None])[..., 0]
    g = _spin(local)
    moment = (np.cross(local, p[:, :, :3]) + p[:, :, 3:]).sum(axis=1)
    f = p - (g.transpose(0, 2, 1) @ moment[:, :, None]).reshape(m, 4, 6)
    force = (f.reshape(m, 8, 3) @ axes).reshape(m, 24)
    if not tangent:
        return State(local=d, force=force, tangent=None)
    k = e.stiffness.copy()
    by_column, by_row = k.reshape(m, 24, 4, 6), k.reshape(m, 4, 6, 24)
    by_column[..., 3:] = (by_column[..., 3:].transpose(0, 2, 1, 3) @ h).transpose(0, 2, 1, 3)
    by_row[:, :, 3:] = h.transpose(0, 1, 3, 2) @ by_row[:, :, 3:]
    blocks = np.zeros((3, m, 4, 6, 3))
    blocks[0, :, :, :3], blocks[0, :, :, 3:] = -skew(local), np.eye(3)
    blocks[1, :, :, :3], blocks[1, :, :, 3:] = skew(f[:, :, :3]), skew(f[:, :, 3:])
    blocks[2, :, :, :3] = blocks[1, :, :, :3]
    rigid, twist, push = blocks.reshape(3, m, 24, 3)
    ks = k @ rigid
    right = ks + twist
    left = ks.transpose(0, 2, 1) + push.transpose(0, 2, 1)
    both = rigid.transpose(0, 2, 1) @ ks + push.transpose(0, 2, 1) @ rigid
    gt = g.transpose(0, 2, 1)
    k = k - right @ g - gt @ (left - both @ g)
    return State(local=d, force=force, tangent=el.turned((k + k.transpose(0, 2, 1)) / 2, axes))
