"""The job: what is wanted, how many, by when; a plain value without a shop."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Annotated, Any, Final, Literal, TypeAlias

from tinbook.errors import BadValue
from tinbook.fields import ByName, Count, Maybe, Number, Text, Word, check_fields
from tinbook.flatpattern import FlatPattern
from tinbook.job.quoted import Day, SupplierQuote, Work, check_quotes, quote_for
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.part.assembly import Assembly
from tinbook.part.bought import Bought
from tinbook.part.names import NUMBER, TITLE
from tinbook.part.part import Part
from tinbook.plane.loops import Loop
from tinbook.values import dataclass

Thing: TypeAlias = Part | Assembly | FlatPattern
Hand = Literal["as drawn", "other hand"]

PREFIX: Final = Word(r"|[A-Za-z0-9][A-Za-z0-9._]{0,11}", "at most 12 letters, digits, '.' or '_', as in 'Q41', or ''")
TRACED: Final = ("recovery_plate", "winch_cradle", "body_mount", "pin_plate", "reinforcement_plate")
"""Families whose parts hold when somebody is towed, winched or recovered, or hold the body: their metal is traced."""
MOST_ITEMS: Final = 500
OTHER_HAND: Final = "-OH"
"""Follows the number of a part that is made as the other hand of the one drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of a job.

    Parameters
    ----------
    thing : Part, Assembly or FlatPattern
        What is wanted; a flat that was read from a file is cut and nothing more.
    quantity : int
        How many of it are in one set.
    hand : {"as drawn", "other hand"}
        The other hand of a part carries its number with "-OH" behind it.
    priority : int
        0 to 9: what has more is cut from the first sheets.
    finish : str
        A finish of the shop's rates, "" for bare metal.
    sheet : str
        Of a flat only: the shop's sheet from which it is cut, as in "DC01 1.5".
    grain : float or None
        Direction of its blanks, degrees from their x, that must follow the rolling direction; None where it does not
        matter.
    traced : bool
        Whether it must be cut from metal whose heat and certificate are known; always so for the families in `TRACED`.
    """

    thing: Thing
    quantity: Annotated[int, Count(1, 1_000_000)] = 1
    hand: Hand = "as drawn"
    priority: Annotated[int, Count(0, 9)] = 0
    finish: Annotated[str, Text(empty=True, most=40)] = ""
    sheet: Annotated[str, Text(empty=True, most=80)] = ""
    grain: Annotated[float | None, Maybe(Number("deg"))] = None
    traced: bool = False

    def __post_init__(self) -> None:
        if not isinstance(self.thing, Part | Assembly | FlatPattern):
            raise BadValue("item thing", type(self.thing).__name__, "a Part, an Assembly or a flat that was read")
        if getattr(getattr(self.thing, "provenance", None), "name", "") in TRACED:
            object.__setattr__(self, "traced", True)
        if isinstance(self.thing, FlatPattern):
            object.__setattr__(self, "thing", _plain_flat(self.thing))
        check_fields(self, f"item '{self.number}'")
        flat = isinstance(self.thing, FlatPattern)
        if flat and not self.sheet.strip():
            raise BadValue(
                f"item '{self.number}' sheet", self.sheet, "the shop's sheet that it is cut from, as in 'DC01 1.5'"
            )
        if not flat and self.sheet:
            raise BadValue(f"item '{self.number}' sheet", self.sheet, "left out: a part names its own sheet")
        if self.hand == "other hand" and not isinstance(self.thing, Part):
            raise BadValue(
                f"item '{self.number}' hand", self.hand, "'as drawn': only a part has an other hand of its own"
            )
        lines = isinstance(self.thing, FlatPattern) and (self.thing.form_lines or self.thing.trimmed)
        if lines:
            raise BadValue(f"item '{self.number}'", "a flat of a part", "the Part itself; a flat is one that was read")

    @property
    def number(self) -> str:
        """Its number, without the job's prefix."""
        return self.thing.name if isinstance(self.thing, FlatPattern) else self.thing.number


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPart:
    """One kind of part that a job cuts.

    Parameters
    ----------
    number : str
        With the job's prefix.
    thing : Part or FlatPattern
        A part carries that number; a flat keeps its name.
    sheet : str
        The shop's sheet.
    quantity : int
        In one set.
    priority : int
        The highest of the items that it is for.
    finish : str
        Its finish, "" for bare metal.
    grain : float or None
        As for an item.
    traced : bool
        Whether an item that it is for needs metal with a known heat and certificate.
    items : tuple of str
        Numbers of the items that it is for.
    """

    number: str
    thing: Part | FlatPattern
    sheet: str
    quantity: int
    priority: int
    finish: str
    grain: float | None
    traced: bool
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is wanted, how many, by when.

    Parameters
    ----------
    number : str
        Says nothing about the customer: it stands on parts, files and offcuts.
    items : tuple of Item
        1 to 500.
    title : str
        For people.
    due : str
        Date as "2027-03-31", "" if it is open.
    prefix : str
        Put before the number of every part, "" for none.
    shop : str
        Name of the shop file beside the job's own file, "" for the shop that is given with it.
    hours : table of str to float
        Hours of one set by stage, which nothing else says: measuring, fitting, welding up.
    once : table of str to float
        Hours of the whole job by stage: drawing, jigs.
    discount : float
        Per cent off the price, 0 to 100.
    delivery : bool
        Whether the shop delivers.
    micro_joints : bool
        Whether blanks stay tied to their sheets by micro-joints, which are dressed afterwards.
    quotes : tuple of SupplierQuote
        What suppliers quoted for cutting or folding parts of it.
    language : Language
        Of the papers, with its decimal sign: "en", "de", or one of your own. What you typed stays as it is.
    paper : {"A4", "A3"}
        Size of the papers.

    Examples
    --------
    >>> import tinbook as tb
    >>> job = tb.Job(number="Q41", prefix="Q41", items=[tb.job.Item(thing=tb.families.gusset(), quantity=4)])
    >>> [(p.number, p.quantity) for p in job.parts]
    [('Q41-GUSSET', 4)]
    """

    number: Annotated[str, NUMBER]
    items: tuple[Item, ...]
    title: Annotated[str, TITLE] = ""
    due: Annotated[str, Day()] = ""
    prefix: Annotated[str, PREFIX] = ""
    shop: Annotated[str, Text(empty=True, most=120)] = ""
    hours: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0, most=1e5))] = ()
    once: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0, most=1e5))] = ()
    discount: Annotated[float, Number(least=0, most=100)] = 0.0
    delivery: bool = False
    micro_joints: bool = False
    quotes: tuple[SupplierQuote, ...] = ()
    language: Annotated[Language, Spoken()] = ENGLISH
    paper: Literal["A4", "A3"] = "A4"

    def __post_init__(self) -> None:
        items = tuple(self.items) if isinstance(self.items, list | tuple) else ()
        if not 1 <= len(items) <= MOST_ITEMS or not all(isinstance(i, Item) for i in items):
            raise BadValue("job items", self.items, f"1 to {MOST_ITEMS} values of tb.job.Item")
        object.__setattr__(self, "items", items)
        check_fields(self, f"job '{str(self.number)[:40]}'")
        if not isinstance(self.quotes, list | tuple) or not all(isinstance(q, SupplierQuote) for q in self.quotes):
            raise BadValue("job quotes", self.quotes, "values of tb.job.SupplierQuote")
        object.__setattr__(self, "quotes", tuple(self.quotes))
        check_quotes(self.quotes, [p.number for p in self.parts])

    def __repr__(self) -> str:
        count = sum(p.quantity for p in self.parts)
        return f"<job {self.number}: {len(self.items)} items, {len(self.parts)} kinds of part, {count} parts>"

    def numbered(self, number: str) -> str:
        """Return a part's number with the job's prefix."""
        return number if not self.prefix or number.startswith(f"{self.prefix}-") else f"{self.prefix}-{number}"

    def quote(self, number: str, work: Work, sets: int = 1) -> SupplierQuote | None:
        """Return the quote that counts for the cutting or folding of a part, None where the shop does it itself."""
        return quote_for(self.quotes, number, work, sets)

    def comes_cut(self, number: str, sets: int = 1) -> bool:
        """Whether a supplier cuts a part from the supplier's own metal, so that it takes no sheet of the shop's."""
        quote = self.quote(number, "cutting", sets)
        return quote is not None and quote.metal == "supplier"

    @property
    def parts(self) -> tuple[JobPart, ...]:
        """The kinds of part that are cut for one set, each once, in the order in which they come."""
        found: dict[tuple[str, str], JobPart] = {}
        for item in self.items:
            for thing, count in _cut(item):
                name = thing.name if isinstance(thing, FlatPattern) else thing.number
                number = self.numbered(name)
                own = thing if isinstance(thing, FlatPattern) else thing.renamed(number=number)
                before = found.get((number, item.finish))
                clash = next((p for p in found.values() if p.number == number and p.thing != own), None)
                if clash is not None:
                    raise BadValue("job items", number, "each number for one part only; another part has it already")
                sheet = item.sheet if isinstance(thing, FlatPattern) else thing.sheet
                part = JobPart(
                    number=number,
                    thing=own,
                    sheet=sheet,
                    quantity=count,
                    priority=item.priority,
                    finish=item.finish,
                    grain=item.grain,
                    traced=item.traced,
                    items=(item.number,),
                )
                if before is not None:
                    part = replace(
                        before,
                        quantity=before.quantity + count,
                        priority=max(before.priority, item.priority),
                        grain=item.grain if before.grain is None else before.grain,
                        traced=before.traced or item.traced,
                        items=tuple(dict.fromkeys((*before.items, item.number))),
                    )
                found[number, item.finish] = part
        return tuple(found.values())

    def wanted(self, assembly: Assembly) -> int:
        """Return how many of an assembly, under its number with the job's prefix, are in one set."""
        found = (i for i in self.items if isinstance(i.thing, Assembly))
        return sum(i.quantity for i in found if self.numbered(i.number) == assembly.number)

    @property
    def bought(self) -> tuple[tuple[Bought, int], ...]:
        """The bought items of one set with their quantities; what exists on the vehicle is not bought."""
        counts: dict[Bought, int] = {}
        for item in self.items:
            for m in item.thing.members if isinstance(item.thing, Assembly) else ():
                if isinstance(m.thing, Bought) and not m.thing.existing:
                    counts[m.thing] = counts.get(m.thing, 0) + item.quantity
        return tuple(counts.items())


def _cut(item: Item) -> Iterator[tuple[Part | FlatPattern, int]]:
    """Yield what is cut for an item, with its quantity in one set."""
    thing = item.thing
    if isinstance(thing, Assembly):
        yield from ((part, item.quantity * thing.quantity(part)) for part in thing.parts)
    elif isinstance(thing, Part) and item.hand == "other hand":
        yield thing.mirrored(number=f"{thing.number}{OTHER_HAND}"), item.quantity
    else:
        yield thing, item.quantity


def _plain_flat(flat: FlatPattern) -> FlatPattern:
    """Return a flat without what a job does not need: the solid it was unfolded from, names of edges."""
    values: dict[str, Any] = {f.name: getattr(flat, f.name) for f in fields(FlatPattern)}
    values["outer"] = _nameless(flat.outer)
    for name in ("cuts", "drills", "undersize"):
        values[name] = tuple(replace(c, loop=_nameless(c.loop)) for c in values[name])
    return FlatPattern(**values)


def _nameless(loop: Loop) -> Loop:
    return Loop(tuple(replace(e, name="") for e in loop.edges))


def thickness_agrees(flat: FlatPattern, nominal: float) -> bool:
    """Whether a flat was drawn for a thickness; one whose thickness is not known agrees with any."""
    return math.isnan(flat.thickness) or abs(flat.thickness - nominal) < 1e-6
