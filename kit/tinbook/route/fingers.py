"""Fingers and punch pieces that do not make up the length between two standing legs, and which more would."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, combinations_with_replacement
from typing import Final

from tinbook.making.resolve import make
from tinbook.route.planner import Planner
from tinbook.route.search import any_order
from tinbook.shop.shop import Shop
from tinbook.shop.tools.setups import SHORT, Setup, pick

WIDTHS: Final = tuple(float(w) for w in range(10, 105, 5))
"""mm: what a finger or punch piece may be made to (common practice)."""
TOGETHER: Final = 3
"""So many more are proposed at most."""
TRIED: Final = 300
"""States opened to try them."""


def more_pieces(planner: Planner, fold: int, setup: Setup, known: dict[tuple[str, str], tuple[float, ...]]) -> str:
    """Return what is short of fingers or punch pieces, and which more would cure it; "" where that is not the trouble.

    Parameters
    ----------
    planner : Planner
        That found no order.
    fold : int
        Number of a fold that is blocked.
    setup : Setup
        In which it was tried.
    known : dict
        Pieces that were found to be enough, by tool and punch: a search that is not repeated for another fold.
    """
    owned = _owned(planner.made.shop, setup)
    if not owned or planner.change is not None:
        return ""
    spans = [planner.blank.span(n) for n, s in enumerate(planner.made.strips) if s.bend.tool == setup.tool]
    lengths = [b - a for a, b in spans]
    low, high = planner.blank.span(fold)
    if not _lacks(owned, high - low):
        return ""
    kind = setup.stroke.pieces + (f" of {setup.punch}" if setup.punch else "")
    short = (
        f"the {kind} make up {sum(pick(owned, high - low)):g} of {high - low:.1f} mm between the legs, "
        f"{SHORT:g} mm short at most is the limit"
    )
    key = (setup.tool, setup.punch)
    if key not in known:
        known[key] = _enough(planner, setup, owned, lengths)
    more = known[key]
    if not more:
        return f"{short} (no {TOGETHER} more of them are a cure by themselves)"
    name = setup.stroke.piece.format(punch=setup.punch)
    return f"{name} of {' mm and one of '.join(f'{w:g}' for w in more)} mm more (tried): {short}"


def _owned(shop: Shop, setup: Setup) -> tuple[float, ...]:
    """Return the pieces that the shop has and that it drew itself."""
    return shop.tool(setup.tool).owned_pieces(shop, setup.punch) if setup.tool else ()


def _lacks(owned: Sequence[float], length: float) -> bool:
    return length - sum(pick(owned, length)) > SHORT


def _enough(planner: Planner, setup: Setup, owned: tuple[float, ...], lengths: list[float]) -> tuple[float, ...]:
    """Return the fewest and then shortest pieces more with which the part folds; () if none do."""
    lacking = [x for x in lengths if _lacks(owned, x)]
    sets = chain.from_iterable(combinations_with_replacement(WIDTHS, n) for n in range(1, TOGETHER + 1))
    tried = 0
    best: tuple[float, ...] = ()
    for more in sorted(sets, key=lambda m: (len(m), sum(m), m)):
        if any(_lacks((*owned, *more), x) for x in lacking):
            continue
        tried += 1
        if tried > 3:
            break
        other = make(planner.made.part, _with(planner.made.shop, setup, more))
        if other.ok and any_order(Planner(other, planner.extra, planner.given), effort=TRIED).moves:
            best = more
            break
    return best


def _with(shop: Shop, setup: Setup, more: tuple[float, ...]) -> Shop:
    tools = tuple(t.with_pieces(more) if t.key == setup.tool else t for t in shop.tools)
    longer = tuple(replace(p, segments=(*p.segments, *more)) if p.key == setup.punch else p for p in shop.punches)
    return replace(shop, tools=tools, punches=longer)
