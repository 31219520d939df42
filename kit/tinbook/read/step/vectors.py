"""Vectors of space as tuples: quicker than arrays where there are only three numbers."""

from __future__ import annotations

import math
from typing import TypeAlias

Vec: TypeAlias = tuple[float, float, float]


def add(a: Vec, b: Vec, k: float = 1.0) -> Vec:
    """Return a + k b."""
    return a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]


def sub(a: Vec, b: Vec) -> Vec:
    """Return a - b."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def dot(a: Vec, b: Vec) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Return the vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def unit(a: Vec) -> Vec:
    """Return the vector at length 1 (a zero vector stays zero)."""
    n = math.sqrt(dot(a, a)) or 1.0
    return a[0] / n, a[1] / n, a[2] / n


def length(a: Vec) -> float:
    """Return the length of a vector."""
    return math.sqrt(dot(a, a))
