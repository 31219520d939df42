"""Folded parts put together by hand, so that solid and preview are tested without the resolver.

Every panel is drawn between its tangent lines; a child's frame starts on its
own tangent line. Allowances are plain arcs at K = 0.4.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from tinbook.make.beadshape import bead_path, footprint
from tinbook.make.made import Frame, Made, MadeBead, MadeHole, MadePanel, MadeStrip, bent
from tinbook.plane import Edge, Loop, Move, circle, polygon

NOWHERE = Move()


def hole(loop: Loop, name: str = "hole") -> MadeHole:
    """Return a hole of any outline."""
    return MadeHole(loop=loop, name=name, use="cut-out")


def drilled(points: Iterable[tuple[float, float]], dia: float) -> tuple[MadeHole, ...]:
    """Return round holes."""
    return tuple(
        MadeHole(loop=circle(p, dia), name=f"h{i}", use="bolt", dia=dia) for i, p in enumerate(points, start=1)
    )


def bead(
    course: Sequence[Any], width: float, depth: float, shoulder: float, direction: str = "up", corner: float = 60.0
) -> MadeBead:
    """Return a bead along points or edges."""
    path = bead_path(course, corner)
    return MadeBead(
        name="bead",
        path=path,
        width=width,
        depth=depth,
        shoulder=shoulder,
        direction=direction,  # type: ignore[arg-type]
        footprint=footprint(path, width),
        roll="R",
    )


def panel(
    boundary: Loop,
    holes: Sequence[MadeHole] = (),
    beads: Sequence[MadeBead] = (),
    name: str = "base",
    frame: Frame | None = None,
    parent: str | None = None,
) -> MadePanel:
    """Return a panel."""
    return MadePanel(
        name=name,
        boundary=boundary,
        holes=tuple(holes),
        beads=tuple(beads),
        frame=frame or Frame(),
        flat=NOWHERE,
        parent=parent,
    )


def made(panels: Sequence[MadePanel], strips: Sequence[MadeStrip] = (), t: float = 1.5) -> Made:
    """Return a resolved part without a shop."""
    nothing: Any = SimpleNamespace(number="HN-TEST")
    return Made(
        part=nothing, shop=nothing, sheet=nothing, thickness=t, panels=tuple(panels), strips=tuple(strips), flat=None
    )


def allowance(angle: float, radius: float, t: float) -> float:
    """Return the length of the neutral arc at K = 0.4."""
    return math.radians(angle) * (radius + 0.4 * t)


def fold(
    parent: MadePanel,
    name: str,
    child: Loop,
    *,
    angle: float = 90.0,
    direction: str = "up",
    radius: float = 2.0,
    t: float = 1.5,
    regions: Sequence[Loop] | None = None,
    strip_holes: Sequence[MadeHole] = (),
    holes: Sequence[MadeHole] = (),
    beads: Sequence[MadeBead] = (),
) -> tuple[MadeStrip, MadePanel]:
    """Hang a child panel on the parent's edge(s) "fold:NAME"; x = 0 at the end of the last such edge."""
    edges = [e for e in parent.boundary if e.name == f"fold:{name}"]
    far = max(edges, key=lambda e: math.dist(e.end, edges[0].start))
    whole = Edge(edges[0].start, far.end)
    frame = parent.frame.placed(Move.to_edge(whole))
    a = allowance(angle, radius, t)
    if regions is None:
        n = whole.length
        regions = [polygon([(0, 0), (n, 0), (n, a), (0, a)], ["parent", "", "child", ""])]
    strip = MadeStrip(
        name=name,
        parent=parent.name,
        child=name,
        regions=tuple(regions),
        holes=tuple(strip_holes),
        angle=angle,
        direction=direction,  # type: ignore[arg-type]
        radius=radius,
        setback=0.0,
        bend=SimpleNamespace(allowance=a),  # type: ignore[arg-type]
        frame=frame,
        flat=NOWHERE,
    )
    child_frame = bent(frame, math.radians(angle), radius, t, strip.direction)
    return strip, panel(child, holes, beads, name, child_frame, parent.name)


def leg(length: float, height: float, name: str, outside: float = 0.0, top: str = "") -> Loop:
    """Return a rectangular leg that reaches `outside` beyond (or, negative, short of) its fold on both sides."""
    o = outside
    if o == 0:
        return polygon([(0, 0), (length, 0), (length, height), (0, height)], [f"fold:{name}", "", top, ""])
    return polygon(
        [(-o, 0), (0, 0), (length, 0), (length + o, 0), (length + o, height), (-o, height)],
        ["", f"fold:{name}", "", "", top, ""],
    )


def tray(
    holes: int, t: float = 1.5, length: float = 900.0, width: float = 600.0, angle: float = 90.0, dia: float = 8.0
) -> Made:
    """Return a pan with four returns and a grid of about that many holes."""
    base_loop = polygon(
        [
            (5, 0), (length - 5, 0), (length - 5, 5), (length, 5), (length, width - 5), (length - 5, width - 5),
            (length - 5, width), (5, width), (5, width - 5), (0, width - 5), (0, 5), (5, 5),
        ],
        ["fold:front", "", "", "fold:sill", "", "", "fold:rear", "", "", "fold:tunnel", "", ""],
    )  # fmt: skip
    rows = max(1, round(math.sqrt(holes * width / length)))
    columns = math.ceil(holes / rows)
    grid = [
        (length * (i + 1) / (columns + 1), width * (j + 1) / (rows + 1)) for j in range(rows) for i in range(columns)
    ][:holes]
    base = panel(base_loop, drilled(grid, dia))
    panels, strips = [base], []
    for name, n in (("front", length - 10), ("sill", width - 10), ("rear", length - 10), ("tunnel", width - 10)):
        strip, child = fold(base, name, leg(n, 40.0, name), t=t, angle=angle)
        strips.append(strip)
        panels.append(child)
    return made(panels, strips, t)


def renamed(loop: Loop, names: dict[int, str]) -> Loop:
    """Return a loop with some edges named by their place."""
    return Loop(tuple(replace(e, name=names.get(i, e.name)) for i, e in enumerate(loop.edges)))
