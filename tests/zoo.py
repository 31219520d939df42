"""The zoo: named awkward parts on the demo shop. Whatever reads a made part is tried on all of them.

`ZOO` maps a name to a function that builds the part; `made_zoo(name)` makes it once. A new kind of feature, hem,
corner, relief or use of a hole must get an animal here: `tests/invariants/test_feature_kinds.py` counts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.features import Corner, Relief
from tinbook.part.forms.drawn_hole import DrawnHole
from tinbook.part.forms.joggle import Joggle
from tinbook.part.forms.louvre import Louvre
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop
from tinbook.shop.shop import Shop

SHOP = Shop.demo()
EDGES = ("front", "right", "rear", "left")


def _part(number: str, sheet: str, width: float, height: float, **options: object) -> Part:
    return Part(number, sheet=sheet, base=Outline.rectangle(width, height), **options)  # type: ignore[arg-type]


def plate() -> Part:
    """A flat plate with an opening of every kind and use, a text on either face."""
    return (
        _part("HN-BM", "S235 6.0", 300, 200, rev="C", title="Body mount plate")
        .hole((40, 40), 14, use="bolt")
        .hole((260, 160), use="bolt", size="M12")
        .hole((150, 40), 14, length=40, turn=30)
        .cut_out(Outline.rectangle(60, 40).rounded(8), at=(120, 90), turn=15)
        .hole_grid((40, 120), (2, 3), (25, 25), dia=12, use="drain")
        .holes_along("rear", count=5, dia=13, inset=18, use="cut-out")
        .hole((260, 40), 4, use="mark and drill")
        .text("HN-BM", (200, 70), height=12)
        .text("down side", (200, 100), face="down", turn=90)
        .etch([(150, 60), (190, 60), (190, 110)], closed=True, face="down", name="other plate")
        .etch([(10, 80), (20, 80), (20, 90), (10, 90)], closed=True, note="pad 10 x 10 mm welded on")
    )


def uses() -> Part:
    """Every use of a hole, its diameter from the shop's tables."""
    return (
        _part("HN-US", "DC01 1.5", 400, 200)
        .holes_along(("front", "rear"), pitch=40, inset=12, use="plug weld")
        .holes_along(("front", "rear"), count=6, inset=12, use="tack screw")
        .hole((60, 100), use="nut insert", size="M6")
        .hole((140, 100), use="bolt", size="M8")
        .hole((220, 100), 12, use="drain")
        .hole((300, 100), 6, use="mark and drill")
        .hole((340, 100), use="rivet", size="4.8")
        .hole((270, 60), 10, undersize=7)
        .hole((60, 60), use="press nut", size="M4")
        .hole((140, 60), use="standoff", size="M3")
        .hole((220, 60), 2.6, use="drawn hole", size="M4")
        .hole((360, 100), 1.2)
        .hole_grid((40, 60), (2, 1), (30, 1), use="bolt", size="M5")
        .holes_along("left", count=3, inset=14, ends=30, use="bolt", size="M6")
    )


def angle_bracket() -> Part:
    """An L of 90 degrees."""
    return _part("HN-L", "DC01 2.0", 120, 60).fold("front", leg=40).hole((30, 40), 8).hole((60, 20), 8, panel="front")


def channel() -> Part:
    """A U."""
    return _part("HN-U", "DC01 2.0", 300, 80).fold("front", leg=50).fold("rear", leg=50)


def all_on(part: Part, tool: str) -> Part:
    """The same part with every fold on one tool, whatever the shop would choose."""
    folds = tuple(replace(f, tool=tool) for f in part.folds)
    return replace(part, folds=folds)


def hat() -> Part:
    """A top hat: two walls up, two flanges out, on plate."""
    part = _part("HN-HAT", "S235 3.0", 400, 90).fold("front", leg=45).fold("rear", leg=45)
    return part.fold("front.end", "down", leg=30).fold("rear.end", "down", leg=30)


def zed() -> Part:
    """A Z with unequal, tapering legs."""
    part = _part("HN-Z", "DC01 1.5", 250, 60).fold("front", "up", leg=(30, 55))
    return part.fold("rear", "down", leg=(50, 25), skew=(0, 12))


def joggle() -> Part:
    """A step of one and a half thicknesses, by two folds of 45 degrees close together."""
    part = _part("HN-J", "DC01 0.8", 200, 80).fold("rear", "up", leg=8, angle=45)
    return part.fold("rear.end", "down", leg=30, angle=45)


def tray(corner: str = "open", relief: str = "square") -> Part:
    """Four returns with one kind of corner and relief."""
    part = _part("HN-TR", "DC01 1.5", 300, 220)
    for e in EDGES:
        part = part.fold(e, leg=35, corner=corner, relief=relief)  # type: ignore[arg-type]
    return part


def closed_box() -> Part:
    """Four walls with corners closed for a weld, each with an inward flange stopped short of the corners."""
    part = _part("HN-BX", "DC01 1.5", 300, 220)
    for e, size in zip(EDGES, (300, 220, 300, 220), strict=True):
        part = part.fold(e, leg=50, corner=Corner(kind="closed", gap=0.4))
        # Up to the corners all four, at one height, would run through each other.
        part = part.fold(f"{e}.end", leg=25, skew=(-45, -45), start=6, stop=size - 6)
    return part


def tube() -> Part:
    """A closed square section, its seam left open by 2 mm."""
    part = _part("HN-SQ", "DC01 2.0", 200, 50).fold("front", leg=50).fold("rear", leg=50)
    return part.fold("front.end", leg=48).text("seam", (10, 20), panel="rear")


def chain_of_ten() -> Part:
    """Ten folds, each hung on the one before: a zigzag."""
    part = _part("HN-CH", "DC01 1.2", 150, 40).fold("rear", "up", leg=40, angle=60, name="f1")
    for i in range(2, 11):
        part = part.fold(f"f{i - 1}.end", "down" if i % 2 == 0 else "up", leg=40, angle=60, name=f"f{i}")
    return part


def spiral() -> Part:
    """Five folds the same way, each shorter than the one before."""
    part = _part("HN-SP", "DC01 1.0", 120, 90).fold("rear", leg=80, name="s1")
    for i, leg in enumerate((66, 52, 38, 24), 2):
        part = part.fold(f"s{i - 1}.end", leg=leg, name=f"s{i}")
    return part


def tunnel() -> Part:
    """A tapered tunnel: shallow bends on an outline that is not square, flanges on flanges."""
    base = Outline.polygon([(0, 0), (220, 0), (180, 700), (0, 700)], ("mouth", "wall", "tail", "side"))
    part = Part("HN-TN", sheet="DC01 1.6", base=base).fold("side", leg=60, angle=45).fold("wall", leg=60, angle=45)
    part = part.fold("side.end", "down", leg=25, angle=45).fold("wall.end", "down", leg=25, angle=45)
    return part.holes_along(("side.end.end", "wall.end.end"), dia=6.5, pitch=60, inset=12, use="bolt")


def hems() -> Part:
    """A hem of every kind."""
    part = _part("HN-HM", "DC01 1.0", 260, 180).hem("front", "closed", leg=10).hem("right", "open", leg=12, gap=2)
    return part.hem("rear", "teardrop", "down", leg=16).hem("left", "closed", "down", leg=9, start=40, stop=140)


def hem_on_a_leg() -> Part:
    """A dash edge: a leg, its edge hemmed outward."""
    return _part("HN-DS", "DC01 1.2", 500, 90).fold("rear", leg=40).hem("rear.end", "open", "down", leg=10, gap=1.2)


def curls() -> Part:
    """An eye that closes round a pin, and an edge rolled the other way."""
    part = _part("HN-CL", "DC01 1.5", 120, 80).curl("rear", radius=6, angle=270, leg=3, start=20, stop=60)
    return part.curl("front", "down", radius=15, angle=120, leg=10, rule="DIN 6935")


def acute() -> Part:
    """A leg turned by 135, another by 120, measured inside and to the tangent."""
    part = _part("HN-AC", "DC01 1.5", 200, 100).fold("front", leg=30, angle=135, to="inside")
    return part.fold("rear", "down", leg=30, angle=120, to="tangent")


def gentle() -> Part:
    """A fold of three degrees and one of a large radius."""
    part = _part("HN-GE", "DC01 1.5", 200, 100).fold("front", leg=30, angle=3)
    return part.fold("rear", leg=80, radius=40)


def part_folds() -> Part:
    """Three stretches of one edge folded, two ways, with three reliefs."""
    part = _part("HN-PF", "DC01 1.5", 400, 120)
    part = part.fold("front", leg=30, stop=100, relief="round", name="a")
    part = part.fold(
        "front", "down", leg=20, start=150, stop=250, relief=Relief(kind="square", width=4, depth=3), name="b"
    )
    return part.fold("front", leg=25, start=300, relief="tear", name="c")


def step_and_notch() -> Part:
    """An L-shaped panel with returns into its inner corner, which leave each other room in the blank."""
    points = [(0, 0), (400, 0), (400, 120), (200, 120), (200, 300), (0, 300)]
    base = Outline.polygon(points, ["front", "right", "step", "notch", "rear", "left"])
    part = Part("HN-LS", sheet="DC01 1.5", base=base)
    part = part.fold("step", leg=25, stop=160).fold("notch", leg=25, start=40)
    return part.fold("left", "down", leg=30)


def rounded_pan() -> Part:
    """Arcs in the outline, folds on the straight edges between them."""
    base = Outline.rectangle(400, 300).rounded({"front/right": 60, "rear/left": 40})
    return Part("HN-RO", sheet="DC01 1.2", base=base).fold("front", leg=25).fold("left", "down", leg=20)


def holes_over_folds() -> Part:
    """Openings across bend lines: through one, off its middle, across two panels, and whole within a wide strip."""
    part = _part("HN-HO", "DC01 1.5", 300, 120).fold("front", leg=40).fold("rear", leg=60, radius=30)
    part = part.hole((60, 3), 20).hole((150, 6), 12, length=40, turn=90).hole((220, 1), 9)
    return part.hole((150, 120), 6)


def beads() -> Part:
    """Beads up and down, along, across and round a corner, allowed for their draw."""
    part = _part("HN-BD", "DC01 1.2", 700, 500)
    part = part.bead([(120, 80), (120, 420)], "R18x5").repeated(2, 80)
    part = part.bead([(300, 90), (560, 90), (560, 330)], "R12x3", "down", corner_radius=80)
    return part.bead([(300, 300), (460, 420)], "R25x6", name="slant")


def drawn_holes() -> Part:
    """Drawn holes up and down, from a given pilot, an upright collar, in a row beside a fold, and on a leg."""
    part = _part("HN-DH", "DC01 1.5", 400, 220).fold("front", leg=90).hole((40, 180), 8)
    part = part.formed(DrawnHole(centre=(90, 80), dia=40, height=6, copies=3, step=(90, 0)))
    part = part.formed(
        DrawnHole(name="from below", centre=(120, 160), dia=30, height=5, angle=45, direction="down", radius=3)
    )
    part = part.formed(DrawnHole(name="collar", centre=(220, 160), dia=20, height=4, angle=90, pilot=14))
    return part.formed(DrawnHole(name="on the leg", panel="front", centre=(300, 50), dia=25, height=4, size="die 25"))


def louvres() -> Part:
    """Louvres in a row by a die, one on the skew from below with sizes of its own, and one on a leg."""
    part = _part("HN-LO", "DC01 1.5", 300, 160).fold("front", leg=60)
    part = part.formed(Louvre(centre=(70, 30), die="L80", copies=3, step=(0, 34)))
    own = Louvre(centre=(200, 80), turn=120, length=60, reach=14, opening=4.5, radius=2.5, direction="down")
    return part.formed(own).formed(Louvre(name="on the leg", panel="front", centre=(150, 20), die="L80"))


def stepped_laps() -> Part:
    """Joggled edges: down beside a slanting side, for the part's own sheet, and up, at a given step and angle."""
    base = Outline.polygon([(0, 0), (220, 0), (235, 160), (0, 160)], ("front", "right", "rear", "left"))
    part = Part("HN-SL-2", sheet="DC01 1.5", base=base).fold("front", leg=40).hole((60, 60), 8)
    part = part.formed(Joggle(edge="rear", lap=18, gap=0.25))
    patch = Joggle(
        name="patch", edge="left", lap="16 mm", mate="DC01 2.0", step=2.6, direction="up", angle=50, radius=2
    )
    return part.formed(patch)


def beaded_return() -> Part:
    """A bead on a leg and one on the base, trimmed afterwards."""
    part = _part("HN-BR", "DC01 1.2", 500, 200, trim=True).fold("rear", leg=120)
    return part.bead([(80, 60), (420, 60)], "R12x3", panel="rear").bead([(80, 80), (420, 80)], "R12x3")


def pan_left() -> Part:
    """The floor pan's kind: everything at once."""
    base = Outline.polygon(
        [(0, 0), (900, 0), (900, 560), (860, 600), (0, 620)], ("front", "sill", "clip", "rear", "side")
    )
    part = Part("HN-FP-L", rev="B", sheet="DC01 1.2", base=base, quantity=2).fold("side", leg=40)
    part = part.fold("sill", "down", leg=25, angle=30).bead([(140, 120), (140, 500)], "R18x5").repeated(4, 150)
    part = part.holes_along(("front", "rear"), dia=8, pitch=45, inset=12, use="plug weld")
    return part.hole((365, 300), 25, use="drain").text("HN", (300, 60))


def pan_right() -> Part:
    """Its other hand."""
    return pan_left().mirrored("HN-FP-R")


def shape_leg() -> Part:
    """A leg of its own outline: an arch with a flat, and a shaped tab on a side of another leg."""
    arch = Loop(
        (
            Edge((20, 0), (180, 0), 0.0, "base"),
            Edge((180, 0), (180, 40), 0.0, "right"),
            Edge((180, 40), (20, 40), 0.5, "crown"),
            Edge((20, 40), (20, 0), 0.0, "left"),
        )
    )
    tab = Outline.polygon([(5, 0), (45, 0), (30, 30), (20, 30)], ["base", "r", "tip", "l"])
    part = _part("HN-SL", "DC01 1.5", 200, 150).fold("front", shape=Outline(loop=arch))
    return part.fold("rear", leg=50).fold("rear.left", "up", shape=tab)


def slanted_bend() -> Part:
    """A bend whose ends are not square: one leans, the other is a round of a quarter circle and a bit of a tangent line."""
    strip = Loop(
        (
            Edge((0, 0), (120, 0), 0.0, "parent"),
            Edge((120, 0), (117, 3.2), 0.3),
            Edge((117, 3.2), (115, 3.2)),
            Edge((115, 3.2), (6, 3.2), 0.0, "child"),
            Edge((6, 3.2), (0, 0)),
        )
    )
    leg = Outline.polygon([(6, 0), (115, 0), (115, 30), (6, 30)], ["base", "right", "end", "left"])
    part = _part("HN-SB", "DC01 1.5", 120, 80).fold("front", shape=leg)
    return replace(part, folds=(replace(part.folds[0], strip=strip),))


def opening_on_tangent() -> Part:
    """Windows of which an edge lies on a tangent line, from either side; radius 2 at 90 degrees on 1.5 mm: 3.5 mm."""
    part = _part("HN-OT", "DC01 1.5", 160, 80).fold("front", leg=30, radius=2)
    for k, (y0, y1) in enumerate(((3.5, 12), (-4, 3.5))):
        x = 20 + 60 * k
        window = Outline.polygon([(x, y0), (x + 30, y0), (x + 30, y1), (x, y1)], ["a", "b", "c", "d"])
        part = part.cut_out(window, at=(0, 0))
    return part


def gusset() -> Part:
    """A thick plate with one leg, cut and folded by suppliers."""
    return _part("HN-RP", "S355 6.0", 200, 120).fold("front", leg=70, tool="V50").hole((100, 70), 26, use="bolt")


def aluminium_tray() -> Part:
    """A tray in aluminium with lapped corners and skewed ends."""
    part = _part("HN-TC", "5083 3.0", 300, 200)
    for e in EDGES:
        part = part.fold(e, leg=40, corner="lapped", radius=9)
    return part


def unmarked() -> Part:
    """A bracket that is not to be marked, in stainless."""
    return _part("HN-NM", "1.4301 1.5", 120, 80, marking=False).fold("front", leg=30).fold("left", "down", leg=25)


def eye() -> Part:
    """A strap end set back and curled round a pin further than half a turn, its tail on the strap; a rolled corner."""
    part = _part("HN-ST", "DC01 2.0", 200, 40)
    part = part.fold("right", "down", leg=14, angle=80, radius=3, name="set")
    part = part.curl("set.end", "up", radius=6, angle=260, leg=40, name="eye")
    return part.curl("left", "down", radius=40, angle=90, leg=60, name="corner")


def scroll() -> Part:
    """An edge curled until its tip nearly touches: 9.5 cos 40 + 0.9 sin 40 = 7.86 mm below the bar's axis, of 8."""
    return _part("HN-SC", "DC01 1.5", 120, 60).curl("right", "up", radius=8, angle=320, leg=0.9)


def scroll_too_far() -> Part:
    """A curl whose tail comes through its own panel, 9.5 cos 30 + 2 sin 30 = 9.2 mm below the bar's axis, of 8."""
    return _part("HN-SC", "DC01 1.5", 120, 60).curl("right", "up", radius=8, angle=330, leg=2)


ZOO: dict[str, Callable[[], Part]] = {
    "plate": plate,
    "uses": uses,
    "angle bracket": angle_bracket,
    "channel": channel,
    "hat": hat,
    "zed": zed,
    "joggle": joggle,
    "tray, open corners": tray,
    "tray, closed corners": lambda: tray("closed", "round"),
    "tray, lapped corners": lambda: tray("lapped", "tear"),
    "closed box": closed_box,
    "tube": tube,
    "chain of ten": chain_of_ten,
    "spiral": spiral,
    "tunnel": tunnel,
    "hems": hems,
    "hem on a leg": hem_on_a_leg,
    "curls": curls,
    "acute": acute,
    "gentle": gentle,
    "part folds": part_folds,
    "step and notch": step_and_notch,
    "rounded pan": rounded_pan,
    "holes over folds": holes_over_folds,
    "slanted bend": slanted_bend,
    "opening on a tangent line": opening_on_tangent,
    "beads": beads,
    "drawn holes": drawn_holes,
    "louvres": louvres,
    "stepped laps": stepped_laps,
    "beaded return": beaded_return,
    "pan, left": pan_left,
    "pan, right": pan_right,
    "shape leg": shape_leg,
    "gusset": gusset,
    "aluminium tray": aluminium_tray,
    "unmarked": unmarked,
    "eye": eye,
    "scroll": scroll,
}


@cache
def made_zoo(name: str) -> Made:
    """Return an animal of the zoo, made once."""
    return make(ZOO[name](), SHOP)
