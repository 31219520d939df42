"""A job as one TOML file, and back: parts and assemblies inlined, families with their values."""

from __future__ import annotations

import math
import os
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Final

import tomlkit

from tinbook.errors import BadValue, TinbookError, of_kind
from tinbook.fields import Count, Kind, Number, Several, Text, kinds
from tinbook.finding import Finding, Findings
from tinbook.flatpattern import Cut, FlatPattern, FoldLine, Mark
from tinbook.job.declared import Item, Job, Thing
from tinbook.job.quoted import SupplierQuote
from tinbook.part.assembly import Assembly
from tinbook.part.assemblyfile import assembly_of, assembly_values, rows_of, table_of, tables_of
from tinbook.part.outline import Contour
from tinbook.part.part import Part
from tinbook.part.partfile import inline, part_of, part_values, plain, read_row, row_of
from tinbook.plane.loops import Edge
from tinbook.shop.material import Sheet
from tinbook.shop.tomlfile import TomlText, parse_toml, read_toml
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.stamp import stamp_of_drawing

HEAD: Final = kinds(Job)
QUOTE: Final = kinds(SupplierQuote)
ITEM: Final[dict[str, Kind]] = {
    **kinds(Item),
    **{name: Text() for name in ("part", "assembly", "flat", "family")},
    "values": None,  # type: ignore[dict-item]  # read by the family itself
    "pick": Count(0, 99),
}
KINDS: Final = ("part", "assembly", "flat", "family")

_STROKE: Final = Several(Several(Number(), 5, 5, "numbers"), 0, what="rows [x, y, x, y, bulge]")
_LINES: Final = Several(Several(Several(Number(), 2, 2), 2, 2), 0, what="pairs of points")
CUT: Final[dict[str, Kind]] = {"loop": Contour(), "name": Text(empty=True), "use": Text(), "dia": Number("mm", above=0)}
FOLD: Final[dict[str, Kind]] = {
    **{name: Text(empty=True) for name in ("name", "rule", "tool")},
    **kinds(FoldLine),
    "pieces": _LINES,
    **{name: Number() for name in ("angle", "radius", "allowance", "k", "plus_minus")},
}
MARK: Final[dict[str, Kind]] = {**kinds(Mark), "label": Text(empty=True), "edges": _STROKE}
FLAT: Final[dict[str, Kind]] = {
    "name": Text(most=80),
    "thickness": Number("mm", above=0),
    "material": Text(empty=True),
    "outer": Contour(),
}


def write_job(job: Job, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write a job as TOML; `read_job` gives it back.

    Parameters
    ----------
    job : Job
        Any job.
    path : str or path-like
        File name ending in .toml, or an existing folder.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same job gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        Something else than a job; a name or folder that cannot be used.
    CannotWrite
        The file there is another, or the system refuses.
    """
    of_kind(job, Job, "job", "a Job")
    file = target(path, ".toml", f"{job.number}_job")
    text = job_to_toml(job)
    stamp = stamp_of_drawing(f"job {job.number}", [text])
    return Draft(file=file, stamp=stamp, replace=replace).write(f"{text}# {stamp.mark}\n")


def job_to_toml(job: Job) -> str:
    """Return a job as the text of a TOML file; lengths in mm, angles in degrees, numbers exact."""
    doc = tomlkit.document()
    doc.add(tomlkit.comment("A job of tinbook. Lengths in mm, angles in degrees turned through."))
    for f in fields(job):
        value = getattr(job, f.name)
        if f.name not in ("items", "quotes") and value != f.default:
            shown = dict(value) if f.name in ("hours", "once") else value.plain if f.name == "language" else value
            doc.append(f.name, inline(shown))
    items, inlined = tomlkit.aot(), dict[str, dict[str, dict[str, Any]]]()
    for item in job.items:
        items.append(table_of(_item(item, inlined)))
    doc.append("item", items)
    if job.quotes:
        quotes = tomlkit.aot()
        for quote in job.quotes:
            quotes.append(table_of({**row_of(quote), "prices": dict(quote.prices)}))
        doc.append("quote", quotes)
    for kind in ("part", "assembly", "flat"):
        if kind in inlined:
            rows = tomlkit.aot()
            for values in inlined[kind].values():
                rows.append(table_of(values))
            doc.append(kind, rows)
    return tomlkit.dumps(doc)


def _item(item: Item, inlined: dict[str, dict[str, dict[str, Any]]]) -> dict[str, Any]:
    row: dict[str, Any] = {f.name: v for f in fields(item) if (v := getattr(item, f.name)) != f.default}
    thing = row.pop("thing")
    call = _call(thing)
    if call is not None:
        return {**call, **row}
    kind = "part" if isinstance(thing, Part) else "assembly" if isinstance(thing, Assembly) else "flat"
    values = part_values(thing) if isinstance(thing, Part) else None
    if values is None:
        values = assembly_values(thing) if isinstance(thing, Assembly) else flat_values(thing)
    if inlined.setdefault(kind, {}).setdefault(item.number, values) != values:
        raise BadValue("job items", item.number, f"each number for one {kind} only")
    return {kind: item.number, **row}


def _call(thing: Thing) -> dict[str, Any] | None:
    """Return the family call that gives a thing again, None where its values are not plain."""
    call = getattr(thing, "provenance", None)
    if call is None:
        return None
    values = {k: v.key if isinstance(v, Sheet) else v for k, v in call.values.items()}
    if not all(_is_plain(v) for v in values.values()) or _family(call.name) is None:
        return None
    row: dict[str, Any] = {"family": call.name}
    row |= {"values": plain(tuple(values.items())) and {k: plain(v) for k, v in values.items()}} if values else {}
    row |= {} if call.pick is None else {"pick": call.pick}
    try:
        again = made_by(row)
    except TinbookError:
        return None
    return row if again == thing else None


def _is_plain(value: Any) -> bool:
    if isinstance(value, tuple):
        return all(_is_plain(v) for v in value)
    return isinstance(value, bool | int | str) or (isinstance(value, float) and math.isfinite(value))


def _family(name: str) -> Any:
    from tinbook import families

    found = getattr(families, name, None) if name.isidentifier() and name in dir(families) else None
    return found if callable(found) and hasattr(found, "__wrapped__") else None


def made_by(row: dict[str, Any]) -> Thing:
    """Return what a family gives with the values of a row; BadValue for a family or value that is none."""
    family = _family(row["family"])
    if family is None:
        raise BadValue("family", row["family"], "a family of tb.families that gives a part or an assembly")
    values = row.get("values", {})
    if not isinstance(values, dict):
        raise BadValue("values", values, "a table of the family's parameters")
    try:
        thing = family(**values)
    except TypeError as wrong:
        raise BadValue("values", values, f"parameters of {row['family']}; {wrong}") from None
    if "pick" in row:
        if not isinstance(thing, tuple) or row["pick"] >= len(thing):
            raise BadValue("pick", row["pick"], "which of several parts that the family gives, from 0")
        thing = thing[row["pick"]]
    if not isinstance(thing, Part | Assembly):
        raise BadValue("family", row["family"], "one that gives a part or an assembly; of several, pick says which")
    return thing


def flat_values(flat: FlatPattern) -> dict[str, Any]:
    """Return all that a flat holds as plain values."""
    values: dict[str, Any] = {"name": flat.name}
    values |= {} if math.isnan(flat.thickness) else {"thickness": flat.thickness}
    values |= {"material": flat.material} if flat.material else {}
    values["outer"] = plain(flat.outer)
    for name in ("cuts", "folds", "drills", "undersize"):
        values[name] = [row_of(v) for v in getattr(flat, name)]
    values["marks"] = [{**row_of(m), "edges": [[*e.start, *e.end, e.bulge] for e in m.edges]} for m in flat.marks]
    values["finding"] = [row_of(f) for f in flat.findings]
    return {k: v for k, v in values.items() if v != []}


def flat_of(doc: TomlText) -> FlatPattern:
    """Return the flat of a TOML text that was read."""
    rows = ("cuts", "folds", "drills", "undersize", "marks", "finding")
    head = read_row(doc, (), doc.data, FLAT, ("name", "outer"), rows)
    cuts = {n: _rows(doc, n, CUT, ("loop",)) for n in ("cuts", "drills", "undersize")}
    folds = _rows(doc, "folds", FOLD, ("name", "angle", "direction", "radius", "allowance"))
    marks = _rows(doc, "marks", MARK, ("kind", "edges"))
    found = _rows(doc, "finding", kinds(Finding), ("code", "severity", "where", "what"))
    doc.raise_mistakes()
    assert head is not None
    strokes = [{**m, "edges": tuple(Edge((r[0], r[1]), (r[2], r[3]), r[4]) for r in m["edges"])} for m in marks]
    loops: dict[str, Any] = {name: tuple(Cut(**row) for row in listed) for name, listed in cuts.items()}
    return FlatPattern(
        **{"thickness": math.nan, **head},
        **loops,
        folds=tuple(FoldLine(**row) for row in folds),
        marks=tuple(Mark(**row) for row in strokes),
        findings=Findings(Finding(**row) for row in found),
    )


def _rows(doc: TomlText, name: str, known: dict[str, Kind], needed: tuple[str, ...]) -> list[dict[str, Any]]:
    read = [read_row(doc, (name, n), row, known, needed) for n, row in rows_of(doc, name)]
    return [row for row in read if row is not None]


def read_job(path: str | Path) -> Job:
    """Read a job from a TOML file.

    Parameters
    ----------
    path : str or Path
        A file as `write_job` writes it; lengths and angles may carry units as text. An item names a part, an assembly
        or a flat of the file by its number, or a family of the kit with its values.

    Returns
    -------
    Job

    Raises
    ------
    BadFile
        With every mistake, each with its line and its path in the file.
    """
    return _job(read_toml(path))


def job_from_toml(text: str, name: str = "job") -> Job:
    """Return the job of a TOML text; see `read_job`."""
    return _job(parse_toml(name, text.encode("utf-8")))


def _job(doc: TomlText) -> Job:
    head = read_row(doc, (), doc.data, HEAD, ("number",), ("item", "quote", "part", "assembly", "flat"))
    known: dict[str, dict[str, Any]] = {
        "part": {p.number: p for _, p in tables_of(doc, "part", part_of)},
        "assembly": {a.number: a for _, a in tables_of(doc, "assembly", assembly_of)},
        "flat": {f.name: f for _, f in tables_of(doc, "flat", flat_of)},
    }
    items = []
    for n, row in rows_of(doc, "item"):
        item = _read_item(doc, n, row, known)
        if item is not None:
            items.append(item)
    quotes = _read_quotes(doc)
    doc.raise_mistakes()
    assert head is not None
    try:
        return Job(**head, items=tuple(items), quotes=quotes)
    except TinbookError as wrong:
        doc.note(0, "", str(wrong))
        doc.raise_mistakes()
        raise


def _read_quotes(doc: TomlText) -> tuple[SupplierQuote, ...]:
    out = []
    for n, row in rows_of(doc, "quote"):
        values = read_row(doc, ("quote", n), row, QUOTE, ("work", "supplier", "prices"))
        if values is not None:
            try:
                out.append(SupplierQuote(**values))
            except BadValue as wrong:
                doc.add(("quote", n), str(wrong))
    return tuple(out)


def _read_item(doc: TomlText, n: int, row: Any, known: dict[str, dict[str, Any]]) -> Item | None:
    at = ("item", n)
    readable = {k: v for k, v in ITEM.items() if k != "values"}
    values = read_row(doc, at, row, readable, (), ("values",))
    if values is None:
        return None
    named = [kind for kind in KINDS if kind in values]
    if len(named) != 1:
        doc.add(at, "needs a part, an assembly, a flat or a family, one of the four")
        return None
    kind = named[0]
    name = values.pop(kind)
    try:
        if kind == "family":
            thing = made_by(
                {
                    "family": name,
                    "values": row.get("values", {}),
                    **({"pick": values.pop("pick")} if "pick" in values else {}),
                }
            )
        elif name in known[kind]:
            thing = known[kind][name]
        else:
            if not doc.mistakes:  # else it may be one of those that could not be read
                listed = ", ".join(known[kind]) or f"the file has no [[{kind}]]"
                doc.add((*at, kind), f"{name!r} is not in the file; valid: one of: {listed}")
            return None
        return Item(thing=thing, **values)
    except TinbookError as wrong:
        doc.add(at, str(wrong))
        return None


def renumbered(assembly: Assembly, job: Job) -> Assembly:
    """Return an assembly whose number, and those of its parts, carry the job's prefix."""
    members = tuple(
        replace(m, thing=m.thing.renamed(number=job.numbered(m.thing.number))) if isinstance(m.thing, Part) else m
        for m in assembly.members
    )
    return assembly._changed(number=job.numbered(assembly.number), members=members)
