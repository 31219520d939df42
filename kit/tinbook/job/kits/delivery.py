"""What is delivered: bags of small items, bundles of parts, parcels, and the list of all of it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from tinbook.errors import of_kind
from tinbook.htmltable import html_table
from tinbook.job.cut_parts import CutPart
from tinbook.job.kits.bundles import BETWEEN, Nesting, nesting, solid_of
from tinbook.job.kits.cartons import Bundle, Parcel, fits, guarded, packed
from tinbook.job.kits.kit import Kit
from tinbook.job.kits.stacks import extents
from tinbook.job.kits.steps import Needed, Procedure, is_small, procedures
from tinbook.job.lists import JobList
from tinbook.making.made import Made
from tinbook.part.bought import Bought
from tinbook.values import dataclass
from tinbook.write.labels import Label

LOOSE: Final = 2.0
"""A bag's room over that of the boxes round its items (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bag:
    """A bag with the small items of one step.

    Parameters
    ----------
    number : int
        In the fitting instructions.
    of : str
        Number and revision of the assembly.
    step : str
        Heading of the step.
    items : tuple of (Bought, int)
        What is in it.
    count : int
        How many bags alike are delivered.
    """

    number: int
    of: str
    step: str
    items: Needed
    count: int

    @property
    def mass(self) -> float:
        """Of one bag, kg."""
        return math.fsum(thing.mass * n for thing, n in self.items)

    @property
    def side(self) -> float:
        """Side of the cube that it fills, mm."""
        return math.cbrt(LOOSE * math.fsum(math.prod(extents(thing)) * n for thing, n in self.items))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Delivery:
    """All that leaves the workshop for a job.

    Parameters
    ----------
    kit : Kit
        What is delivered.
    procedures : tuple of Procedure
        How it is fitted.
    bags : tuple of Bag
        Small items by step.
    parcels : tuple of Parcel
        What the carrier gets.
    """

    kit: Kit
    procedures: tuple[Procedure, ...]
    bags: tuple[Bag, ...]
    parcels: tuple[Parcel, ...]

    @property
    def mass(self) -> float:
        """Of all parcels, kg."""
        return math.fsum(p.mass for p in self.parcels)

    @property
    def rows(self) -> list[tuple[str, ...]]:
        """A line for each parcel: number, size, length and girth, mass, what it breaks."""
        return [
            (str(p.number), " × ".join(f"{v:.0f}" for v in p.size), f"{p.girth:.0f}", f"{p.mass:.1f}", p.over)
            for p in self.parcels
        ]

    def __repr__(self) -> str:
        return f"<delivery of {self.kit.nest.job.number}: {len(self.parcels)} parcels, {self.mass:.1f} kg>"

    def _repr_html_(self) -> str:
        limits = self.kit.nest.shop.packing
        guess = " (a guess: state your carrier's own)" if limits.source == "own proposal" else ""
        note = f"limits {limits.length:g} mm, length and girth {limits.girth:g} mm, {limits.mass:g} kg{guess}"
        heads = ("parcel", "outside, mm", "length and girth, mm", "kg", "breaks")
        return html_table(heads, self.rows, caption=repr(self)[1:-1], notes=[note])


def delivery_of(kit: Kit) -> Delivery:
    """Return bags and parcels of a kit, all sets together.

    Equal parts lie in each other where their shape lets them, with paper between; a guard goes round each bundle. What
    is too large or too heavy for the carrier gets a parcel that says so.

    Parameters
    ----------
    kit : Kit
        What `kit_of` gives.
    """
    of_kind(kit, Kit, "kit", "what tb.job.kit_of gives")
    steps = procedures(kit)
    sets = kit.nest.sets
    bags = tuple(
        Bag(number=s.bag, of=it.label, step=s.title, items=s.needs, count=it.quantity * sets)
        for it in steps
        for s in it.steps
        if s.bag
    )
    return Delivery(kit=kit, procedures=steps, bags=bags, parcels=packed(_bundles(kit, bags), kit.nest.shop.packing))


def _bundles(kit: Kit, bags: tuple[Bag, ...]) -> Iterator[Bundle]:
    limits, sets = kit.nest.shop.packing, kit.nest.sets
    for cut in kit.nest.parts:
        count, each = cut.part.quantity * sets, cut.mass(kit.nest.shop.sheet_by_key(cut.part.sheet))
        how = _nesting(kit, cut, count)
        name, left = cut.part.number, count
        while left:
            most = left
            while most > 1 and not fits([v + 2 * limits.guard for v in how.box(most)], most * each, limits):
                most = most // 2
            yield guarded(Bundle(name=name, count=most, box=how.box(most), mass=most * each), limits)
            left -= most
    for bag in bags:
        for _ in range(bag.count):
            yield Bundle(name=f"bag {bag.number}", count=1, box=(bag.side, bag.side, bag.side), mass=bag.mass)
    for thing, count in kit.nest.job.bought:
        if not is_small(thing):
            for _ in range(count * sets):
                yield guarded(Bundle(name=thing.name, count=1, box=extents(thing), mass=thing.mass), limits)


def _nesting(kit: Kit, cut: CutPart, count: int) -> Nesting:
    if isinstance(cut.made, Made) and cut.made.strips:
        return nesting(solid_of(cut.made), count)
    w, h = cut.flat.size
    t = kit.nest.shop.sheet_by_key(cut.part.sheet).thickness
    return Nesting(step=(0.0, 0.0, t + BETWEEN), single=(w, h, t))


def packing_list(delivery: Delivery) -> JobList:
    """Return what lies in which parcel: parts with revision and hand, bought items, and bags with what is in them.

    Parameters
    ----------
    delivery : Delivery
        What `delivery_of` gives.
    """
    of_kind(delivery, Delivery, "delivery", "what tb.job.delivery_of gives")
    kit = delivery.kit
    say = kit.nest.job.language
    cuts = {c.part.number: c for c in kit.nest.parts}
    bags = {f"bag {b.number}": b for b in delivery.bags}
    bought = {thing.name: thing for thing, _ in kit.nest.job.bought}
    order = {name: n for n, name in enumerate((*cuts, *bought, *bags))}

    def told(thing: Bought) -> tuple[str, str, str, str]:
        return say.retold(thing.name), say.retold(thing.standard), "", ""

    rows: list[tuple[str | int | float, ...]] = []
    for parcel in delivery.parcels:
        for name, count in sorted(parcel.counts.items(), key=lambda c: order[c[0]]):
            if name in cuts:
                cut = cuts[name]
                hand = say(cut.hand or "as drawn") if isinstance(cut.made, Made) else ""
                mass = cut.mass(kit.nest.shop.sheet_by_key(cut.part.sheet))
                rows.append((parcel.number, "", name, cut.title, cut.rev, hand, count, round(mass, 3)))
            elif name in bags:
                bag = bags[name]
                where = say("bag {n}", n=bag.number)
                inside = str(bag.number)
                rows.append((parcel.number, inside, where, f"{bag.of}: {bag.step}", "", "", count, round(bag.mass, 3)))
                for thing, n in bag.items:
                    rows.append((parcel.number, inside, *told(thing), n * count, round(thing.mass, 4)))
            else:
                thing = bought[name]
                rows.append((parcel.number, "", *told(thing), count, round(thing.mass, 3)))
    heads = tuple(
        say(h) for h in ("parcel", "bag", "what", "title or standard", "revision", "hand", "quantity", "kg each")
    )
    return JobList(name=say("packing list of {job}", job=kit.nest.job.number), heads=heads, rows=tuple(rows))


def kit_labels(delivery: Delivery) -> tuple[Label, ...]:
    """Return a label for every part, every larger bought item and every bag, all sets together.

    Parameters
    ----------
    delivery : Delivery
        What `delivery_of` gives.
    """
    of_kind(delivery, Delivery, "delivery", "what tb.job.delivery_of gives")
    kit, say = delivery.kit, delivery.kit.nest.job.language
    order = say("job {job}", job=kit.nest.job.number)

    def label(number: str, count: int, *lines: str, mark: str = "") -> Label:
        return Label(number=number, mark=mark, lines=tuple(filter(None, (*lines, order))), count=count)

    found = []
    for cut in kit.nest.parts:
        said = (say("rev {rev}", rev=cut.rev) if cut.rev else "", say(cut.hand) if cut.hand else "")
        wanted = say("for {what}", what=", ".join(cut.part.items))
        count = cut.part.quantity * kit.nest.sets
        found.append(
            label(cut.part.number, count, cut.title, cut.part.sheet, wanted, mark=", ".join(filter(None, said)))
        )
    found += [
        label(say.retold(t.name), n * kit.nest.sets, say.retold(t.standard))
        for t, n in kit.nest.job.bought
        if not is_small(t)
    ]
    for bag in delivery.bags:
        items = (f"{n} × {say.retold(t.name)}" for t, n in bag.items)
        number = say("bag {n}", n=bag.number)
        found.append(label(number, bag.count, f"{bag.of}: {bag.step}", *items, mark=bag.of))
    return tuple(found)
