"""Folded parts put together by hand, so that solid and preview are tested without the resolver.

`PARTS` names them with the number of holes through each. Every panel is drawn between its tangent lines; a child's frame starts on its
own tangent line. Allowances are plain arcs at K = 0.4.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

from tinbook.making.bends import Bend
from tinbook.making.folded import BendZone, Folded, MadeHole, MadePanel, frame_after_bend
from tinbook.part.forms.bead import MadeBead
from tinbook.part.forms.beadshape import bead_path, footprint
from tinbook.plane.loops import Edge, Loop, Move, circle, polygon, slot
from tinbook.space import SPACE, Frame


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
    """Return a bead along points."""
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
        forms=tuple(beads),
        frame=frame or SPACE,
        parent=parent,
    )


def made(panels: Sequence[MadePanel], zones: Sequence[BendZone] = (), t: float = 1.5) -> Folded:
    """Return a folded part without a declaration or a shop."""
    return Folded(thickness=t, panels=tuple(panels), zones=tuple(zones))


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
) -> tuple[BendZone, MadePanel]:
    """Hang a child panel on the parent's edge(s) "fold:NAME"; x = 0 at the end of the last such edge."""
    edges = [e for e in parent.boundary if e.name == f"fold:{name}"]
    far = max(edges, key=lambda e: math.dist(e.end, edges[0].start))
    whole = Edge(edges[0].start, far.end)
    frame = parent.frame.placed(Move.to_edge(whole))
    a = allowance(angle, radius, t)
    if regions is None:
        n = whole.length
        regions = [polygon([(0, 0), (n, 0), (n, a), (0, a)], ["parent", "", "child", ""])]
    strip = BendZone(
        name=name,
        parent=parent.name,
        child=name,
        regions=tuple(regions),
        holes=tuple(strip_holes),
        angle=angle,
        direction=direction,  # type: ignore[arg-type]
        radius=radius,
        bend=Bend(radius=radius, allowance=a),
        frame=frame,
    )
    child_frame = frame_after_bend(frame, math.radians(angle), radius, t, strip.direction)
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
) -> Folded:
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


# --- the parts ---------------------------------------------------------------------------------

PLATE = polygon([(0, 0), (300, 0), (300, 200), (0, 200)])


def plate() -> Folded:
    return made([panel(PLATE, (*drilled([(50, 50), (100, 60)], 8), hole(slot((150, 100), 40, 10, 30))))])


def disc() -> Folded:
    ring = Loop(tuple(e.reversed() for e in reversed(circle((10, 10), 5).edges)))
    return made([panel(circle((0, 0), 60), [*drilled([(-10, 0)], 12), hole(ring)])])


def rounded() -> Folded:
    """Return a plate with outer and inner arcs and a square hole."""
    b = math.tan(math.pi / 8)
    outline = Loop(
        (
            Edge((20, 0), (180, 0)), Edge((180, 0), (200, 20), b), Edge((200, 20), (200, 100)),
            Edge((200, 100), (120, 100)), Edge((120, 100), (80, 100), -0.7), Edge((80, 100), (0, 100)),
            Edge((0, 100), (0, 20)), Edge((0, 20), (20, 0), b),
        )
    )  # fmt: skip
    return made([panel(outline, [hole(polygon([(20, 20), (40, 20), (40, 40), (20, 40)]))])])


def beaded(course: Sequence[Any], direction: str, width: float, depth: float, shoulder: float, corner: float) -> Folded:
    return made(
        [panel(PLATE, drilled([(20, 20)], 8), [bead(course, width, depth, shoulder, direction, corner)])], t=1.2
    )


def two_folds(angle: float, direction: str) -> Folded:
    """Return a base with one leg of that angle and one that is wider than its fold."""
    base = panel(renamed(PLATE, {0: "fold:a", 2: "fold:b"}), drilled([(150, 100)], 30))
    s1, c1 = fold(base, "a", leg(300, 30, "a"), angle=angle, direction=direction, holes=drilled([(40, 12)], 6))
    s2, c2 = fold(base, "b", leg(300, 30, "b", outside=6), angle=90)
    return made([base, c1, c2], [s1, s2])


def chain(direction: str) -> Folded:
    """Return a Z or a C of four panels, each hung on the one before."""
    panels = [panel(renamed(PLATE, {1: "fold:a"}))]
    strips = []
    for name, following, way in (("a", "b", "up"), ("b", "c", direction), ("c", "", direction)):
        strip, child = fold(
            panels[-1], name, leg(200, 40, name, top=f"fold:{following}" if following else ""), direction=way
        )
        strips.append(strip)
        panels.append(child)
    return made(panels, strips)


def two_on_a_corner() -> Folded:
    """Return a base whose two folds end at one corner without a relief."""
    base = panel(renamed(PLATE, {0: "fold:a", 1: "fold:b"}))
    s1, c1 = fold(base, "a", leg(300, 30, "a"))
    s2, c2 = fold(base, "b", leg(200, 30, "b"))
    return made([base, c1, c2], [s1, s2])


def _arc(p: tuple[float, float], q: tuple[float, float], c: tuple[float, float], *, anticlockwise: bool) -> Edge:
    a, b = math.atan2(p[1] - c[1], p[0] - c[0]), math.atan2(q[1] - c[1], q[0] - c[0])
    sweep = (b - a) % math.tau if anticlockwise else -((a - b) % math.tau)
    return Edge(p, q, math.tan(sweep / 4))


def hole_through(angle: float, direction: str, off: float = 0.5, dia: float = 20.0, radius: float = 4.0) -> Folded:
    """Return an L with a round hole through its fold, centred at a fraction `off` of the strip."""
    t, length, x = 1.5, 200.0, 90.0
    a = allowance(angle, radius, t)
    v, r = a * off, dia / 2
    lo, up = math.sqrt(r * r - v * v), math.sqrt(r * r - (a - v) ** 2)
    c = (x, v)
    left = Loop(
        (
            Edge((0, 0), (x - lo, 0), 0, "parent"), _arc((x - lo, 0), (x - up, a), c, anticlockwise=False),
            Edge((x - up, a), (0, a), 0, "child"), Edge((0, a), (0, 0)),
        )
    )  # fmt: skip
    right = Loop(
        (
            Edge((x + lo, 0), (length, 0), 0, "parent"), Edge((length, 0), (length, a)),
            Edge((length, a), (x + up, a), 0, "child"), _arc((x + up, a), (x + lo, 0), c, anticlockwise=False),
        )
    )  # fmt: skip
    y = length - x
    base = Loop(
        (
            Edge((0, 0), (y - lo, 0), 0, "fold:a"), _arc((y - lo, 0), (y + lo, 0), (y, -v), anticlockwise=False),
            Edge((y + lo, 0), (length, 0), 0, "fold:a"), Edge((length, 0), (length, 100)),
            Edge((length, 100), (0, 100)), Edge((0, 100), (0, 0)),
        )
    )  # fmt: skip
    child = Loop(
        (
            Edge((0, 0), (x - up, 0), 0, "fold:a"), _arc((x - up, 0), (x + up, 0), (x, v - a), anticlockwise=False),
            Edge((x + up, 0), (length, 0), 0, "fold:a"), Edge((length, 0), (length, 50)),
            Edge((length, 50), (0, 50)), Edge((0, 50), (0, 0)),
        )
    )  # fmt: skip
    b = panel(base)
    strip, c1 = fold(b, "a", child, angle=angle, direction=direction, radius=radius, t=t, regions=(left, right))
    return made([b, c1], [strip], t)


def holes_inside(direction: str) -> Folded:
    """Return an L with a wide bend that holds a round, a slotted and a square hole."""
    b = panel(renamed(polygon([(0, 0), (200, 0), (200, 100), (0, 100)]), {0: "fold:a"}))
    cuts = [
        hole(circle((50, 25), 12), "round"),
        hole(slot((120, 25), 40, 10, 30), "slot"),
        hole(polygon([(180, 10), (190, 10), (190, 20), (180, 20)]), "square"),
    ]
    strip, child = fold(b, "a", leg(200, 30, "a"), direction=direction, radius=30, strip_holes=cuts)
    return made([b, child], [strip])


def tapered(direction: str) -> Folded:
    """Return an L whose strip tapers and ends wider than its leg."""
    b = panel(renamed(polygon([(0, 0), (200, 0), (200, 100), (0, 100)]), {0: "fold:a"}))
    a = allowance(90, 3, 1.5)
    region = polygon([(0, 0), (200, 0), (190, a), (140, a), (20, a), (10, a)], ["parent", "", "", "child", "", ""])
    child = polygon([(20, 0), (140, 0), (140, 30), (20, 30)], ["fold:a"])
    strip, c = fold(b, "a", child, direction=direction, radius=3, regions=(region,))
    return made([b, c], [strip])


STRAIGHT = [(60, 100), (240, 100)]
BENT = [(40, 40), (150, 40), (150, 160), (260, 160)]

PARTS: dict[str, tuple[Callable[[], Folded], int]] = {
    "plate": (plate, 3),
    "disc": (disc, 2),
    "rounded": (rounded, 1),
    "tray of 60": (lambda: tray(60), 60),
    "two on a corner": (two_on_a_corner, 0),
    "zed": (lambda: chain("down"), 0),
    "cee": (lambda: chain("up"), 0),
    "hem": (lambda: two_folds(180, "up"), 2),
    **{
        f"two folds {angle} {way}": (lambda angle=angle, way=way: two_folds(angle, way), 2)
        for angle in (15, 90, 135, 240)
        for way in ("up", "down")
    },
    **{
        f"hole through {angle} {way} {off}": (lambda angle=angle, way=way, off=off: hole_through(angle, way, off), 1)
        for angle, way, off in (
            (45, "up", 0.5),
            (90, "up", 0.2),
            (90, "down", 0.5),
            (150, "up", 0.5),
            (150, "down", 0.8),
        )
    },
    **{f"holes inside {way}": (lambda way=way: holes_inside(way), 3) for way in ("up", "down")},
    **{f"tapered {way}": (lambda way=way: tapered(way), 0) for way in ("up", "down")},
    **{
        f"bead {label} {way}": (lambda way=way, args=args: beaded(args[0], way, *args[1:]), 1)
        for label, args in {
            "straight": (STRAIGHT, 18, 5, 2, 60),
            "bent": (BENT, 18, 5, 2, 30),
            "half round": ([(60, 100), (200, 100), (220, 160)], 12, 6, 1, 60),
            "shallow, wide shoulders": (STRAIGHT, 12, 1, 12, 60),
        }.items()
        for way in ("up", "down")
    },
}
