"""Where a thing stands in an assembly: a right-handed frame as a plain value."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeAlias

from tinbook.errors import BadValue

Vec: TypeAlias = tuple[float, float, float]

SQUARE = 1e-9
"""Largest deviation of the axes from unit length and from a right angle."""


def dot(a: Vec, b: Vec) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Return the vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def plus(a: Vec, b: Vec, times: float = 1.0) -> Vec:
    """Return a + times b."""
    return a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2]


def _three(value: Any, field: str, valid: str) -> Vec:
    try:
        x, y, z = (float(v) for v in value)
    except (TypeError, ValueError, OverflowError):
        raise BadValue(field, value, valid) from None
    if not math.isfinite(math.hypot(x, y, z)):
        raise BadValue(field, value, valid)
    return x, y, z


def unit(a: Vec) -> Vec:
    """Return the direction of a vector; the zero vector has none and raises BadValue."""
    n = math.hypot(*_three(a, "direction", "a finite vector (x, y, z) that is not zero"))
    if n == 0:
        raise BadValue("direction", a, "a finite vector (x, y, z) that is not zero")
    return a[0] / n, a[1] / n, a[2] / n


@dataclass(frozen=True, slots=True)
class Placing:
    """A right-handed frame in the assembly's coordinates, mm.

    Parameters
    ----------
    origin : (float, float, float)
        Where the thing's own (0, 0, 0) goes.
    x, y : (float, float, float)
        Directions of its x and y; made unit length, and must be square to each other.
    """

    origin: Vec = (0.0, 0.0, 0.0)
    x: Vec = (1.0, 0.0, 0.0)
    y: Vec = (0.0, 1.0, 0.0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "origin", _three(self.origin, "placing origin", "three finite coordinates in mm"))
        object.__setattr__(self, "x", unit(self.x))
        object.__setattr__(self, "y", unit(self.y))
        if abs(dot(self.x, self.y)) > SQUARE:
            raise BadValue("placing y", self.y, f"a direction square to x = {self.x}")

    @property
    def z(self) -> Vec:
        """Direction of its z."""
        return cross(self.x, self.y)

    def __call__(self, x: float, y: float, z: float = 0.0) -> Vec:
        """Return the point of the assembly at local (x, y, z)."""
        return plus(self.origin, self.vector(x, y, z))

    def vector(self, x: float, y: float, z: float = 0.0) -> Vec:
        """Return the direction of the assembly at local (x, y, z)."""
        return plus(plus(plus((0.0, 0.0, 0.0), self.x, x), self.y, y), self.z, z)

    def local(self, p: Vec) -> Vec:
        """Return the local coordinates of a point of the assembly."""
        return self.local_vector(plus(p, self.origin, -1.0))

    def local_vector(self, v: Vec) -> Vec:
        """Return the local components of a direction of the assembly."""
        return dot(v, self.x), dot(v, self.y), dot(v, self.z)

    def moved(self, v: Vec) -> Placing:
        """Return the frame shifted by a vector of the assembly."""
        return Placing(plus(self.origin, v), self.x, self.y)

    def then(self, inner: Placing) -> Placing:
        """Return where a thing stands whose placing `inner` is given in this frame."""
        return Placing(self(*inner.origin), self.vector(*inner.x), self.vector(*inner.y))

    @property
    def values(self) -> tuple[float, ...]:
        """Three rows of rotation and shift, twelve numbers."""
        z = self.z
        return tuple(v for k in range(3) for v in (self.x[k], self.y[k], z[k], self.origin[k]))


ORIGIN = Placing()
"""Where a thing stands whose frame is the assembly's own."""


def flat_at(x: float = 0.0, y: float = 0.0, z: float = 0.0) -> Placing:
    """Return the placing of a sheet that lies flat, up side up, with its (0, 0) at a point."""
    return Placing((x, y, z))
