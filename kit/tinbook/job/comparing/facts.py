"""What can be said of a part or an assembly in single facts, each under a name that outlives a revision."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from tinbook.flatpattern import FlatPattern
from tinbook.making.accuracy import finished_sizes
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.assembly import Assembly
from tinbook.part.links import kind_of_link
from tinbook.part.part import Part
from tinbook.part.partfile import TABLES, part_values, row_of
from tinbook.plane.loops import Loop
from tinbook.space import Frame
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.job.releasing.opening import Opened

Value: TypeAlias = float | str

DIGITS: Final = {"mm": 2, "deg": 2, "kg": 3, "": 3}
"""Decimals that a number is shown with; two numbers that look alike at one more are the same."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that can be said.

    Parameters
    ----------
    of, what : str
        Of which thing ("fold tunnel"), and what of it ("angle").
    value : float or str
        The value; text for what is no number.
    unit : str
        "mm", "deg", "kg" or "".
    """

    of: str
    what: str
    value: Value
    unit: str = ""


def by_name(facts: Iterable[Fact]) -> dict[tuple[str, str], Fact]:
    """Return facts by what they are of and what they say."""
    return {(f.of, f.what): f for f in facts}


def flat_facts(flat: FlatPattern) -> Iterator[Fact]:
    """Yield the facts of a blank alone: its size, its openings and its folds, as they lie in it."""
    yield from _blank(flat)
    for cut in flat.inner:
        yield from _opening(f"opening {cut.name}", cut.loop, cut.dia, "")
    for f in flat.folds:
        yield Fact(f"fold {f.name}", "way", f.direction)
        yield Fact(f"fold {f.name}", "angle turned", f.angle, "deg")
        yield Fact(f"fold {f.name}", "inside radius", f.radius, "mm")
        yield Fact(f"fold {f.name}", "length", f.length, "mm")


def made_facts(made: Made) -> Iterator[Fact]:
    """Yield the facts of a made part: what it is called, its sheet, sizes, folds, holes and forms."""
    part = made.part
    yield from _named(part)
    yield Fact("sheet", "material and thickness", made.sheet.key)
    yield Fact("sheet", "thickness", made.thickness, "mm")
    yield Fact("part", "hand", "other hand" if part.other_hand else "as drawn")
    stops = sorted({f.code for f in made.findings if f.severity == "stop"})
    if made.flat is None:  # then it has neither mass nor blank
        yield Fact("part", "can be made", f"no: {', '.join(stops)}")
    else:
        yield Fact("part", "mass", made.mass, "kg")
    if made.flat is not None:
        yield from _blank(made.flat)
    for e in part.base.loop.edges:
        yield from _edge(f"edge {e.name}", e)
    for s in made.strips:
        of = f"fold {s.name}"
        yield Fact(of, "way", s.direction)
        yield Fact(of, "angle turned", s.angle, "deg")
        yield Fact(of, "inside radius", s.radius, "mm")
        yield Fact(of, "deduction", 2 * s.setback - s.allowance, "mm")
        yield Fact(of, "tool", s.bend.tool or "none")
        yield Fact(of, "bend rule", s.bend.rule)
    for f in part.folds:
        for end, leg in zip(("left", "right"), f.leg, strict=True):
            yield Fact(f"fold {f.name}", f"leg, {end} end", leg, "mm")
    if made.ok:
        for size in finished_sizes(made):
            yield Fact("finished size", size.name, size.nominal, "mm")
    yield from _holes(made)
    yield from _forms(part)


def assembled_facts(assembled: Assembled) -> Iterator[Fact]:
    """Yield the facts of an assembly: members and where they stand, welds, and those of each different part."""
    a = assembled.assembly
    yield from _named(a)
    yield Fact("assembly", "mass", assembled.mass, "kg")
    for m in a.members:
        yield Fact(f"member {m.name}", "item", m.label)
        yield from _stands(f"member {m.name}", m.at)
    for w in a.welds:
        of = f"weld {w.a} to {w.b}"
        yield Fact(of, "throat", w.throat, "mm")
        yield Fact(of, "length", w.length if w.length is not None else "as drawn", "mm")
        yield Fact(of, "sides", w.sides)
        yield Fact(of, "note", w.note)
    for n, x in enumerate(a.links, 1):
        of = f"link {n}, {kind_of_link(x)} of {x.a} on {x.b}"
        yield from (Fact(of, name, str(value)) for name, value in row_of(x).items() if name not in ("a", "b"))
    for part, made in assembled.made:
        first = next(m.name for m in a.members if m.thing == part)
        yield Fact(f"{first}: part", "quantity in the assembly", float(a.quantity(part)))
        yield from (Fact(f"{first}: {f.of}", f.what, f.value, f.unit) for f in made_facts(made))


def opened_facts(opened: Opened) -> Iterator[Fact]:
    """Yield the facts of an opened pack: what was wanted, each kind of part made on its shop, price and files."""
    job, manifest = opened.job, opened.manifest
    yield Fact("release", "job", job.number)
    yield Fact("release", "revision", opened.rev)
    yield Fact("release", "sets", float(opened.options["sets"]))
    for label, text in (opened.options["prices"] or {}).items():
        yield Fact("price", label, text)
    for row in job.parts:
        yield Fact(f"{row.number}: part", "quantity in a set", float(row.quantity))
        found = made_facts(make(row.thing, opened.shop)) if isinstance(row.thing, Part) else flat_facts(row.thing)
        yield from (Fact(f"{row.number}: {f.of}", f.what, f.value, f.unit) for f in found)
    for item in job.items:
        if isinstance(item.thing, Assembly):
            for m in item.thing.members:
                yield Fact(f"{item.number}: member {m.name}", "item", m.label)
                yield from _stands(f"{item.number}: member {m.name}", m.at)
    for name, file in manifest["files"].items():
        yield Fact(f"file {name}", "content", file["sha256"][:16])


def _named(thing: Any) -> Iterator[Fact]:
    yield Fact("title block", "number", thing.number)
    yield Fact("title block", "revision", thing.rev)
    yield Fact("title block", "title", thing.title)
    if hasattr(thing, "quantity") and isinstance(thing.quantity, int):
        yield Fact("title block", "quantity", float(thing.quantity))


def _blank(flat: FlatPattern) -> Iterator[Fact]:
    w, h = flat.size
    yield Fact("blank", "length along x", w, "mm")
    yield Fact("blank", "length along y", h, "mm")
    yield Fact("blank", "net area, m²", flat.area / 1e6)
    yield Fact("blank", "cut length", flat.cut_length, "mm")
    yield Fact("blank", "pierces", float(flat.pierces))


def _edge(of: str, e: Any) -> Iterator[Fact]:
    yield Fact(of, "length", e.length, "mm")
    yield Fact(of, "radius", e.radius if e.bulge else "straight", "mm" if e.bulge else "")
    yield Fact(of, "middle, x", (e.start[0] + e.end[0]) / 2, "mm")
    yield Fact(of, "middle, y", (e.start[1] + e.end[1]) / 2, "mm")


def _opening(of: str, loop: Loop, dia: float | None, use: str) -> Iterator[Fact]:
    x0, y0, x1, y1 = loop.box
    if dia is not None:
        yield Fact(of, "diameter", dia, "mm")
    else:
        yield Fact(of, "width", x1 - x0, "mm")
        yield Fact(of, "height", y1 - y0, "mm")
        yield Fact(of, "area, cm²", abs(loop.area) / 100)
    yield Fact(of, "x", (x0 + x1) / 2, "mm")
    yield Fact(of, "y", (y0 + y1) / 2, "mm")
    if use:
        yield Fact(of, "use", use)


def _holes(made: Made) -> Iterator[Fact]:
    """Yield each hole in its panel's coordinates; those through folds lie in the blank only."""
    inside = set()
    for panel in made.panels:
        for h in panel.holes:
            inside.add(h.name)
            yield from _opening(f"hole {h.name} on {panel.name}", h.loop, h.dia, h.use)
    for cut in () if made.flat is None else made.flat.cuts:
        if cut.name not in inside:
            yield from _opening(f"opening {cut.name} in the blank", cut.loop, cut.dia, cut.use)


def _forms(part: Any) -> Iterator[Fact]:
    """Yield the fields of every form as its part file holds them."""
    rows = part_values(part)
    for table, (where, _) in TABLES.items():
        if where != "forms":
            continue
        for n, row in enumerate(rows.get(table, ()), 1):
            of = f"{table.replace('_', ' ')} {row.get('name') or n}"
            for name, value in row.items():
                if name != "name":
                    yield from _flattened(of, name.replace("_", " "), value)


def _flattened(of: str, what: str, value: Any) -> Iterator[Fact]:
    if isinstance(value, bool | str):
        yield Fact(of, what, str(value).lower() if isinstance(value, bool) else value)
    elif isinstance(value, int | float):
        whole = what in ("copies", "number") or not math.isfinite(value)
        yield Fact(of, what, float(value), "" if whole else "deg" if what in ("angle", "turn") else "mm")
    elif isinstance(value, Iterable):
        for name, each in zip(_parts(value), value, strict=True):
            yield from _flattened(of, f"{what}, {name}", each)


def _parts(value: Any) -> list[str]:
    pair = len(value) == 2 and not any(isinstance(v, list | tuple) for v in value)
    return ["x", "y"] if pair else [f"point {k}" for k in range(1, len(value) + 1)]


def _stands(of: str, at: Frame) -> Iterator[Fact]:
    for name, value in zip("xyz", at.origin, strict=True):
        yield Fact(of, name, value, "mm")
    for name, axis in (("x", at.x), ("z", at.z)):
        yield Fact(of, f"direction of its {name}", " ".join(f"{v:.4f}" for v in (c + 0.0 for c in axis)))
