"""The truth behind notebooks/data/heron_left_floor_opening.csv, and how its scatter was drawn.

The file holds invented data. Run `python tests/read/floor_opening.py` to print it anew; a test holds the
two together.
"""

from __future__ import annotations

import math
import random

# Seen from above, in the plane of the floor: x along the tunnel edge towards the front, y to the left, mm.
CORNERS = {
    "rear/tunnel": (0.0, 0.0),
    "tunnel/front": (900.0, 0.0),
    "front/clip": (900.0, 350.0),
    "clip/sill": (830.0, 420.0),
    "sill/rear": (12.0, 420.0),
}
SILL_RISE = 6.0
"""mm: how far the sill bows outward at the middle of its chord."""

CHORD = 818.0
SILL_RADIUS = ((CHORD / 2) ** 2 + SILL_RISE**2) / (2 * SILL_RISE)

PITCH, ROLL, YAW = 2.5, -1.5, 0.8
"""Degrees about y (nose down positive), x (left side up positive) and z, turned in the order yaw, pitch, roll."""

ORIGIN = (-1642.0, 148.0, 312.0)
TWIST = 0.45
"""mm: two opposite corners stand up by this, the other two hang down by it."""

COUNTS = {"tunnel": 10, "front": 7, "clip": 4, "sill": 12, "rear": 8}
SCATTER, SCATTER_UP = 0.25, 0.08
"""mm: standard deviation in the plane and square to it."""

SEED = 19

HEAD = """\
# Left floor opening of the Heron, Quillback Workshop. Invented data for the examples of tinbook.
# Measured with a probe on the old floor's sound metal, edge by edge, anticlockwise seen from above.
# x forward from the front axle, y to the left of the middle, z up from the ground, all in mm.
edge,x,y,z
"""


def rotation():
    """Rows x, y, z: turns a vector of the floor's plane into the body."""
    (cp, sp), (cr, sr), (cy, sy) = ((math.cos(math.radians(a)), math.sin(math.radians(a))) for a in (PITCH, ROLL, YAW))
    return (
        (cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr),
        (sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr),
        (-sp, cp * sr, cp * cr),
    )


def true_point(edge: str, s: float) -> tuple[float, float]:
    """Return the point at fraction `s` of an edge."""
    (x0, y0), (x1, y1) = next(
        (CORNERS[a], CORNERS[b])
        for a, b in zip(CORNERS, [*list(CORNERS)[1:], "rear/tunnel"], strict=True)
        if a.endswith("/" + edge)
    )
    x, y = x0 + s * (x1 - x0), y0 + s * (y1 - y0)
    if edge == "sill":
        drop = SILL_RADIUS - SILL_RISE
        y += math.sqrt(SILL_RADIUS**2 - (x - (x0 + x1) / 2) ** 2) - drop
    return x, y


def rows():
    """Yield (edge, x, y, z) in the body, scattered."""
    rng = random.Random(SEED)
    turned = rotation()
    for edge, count in COUNTS.items():
        for i in range(count):
            # From a little inside one corner to a little inside the other, not quite even.
            s = 0.03 + 0.94 * (i + rng.uniform(-0.15, 0.15) * (0 < i < count - 1)) / (count - 1)
            x, y = true_point(edge, s)
            twist = TWIST * (2 * x / 900 - 1) * (2 * y / 420 - 1)
            p = x + rng.gauss(0, SCATTER), y + rng.gauss(0, SCATTER), twist + rng.gauss(0, SCATTER_UP)
            yield edge, *(ORIGIN[k] + sum(turned[k][j] * p[j] for j in range(3)) for k in range(3))


def text() -> str:
    """Return the whole file."""
    return HEAD + "".join(f"{edge},{x:.2f},{y:.2f},{z:.2f}\n" for edge, x, y, z in rows())


def outline_of(points, tol="0.5 mm", **how):
    """Write points, edge by edge, into a file and fit an outline to it."""
    import tempfile
    from pathlib import Path

    from tinbook.read.points import read_outline

    rows = [",".join([edge, *(repr(float(v)) for v in p)]) for edge, some in points.items() for p in some]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "points.csv"
        file.write_text("\n".join(["edge,x,y,z", *rows]))
        return read_outline(file, tol, **how)


if __name__ == "__main__":
    print(text(), end="")
