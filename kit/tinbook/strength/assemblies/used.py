"""Forces on the joints of an assembly, each against its rule."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np

from tinbook.making.assembled import Assembled
from tinbook.space import Vec, negative, vec
from tinbook.strength.assemblies.joint import Connection
from tinbook.strength.assemblies.whole import Member, Whole
from tinbook.strength.joints.load import JointLoad, SheetAt, sheet_at
from tinbook.strength.joints.reactions import STRETCH, Line
from tinbook.strength.joints.rules import Joining, JointUse, used
from tinbook.strength.shell.element import Array

Points: TypeAlias = dict[tuple[int, str], list[tuple[Vec, Vec]]]
"""Places of joints and their forces on a member, in its axes, by the member's identity and their kind."""


def used_by(
    whole: Whole, joints: Sequence[Connection], u: Array, made: Assembled, how: Joining
) -> tuple[JointUse, ...]:
    """Return what every joint uses under displacements of all unknowns."""
    points: Points = {}
    for c in joints:
        if c.kind != "seam":
            force = c.springs[0].on_first(u)[0]
            for m, on in ((c.first, force), (c.second, -force)):
                if isinstance(m, Member):
                    there = points.setdefault((id(m), c.kind), [])
                    there.append((m.at.local(vec(c.springs[0].at)), m.at.local_vector(vec(on))))
    out = []
    for c in joints:
        mine = how
        if c.weld is not None:
            mine = replace(how, throat=c.weld.throat, both=c.weld.both)
        load = _seam(whole, c, u) if c.kind == "seam" else _point(c, u, points)
        out.append(used(load, mine, made.shop.fixings))
    return tuple(out)


def _point(c: Connection, u: Array, points: Points) -> JointLoad:
    force, moment = c.springs[0].on_first(u)
    at = c.springs[0].at
    return JointLoad(
        name=c.name,
        kind=c.kind,
        at=vec(at),
        axis=c.axis,
        force=vec(force),
        moment=vec(moment),
        first=_sheet(c.first, at, vec(force), c.hole, points.get((id(c.first), c.kind), ())),
        second=_second(c, at, vec(-force), points),
        to=c.other,
        nodes=tuple(c.nodes.tolist()),
    )


def _second(c: Connection, at: Array, force: Vec, points: Points) -> SheetAt | None:
    if not isinstance(c.second, Member):
        return None
    around = points.get((id(c.second), c.kind), ())
    return _sheet(c.second, at, force, 0.0 if c.kind in ("plug weld", "seam") else c.hole, around)


def _sheet(m: Member, at: Array, force: Vec, hole: float, around: Sequence[tuple[Vec, Vec]]) -> SheetAt:
    """Return a member's sheet at a place: of the panel whose plane is nearest."""
    place = m.at.local(vec(at))
    panels = m.made.panels
    away = []
    for p in panels:
        x, y, z = p.frame.local(place)
        x0, y0, x1, y1 = p.boundary.box
        away.append(math.hypot(max(x0 - x, 0.0, x - x1), max(y0 - y, 0.0, y - y1), z - m.made.thickness / 2))
    panel = panels[int(np.argmin(away))]
    x, y, _ = panel.frame.local(place)
    return sheet_at(m.made, panel, (x, y), m.at.local_vector(force), hole, around)


def _seam(whole: Whole, c: Connection, u: Array) -> JointLoad:
    parts = [s.on_first(u) for s in c.springs]
    points = np.array([s.at for s in c.springs])
    line = Line(points, np.array([f for f, _ in parts]), np.array([m for _, m in parts]), c.nodes)
    assert c.weld is not None
    middle, force, moment, length, nodes = line.worst(max(STRETCH, 6 * c.weld.throat))
    way = points[-1] - points[0]
    size = float(np.linalg.norm(way))
    along = way / size if size > 0 else np.array(c.springs[0].axes[0])
    return JointLoad(
        name=c.name,
        kind="seam",
        at=middle,
        axis=c.axis,
        force=force,
        moment=moment,
        first=_sheet(c.first, np.array(middle), force, 0.0, ()),
        second=_second(c, np.array(middle), negative(force), {}),
        length=length,
        along=vec(along),
        total=float(line.stations[-1]),
        width=float(line.stations[-1]),
        tee=c.tee,
        to=c.other,
        nodes=nodes,
    )
