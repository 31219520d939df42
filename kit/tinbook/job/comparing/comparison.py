"""Two revisions beside each other: what changed, as a table and as pictures of both over each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from tinbook.errors import BadValue
from tinbook.flatpattern import FlatPattern
from tinbook.htmltable import html_table
from tinbook.job.comparing.facts import DIGITS, Fact, Value, assembled_facts, flat_facts, made_facts, opened_facts
from tinbook.job.comparing.overlay import flats_over, folded_over
from tinbook.job.releasing.opening import Opened, open_release
from tinbook.making.assembled import Assembled, assemble
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.svg import Picture
from tinbook.svgpng import picture_html

if TYPE_CHECKING:
    from tinbook.shop.shop import Shop

Subject: TypeAlias = Made | Assembled | FlatPattern | Opened
MANY: Final = 4
"""From so many things on that changed alike, they share one row."""


@dataclass(frozen=True, slots=True)
class Change:
    """One difference.

    Parameters
    ----------
    of, what : str
        Of which thing, and what of it; "" where the whole thing came or went.
    old, new : float, str or None
        None where there was, or is, nothing.
    unit : str
        "mm", "deg", "kg" or "".
    """

    of: str
    what: str
    old: Value | None
    new: Value | None
    unit: str = ""

    @property
    def difference(self) -> float | None:
        """New less old; None where they are no numbers."""
        if isinstance(self.old, float | int) and isinstance(self.new, float | int):
            return self.new - self.old
        return None

    def __str__(self) -> str:
        of, what, old, new, by = self.cells()
        if self.old is None or self.new is None:
            return f"{of}: {'added' if self.old is None else 'removed'}"
        return f"{of}, {what}: {old} -> {new}" + (f" ({by})" if by else "")

    def cells(self) -> tuple[str, str, str, str, str]:
        """Return its row in a table: of what, what, old, new, difference."""
        unit = f" {self.unit}" if self.unit else ""
        shown = [
            ("-" if v is None else _shown(v, self.unit) + unit * (not isinstance(v, str))) for v in (self.old, self.new)
        ]
        d = self.difference
        by = "" if d is None else _shown(d, self.unit, "+") + unit
        if self.old is None or self.new is None:
            by = "added" if self.old is None else "removed"
        return self.of, self.what, *shown, by  # type: ignore[return-value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What `compare` found.

    Parameters
    ----------
    old, new : str
        What was compared: number and revision.
    changes : tuple of Change
        In the order of the part; things that changed alike stand beside each other.
    facts : int
        How many facts of the old and the new one were held against each other.
    pictures : tuple of Picture
        Both over each other: blanks, and folded.
    """

    old: str
    new: str
    changes: tuple[Change, ...]
    facts: int
    pictures: tuple[Picture, ...] = ()

    @property
    def same(self) -> bool:
        """Whether nothing changed."""
        return not self.changes

    def rows(self) -> list[tuple[str, str, str, str, str]]:
        """Return the table: things of one kind that changed by the same amount share a row."""
        return list(_merged(self.changes))

    def __repr__(self) -> str:
        if self.same:
            return f"{self.old} and {self.new}: nothing changed ({self.facts} facts compared)"
        lines = [
            ", ".join(filter(None, (of, what))) + f": {old} -> {new}" + (f" ({by})" if by else "")
            for of, what, old, new, by in self.rows()
        ]
        return "\n".join((f"{self.old} -> {self.new}: {len(self.changes)} changes", *lines))

    def _repr_html_(self) -> str:
        caption = f"{self.old} → {self.new}: " + (
            f"{len(self.changes)} changes" if self.changes else f"nothing changed ({self.facts} facts compared)"
        )
        table = html_table(("Of", "What", "Old", "New", "Difference"), self.rows(), caption=caption)
        return table + "".join(f"<div>{picture_html(p)}</div>" for p in self.pictures if self.changes)


def compare(old: Any, new: Any, shop: Shop | None = None) -> Comparison:
    """Compare two revisions of a part, an assembly or a released job.

    Parameters
    ----------
    old, new : Part, Made, Assembly, Assembled, FlatPattern, Opened, or the path of a pack
        Two of one kind. A part and a made part, or a blank and a made part, are of one kind too.
    shop : Shop, optional
        Needed for a Part or an Assembly, which are made on its tools.

    Returns
    -------
    Comparison
        Lengths in mm, angles in degrees, masses in kg. Holes, folds, edges, beads and members are matched by name.

    Raises
    ------
    BadValue
        Something else, or two that cannot be compared.
    """
    a, b = _subject(old, "old", shop), _subject(new, "new", shop)
    if any(isinstance(a, kind) != isinstance(b, kind) for kind in (Assembled, Opened)):
        raise BadValue("compare new", b, "an assembly beside an assembly, a part beside a part, a pack beside a pack")
    if isinstance(a, FlatPattern) != isinstance(b, FlatPattern):
        a, b = (x if isinstance(x, FlatPattern) else _flat_of(x) for x in (a, b))
    before, after = _facts(a), _facts(b)
    changes = tuple(_changes(before, after))
    pictures = tuple(_pictures(a, b)) if changes else ()
    return Comparison(
        old=_called(a), new=_called(b), changes=changes, facts=len(before.keys() | after.keys()), pictures=pictures
    )


def _subject(thing: Any, what: str, shop: Shop | None) -> Subject:
    if isinstance(thing, Part | Assembly):
        if shop is None:
            raise BadValue(
                "compare shop", None, f"a Shop: the {what} {type(thing).__name__.lower()} is made on its tools"
            )
        return make(thing, shop) if isinstance(thing, Part) else assemble(thing, shop)
    if isinstance(thing, Path) or (isinstance(thing, str) and thing.endswith(".zip")):
        return open_release(thing)
    if not isinstance(thing, Made | Assembled | FlatPattern | Opened):
        raise BadValue(
            f"compare {what}", thing, "a Part, an Assembly, one of them made, a flat pattern, or a pack's path"
        )
    return thing


def _flat_of(thing: Any) -> FlatPattern:
    if thing.flat is None:
        raise BadValue("compare", thing, "a part that can be made, where it is held against a flat pattern")
    flat: FlatPattern = thing.flat
    return flat


def _facts(thing: Subject) -> dict[tuple[str, str], Fact]:
    found: Iterable[Fact]
    if isinstance(thing, Assembled):
        found = assembled_facts(thing)
    elif isinstance(thing, Opened):
        found = opened_facts(thing)
    else:
        found = flat_facts(thing) if isinstance(thing, FlatPattern) else made_facts(thing)
    return {(f.of, f.what): f for f in found}


def _called(thing: Subject) -> str:
    if isinstance(thing, FlatPattern):
        return thing.name
    if isinstance(thing, Opened):
        return f"{thing.job.number} rev {thing.rev}"
    named = thing.part if isinstance(thing, Made) else thing.assembly
    return f"{named.number} rev {named.rev}"


def _changes(before: dict[tuple[str, str], Fact], after: dict[tuple[str, str], Fact]) -> Iterator[Change]:
    """Yield what differs; a thing that came or went is one change."""
    was, is_ = {of for of, _ in before}, {of for of, _ in after}
    told = set()
    for key in [*before, *(k for k in after if k not in before)]:
        of, what = key
        if of not in was or of not in is_:
            if of not in told:
                told.add(of)
                yield (
                    Change(of, "", None, _size(after, of)) if of not in was else Change(of, "", _size(before, of), None)
                )
            continue
        a, b = before.get(key), after.get(key)
        unit = (a or b).unit  # type: ignore[union-attr]
        if a is None or b is None or _looks(a) != _looks(b):
            yield Change(of, what, None if a is None else a.value, None if b is None else b.value, unit)


def _size(facts: dict[tuple[str, str], Fact], of: str) -> str:
    """Return the facts of a thing in a line."""
    if of.startswith("file "):
        return "in the pack"
    return ", ".join(f"{f.what} {_shown(f.value, f.unit)}" for f in facts.values() if f.of == of)


def _looks(fact: Fact) -> str:
    return fact.value if isinstance(fact.value, str) else f"{round(fact.value, DIGITS[fact.unit] + 1) + 0.0:.6f}"


def _shown(value: Value, unit: str, sign: str = "") -> str:
    if isinstance(value, str):
        return value or "-"
    digits = 0 if not unit and value == round(value) else DIGITS[unit]
    return f"{round(value, digits) + 0.0:{sign}.{digits}f}"


def _alike(change: Change) -> tuple[str, ...]:
    kind = change.of.split(" ")[0]
    _, what, old, new, by = change.cells()
    return (kind, what, by) if change.difference is not None else (kind, what, old, new, by)


def _merged(changes: Iterable[Change]) -> Iterator[tuple[str, str, str, str, str]]:
    """Yield rows; many holes that moved alike share one."""
    order = {key: n for n, key in enumerate(dict.fromkeys(_alike(c) for c in changes))}
    listed = sorted(changes, key=lambda c: order[_alike(c)])
    for _, group in groupby(listed, key=_alike):
        same = list(group)
        if len(same) < MANY:
            yield from (c.cells() for c in same)
            continue
        cells = [c.cells() for c in same]
        olds, news = {c[2] for c in cells}, {c[3] for c in cells}
        of = f"{cells[0][0]} to {cells[-1][0]} ({len(cells)} of them)"
        yield (
            of,
            cells[0][1],
            olds.pop() if len(olds) == 1 else "each its own",
            news.pop() if len(news) == 1 else "each its own",
            cells[0][4],
        )


def _pictures(a: Subject, b: Subject) -> Iterator[Picture]:
    flats = [x if isinstance(x, FlatPattern) else getattr(x, "flat", None) for x in (a, b)]
    if flats[0] is not None and flats[1] is not None:
        yield flats_over(flats[0], flats[1], _called(a), _called(b))
    if isinstance(a, Made | Assembled) and isinstance(b, Made | Assembled):
        picture = folded_over(a, b, _called(a), _called(b))
        if picture is not None:
            yield picture
