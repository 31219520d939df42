"""Two revisions beside each other: what changed, as a table and as pictures of both over each other."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from tinbook.errors import BadValue
from tinbook.flatpattern import FlatPattern
from tinbook.htmltable import html_table
from tinbook.job.comparing.changes import Change, changes, merged
from tinbook.job.comparing.facts import Fact, assembled_facts, by_name, flat_facts, made_facts, opened_facts
from tinbook.job.comparing.overlay import flats_over, folded_over
from tinbook.job.releasing.opening import Opened, open_release
from tinbook.making.assembled import Assembled, assemble
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.shown import picture_html
from tinbook.svg import Picture
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.shop.shop import Shop

Subject: TypeAlias = Made | Assembled | FlatPattern | Opened


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
        return list(merged(self.changes))

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
    found = tuple(changes(before, after))
    pictures = tuple(_pictures(a, b)) if found else ()
    return Comparison(
        old=_called(a), new=_called(b), changes=found, facts=len(before.keys() | after.keys()), pictures=pictures
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
    if isinstance(thing, Assembled):
        return by_name(assembled_facts(thing))
    if isinstance(thing, Opened):
        return by_name(opened_facts(thing))
    return by_name(flat_facts(thing) if isinstance(thing, FlatPattern) else made_facts(thing))


def _called(thing: Subject) -> str:
    if isinstance(thing, FlatPattern):
        return thing.name
    if isinstance(thing, Opened):
        return f"{thing.job.number} rev {thing.rev}"
    named = thing.part if isinstance(thing, Made) else thing.assembly
    return f"{named.number} rev {named.rev}"


def _pictures(a: Subject, b: Subject) -> Iterator[Picture]:
    flats = [x if isinstance(x, FlatPattern) else getattr(x, "flat", None) for x in (a, b)]
    if flats[0] is not None and flats[1] is not None:
        yield flats_over(flats[0], flats[1], _called(a), _called(b))
    if isinstance(a, Made | Assembled) and isinstance(b, Made | Assembled):
        picture = folded_over(a, b, _called(a), _called(b))
        if picture is not None:
            yield picture
