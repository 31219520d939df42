"""Vectors of space beside those of the ground: differences, lengths, what lies across an axis."""

from __future__ import annotations

import math
from typing import Any

from tinbook.space import Vec, dot, plus


def vector(p: Any) -> Vec:
    """Return a point, vector or direction of the kernel as a tuple: quicker than an array where there are only three numbers."""
    return p.X(), p.Y(), p.Z()


def minus(a: Vec, b: Vec) -> Vec:
    """Return a - b."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def unit(a: Vec) -> Vec:
    """Return the vector at length 1 (a zero vector stays zero)."""
    n = length(a) or 1.0
    return a[0] / n, a[1] / n, a[2] / n


def length(a: Vec) -> float:
    """Return the length of a vector."""
    return math.sqrt(dot(a, a))


def across(a: Vec, axis: Vec) -> Vec:
    """Return what of a vector is square to a unit direction."""
    return plus(a, axis, -dot(a, axis))
