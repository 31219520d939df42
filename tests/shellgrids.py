"""Simple meshes with known answers, shared by the strength tests."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

Surface = Callable[[np.ndarray, np.ndarray], np.ndarray]


def grid(nx: int, ny: int, surface: Surface, distort: float = 0.0, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Points and quads of a patch: `surface` maps (s, t) in 0..1 to points; inner nodes moved by `distort` cells."""
    s, t = np.meshgrid(np.linspace(0, 1, nx + 1), np.linspace(0, 1, ny + 1))
    if distort:
        draw = np.random.default_rng(seed).uniform(-1, 1, (2, ny - 1, nx - 1))
        s[1:-1, 1:-1] += draw[0] * distort / nx
        t[1:-1, 1:-1] += draw[1] * distort / ny
    i = np.arange((nx + 1) * (ny + 1)).reshape(ny + 1, nx + 1)
    quads = np.stack((i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]), axis=-1).reshape(-1, 4)
    return surface(s.ravel(), t.ravel()), quads


def flat(a: float, b: float) -> Surface:
    """A rectangle a by b in the xy plane."""
    return lambda s, t: np.stack((a * s, b * t, 0 * s), axis=1)


def rows(where: np.ndarray, *unknowns: int) -> tuple[np.ndarray, np.ndarray]:
    """Held directions: the given unknowns (0..5) of the nodes where `where` is true."""
    at = np.flatnonzero(where)
    return np.tile(at, len(unknowns)), np.repeat(np.eye(6)[list(unknowns)], len(at), axis=0)


def holding(n: int, *pieces: tuple[np.ndarray, np.ndarray]):
    """Put pieces of `rows` together."""
    from tinbook.strength.shell.linear import hold

    return hold(n, np.concatenate([p[0] for p in pieces]), np.concatenate([p[1] for p in pieces]))
