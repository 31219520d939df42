"""What the paper says beside a step: where two people are needed, why the larger side swings, what pieces leave free."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from tinbook.finding import Finding, caution
from tinbook.language import Said
from tinbook.route.cost import SMALL, TWO, unweighed
from tinbook.route.handling import sag
from tinbook.shop.tools.setups import SHORT

if TYPE_CHECKING:
    from tinbook.route.planner import Hit, Planner

_PRICE: Final = (
    "a step that nothing comes out of straight",
    "a lift or hold for two people",
    "a turn-over",
    "more to swing at another step",
    "a re-setting",
    "the smaller side held at another step",
    "a turn on the table",
    "a step set by a mark",
    "tools in pieces",
)
"""What holding the larger side would cost, in the order of `cost.RANKS`."""


def handling_notes(planner: Planner, moves: Sequence[Hit], n: int) -> list[str]:
    """Return the notes about people, sides and pieces of tools at one step of an order."""
    before = moves[n - 1] if n else None
    return [*_two_people(planner, before, moves[n]), *_smaller_held(planner, moves, n), *_made_up(planner, moves[n])]


def _made_up(planner: Planner, move: Hit) -> Iterator[str]:
    low, high = planner.blank.span(move.fold)
    short = high - low - sum(move.setup.pieces)
    if move.setup.pieces and short > 0.05:
        what = move.setup.stroke.pieces
        yield Said(
            "{what} of {pieces:g} mm stand in {room:.1f} mm, {free:.1f} mm free at each end: {most:g} mm in all at most",
            what=Said(what),
            pieces=float(sum(move.setup.pieces)),
            room=high - low,
            free=short / 2,
            most=float(SHORT),
        )


def _two_people(planner: Planner, before: Hit | None, move: Hit) -> Iterator[str]:
    price = planner.price
    lifted = before is None or unweighed(price.change(before.state, move.state)[0])[TWO]
    if price.heavy and (lifted or move.setup.stroke.punched):
        yield Said("two people: the part is {mass:.1f} kg", mass=planner.made.mass)
    elif move.trait.ranks[TWO]:
        mass = price.sides[move.fold][not move.setup.leg_back].mass
        yield Said("two people: {panel} that swings is {mass:.1f} kg", panel=_swung(planner, move), mass=mass)
    if price.sags(move.fold, move.setup, move.before):
        hanging = move.setup.stroke.hanging(move.setup.leg_back)
        deep = max(price.sides[move.fold][child].depth for child in hanging)
        # A cantilever of small deflections: past a third of its length the figure only says "far".
        hangs = sag(planner.made, deep, price.handling.table)
        how = Said("{hangs:.0f} mm", hangs=hangs) if hangs < deep / 3 else Said("far")
        yield Said(
            "two people: the free end, {deep:.0f} mm from the fold, hangs down {how} unless it is held",
            deep=deep,
            how=how,
        )


def _swung(planner: Planner, move: Hit) -> str:
    strip = planner.blank.strips[move.fold]
    return strip.parent if move.setup.leg_back else strip.child


def _smaller_held(planner: Planner, moves: Sequence[Hit], n: int) -> Iterator[str]:
    """Say why the smaller side is held, or a heavy one swung: what the other way round hits, or what it would cost."""
    move = moves[n]
    if not move.trait.ranks[SMALL]:
        return
    strip = planner.blank.strips[move.fold]
    small, large = (strip.child, strip.parent) if move.setup.leg_back else (strip.parent, strip.child)
    said = f"{small} is held and {large}, the larger side, swings: "
    others = [m for m in planner.ways(move) if m.setup.at_back != move.setup.at_back]
    free = [m for m in others if planner.possible(m)]
    if not free:
        clash = next((c for m in others if (c := planner.clash(m)) is not None), None)
        yield said + (
            "nothing holds it the other way round" if clash is None else _hits(large, clash.body, clash.against)
        )
        return
    here = planner.price.total(moves)
    swapped = [planner.price.total([*moves[:n], m, *moves[n + 1 :]]) for m in free]
    more = [a - b for a, b in zip(unweighed(min(swapped)), unweighed(here), strict=True)]
    rank = next((k for k, d in enumerate(more) if d), None)
    if rank is None or more[rank] < 0:
        yield said + f"{large} could be held as well"
    else:
        yield said + f"with {large} held it would cost {_PRICE[rank]}"


def _hits(large: str, body: str, against: str) -> str:
    if against == "frame":
        return f"with {large} held it reaches into the machine's frame"
    return f"with {large} held {body} hits the {against}"


def handling_findings(planner: Planner, moves: Sequence[Hit]) -> Iterator[Finding]:
    """Yield the cautions about people: where a second one is needed."""
    if not moves:
        return
    ranks = unweighed(planner.price.total(moves))
    handling = planner.made.shop.handling
    if ranks[TWO]:
        guess = "" if handling.source == "own data" else "; the limits are a guess until the shop file says its own"
        where = "order of folds"
        what = f"a second person is needed at {ranks[TWO]} lifts or holds, see the steps{guess}"
        remedy = "a second person, a crane, or supports on both sides"
        yield caution(
            "route.two_people",
            where,
            what,
            remedy,
            round(planner.made.mass, 2),
            handling.one_man,
            "kg",
            handling.source,
        )
