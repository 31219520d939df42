"""Frames and rigid moves in space, as plain values: a panel in a folded part, a member in an assembly, a fold half made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np

from tinbook.errors import BadValue
from tinbook.plane.loops import Array, Move
from tinbook.tolerances import FITTED, FITTED_TURN
from tinbook.values import dataclass

Vec: TypeAlias = tuple[float, float, float]

SQUARE = 1e-9
"""Largest deviation of a frame's axes from a right angle (cosine between them)."""


def dot(a: Vec, b: Vec) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Return the vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def plus(a: Vec, b: Vec, times: float = 1.0) -> Vec:
    """Return a + times b."""
    return a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2]


def negative(a: Vec) -> Vec:
    """Return the opposite vector."""
    return -a[0], -a[1], -a[2]


def vec(v: Array) -> Vec:
    """Return an array of three numbers as plain floats."""
    return float(v[0]), float(v[1]), float(v[2])


def unit(a: Vec) -> Vec:
    """Return the direction of a vector; the zero vector has none and raises BadValue."""
    x, y, z = three(a, "direction", "a finite vector (x, y, z) that is not zero")
    n = math.hypot(x, y, z)
    if n == 0:
        raise BadValue("direction", a, "a finite vector (x, y, z) that is not zero")
    return x / n, y / n, z / n


@dataclass(frozen=True, slots=True)
class Frame:
    """A right-handed frame: the rigid move from its own coordinates to those of the space it stands in.

    `frame_at` builds one from values that a user gave and checks them; the constructor does not.

    Parameters
    ----------
    origin : (float, float, float)
        Where the frame's own (0, 0, 0) lies, mm.
    x, y, z : (float, float, float)
        Unit directions of its axes, square to each other.
    """

    origin: Vec = (0.0, 0.0, 0.0)
    x: Vec = (1.0, 0.0, 0.0)
    y: Vec = (0.0, 1.0, 0.0)
    z: Vec = (0.0, 0.0, 1.0)

    def __call__(self, x: float, y: float, z: float = 0.0) -> Vec:
        """Return the point of space at local (x, y, z)."""
        o, a, b, c = self.origin, self.x, self.y, self.z
        return (
            o[0] + x * a[0] + y * b[0] + z * c[0],
            o[1] + x * a[1] + y * b[1] + z * c[1],
            o[2] + x * a[2] + y * b[2] + z * c[2],
        )

    def vector(self, x: float, y: float, z: float = 0.0) -> Vec:
        """Return the direction in space of local (x, y, z)."""
        # As the difference of two points: what is finer than a point's own rounding does not reach exported files.
        return plus(self(x, y, z), self.origin, -1.0)

    def local(self, p: Vec) -> Vec:
        """Return the local coordinates of a point of space."""
        return self.local_vector(plus(p, self.origin, -1.0))

    def local_vector(self, v: Vec) -> Vec:
        """Return the local components of a direction of space."""
        return dot(v, self.x), dot(v, self.y), dot(v, self.z)

    def __matmul__(self, inner: Frame) -> Frame:
        """Return the frame `inner`, given in this one's coordinates, in the space that this one stands in."""
        turn = Frame((0.0, 0.0, 0.0), self.x, self.y, self.z)
        return Frame(self(*inner.origin), turn(*inner.x), turn(*inner.y), turn(*inner.z))

    def inverse(self) -> Frame:
        """Return the move back: `frame.inverse() @ frame` is the frame of space itself."""
        a, b, c = zip(self.x, self.y, self.z, strict=True)
        return Frame(negative(self.local_vector(self.origin)), a, b, c)

    def moved(self, v: Vec) -> Frame:
        """Return the frame shifted by a vector of space."""
        return Frame(plus(self.origin, v), self.x, self.y, self.z)

    def at(self, x: float, y: float, z: float = 0.0) -> Frame:
        """Return the frame shifted to a point of its own, (x, y, z)."""
        return Frame(self(x, y, z), self.x, self.y, self.z)

    def placed(self, move: Move) -> Frame:
        """Return the frame whose own plane is carried by `move` (no mirroring) within this one's."""
        return Frame(self(move.u, move.v), self.vector(move.a, move.c), self.vector(move.b, move.d), self.z)

    def mirrored(self) -> Frame:
        """Return the frame reflected at x = 0 of space, its own x turned over so that it stays right-handed."""
        (ox, oy, oz), (ax, ay, az), (bx, by, bz), (cx, cy, cz) = self.origin, self.x, self.y, self.z
        return Frame((-ox, oy, oz), (ax, -ay, -az), (-bx, by, bz), (-cx, cy, cz))

    def points(self, local: Array) -> Array:
        """Return the points of space at local coordinates.

        Parameters
        ----------
        local : array, shape (..., 2) or (..., 3)
            mm; z is 0 where it is left out.

        Returns
        -------
        array, shape (..., 3)
        """
        out: Array = self.vectors(local) + np.array(self.origin)
        return out

    def vectors(self, local: Array) -> Array:
        """Return the directions of space of local components, shape (..., 2) or (..., 3)."""
        # Term by term: a product of matrices would round as the processor's own library does, and files would follow.
        out: Array = local[..., :1] * np.array(self.x) + local[..., 1:2] * np.array(self.y)
        return out if local.shape[-1] == 2 else out + local[..., 2:3] * np.array(self.z)

    def rounded(self) -> Frame:
        """Return the frame rounded to `FITTED` decimals of a mm, its axes square again: the same on any processor."""
        x, z = unit(_rounded(self.x, FITTED_TURN)), unit(_rounded(self.z, FITTED_TURN))
        y = unit(cross(z, x))
        return Frame(_rounded(self.origin, FITTED), cross(y, z), y, z)

    @property
    def axes(self) -> Array:
        """The axes as rows, shape (3, 3): `local @ axes + origin` are points of space."""
        return np.array((self.x, self.y, self.z))

    @property
    def values(self) -> tuple[float, ...]:
        """Three rows of rotation and shift, twelve numbers, as exchange formats and the kernel want them."""
        return tuple(v for k in range(3) for v in (self.x[k], self.y[k], self.z[k], self.origin[k]))

    @property
    def matrix(self) -> Array:
        """Homogeneous matrix, shape (4, 4), columns x, y, z, origin."""
        return np.array((*self.values, 0.0, 0.0, 0.0, 1.0)).reshape(4, 4)


def _rounded(v: Vec, decimals: int) -> Vec:
    return round(v[0], decimals) + 0.0, round(v[1], decimals) + 0.0, round(v[2], decimals) + 0.0  # no minus zero


def rigid(turn: Array, shift: Array) -> Frame:
    """Return the rigid move that takes a point p to turn @ p + shift."""
    return Frame(vec(shift), vec(turn[:, 0]), vec(turn[:, 1]), vec(turn[:, 2]))


SPACE = Frame()
"""The frame of space itself: the move that leaves everything where it is."""


def frame_at(
    origin: Sequence[float] = (0.0, 0.0, 0.0),
    x: Sequence[float] = (1.0, 0.0, 0.0),
    y: Sequence[float] = (0.0, 1.0, 0.0),
) -> Frame:
    """Return the right-handed frame at a point whose x and y run in two directions.

    Parameters
    ----------
    origin : (float, float, float)
        Where its own (0, 0, 0) goes, mm.
    x, y : (float, float, float)
        Directions of its x and y, of any length, square to each other; z follows from them.

    Raises
    ------
    BadValue
        A value that is not three finite numbers, a direction of length zero, or axes that are not square.
    """
    at = three(origin, "frame origin", "three finite coordinates in mm")
    a, b = unit(x), unit(y)  # type: ignore[arg-type]
    if abs(dot(a, b)) > SQUARE:
        raise BadValue("frame y", y, f"a direction square to x = {a}")
    return Frame(at, a, b, cross(a, b))


def unit_vector(value: Any, field: str) -> Vec:
    """Return a direction of a user's at length 1, or raise BadValue with the field's name."""
    try:
        return unit(value)
    except BadValue:
        raise BadValue(field, value, "a direction (x, y, z), finite and not zero") from None


def three(value: Any, field: str, valid: str) -> Vec:
    """Return three finite numbers of a user's, or raise BadValue with what is valid."""
    try:
        x, y, z = (float(v) for v in value)
    except (TypeError, ValueError, OverflowError):
        raise BadValue(field, value, valid) from None
    if not math.isfinite(math.hypot(x, y, z)):
        raise BadValue(field, value, valid)
    return x, y, z
