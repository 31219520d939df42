"""A folded part that runs into itself is a finding; the kernel's common volumes of its pieces are the witness."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import cadquery as cq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from strategies import SHOP, parts
from tinbook.making.folded import BendZone, MadePanel
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Loop
from zoo import ZOO, made_zoo

LEAST = 5.0
"""mm³ of common volume from which the finding must be there; plates may pass 0.03 mm deep into each other."""


def square() -> Part:
    return Part("HN-X", sheet="DC01 0.8", base=Outline.rectangle(120, 120))


CROSSING = {
    # The return of the hem comes down to the base's underside.
    "hem as long as its leg": (square().fold("front", leg=12).hem("front.end", leg=12), {"front.end", "front"}),
    # The third fold points down, 40 mm from a panel 30 mm high.
    "third leg through the base": (
        square().fold("front", leg=30).fold("front.end", leg=60).fold("front.end.end", leg=40),
        {"base", "front.end.end"},
    ),
    # A lid 121 mm long over a base of 120 mm, and a wall of 50 mm at the far side.
    "lid through the far wall": (
        square().fold("front", leg=30).fold("front.end", leg=121).fold("rear", leg=50),
        {"front.end", "rear"},
    ),
    # Two flanges of one box at one height, both with square ends.
    "flanges in one corner": (
        square().fold("front", leg=30).fold("right", leg=30).fold("front.end", leg=15).fold("right.end", leg=15),
        {"front.end", "right.end"},
    ),
}


@pytest.mark.parametrize("name", CROSSING)
def test_known_crossings(name: str) -> None:
    part, pieces = CROSSING[name]
    made = make(part, SHOP)
    assert not made.ok
    said = [f for f in made.findings if f.code == "part.crosses"]
    assert any(all(repr(p) in f.where for p in pieces) for f in said)
    assert made.flat is not None


CURLED = {
    # An eye of 3 mm: its tail of 12 mm comes down on the base after 300 degrees.
    "tail through its own parent": (square().curl("front", radius=3, angle=300, leg=12), {"base", "front"}),
    "tail straight down": (square().curl("front", radius=3, angle=270, leg=12), {"base", "front"}),
    # Its far skin stands 1.5 mm lower than its tip's middle: only the skins meet, 0.1 mm deep.
    "a corner of the tail": (square().curl("front", radius=3, angle=300, leg=1.4), {"base", "front"}),
    "eye at the end of a leg": (
        square().fold("front", leg=15).curl("front.end", radius=4, angle=300, leg=10),
        {"front", "front.end"},
    ),
}


@pytest.mark.parametrize("name", CURLED)
def test_metal_through_the_sheet_that_it_hangs_on(name: str) -> None:
    part, pieces = CURLED[name]
    made = make(part, SHOP)
    assert not made.ok
    said = [f for f in made.findings if f.code == "part.crosses"]
    assert any(all(repr(p) in f.where for p in pieces) for f in said)


def depth_of(radius: float, angle: float, leg: float, t: float) -> float:
    """How far below the base's face the metal of a curl comes, worked by hand, mm; above 270 degrees only.

    From the bar's axis the face lies `radius` away. The bend's outside lies radius + t off the axis, and after
    the turn `angle` the tail goes on along its tangent, which dips by sin(360 - angle).
    """
    low = math.radians(360.0 - angle)
    # Corners of the tail's end: inner and outer skin.
    ends = [rho * math.cos(low) + leg * math.sin(low) for rho in (radius, radius + t)]
    return max(*ends, (radius + t) * math.cos(low)) - radius


@given(st.floats(1.0, 8.0), st.floats(272.0, 330.0), st.floats(0.5, 12.0))
@settings(max_examples=60)
def test_a_curl_stops_where_its_metal_meets_the_base(radius: float, angle: float, leg: float) -> None:
    made = make(square().curl("front", radius=radius, angle=angle, leg=leg), SHOP)
    depth = depth_of(radius, angle, leg, made.thickness)
    if abs(depth - 0.03) < 0.03:
        return  # the depth that plates may pass, and the chords
    # The tail may also come back far enough to miss the base's far edge: not within 120 mm.
    assert ("part.crosses" in {f.code for f in made.findings}) == (depth > 0)


def test_hems_that_meet_at_a_corner_are_cured_by_drawing_their_ends_back() -> None:
    """What the remedy says, done: with ends that slope back by 45 degrees nothing crosses."""
    hemmed, mitred = square(), square()
    for edge in ("front", "right", "rear", "left"):
        hemmed = hemmed.hem(edge, "open", leg=9)
        mitred = mitred.hem(edge, "open", leg=9, skew=-45)
    said = make(hemmed, SHOP).findings.of("part.crosses")
    assert len(said) == 4
    assert all("ends drawn back from the corner" in f.remedy for f in said)
    assert not make(mitred, SHOP).findings.of("part.crosses")
    (across,) = make(square().fold("front", leg=90, angle=135).fold("rear", leg=90, angle=135), SHOP).findings.of(
        "part.crosses"
    )
    assert "corner" not in across.remedy


def test_near_misses() -> None:
    fine = square().fold("front", leg=30).fold("front.end", leg=116).fold("rear", leg=50)
    assert not [f for f in make(fine, SHOP).findings if f.code == "part.crosses"]
    low = square().fold("front", leg=30).fold("front.end", leg=119.9).fold("rear", leg=29)
    assert not [f for f in make(low, SHOP).findings if f.code == "part.crosses"]


def test_a_tab_through_an_opening_is_no_crossing() -> None:
    """A tongue of 20 mm goes down through a slot of the base, 60 mm from the fold."""
    tongue = square().fold("front", leg=30).fold("front.end", leg=60).fold("front.end.end", leg=45, start=50, stop=70)
    slotted = tongue.hole((60, 60), 6, length=40)
    assert "part.crosses" in {f.code for f in make(tongue, SHOP).findings}
    assert "part.crosses" not in {f.code for f in make(slotted, SHOP).findings}


def body(piece: MadePanel | BendZone, t: float) -> Any:
    """One panel or bend as a solid of its own, openings out."""
    f = piece.frame
    plane = cq.Plane(origin=f.origin, xDir=f.x, normal=f.z)
    if isinstance(piece, MadePanel):
        return face(piece.boundary, [h.loop for h in piece.holes], plane).extrude(t).val()
    xs = [p[0] for r in piece.regions for p in r.points]
    axis = t + piece.radius if piece.direction == "up" else -piece.radius
    section = cq.Plane(origin=f(0.0, 0.0, 0.0), xDir=f.x, normal=tuple(-c for c in f.y))
    sign = 1.0 if section.yDir.dot(cq.Vector(*f.z)) > 0 else -1.0
    block = cq.Workplane(section).moveTo(min(xs), 0).lineTo(max(xs), 0).lineTo(max(xs), sign * t)
    block = block.lineTo(min(xs), sign * t).close()
    ends = ((0.0, sign * axis), (1.0, sign * axis))
    turned = block.revolve(piece.angle, *(ends if piece.direction == "up" else ends[::-1]))
    return turned.val()


def face(outer: Loop, holes: list[Loop], plane: Any) -> Any:
    def wire(w: Any, loop: Loop) -> Any:
        w = w.moveTo(*loop.edges[0].start)
        for e in loop.edges:
            w = w.lineTo(*e.end) if e.is_line else w.threePointArc(e.at(0.5), e.end)
        return w.close()

    work = wire(cq.Workplane(plane), outer)
    for h in holes:
        work = wire(work, h)
    return work


def witness(made: Made) -> dict[frozenset[str], float]:
    """Common volume, mm³, of each two pieces without a common line (bends with openings are left out)."""
    pieces: list[MadePanel | BendZone] = [*made.panels]
    pieces += [s for s in made.strips if len(s.regions) == 1 and len(s.regions[0]) == 4 and not s.holes]
    own = [{p.name} if isinstance(p, MadePanel) else {p.parent, p.child} for p in pieces]
    bodies = [body(p, made.thickness) for p in pieces]
    shared: dict[frozenset[str], float] = {}
    for i, j in combinations(range(len(pieces)), 2):
        if own[i] & own[j] and (len(own[i]) == 1 or len(own[j]) == 1):
            continue  # a panel and its own bend: they meet in a face, whose volume is the kernel's noise
        a, b = bodies[i].BoundingBox(), bodies[j].BoundingBox()
        if (
            a.xmin > b.xmax
            or b.xmin > a.xmax
            or a.ymin > b.ymax
            or b.ymin > a.ymax
            or a.zmin > b.zmax
            or b.zmin > a.zmax
        ):
            continue
        names = frozenset(
            ("panel " if isinstance(pieces[k], MadePanel) else "fold ") + repr(pieces[k].name) for k in (i, j)
        )
        shared[names] = bodies[i].intersect(bodies[j]).Volume()
    return shared


def agree(made: Made) -> None:
    """Every pair named shares space; a part that shares space is named, though not by each of its pairs.

    Two plates that meet corner in corner, less deep than half the sheet, are not seen.
    """
    said = {frozenset(f.where.split(" and ")) for f in made.findings if f.code == "part.crosses"}
    if made.flat is None:
        return
    found = witness(made)
    for names in said & found.keys():
        assert found[names] > 0, names
    if not said:
        assert max(found.values(), default=0.0) <= LEAST
    for p in made.panels:
        assert Polygon(p.boundary.chords(0.02)).is_valid, p.name


@pytest.mark.parametrize("name", [n for n in ZOO if len(made_zoo(n).panels) > 2])
def test_the_zoo_does_not_run_into_itself(name: str) -> None:
    made = made_zoo(name)
    assert not [f for f in made.findings if f.code == "part.crosses"]
    agree(made)


@given(parts(forms=False, over_folds=False))
@settings(max_examples=25)
def test_random_parts_agree_with_the_kernel(part: Part) -> None:
    agree(make(part, SHOP))
