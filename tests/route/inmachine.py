"""Shops with plain tools for known answers, and solids of tools and half-folded parts for the kernel's verdict."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import cadquery as cq
import numpy as np
import shapely
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

from tinbook.making.articulated import Levels
from tinbook.making.made import Made
from tinbook.making.pose import posed
from tinbook.making.resolve import make
from tinbook.making.solid.build import solid
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.route.planner import Hit, Planner
from tinbook.route.steps import FoldPlan
from tinbook.shop.sections import Punch, Section
from tinbook.shop.shop import Shop
from tinbook.shop.tools.setups import Setup
from tinbook.shop.tools.strokes import Motion

DEMO = Shop.demo()
EDGES = ("near", "right", "far", "left")
FLAT = 0.004
"""Degrees for a fold that is not yet formed: the solid of a bend needs an angle; 300 mm away it lifts by 0.02 mm."""


def section(key: str, kind: str, points: list[tuple[float, float]]) -> Section:
    return Section(key=key, kind=kind, points=(*points, points[0]), source="own data")


def punch_of(half: float, height: float) -> Section:
    """A flat bar with an 80 degree tip."""
    z = half / math.tan(math.radians(40))
    return section("bar", "punch", [(0, 0), (half, z), (half, height), (-half, height), (-half, z)])


def brake_with(
    half: float = 6.0,
    height: float = 150.0,
    ram: float = 6.0,
    *,
    segments: tuple[float, ...] = (),
    length: float | None = None,
    neck: bool = False,
    **machine: Any,
) -> Shop:
    """The demo shop whose brake holds one flat bar (and a relieved punch) under a ram of a half width."""
    bar = punch_of(half, height)
    beam = section("beam", "ram", [(ram, 0), (ram, 300), (-ram, 300), (-ram, 0)])
    punches = [
        Punch(
            key="bar",
            machine="brake",
            section="bar",
            nose=0.8,
            angle=80,
            segments=segments,
            length=length,
            source="own data",
        )
    ]
    sections = [bar, beam]
    if neck:
        # The neck runs 8 mm behind the tip from z = 42 to 70.
        sections.append(
            section(
                "neck",
                "punch",
                [
                    (0, 0),
                    (4, 4.767),
                    (4, 9),
                    (-8, 42),
                    (-8, 70),
                    (6, 92),
                    (6, height),
                    (-6, height),
                    (-30, 80),
                    (-30, 50),
                    (-6, 7.15),
                ],
            )
        )
        punches.append(
            Punch(
                key="neck",
                machine="brake",
                section="neck",
                nose=0.8,
                angle=80,
                segments=segments,
                length=length,
                source="own data",
            )
        )
    machines = tuple(replace(m, ram="beam", **machine) if m.key == "brake" else m for m in DEMO.machines)
    return replace(DEMO, machines=machines, sections=(*DEMO.sections, *sections), punches=(*DEMO.punches, *punches))


def strip(width: float, *, length: float = 200.0, sheet: str = "DC01 1.5", number: str = "HN-X") -> Part:
    return Part(number, sheet=sheet, base=Outline.rectangle(length, width, EDGES))


def channel(web: float, leg: float, tool: str = "V12", **kw: Any) -> Part:
    return strip(web, **kw).fold("near", "up", leg=leg, tool=tool).fold("far", "up", leg=leg, tool=tool)


def box(length: float, width: float, leg: float, tool: str = "V12", edges: tuple[str, ...] = EDGES) -> Part:
    part = strip(width, length=length)
    for e in edges:
        part = part.fold(e, "up", leg=leg, tool=tool)
    return part


def made_of(part: Part, shop: Shop = DEMO) -> Made:
    made = make(part, shop)
    assert made.ok, made.findings
    return made


# --- the kernel's verdict -----------------------------------------------------------------------


def sweep_of(planner: Planner, fold: int, level: int, setup: Setup) -> Motion:
    for family, sweep in planner.families(fold, level)[0]:
        if any(s is setup for s in family):
            return sweep.motion
    raise AssertionError("not a setup of this fold")


def _moved(shape: Any, turn: float, place: Any) -> Any:
    c, s = math.cos(turn), math.sin(turn)
    return shapely.transform(
        shape, lambda p: np.column_stack((c * p[:, 0] - s * p[:, 1], s * p[:, 0] + c * p[:, 1])) + place
    )


def work(made: Made, motion: Motion, fold: int, angles: dict[str, float], k: int) -> cq.Solid:
    """The half-folded part as a solid in the machine, at sample k of the sweep."""
    name = made.strips[fold].name
    part = posed(
        made.folded, {**{n: max(a, FLAT) for n, a in angles.items()}, name: max(math.degrees(motion.angles[k]), FLAT)}
    )
    bend = part.zones[fold]
    over = np.eye(4)
    if bend.direction == "down":
        over = np.diag([-1.0, 1.0, -1.0, 1.0])
        over[2, 3] = made.thickness
    turn, place = motion.poses[False]
    pose = np.eye(4)
    c, s = math.cos(turn[k]), math.sin(turn[k])
    pose[1:3, 1:3], pose[1:3, 3] = [[c, -s], [s, c]], place[k]
    m = pose @ over @ np.linalg.inv(bend.frame.matrix)
    return solid(part).moved(cq.Location(cq.Plane(tuple(m[:3, 3]), tuple(m[:3, 0]), tuple(m[:3, 2]))))


def tools(setup: Setup, motion: Motion, k: int) -> dict[str, list[cq.Solid]]:
    """Every part of the machine as solids at sample k; bars that press a hem only when it is down."""
    out: dict[str, list[cq.Solid]] = {}
    for p in setup.bodies:
        shape = p.shape
        if p.frame == "closed" and k < len(motion.angles) - 1:
            continue
        if p.frame != "closed":
            turn, place = motion.stroke.tool(p.frame, motion)
            shape = _moved(shape, turn[k], place[k])
        x0, x1 = max(p.span[0], -700.0), min(p.span[1], 1000.0)
        plane = cq.Plane((x0, 0, 0), (0, 1, 0), (1, 0, 0))
        for polygon in getattr(shape, "geoms", [shape]):
            ring = [tuple(c) for c in polygon.exterior.coords[:-1]]
            out.setdefault(p.name, []).append(cq.Workplane(plane).polyline(ring).close().extrude(x1 - x0).val())
    return out


def common(a: Any, b: Any) -> float:
    shape = BRepAlgoAPI_Common(a.wrapped, b.wrapped).Shape()
    return 0.0 if shape.IsNull() else float(cq.Shape.cast(shape).Volume())


def overlaps(made: Made, planner: Planner, move: Hit, shares: tuple[float, ...]) -> dict[tuple[float, str], float]:
    """Common volume of part and each tool, mm³, at shares of the sweep."""
    motion = sweep_of(planner, move.fold, move.level, move.setup)
    out: dict[tuple[float, str], float] = {}
    for share in shares:
        k = round(share * (len(motion.angles) - 1))
        body = work(made, motion, move.fold, angles_of(planner, move.before), k)
        for name, solids in tools(move.setup, motion, k).items():
            out[share, name] = sum(common(body, s) for s in solids)
    return out


def angles_of(planner: Planner, levels: Levels) -> dict[str, float]:
    return {s.name: math.degrees(planner.blank.turns[n][levels[n]]) for n, s in enumerate(planner.blank.strips)}


def said(sequence: FoldPlan) -> str:
    return "\n".join([repr(sequence), *map(str, sequence.blocked), *map(str, sequence.findings)])


def order(part: Part, shop: Shop = DEMO) -> FoldPlan:
    """Return the order of folds of a part."""
    return fold_sequence(made_of(part, shop))


def folds(part: Part, shop: Shop = DEMO) -> bool:
    """Whether a part folds; the answer must be proved."""
    sequence = order(part, shop)
    assert sequence.proven, said(sequence)
    return bool(sequence.steps)
