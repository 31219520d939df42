"""The panels on which shell FE and CalculiX are compared: 800 x 400 x 1.6 mm, beads of three depths, four ways to hold."""

from __future__ import annotations

from dataclasses import replace

from strategies import SHOP
from tinbook.families.plain import bead_rolled_panel, folded_channel
from tinbook.families.strip import Bent, chained
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import supports as on

SIDES = ("front", "right", "rear", "left")
WELDS = ((20, 20), (400, 20), (780, 20), (20, 200), (780, 200), (20, 380), (400, 380), (780, 380))


def panel(beads: str, depth: float = 5.0, holes: bool = False) -> Made:
    """Return a panel with "no", "three" long or "six" cross beads of 18 mm width and the given depth."""
    count, along = {"no": (0, "width"), "three": (3, "length"), "six": (6, "width")}[beads]
    part = bead_rolled_panel(beads=count, along=along)
    if holes:
        for k, at in enumerate(WELDS):
            part = part.hole(at, 8, use="plug weld", name=f"weld {k + 1}")
    made = make(part, SHOP)
    base = made.panels[0]
    # As formed by a roll of another depth; nothing else changes.
    formed = tuple(replace(b, depth=depth, shoulder=3.0, draw=1e3) for b in base.beads)
    return replace(made, folded=replace(made.folded, panels=(replace(base, forms=formed),)))


def held(how: str) -> list[on.Support]:
    """Return supports: "simple" (free in the plane), "pinned", "clamped" or "welds"."""
    if how == "simple":
        drift = [on.point((0, 0), stops=("along", "across")), on.point((800, 0), stops=("across",))]
        return [*[on.simple_edge(e) for e in SIDES], *drift]
    if how == "pinned":
        return [on.simple_edge(e, in_plane="held") for e in SIDES]
    if how == "clamped":
        return [on.clamped_edge(e) for e in SIDES]
    return [on.plug_welds("plug weld")]


def channel() -> tuple[Made, list[on.Support]]:
    """Return a channel with holes, clamped at one end (a flange names its ends as seen from its own fold)."""
    made = make(folded_channel(), SHOP)
    return made, [on.clamped_edge("left"), on.clamped_edge("right", "near"), on.clamped_edge("left", "far")]


def hat() -> tuple[Made, list[on.Support]]:
    """Return a hat 400 mm long, four holes in its crown, clamped at one end all round."""
    base = Outline.rectangle(400, 60, ("near", "right", "far", "left"))
    part = Part("HN-BR-3", rev="A", sheet="DC01 1.5", base=base)
    for side in ("near", "far"):
        bends = [Bent(name=f"{side} web", angle=-90, leg=40), Bent(name=f"{side} foot", angle=90, leg=20)]
        part = chained(part, side, bends)
    part = part.holes_along("near", count=4, inset=30, dia=12)
    made = make(part, SHOP)
    # Seen from its own fold, a leg of the near side has the left end on its right.
    ends = [on.clamped_edge("left")]
    for panel in made.panels[1:]:
        middle = {e.name: panel.frame(*e.at(0.5), 0.0)[0] for e in panel.boundary if not e.name.startswith("fold:")}
        ends.append(on.clamped_edge(min(middle, key=lambda name: middle[name]), panel.name))
    return made, ends


def pan() -> tuple[Made, list[on.Support]]:
    """Return a pan 300 x 200 with four returns, a big hole and five small ones, bolted through one return."""
    base = Outline.rectangle(300, 200, ("front", "right", "rear", "left"))
    part = Part("HN-PN-1", rev="A", sheet="DC01 1.5", base=base)
    for side in ("front", "right", "rear", "left"):
        part = part.fold(side, "up", leg=25, name=f"{side} return")
    part = part.hole((170, 110), 60).holes_along("rear", count=5, inset=40, dia=10)
    for x in (30, 100, 170):
        part = part.hole((x, 12), 6.6, panel="left return", use="bolt")
    return make(part, SHOP), [on.bolts("bolt", "left return")]
