"""Random part trees for the invariants: up to 10 folds, 4 deep, with holes, hems, beads and corners of every kind."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from tinbook.part.forms.bead import Bead
from tinbook.part.forms.drawn_hole import DrawnHole
from tinbook.part.forms.joggle import Joggle
from tinbook.part.forms.louvre import Louvre
from tinbook.part.forms.mark import Etch, Text
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop

SHOP = Shop.demo()
SHEETS = ("DC01 0.8", "DC01 1.5", "DC01 2.0", "1.4301 1.5", "S235 3.0", "5083 3.0")


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    """Rectangles, leaning quadrilaterals, L shapes, a rectangle with one arc."""
    kind = draw(st.sampled_from(("rectangle", "quad", "L", "arc")))
    w, h = draw(st.floats(120, 900)), draw(st.floats(120, 600))
    if kind == "rectangle":
        return Outline.rectangle(w, h)
    if kind == "quad":
        lean = [draw(st.floats(-30, 30)) for _ in range(8)]
        corners = [(0, 0), (w, 0), (w, h), (0, h)]
        moved = [(x + lean[2 * i], y + lean[2 * i + 1]) for i, (x, y) in enumerate(corners)]
        return Outline.polygon(moved, ["front", "right", "rear", "left"])
    if kind == "L":
        x, y = w * draw(st.floats(0.35, 0.65)), h * draw(st.floats(0.35, 0.65))
        return Outline.polygon(
            [(0, 0), (w, 0), (w, y), (x, y), (x, h), (0, h)], ["front", "right", "step", "notch", "rear", "left"]
        )
    return Outline.rectangle(w, h).clipped({"front/right": min(w, h) * draw(st.floats(0.05, 0.3))})


@st.composite
def parts(draw: st.DrawFn, *, forms: bool = True, hems: bool = True, over_folds: bool = True) -> Part:
    """A part on the demo shop; not every one can be made."""
    base = draw(outlines())
    sheet = draw(st.sampled_from(SHEETS))
    part = Part("HN-RND", rev="A", sheet=sheet, base=base, trim=draw(st.booleans()))
    wanted = draw(st.integers(0, 10))
    open_edges = [(e.name, e.length, 0) for e in base.loop.edges if e.is_line]
    for _ in range(wanted):
        if not open_edges:
            break
        edge, length, depth = open_edges.pop(draw(st.integers(0, len(open_edges) - 1)))
        if length < 25:
            continue
        leg = draw(st.floats(12, 80))
        stretch = draw(st.sampled_from(("all", "all", "all", "middle", "first")))
        start = length * draw(st.floats(0.1, 0.3)) if stretch == "middle" else None
        stop = None if stretch == "all" else length * draw(st.floats(0.6, 0.85))
        relief = draw(st.sampled_from(("square", "round", "tear")))
        direction = draw(st.sampled_from(("up", "down")))
        name = f"f{len(part.folds)}"
        common = {"start": start, "stop": stop, "relief": relief, "name": name}
        if hems and depth and draw(st.integers(0, 5)) == 0:
            kind = draw(st.sampled_from(("closed", "open", "teardrop")))
            part = part.hem(edge, kind, direction, leg=leg, **common)
            continue
        part = part.fold(
            edge,
            direction,
            leg=leg if draw(st.booleans()) else (leg, leg * draw(st.floats(0.7, 1.4))),
            angle=draw(st.one_of(st.just(90.0), st.floats(2, 135))),
            to=draw(st.sampled_from(("outside", "inside", "tangent"))),
            corner=draw(st.sampled_from(("open", "open", "closed", "lapped"))),
            skew=draw(st.sampled_from((0.0, 0.0, (10.0, -15.0), (-20.0, -20.0)))),
            **common,
        )
        if depth < 3:
            across = length if stretch == "all" else (stop or length) - (start or 0.0)
            open_edges += [(f"{name}.end", across, depth + 1)]
            open_edges += [(f"{name}.{s}", leg, depth + 1) for s in ("left", "right")]
    return draw(_with_holes(part, forms=forms, over_folds=over_folds))


@st.composite
def _with_holes(draw: st.DrawFn, part: Part, *, forms: bool, over_folds: bool) -> Part:
    x0, y0, x1, y1 = part.base.box
    for _ in range(draw(st.integers(0, 3))):
        at = (draw(st.floats(x0 + 15, x1 - 15)), draw(st.floats(y0 + 15, y1 - 15)))
        dia = draw(st.floats(4, 14))
        if draw(st.booleans()):
            part = part.hole(at, dia)
        else:
            part = part.hole(at, dia, length=dia * draw(st.floats(1.5, 3)), turn=draw(st.floats(0, 180)))
    if draw(st.integers(0, 3)) == 0:
        edge = draw(st.sampled_from(part.base.names))
        part = part.holes_along(edge, dia=5, pitch=draw(st.floats(20, 60)), inset=draw(st.floats(8, 25)))
    if over_folds and part.folds and draw(st.booleans()):
        fold = part.folds[0]
        if fold.panel == "base":
            e = part.base.edge(fold.edge)
            s = e.length * draw(st.floats(0.4, 0.55))
            (x, y), (ux, uy), h = e.at(s / e.length), e.direction(), draw(st.floats(-2, 8))
            part = part.hole((x - uy * h, y + ux * h), draw(st.floats(4, 25)))
    for draw_form in RANDOM_FORMS.values() if forms else ():
        if draw(st.integers(0, 2)) == 0:
            part = draw_form(draw, part)
    return part.mirrored() if draw(st.integers(0, 3)) == 0 else part


def _bead(draw: st.DrawFn, part: Part) -> Part:
    x0, y0, x1, y1 = part.base.box
    roll = draw(st.sampled_from([r.key for r in SHOP.rolls]))
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    half = (y1 - y0) * draw(st.floats(0.1, 0.3))
    turn = math.radians(draw(st.floats(0, 180)))
    c, s = half * math.cos(turn), half * math.sin(turn)
    part = part.bead([(cx - c, cy - s), (cx + c, cy + s)], roll, draw(st.sampled_from(("up", "down"))))
    copies = draw(st.integers(1, 3))
    return part.repeated(copies, draw(st.floats(40, 90))) if copies > 1 else part


def _drawn_hole(draw: st.DrawFn, part: Part) -> Part:
    return part.formed(
        DrawnHole(
            centre=_inside(draw, part),
            dia=draw(st.floats(15, 40)),
            height=draw(st.floats(4, 7)),
            angle=draw(st.floats(30, 90)),
            direction=draw(st.sampled_from(("up", "down"))),
        )
    )


def _louvre(draw: st.DrawFn, part: Part) -> Part:
    reach = draw(st.floats(10, 20))
    return part.formed(
        Louvre(
            centre=_inside(draw, part),
            turn=draw(st.floats(0, 360)),
            length=2 * reach + draw(st.floats(2, 60)),
            reach=reach,
            opening=draw(st.floats(2, 6)),
            direction=draw(st.sampled_from(("up", "down"))),
        )
    )


def _joggle(draw: st.DrawFn, part: Part) -> Part:
    taken = {f.edge for f in part.folds if f.panel == "base"}
    free = [e.name for e in part.base.loop.edges if e.is_line and e.name not in taken]
    if not free:
        return part
    return part.formed(
        Joggle(
            edge=draw(st.sampled_from(free)),
            lap=draw(st.floats(12, 25)),
            gap=draw(st.floats(0.05, 0.4)),
            direction=draw(st.sampled_from(("up", "down"))),
        )
    )


def _text(draw: st.DrawFn, part: Part) -> Part:
    return part.text("HN", _inside(draw, part), face=draw(st.sampled_from(("up", "down"))), turn=draw(st.floats(0, 90)))


def _line(draw: st.DrawFn, part: Part) -> Part:
    x, y = _inside(draw, part)
    return part.etch([(x, y), (x + 20, y + draw(st.floats(-20, 20)))], face=draw(st.sampled_from(("up", "down"))))


def _inside(draw: st.DrawFn, part: Part) -> tuple[float, float]:
    x0, y0, x1, y1 = part.base.box
    return draw(st.floats(x0 + 30, x1 - 30)), draw(st.floats(y0 + 30, y1 - 30))


RANDOM_FORMS = {Bead: _bead, DrawnHole: _drawn_hole, Louvre: _louvre, Joggle: _joggle, Text: _text, Etch: _line}
"""How a random part gets a form of each kind."""
