"""Real parts drawn elsewhere, each beside a flat pattern made elsewhere (the folder that TINBOOK_FOREIGN names).

Expected values: the folder's own table. The flats are read here by ezdxf and compared by
shapely, so that no reader of the kit stands between.
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from tinbook.plane.loops import Move
from tinbook.read.step.unfold import Unfolded, unfold

pytest.importorskip("cadquery")

# name: thickness, inside radius, folds (number, angle), K, flat size, net area
PARTS = {
    "rover6__CENTRAL_BRAKET": (2.0, 2.0, (6, 90.0), 0.44, (439.048, 58.048), 23403.5),
    "rover6__FRONT_REAR_SUPPORT": (2.0, 2.0, (6, 90.0), 0.44, (439.048, 133.048), 32024.7),
    "laser4diy__cornerbracket": (1.0, 1.0, (1, 90.0), 0.44, (120.0, 19.262), 2200.7),
    "laser4diy__lidchannel": (1.0, 1.0, (2, 10.0), 0.44, (450.0, 39.803), 17767.2),
    "laser4diy__labyrinth": (1.0, 1.0, (2, 90.0), 0.44, (205.524, 195.0), 40025.8),
    # Two tabs on one axis are one fold.
    "laser4diy__chamber_sheet_left": (1.0, 1.0, (2, 90.0), 0.44, (275.0, 117.524), 27575.7),
    "homelab-pdu__10in_Dual-Lid": (1.0, 0.5, (2, 90.0), 0.50, (228.642, 197.5), 45090.7),
}

NEAR = 0.02
"""mm: how far the two outlines may lie apart."""


def drawn(path: Path) -> list[np.ndarray]:
    """Return every cut contour's pieces in a DXF as points, chords within 0.001 mm."""
    import ezdxf
    from ezdxf import path as paths

    pieces = []
    for e in ezdxf.readfile(path).modelspace():
        if e.dxf.layer.startswith("BEND") or e.dxf.get("linetype", "") == "HIDDEN":
            continue
        points = [(v.x, v.y) for v in paths.make_path(e).flattening(0.001, segments=16)]
        pieces.append(np.array(points))
    return pieces


def dense(pieces: list[np.ndarray], step: float = 0.5) -> np.ndarray:
    """Return points along polylines no further apart than `step`."""
    out = []
    for p in pieces:
        for a, b in itertools.pairwise(p):
            n = max(1, math.ceil(math.dist(a, b) / step))
            out.append(a + (b - a) * np.arange(n + 1)[:, None] / n)
    return np.concatenate(out)


def largest_distance(mine: list[np.ndarray], theirs: list[np.ndarray]) -> float:
    """Return the largest distance of either boundary from the other, mm."""
    import shapely

    worst = 0.0
    for a, b in ((mine, theirs), (theirs, mine)):
        tree = shapely.STRtree([shapely.LineString(p) for p in b])
        points = shapely.points(dense(a))
        _, distance = tree.query_nearest(points, return_distance=True, all_matches=False)
        worst = max(worst, float(distance.max()))
    return worst


def fitted(flat: Unfolded, theirs: list[np.ndarray]) -> float:
    """Return the largest distance after one of the eight rigid moves that lay box upon box: the first that is near, else the best."""
    low, high = (f(np.concatenate(theirs), axis=0) for f in (np.min, np.max))
    best = math.inf
    for turn in (0, 90, 180, 270):
        for mirror in (False, True):
            move = Move.turn(turn)
            if mirror:
                move = move.after(Move(a=-1.0))
            x0, y0, x1, y1 = flat.outer.moved(move).box
            if abs(x1 - x0 - (high - low)[0]) > 0.02 or abs(y1 - y0 - (high - low)[1]) > 0.02:
                continue
            move = Move(u=(low[0] + high[0] - x0 - x1) / 2, v=(low[1] + high[1] - y0 - y1) / 2).after(move)
            loops = [flat.outer.moved(move), *(c.loop.moved(move) for c in flat.cuts)]
            closed = [loop.chords(0.001) for loop in loops]
            best = min(best, largest_distance([np.vstack((p, p[:1])) for p in closed], theirs))
            if best < NEAR:
                return best
    return best


@pytest.mark.parametrize("name", PARTS)
def test_foreign_part(name: str, foreign: Path) -> None:
    t, r, (n, angle), k, size, area = PARTS[name]
    flat = unfold(foreign / f"{name}.step", bend=k, trusted=True)
    assert flat.thickness == pytest.approx(t, abs=1e-6)
    assert [f.angle for f in flat.folds] == pytest.approx([angle] * n, abs=1e-4)
    assert [f.radius for f in flat.folds] == pytest.approx([r] * n, abs=1e-4)
    assert sorted(flat.size) == pytest.approx(sorted(size), abs=0.01)
    assert flat.area == pytest.approx(area, rel=2e-4)
    assert [f.severity for f in flat.findings if f.code == "unfold.area"] == ["fine"]
    assert fitted(flat, drawn(foreign / f"{name}.flat.dxf")) < NEAR


def test_flat_control(foreign: Path) -> None:
    flat = unfold(foreign / "rover6__SIDE_PANEL_flat.step", 0.44)
    assert flat.folds == ()
    assert flat.area == pytest.approx(18140.2, abs=0.1)
    assert sum(c.dia is not None for c in flat.cuts) == 46


def test_bend_lines_lie_where_the_other_flat_has_them(foreign: Path) -> None:
    """Bend centre lines of a flat made elsewhere: same lengths, once the outlines are laid on each other."""
    import ezdxf

    for name in ("rover6__CENTRAL_BRAKET", "rover6__FRONT_REAR_SUPPORT"):
        theirs = [e for e in ezdxf.readfile(foreign / f"{name}.flat.dxf").modelspace() if e.dxf.layer == "BEND"]
        lengths = sorted(math.dist(e.dxf.start.vec2, e.dxf.end.vec2) for e in theirs)
        flat = unfold(foreign / f"{name}.step", bend=0.44, trusted=True)
        assert sorted(math.dist(f.pieces[0][0], f.pieces[-1][1]) for f in flat.folds) == pytest.approx(
            lengths, abs=0.01
        )
