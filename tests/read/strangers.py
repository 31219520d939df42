"""Folded solids as a stranger would draw them: a profile of constant thickness, pushed along, then cut across."""

from __future__ import annotations

import math
import random

import cadquery as cq

T, R = 1.5, 2.0


def bent(legs: list[float], turns: list[float], width: float, t: float = T, r: float = R) -> cq.Workplane:
    """Return a strip whose flats are `legs` long between its bends, each turned through so many degrees (+ is up).

    The first flat runs along x at z from 0 to t; the width lies along y from 0.
    """
    x, z, a = 0.0, 0.0, 0.0
    low: list[tuple[str, tuple[float, float], tuple[float, float]]] = []
    top: list[tuple[str, tuple[float, float], tuple[float, float]]] = []

    def up(d: float) -> tuple[float, float]:
        return x - d * math.sin(a), z + d * math.cos(a)

    start = up(0.0), up(t)
    for k, leg in enumerate(legs):
        x, z = x + leg * math.cos(a), z + leg * math.sin(a)
        low.append(("line", up(0.0), up(0.0)))
        top.append(("line", up(t), up(t)))
        if k == len(turns):
            break
        turn = math.radians(turns[k])
        off = t + r if turn > 0 else -r
        centre = up(off)
        half = []
        for _ in range(2):
            a += turn / 2
            x, z = centre[0] + off * math.sin(a), centre[1] - off * math.cos(a)
            half.append((up(0.0), up(t)))
        low.append(("arc", half[0][0], half[1][0]))
        top.append(("arc", half[0][1], half[1][1]))
    w = cq.Workplane("XZ").moveTo(*start[0])
    for kind, mid, end in low:
        w = w.lineTo(*end) if kind == "line" else w.threePointArc(mid, end)
    w = w.lineTo(*top[-1][2])
    for k in range(len(top) - 1, -1, -1):
        end = top[k - 1][2] if k else start[1]
        kind, mid, _ = top[k]
        w = w.lineTo(*end) if kind == "line" else w.threePointArc(mid, end)
    return w.close().extrude(-width)


def block(x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> cq.Workplane:
    """Return a box between coordinates."""
    size = [b - a for a, b in (x, y, z)]
    return cq.Workplane().box(*size, centered=False).translate((x[0], y[0], z[0]))


def drill(x: float, y: float, dia: float) -> cq.Workplane:
    """Return a tall cylinder along z."""
    return cq.Workplane(origin=(x, y, -100)).circle(dia / 2).extrude(300)


def channel() -> cq.Workplane:
    """A U: flats of 30, 60 and 30 mm, 120 mm wide; tangent lines of the web at x = 33.5 and 93.5 with z rising."""
    return bent([30, 60, 30], [90, 90], 120)


def angle() -> cq.Workplane:
    """An L: flats of 50 and 40 mm, 100 mm wide; the bend from x = 50 to 53.5, the leg at x from 52 to 53.5."""
    return bent([50, 40], [90], 100)


CASES = {
    # a fold in pieces
    "window over the fold": lambda: angle().cut(block((40, 60), (30, 60), (-1, 20))),
    "pocket that takes the outside half of the bend": lambda: angle().cut(block((40, 60), (30, 60), (-1, 1.5))),
    "slots make tabs of the leg": lambda: angle().cut(block((49, 60), (30, 34), (-1, 80))),
    "three tabs": lambda: angle().cut(block((49, 60), (20, 26), (-1, 80))).cut(block((45, 60), (70, 78), (-1, 80))),
    "slot into the bend": lambda: angle().cut(block((51.5, 60), (40, 48), (-1, 80))),
    # ends that are not square
    "corner cut aslant": lambda: angle().cut(
        cq.Workplane("XY").polyline([(45, -1), (60, -1), (60, 12)]).close().extrude(100).translate((0, 0, -10))
    ),
    "round notch at the end": lambda: angle().cut(drill(51, 0, 9)),
    "round notch at both ends": lambda: angle().cut(drill(49, 0, 8)).cut(drill(52, 100, 6)),
    "leg narrower, relief into the bend": lambda: angle().cut(block((51, 60), (-1, 12), (-1, 80))),
    "tapered web": lambda: channel().cut(
        cq.Workplane("XY").polyline([(-1, -1), (200, -1), (200, 30)]).close().extrude(200).translate((0, 0, -50))
    ),
    # an opening over two folds
    "window over the web and into both legs": lambda: bent([30, 20, 30], [90, 90], 120).cut(
        block((20, 60), (40, 80), (-1, 40))
    ),
    "round hole over two folds": lambda: bent([40, 6, 40], [45, 45], 120).cut(drill(46, 60, 40)),
    "zed with a slot through both folds": lambda: bent([40, 12, 40], [90, -90], 120).cut(
        block((30, 60), (50, 70), (-1, 30))
    ),
    # an opening edge on the tangent line
    "window up to the tangent line of the base": lambda: angle().cut(block((20, 50), (30, 60), (-1, 2))),
    "window from the tangent line of the base": lambda: angle().cut(block((50, 60), (30, 60), (-1, 20))),
    "window in the leg from its tangent line": lambda: angle().cut(block((51, 60), (30, 60), (3.5, 20))),
    # a ring of panels
    "two windows over the same fold": lambda: (
        angle().cut(block((45, 60), (20, 35), (-1, 15))).cut(block((40, 60), (60, 85), (-1, 10)))
    ),
}
"""A foreign part of each kind that is awkward to make editable."""


def at_random(seed: int) -> cq.Workplane:
    """Return a profile of one to three bends, cut across its legs in one to three places, in one piece."""
    r = random.Random(seed)
    while (part := _drawn(r)).solids().size() != 1:
        pass
    return part


def _drawn(r: random.Random) -> cq.Workplane:
    n = r.choice([1, 1, 2, 2, 3])
    legs = [r.uniform(15, 60) for _ in range(n + 1)]
    turns = [r.choice([90, 90, 60, 30, 45, -90, -45]) for _ in range(n)]
    width = r.uniform(50, 150)
    part = bent(legs, turns, width)
    for _ in range(r.choice([1, 2, 3])):
        leg = r.randrange(n + 1)
        x, z, a = _along(legs, turns, leg, r.choice([0, 1, 1, 0.9, r.uniform(0, 1)]))
        box = (r.uniform(4, 40), r.choice([r.uniform(2, 6), r.uniform(4, 30)]))
        tool = cq.Workplane().box(*box, 30).rotate((0, 0, 0), (0, 0, 1), r.choice([0, 0, r.uniform(0, 90)]))
        if r.random() < 0.4:
            tool = cq.Workplane(origin=(0, 0, -15)).circle(r.uniform(1, 12)).extrude(30)
        y = r.choice([0, width, r.uniform(0, width), r.uniform(0, width)])
        part = part.cut(tool.rotate((0, 0, 0), (0, 1, 0), -math.degrees(a)).translate((x, y, z)))
    return part


def _along(legs: list[float], turns: list[float], leg: int, share: float) -> tuple[float, float, float]:
    """Return the point at a share of a leg's underside, and the direction there in radians."""
    x = z = a = 0.0
    for i in range(leg + 1):
        if i:
            turn = math.radians(turns[i - 1])
            off = T + R if turn > 0 else -R
            cx, cz = x - off * math.sin(a), z + off * math.cos(a)
            a += turn
            x, z = cx + off * math.sin(a), cz - off * math.cos(a)
        run = legs[i] * (share if i == leg else 1)
        x, z = x + run * math.cos(a), z + run * math.sin(a)
    return x, z, a
