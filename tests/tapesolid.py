"""Distances that a tape finds on a folded solid, taken from its faces and edges alone."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Vec = npt.NDArray[np.float64]
SHORT = 10.0


@dataclass(frozen=True)
class Line:
    """What a tape is hooked on: a straight line of a face, or the rim of a round edge."""

    at: Vec
    way: Vec
    length: float
    round_about: Vec | None = None

    def away(self, p: Vec) -> tuple[float, bool]:
        """How far a point lies off, and whether it lies beside the line rather than beyond its end."""
        if self.round_about is not None:
            return abs(float(np.linalg.norm(p - self.round_about)) - self.length), False
        along = float((p - self.at) @ self.way)
        return float(np.linalg.norm(p - self.at - along * self.way)), -0.05 < along < self.length + 0.05


class Taped:
    """Faces of a solid with what borders on them."""

    def __init__(self, solid: Any) -> None:
        self.faces = solid.Faces()
        self._every: list[list[Line]] = []
        self.of: dict[int, list[int]] = defaultdict(list)
        for k, face in enumerate(self.faces):
            for e in face.Edges():
                self.of[e.hashCode()].append(k)

    def lines(self, at: Vec, thickness: float) -> list[list[Line]]:
        """Lines round each flat face that has an opening whose middle is a point, or one a sheet's thickness off."""
        found = []
        for k, face in enumerate(self.faces):
            if face.geomType() != "PLANE":
                continue
            for wire in face.innerWires():
                box = wire.BoundingBox()
                middle = np.array([(box.xmin + box.xmax) / 2, (box.ymin + box.ymax) / 2, (box.zmin + box.zmax) / 2])
                if np.linalg.norm(middle - at) < thickness + 0.02:
                    found.append(self._round(k))
                    break
        return found

    def on_a_line(self, p: Vec) -> bool:
        """Whether a point lies on one of the lines, or on its straight way on."""
        return any(it.away(p)[0] < 0.02 for lines in self.every() for it in lines)

    def every(self) -> list[list[Line]]:
        """Lines round every flat face."""
        if not self._every:
            self._every = [
                self._round(k, short=True) for k, face in enumerate(self.faces) if face.geomType() == "PLANE"
            ]
        return self._every

    def _round(self, k: int, short: bool = False) -> list[Line]:
        face = self.faces[k]
        found = []
        for e in face.outerWire().Edges():
            if e.Length() < SHORT and not short:
                continue
            if e.geomType() == "CIRCLE":
                found.append(Line(_v(e.arcCenter()), np.zeros(3), e.radius(), _v(e.arcCenter())))
                continue
            a, b = _v(e.startPoint()), _v(e.endPoint())
            way = (b - a) / np.linalg.norm(b - a)
            other = next((n for n in self.of[e.hashCode()] if n != k), k)
            if self.faces[other].geomType() == "CYLINDER":
                a = a + self._beyond(k, other, a, way)
            found.append(Line(a, way, float(np.linalg.norm(b - _v(e.startPoint())))))
        return found

    def _beyond(self, k: int, bend: int, a: Vec, way: Vec) -> Vec:
        """How far beyond a bend's tangent line its mould line lies: where the two flats meet, past a right angle its outside."""
        cylinder = self.faces[bend]._geomAdaptor().Cylinder()
        first, last, _, _ = self.faces[bend]._uvBounds()
        wound = math.degrees(last - first)
        axis, radius = cylinder.Axis().Location(), cylinder.Radius()
        n = _v(self.faces[k].normalAt())
        out = np.cross(way, n)
        middle = np.array([axis.X(), axis.Y(), axis.Z()])
        mid_bend = _v(self.faces[bend].Center()) - a
        out = out if mid_bend @ out > 0 else -out
        # The flat on the other side of the bend.
        for e in self.faces[bend].Edges():
            for other in self.of[e.hashCode()]:
                if other in (k, bend) or self.faces[other].geomType() != "PLANE" or e.geomType() != "LINE":
                    continue
                m = _v(self.faces[other].normalAt())
                if abs(m @ way) > 1e-6:
                    continue
                if wound < 89.99:
                    return out * float((_v(e.startPoint()) - a) @ m) / float(out @ m)
        tangent = float((middle - a) @ out)
        return out * (tangent + radius)


def _v(p: Any) -> Vec:
    return np.array(p.toTuple() if hasattr(p, "toTuple") else p, dtype=float)
