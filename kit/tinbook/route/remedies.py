"""Why no order folds a part: which fold fails against what, and which changes help, each tried before it is proposed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import field, replace
from typing import Final

from tinbook.making.articulated import ArticulatedPart, Levels
from tinbook.making.folded import MadePanel
from tinbook.making.labels import named
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.making.tools import own_radius
from tinbook.memo import Remembers, remembered
from tinbook.part.features import Fold
from tinbook.plane.cuts import clip
from tinbook.plane.loops import Loop
from tinbook.route.assumed import AWAY, needed
from tinbook.route.collide import Sweep
from tinbook.route.fingers import more_pieces
from tinbook.route.moving import Clash, MovingMetal
from tinbook.route.planner import Failed, Hit, Planner, Tried
from tinbook.route.search import any_order
from tinbook.route.steps import Blocked, Proposal
from tinbook.shop.tools import Tool
from tinbook.shop.tools.setups import Setup
from tinbook.values import dataclass

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


def blocked_folds(planner: Planner, tried: Tried) -> Iterator[Blocked]:
    """Yield the folds that no reached state could form, or else those missing where the search came furthest."""
    if not tried.clashes:
        return  # nothing could be tried: the stored tools are no longer there
    remedies = _Remedies(planner, tried)
    for key in _never(tried)[:MOST]:
        measured = [
            (sweep.measured(clash, setup, levels) if math.isnan(clash.depth) else clash, setup, levels)
            for clash, setup, levels, sweep in _closest(tried.clashes[key])
        ]
        clash, setup, levels = min(measured, key=lambda m: m[0].depth)
        strip = planner.blank.strips[key[0]]
        formed = tuple(s.name for s, level in zip(planner.blank.strips, levels, strict=True) if level)
        on = f"{setup.tool or 'the bench'}{', ' + setup.punch if setup.punch else ''}"
        found = tuple(remedies.of(key[0], clash, setup))
        yield Blocked(
            fold=strip.name,
            body=clash.body if clash.kind == "panel" else named(clash.kind, clash.body),
            against=clash.against,
            depth=clash.depth,
            angle=clash.angle,
            formed=formed,
            tool=f"{on}, {strip.child if setup.leg_back else strip.parent} at the back",
            remedies=tuple(one.text for one in found),
            proposals=tuple(one for one in found if one.part is not None),
            worst=clash.angle if math.isnan(clash.worst) else clash.worst,
            trial=Hit(*key, setup, planner.gauge(key[0], setup, levels), levels),
        )


def _never(tried: Tried) -> list[tuple[int, int]]:
    """Return the hits that failed in every state, or those that fail where most folds are formed."""
    never = [key for key in tried.clashes if key not in tried.formed]
    if never:
        return never
    most = max(sum(levels) for failed in tried.clashes.values() for _, _, levels, _ in failed)
    return [key for key, failed in tried.clashes.items() if any(sum(levels) == most for _, _, levels, _ in failed)]


def _closest(failed: Iterable[Failed]) -> list[Failed]:
    """Return the tries of a hit that came nearest to its end before something hit."""
    return sorted(failed, key=lambda t: -t[0].angle)[:NEAREST]


@dataclass(frozen=True, eq=False)
class _Remedies(Remembers):
    """Changes that help a part without an order; each is tried once, for whichever folds it is looked for.

    Parameters
    ----------
    planner : Planner
        That found no order.
    tried : Tried
        What hit meanwhile.
    """

    planner: Planner
    tried: Tried
    _needed: dict[str, str] = field(default_factory=dict, init=False)
    _more: dict[tuple[str, str], tuple[float, ...]] = field(default_factory=dict, init=False)

    def of(self, fold: int, clash: Clash, setup: Setup) -> Iterator[Proposal]:
        """Yield what helps against a clash."""
        planner = self.planner
        tools = ""
        if clash.against in AWAY and not planner.extra:
            tools = self._tools(setup.machine, clash.against)
        short = _shorter(planner, self.tried, fold, clash)
        texts = (
            tools,
            more_pieces(planner, fold, setup, self._more),
            "" if short is None else f"leg {clash.body!r} at most {short:.1f} mm long (tried)",
            _gooseneck(planner, fold),
        )
        yield from (Proposal(text=text) for text in texts if text)
        yield from (one for one in (self._wider_corner(clash), self._other_tool(fold)) if one is not None)
        if clash.against == "frame":
            yield Proposal(text="a machine with a deeper throat")
        yield Proposal(text=f"split the part at fold {planner.blank.strips[fold].name!r} and weld")

    def _tools(self, machine: str, against: str) -> str:
        if machine not in self._needed:
            self._needed[machine] = needed(self.planner, machine, against)
        return self._needed[machine]

    def _wider_corner(self, clash: Clash) -> Proposal | None:
        """Try wider gaps between the returns where they only just hit each other, as springback turns them further."""
        if not clash.against.startswith(("panel ", "fold ")) or not clash.depth < WIDER:
            return None
        return self._gaps(math.ceil(clash.depth * 10.0 + 0.5) / 10.0)

    @remembered
    def _gaps(self, more: float) -> Proposal | None:
        folds = tuple(
            replace(f, corner=replace(f.corner, gap=(f.corner.gap or CORNER_GAP) + more))
            for f in self.planner.made.part.folds
        )
        return _proposed(self.planner, folds, f"gaps between the returns {more:g} mm wider (tried)")

    def _other_tool(self, fold: int) -> Proposal | None:
        """Try the folds of one tool on each other machine's nearest; the blank would be drawn to that tool."""
        key = self.planner.made.strips[fold].bend.tool
        return self._retooled(key) if key and not self.planner.given else None

    @remembered
    def _retooled(self, key: str) -> Proposal | None:
        made = self.planner.made
        for tool in _elsewhere(made, key):
            text = f"its folds on {tool.key} of the {tool.machine} instead of {key}, with the blank drawn to it (tried)"
            found = _proposed(self.planner, _retooled(made, key, tool), text)
            if found is not None:
                return found
        return None


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
            and all(t.turns(t.hits(s.angle)[0]) for s in here)
            and all(min(s.leg) >= t.shortest_leg(sheet.thickness, s.angle, own_radius(t, sheet)) for s in here)
        ]
        yield from sorted(able, key=lambda t: (abs(own_radius(t, sheet) - here[0].radius), t.key))[:1]


def _retooled(made: Made, key: str, tool: Tool) -> tuple[Fold, ...]:
    mine = {s.name for s in made.strips if s.bend.tool == key}
    return tuple(replace(f, tool=tool.key) if f.name in mine else f for f in made.part.folds)


def _proposed(planner: Planner, folds: tuple[Fold, ...], text: str) -> Proposal | None:
    """Return the part with these folds, if it is made and has an order that is proved."""
    part = planner.made.part
    changed = replace(part, folds=folds)
    made = make(changed, planner.made.shop)
    if not made.ok or len(made.strips) != len(planner.made.strips):
        return None
    other = Planner(made)
    if any(not other.families(n, 1)[0] for n in range(len(made.strips))):
        return None
    if not any_order(other, effort=TRIED).moves:
        return None
    return Proposal(text=text, part=changed)


def _leaf(made: Made, panel: str) -> bool:
    return any(s.child == panel for s in made.strips) and all(s.parent != panel for s in made.strips)


def _shorter(planner: Planner, tried: Tried, fold: int, clash: Clash) -> float | None:
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
        for c, setup, levels, sweep in _closest(tried.clashes.get((fold, 1), ()))
        if (c.body, c.kind) == (clash.body, clash.kind)
    ]
    best = 0.0
    for setup, levels, sweep in tries:

        def clears(leg: float, setup: Setup = setup, levels: Levels = levels, sweep: Sweep = sweep) -> bool:
            blank = ArticulatedPart(_cut_back(made, clash.body, long - leg).folded)
            return Sweep(MovingMetal(blank, fold, sweep.motion)).first_clash(setup, levels) is None

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
            Planner(_cut_back(made, clash.body, long - best), planner.extra, planner.given), effort=2_000
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
    found = any_order(Planner(planner.made, (extra,), planner.given), effort=2_000).moves
    if found:
        pieces = any(m.setup.punch == extra[0].key and m.setup.pieces for m in found)
        how = " and in pieces" if pieces else ""
        return f"a gooseneck punch, relieved at least as far as the usual one{how} (tried)"
    return ""
