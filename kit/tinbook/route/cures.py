"""When no order folds a part: which fold fails against what, and what would cure it, tried before it is said."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from tinbook.making.articulated import ArticulatedPart, Levels
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.making.tools import own_radius
from tinbook.part.features import Fold
from tinbook.plane.cuts import clip
from tinbook.plane.loops import Loop
from tinbook.route.assumed import AWAY, needed
from tinbook.route.collide import Clash, Sweep
from tinbook.route.fingers import more_pieces
from tinbook.route.planner import Move, Planner
from tinbook.route.search import any_order
from tinbook.route.steps import Blocked, Proposal
from tinbook.shop.tools import Tool
from tinbook.shop.tools.setups import Setup
from tinbook.shop.tools.strokes import HEM_START

MOST: Final = 4
"""Blocked folds that are explained."""
NEAREST: Final = 8
"""Tries of each that are measured."""
SHORTER: Final = 0.05
"""mm: how closely the leg that would pass is worked out."""
CORNER_GAP: Final = 0.5
"""mm: what a corner has when its part names no gap."""
TRIED: Final = 300
"""States opened for a cure that changes the part's tools or corners."""
WIDER: Final = 1.0
"""mm: a corner is not opened further than this to let two returns pass each other."""


def blocked_folds(planner: Planner) -> Iterator[Blocked]:
    """Name the folds that no reached state could form, or else those missing where the search came furthest."""
    if not planner.clashes:
        return  # nothing could be tried: the stored tools are no longer there
    never = sorted(k for k in planner.clashes if k not in planner.done)
    if not never:
        # Every fold can be made at some time: those count that fail where most are done.
        most = max(sum(levels) for tries in planner.clashes.values() for _, _, levels, _ in tries.values())
        never = [
            key
            for key, tries in sorted(planner.clashes.items())
            if any(sum(levels) == most for _, _, levels, _ in tries.values())
        ]
    for key in never[:MOST]:
        measured = [
            (sweep.measured(clash, setup, levels) if math.isnan(clash.depth) else clash, setup, levels)
            for clash, setup, levels, sweep in _closest(planner, key)
        ]
        clash, setup, levels = min(measured, key=lambda m: m[0].depth)
        strip = planner.blank.strips[key[0]]
        formed = tuple(s.name for s, level in zip(planner.blank.strips, levels, strict=True) if level)
        way = f"{setup.tool or 'the bench'}{', ' + setup.punch if setup.punch else ''}"
        yield Blocked(
            fold=strip.name,
            body=clash.body if clash.kind == "panel" else f"{clash.kind} {clash.body}",
            against=clash.against,
            depth=clash.depth,
            angle=clash.angle,
            formed=formed,
            tool=f"{way}, {strip.child if setup.leg_back else strip.parent} at the back",
            cures=tuple(_cures(planner, key[0], clash, setup)),
            worst=clash.angle if math.isnan(clash.worst) else clash.worst,
            trial=Move(*key, setup, planner.gauge(key[0], setup, levels), levels),
        )


def _closest(planner: Planner, key: tuple[int, int]) -> list[tuple[Clash, Setup, Levels, Sweep]]:
    """Return the tries of a hit that came nearest to its end before something hit."""
    tries = planner.clashes.get(key, {}).values()
    return sorted(tries, key=lambda t: -t[0].angle)[:NEAREST]


def _cures(planner: Planner, fold: int, clash: Clash, setup: Setup) -> Iterator[str]:
    if clash.against in AWAY and not planner.extra:
        other = needed(planner, setup.machine, clash.against)
        if other:
            yield other
    pieces = more_pieces(planner, fold, setup)
    if pieces:
        yield pieces
    short = _shorter(planner, fold, clash)
    if short is not None:
        yield f"leg {clash.body!r} at most {short:.1f} mm long (tried)"
    goose = _gooseneck(planner, fold)
    if goose:
        yield goose
    wider = _wider_corner(planner, clash)
    if wider:
        yield wider
    other = _other_tool(planner, fold)
    if other:
        yield other
    if clash.against == "frame":
        yield "a machine with a deeper throat"
    yield f"split the part at fold {planner.blank.strips[fold].name!r} and weld"


def _wider_corner(planner: Planner, clash: Clash) -> str:
    """Try wider gaps between the returns where they only just hit each other, as springback turns them further."""
    made = planner.made
    if not clash.against.startswith(("panel ", "fold ")) or not clash.depth < WIDER:
        return ""
    more = math.ceil(clash.depth * 10.0 + 0.5) / 10.0
    folds = tuple(
        replace(f, corner=replace(f.corner, gap=(f.corner.gap or CORNER_GAP) + more)) for f in made.part.folds
    )
    return _proposed(planner, folds, f"gaps between the returns {more:g} mm wider (tried)")


def _other_tool(planner: Planner, fold: int) -> str:
    """Try the folds of one tool on each other machine's nearest; the blank would be drawn to that tool."""
    made = planner.made
    key = made.strips[fold].bend.tool
    if not key or planner.asked:
        return ""
    kept = planner.kept.setdefault("other tools", {})
    if key not in kept:
        tried = (
            _proposed(
                planner,
                _retooled(made, key, tool),
                f"its folds on {tool.key} of the {tool.machine} instead of {key}, with the blank drawn to it (tried)",
            )
            for tool in _elsewhere(made, key)
        )
        kept[key] = next((text for text in tried if text), "")
    return str(kept[key])


def _elsewhere(made: Made, key: str) -> Iterator[Tool]:
    """Yield for each other machine the tool nearest in radius that takes all folds of one."""
    shop, sheet = made.shop, made.sheet
    here = [s for s in made.strips if s.bend.tool == key]
    for machine in dict.fromkeys(t.machine for t in shop.tools if t.machine != shop.tool(key).machine):
        able = [
            t
            for t in shop.tools
            if t.machine == machine
            and t.takes(sheet.material, sheet.nominal)
            and all(t.turns(min(s.angle, HEM_START)) for s in here)
            and all(min(s.leg) >= t.shortest_leg(sheet.thickness, s.angle, own_radius(t, sheet)) for s in here)
        ]
        yield from sorted(able, key=lambda t: (abs(own_radius(t, sheet) - here[0].radius), t.key))[:1]


def _retooled(made: Made, key: str, tool: Tool) -> tuple[Fold, ...]:
    mine = {s.name for s in made.strips if s.bend.tool == key}
    return tuple(replace(f, tool=tool.key) if f.name in mine else f for f in made.part.folds)


def _proposed(planner: Planner, folds: tuple[Fold, ...], text: str) -> str:
    """Return the text, and keep the part with these folds, if it is made and has an order that is proved; else ""."""
    part = planner.made.part
    changed = replace(part, folds=folds)
    kept = planner.kept.setdefault("proposals", {})
    if text in kept:
        return text
    made = make(changed, planner.made.shop)
    if not made.ok or len(made.strips) != len(planner.made.strips):
        return ""
    other = Planner(made)
    if any(not other.families(n, 1)[0] for n in range(len(made.strips))):
        return ""
    if not any_order(other, effort=TRIED).moves:
        return ""
    kept[text] = changed
    return text


def proposals(planner: Planner) -> tuple[Proposal, ...]:
    """Return the parts that the cures so far would make of this one."""
    return tuple(Proposal(text=text, part=part) for text, part in planner.kept.get("proposals", {}).items())


def _leaf(made: Made, panel: str) -> bool:
    return any(s.child == panel for s in made.strips) and all(s.parent != panel for s in made.strips)


def _shorter(planner: Planner, fold: int, clash: Clash) -> float | None:
    """Longest length of the leg that hits with which the part does fold; None if shortening does not help.

    Each setup in which this leg was all that hit is asked for the longest leg that clears; the longest of
    those must then pass a whole search.
    """
    made = planner.made
    if clash.kind != "panel" or not _leaf(made, clash.body):
        return None
    strip = next(s for s in made.strips if s.name == clash.body)
    if abs(strip.leg[0] - strip.leg[1]) > 1e-6:
        return None
    long = strip.leg[0]
    if not strip.bend.tool:
        return None
    tool = made.shop.tool(strip.bend.tool)
    least = max(tool.shortest_leg(made.thickness, strip.angle, strip.radius), strip.setback + 1.0)
    tries = [
        (setup, levels, sweep)
        for c, setup, levels, sweep in _closest(planner, (fold, 1))
        if (c.body, c.kind) == (clash.body, clash.kind)
    ]
    best = 0.0
    for setup, levels, sweep in tries:

        def clears(leg: float, setup: Setup = setup, levels: Levels = levels, sweep: Sweep = sweep) -> bool:
            blank = ArticulatedPart(_cut_back(made, clash.body, long - leg).folded)
            return Sweep(blank, fold, sweep.motion).first_clash(setup, levels) is None

        low, high = max(least, best), long
        if low >= high or not clears(low):
            continue
        while high - low > SHORTER:
            middle = (low + high) / 2
            low, high = (middle, high) if clears(middle) else (low, middle)
        best = low
    best = math.floor(best * 10.0) / 10.0
    if (
        best < least
        or not any_order(
            Planner(_cut_back(made, clash.body, long - best), planner.extra, planner.asked), effort=2_000
        ).moves
    ):
        return None
    return best


def _cut_back(made: Made, panel: str, by: float) -> Made:
    """Return the part with a leg's free end cut back; only its metal matters here, the blank stays."""

    def shorter(p: MadePanel) -> MadePanel:
        top = p.boundary.box[3] - by
        kept: list[Loop] = clip(p.boundary, (0.0, top), (-1.0, 0.0), "end")
        return replace(p, boundary=max(kept, key=lambda loop: loop.area)) if kept else p

    panels = tuple(shorter(p) if p.name == panel else p for p in made.panels)
    return replace(made, folded=replace(made.folded, panels=panels))


def _gooseneck(planner: Planner, fold: int) -> str:
    """Try a usual gooseneck where the machine has none."""
    key = planner.blank.strips[fold].bend.tool
    tool = planner.made.shop.tool(key) if key else None
    extra = tool.relieved_punch() if tool else None
    if extra is None or planner.extra:
        return ""
    listed = {s.punch for family, _ in planner.families(fold, 1)[0] for s in family}
    if any("gooseneck" in p for p in listed):
        return ""
    found = any_order(Planner(planner.made, (extra,), planner.asked), effort=2_000).moves
    if found:
        pieces = any(m.setup.punch == extra[0].key and m.setup.pieces for m in found)
        how = " and in pieces" if pieces else ""
        return f"a gooseneck punch, relieved at least as far as the usual one{how} (tried)"
    return ""
