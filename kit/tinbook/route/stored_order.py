"""An order of folds that is given and only has to be proved: by names, or hit by hit as it was stored."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, TypeAlias

from tinbook.errors import BadValue, of_kind
from tinbook.fields import Flag, Number, Text, check_fields
from tinbook.making.articulated import ArticulatedPart
from tinbook.making.made import Made
from tinbook.shop.sections import Lengths
from tinbook.shop.tools.setups import Setup
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredHit:
    """One hit as it is stored: which fold, and with which tools.

    Parameters
    ----------
    fold : str
        Name of the fold.
    level : int
        1, or 2 for the pressing of a hem.
    machine, tool, punch : str
        Keys; "" where there is none.
    reversed_punch : bool
        Whether the punch is set the other way round.
    pieces : tuple of float
        Lengths of the punch pieces or fingers, mm.
    tooling : str
        See `shop.tools.setups.Setup`.
    at_back : str
        Panel that lies at the back gauge, or is held.
    """

    fold: Annotated[str, Text()]
    level: Annotated[int, Number(least=1, most=2, whole=True)]
    machine: Annotated[str, Text()]
    tool: Annotated[str, Text(empty=True)]
    punch: Annotated[str, Text(empty=True)] = ""
    reversed_punch: Annotated[bool, Flag()] = False
    pieces: Annotated[tuple[float, ...], Lengths()] = ()
    tooling: Annotated[str, Text()] = "whole"
    at_back: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"hit of fold '{self.fold}'")

    def made_by(self, setup: Setup, at_back: str) -> bool:
        """Whether a setup is the one that is stored."""
        here = (setup.machine, setup.tool, setup.punch, setup.reversed, setup.tooling, at_back)
        mine = (self.machine, self.tool, self.punch, self.reversed_punch, self.tooling, self.at_back)
        return here == mine and sorted(setup.pieces) == sorted(self.pieces)


StoredStep: TypeAlias = tuple[int, int, StoredHit | None]
"""Number of the fold, level, and how; None leaves the tools to the search."""


def hits_of_order(made: Made, order: Iterable[str | StoredHit]) -> tuple[StoredStep, ...]:
    """Return the hits of a given order; a hem that is only named takes its two one after the other.

    Raises
    ------
    BadValue
        Something else than every hit of every fold once.
    """
    blank = ArticulatedPart(made.folded)
    number = {s.name: n for n, s in enumerate(blank.strips)}
    levels = [len(turns) - 1 for turns in blank.turns]
    once = "each fold once: " + ", ".join(number)
    of_kind(order, Iterable, "order", once)
    given = tuple(order)
    out: list[StoredStep] = []
    for one in given:
        of_kind(one, (str, StoredHit), "order", once)
        name = one if isinstance(one, str) else one.fold
        if name not in number:
            raise BadValue("order", name, once)
        n = number[name]
        if isinstance(one, str):
            out += [(n, level, None) for level in range(1, levels[n] + 1)]
        else:
            out.append((n, one.level, one))
    every = [(n, level) for n, most in enumerate(levels) for level in range(1, most + 1)]
    hits = [(n, level) for n, level, _ in out]
    late = [n for n in number.values() if [level for k, level in hits if k == n] != list(range(1, levels[n] + 1))]
    if sorted(hits) != every or late:
        said = tuple(one if isinstance(one, str) else f"{one.fold} hit {one.level}" for one in given)
        raise BadValue("order", said, once)
    return tuple(out)
