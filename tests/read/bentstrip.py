"""A strip bent along a profile, drawn in plain CadQuery: no allowance is known here."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from tinbook.read.step.unfold import Unfolded

Step: TypeAlias = float | tuple[float, float]
"""Length of a straight stretch, or (angle in degrees, positive to the left; inside radius)."""


def _move(p: tuple[float, float], a: float, d: float, side: float) -> tuple[float, float]:
    """Go d along heading a and side to its left."""
    c, s = math.cos(a), math.sin(a)
    return p[0] + d * c - side * s, p[1] + d * s + side * c


def solid(cq: Any, steps: list[Step], t: float, width: float) -> Any:
    """Extrude the strip's profile: the sheet lies to the left of its path, 0..t."""
    p, a = (0.0, 0.0), 0.0
    right: list[tuple[str, Any]] = []
    left: list[tuple[str, Any]] = []
    start = (p, _move(p, a, 0, t))
    for s in steps:
        if not isinstance(s, tuple):
            q = _move(p, a, s, 0)
            right.append(("line", (p, q)))
            left.append(("line", (_move(p, a, 0, t), _move(q, a, 0, t))))
            p = q
            continue
        turn, r = math.radians(s[0]), s[1]
        sign = math.copysign(1.0, turn)
        centre = _move(p, a, 0, r + t if sign > 0 else -r)
        for chain, at in ((right, 0.0), (left, t)):
            begin = _move(p, a, 0, at)
            if math.dist(begin, centre) < 1e-9:
                continue
            mid, end = (_about(begin, centre, turn * f) for f in (0.5, 1.0))
            chain.append(("arc", (begin, mid, end)))
        p, a = _about(p, centre, turn), a + turn
    end = (p, _move(p, a, 0, t))
    edges = [_edge(cq, *e) for e in right]
    edges.append(_edge(cq, "line", end))
    edges += [_edge(cq, kind, tuple(reversed(points))) for kind, points in reversed(left)]
    edges.append(_edge(cq, "line", (start[1], start[0])))
    face = cq.Face.makeFromWires(cq.Wire.assembleEdges(edges))
    return cq.Workplane(cq.Solid.extrudeLinear(face, cq.Vector(0, 0, width)))


def _about(p: tuple[float, float], c: tuple[float, float], turn: float) -> tuple[float, float]:
    x, y = p[0] - c[0], p[1] - c[1]
    return c[0] + x * math.cos(turn) - y * math.sin(turn), c[1] + x * math.sin(turn) + y * math.cos(turn)


def _edge(cq: Any, kind: str, points: Any) -> Any:
    v = [cq.Vector(*p, 0) for p in points]
    return cq.Edge.makeLine(*v) if kind == "line" else cq.Edge.makeThreePointArc(*v)


K, T, R = 0.42, 2.0, 3.0
"""K-factor, thickness and inside radius of `angle_bracket`."""


def angle_bracket(base: float = 60.0, leg: float = 40.0, width: float = 80.0) -> Any:
    """Base at z 0..T along x from the bend's tangent line, leg upward; the fold runs along y = 0..width."""
    import cadquery as cq

    strip = solid(cq, [base, (90.0, R), leg], T, width)
    return strip.rotate((0, 0, 0), (1, 0, 0), 90).translate((0, width, 0))


def codes(flat: Unfolded, severity: str = "") -> set[str]:
    """Return the codes of a flat's findings, of one severity or of all."""
    return {f.code for f in flat.findings if severity in ("", f.severity)}
