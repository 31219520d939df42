"""An assembly as one TOML file, and back: its parts and bought items inlined, every mistake reported at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any, Final, TypeVar

import tomlkit

from tinbook.calc.struts import GasStrut
from tinbook.errors import BadFile, BadValue, TinbookError, of_kind
from tinbook.fields import Flag, Kind, Number, Several, Text, kinds
from tinbook.part.assembly import Assembly, Placed
from tinbook.part.bought import Bought, Piece
from tinbook.part.links import KINDS, Link, Weld, kind_of_link
from tinbook.part.movement import Movement, MovingStrut
from tinbook.part.outline import Contour
from tinbook.part.part import Part
from tinbook.part.partfile import inline, part_of, part_values, plain, read_row, row_of
from tinbook.shop.tomlfile import KeyPath, TomlText, parse_toml, read_toml
from tinbook.space import SPACE, Frame, dot
from tinbook.values import dataclass

T = TypeVar("T")

_SQUARE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Axes:
    """A frame as twelve numbers: its origin in mm, then the unit directions of x, y and z."""

    valid: str = "12 numbers: origin in mm, then unit directions of x, y and z that are square to each other"

    def read(self, value: Any, field: str) -> Frame:
        """Return the frame."""
        n = Several(Number(), 12, 12, "numbers").read(value, field)
        axes = [(n[k], n[k + 1], n[k + 2]) for k in (0, 3, 6, 9)]
        frame = Frame(*axes)
        _, x, y, z = axes
        square = max(abs(dot(x, y)), abs(dot(y, z)), abs(dot(x, z)), *(abs(dot(a, a) - 1.0) for a in (x, y, z)))
        right = x[1] * y[2] - x[2] * y[1], x[2] * y[0] - x[0] * y[2], x[0] * y[1] - x[1] * y[0]
        if square > _SQUARE or dot(right, z) < 0:
            raise BadValue(field, value, self.valid)
        return frame


HEAD: Final = {n: k for n, k in kinds(Assembly).items() if n in ("number", "rev", "title", "cautions")}
PIECE: Final[dict[str, Kind]] = {
    "outer": Contour(),
    "holes": Several(Contour(), 0, what="contours"),
    "height": Number("mm", above=0),
    "at": Axes(),
}
ITEM: Final[dict[str, Kind]] = {
    **kinds(Bought),
    "existing": Flag(),
    "colour": Several(Number(least=0, most=1), 3, 3, "numbers"),
}
MEMBER: Final[dict[str, Kind]] = {
    "name": Text(),
    "part": Text(),
    "item": Text(),
    "at": Axes(),
    "flexible": Flag(),
    "pulled": Several(Number(), 3, 3, "numbers"),
}


_HELD: Final = ("member", "length", "a", "b", "holes")
"""What a strut's row says beside the strut itself."""


@dataclass(frozen=True, slots=True)
class StrutRows:
    """Struts of a movement as rows { member, length, a, b, holes, force, extended, stroke, progression, rod, friction }."""

    valid: str = "rows { member, length, a, b, holes, force, extended, stroke, progression, rod, friction }, lengths in mm, force in N"

    def read(self, value: Any, field: str) -> tuple[MovingStrut, ...]:
        """Return the struts."""
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            raise BadValue(field, value, self.valid)
        found = []
        for row in value:
            held = {n: v for n, v in row.items() if n in _HELD}
            gas = {n: Number().read(v, f"{field} {n}") for n, v in row.items() if n not in _HELD}
            try:
                found.append(MovingStrut(**held, strut=GasStrut(**gas)))
            except (KeyError, TypeError):
                raise BadValue(field, sorted(row), self.valid) from None
        return tuple(found)


MOVEMENT: Final[dict[str, Kind]] = {
    "name": Text(),
    "kind": Text(),
    "members": Several(Text(), what="names of members"),
    "axis": Several(Number(), 3, 3, "numbers"),
    "at": Several(Number(), 3, 3, "numbers"),
    "low": Number(),
    "high": Number(),
    "struts": StrutRows(),
}


def assembly_values(assembly: Assembly) -> dict[str, Any]:
    """Return all that an assembly holds as plain values: numbers, texts, lists and tables.

    Parameters
    ----------
    assembly : Assembly
        Any assembly.

    Returns
    -------
    dict
        As `assembly_to_toml` writes it.
    """
    items = tuple(dict.fromkeys(m.thing for m in assembly.members if isinstance(m.thing, Bought)))
    keys = {item: _key(items, n) for n, item in enumerate(items)}
    values: dict[str, Any] = {n: v for n in HEAD if (v := plain(getattr(assembly, n))) not in ("", [])}
    values["part"] = [part_values(p) for p in assembly.parts]
    values["item"] = [{"key": keys[item], **_item(item)} for item in items]
    pulled = dict(assembly.explode)
    values["member"] = [_member(m, keys, pulled.get(m.name)) for m in assembly.members]
    values["weld"] = [row_of(w) for w in assembly.welds]
    values["movement"] = [_movement(m) for m in assembly.movements]
    values["link"] = [{"kind": kind_of_link(x), **_link(x)} for x in assembly.links]
    return {k: v for k, v in values.items() if v != []}


def _key(items: Sequence[Bought], n: int) -> str:
    """Return the name of an item in the file: its own, with a number where several items have it."""
    same = sum(i.name == items[n].name for i in items[:n])
    return items[n].name + (f" #{same + 1}" if same else "")


def _item(item: Bought) -> dict[str, Any]:
    row = row_of(item)
    row["pieces"] = [
        {
            "outer": plain(p.outer),
            "height": p.height,
            **({"holes": plain(p.holes)} if p.holes else {}),
            **({} if p.at == SPACE else {"at": _numbers(p.at)}),
        }
        for p in item.pieces
    ]
    return row


def _member(m: Placed, keys: dict[Bought, str], pulled: Any) -> dict[str, Any]:
    row: dict[str, Any] = {"name": m.name}
    row |= {"part": m.thing.number} if isinstance(m.thing, Part) else {"item": keys[m.thing]}
    row |= {} if m.at == SPACE else {"at": _numbers(m.at)}
    row |= {"flexible": True} if m.flexible else {}
    return row | ({} if pulled is None else {"pulled": list(pulled)})


def _movement(m: Movement) -> dict[str, Any]:
    row = row_of(m)
    if m.struts:
        row["struts"] = [_link(s) for s in m.struts]
    return row


def _link(x: Link) -> dict[str, Any]:
    row = row_of(x)
    gas: dict[str, Any] = row.pop("strut", {})
    return row | gas


def _numbers(at: Frame) -> list[float]:
    return [*at.origin, *at.x, *at.y, *at.z]


def table_of(values: dict[str, Any]) -> Any:
    """Return plain values as a TOML table: rows of `part` as tables of their own, other rows one a line."""
    table = tomlkit.table()
    for key, value in values.items():
        if key in ("part", "assembly", "item", "member") and isinstance(value, list):
            rows = tomlkit.aot()
            for row in value:
                rows.append(table_of(row))
            table.append(key, rows)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            table.append(key, inline(value).multiline(True))
        else:
            table.append(key, inline(value))
    return table


def assembly_to_toml(assembly: Assembly) -> str:
    """Return an assembly as the text of a TOML file; lengths in mm, numbers exact.

    Parameters
    ----------
    assembly : Assembly
        Any assembly.

    Returns
    -------
    str
    """
    of_kind(assembly, Assembly, "assembly", "an Assembly; of an assembled one it is made.assembly")
    doc = tomlkit.document()
    doc.add(tomlkit.comment("An assembly of tinbook. Lengths in mm, angles in degrees turned through."))
    for key, value in table_of(assembly_values(assembly)).items():
        doc.append(key, value)
    return tomlkit.dumps(doc)


def assembly_from_toml(text: str, name: str = "assembly") -> Assembly:
    """Return the assembly of a TOML text; see `read_assembly`."""
    return assembly_of(parse_toml(name, text.encode("utf-8")))


def read_assembly(path: str | Path) -> Assembly:
    """Read an assembly from a TOML file.

    Parameters
    ----------
    path : str or Path
        A file as `assembly_to_toml` writes it.

    Returns
    -------
    Assembly

    Raises
    ------
    BadFile
        With every mistake, each with its line and its path in the file.
    """
    return assembly_of(read_toml(path))


def assembly_of(doc: TomlText) -> Assembly:
    """Return the assembly of a TOML text that was read."""
    head = read_row(doc, (), doc.data, HEAD, ("number",), ("part", "item", "member", "weld", "movement", "link"))
    parts = {p.number: p for _, p in tables_of(doc, "part", part_of)}
    items = dict(_items(doc))
    members = _read(doc, "member", MEMBER, ("name",))
    welds = _welds(doc)
    moving = _read(doc, "movement", MOVEMENT, ("name", "kind", "members", "axis", "high"))
    links = _links(doc)
    for n, row in enumerate(members):
        for field, known in (("part", parts), ("item", items)):
            if field in row and row[field] not in known and not doc.mistakes:
                doc.add(("member", n, field), f"{row[field]!r} is not in the file; valid: one of: {', '.join(known)}")
        if ("part" in row) == ("item" in row):
            doc.add(("member", n), "needs a part or an item, one of the two")
    doc.raise_mistakes()
    assert head is not None
    try:
        assembly = Assembly(**head)
        for row in members:
            thing = parts[row["part"]] if "part" in row else items[row["item"]]
            assembly = assembly.add(row["name"], thing, row.get("at"), flexible=row.get("flexible", False))
        for row in welds:
            assembly = assembly.weld(**row)
        for row in moving:
            if abs(dot(row["axis"], row["axis"]) - 1.0) > _SQUARE:
                raise BadValue(f"movement {row['name']!r} axis", row["axis"], "a direction of length 1")
            for name in (*row["members"], *(s.member for s in row.get("struts", ()))):
                assembly.member(name)
        assembly = assembly.linked(*links)
        # Directions are stored as they were worked out: to make them unit vectors once more would move a last digit.
        return assembly._changed(
            explode=tuple((row["name"], row["pulled"]) for row in members if "pulled" in row),
            movements=tuple(Movement(**row) for row in moving),
        )
    except TinbookError as wrong:
        doc.note(0, "", str(wrong))
        doc.raise_mistakes()
        raise


def _links(doc: TomlText) -> list[Link]:
    found: list[Link] = []
    for n, row in rows_of(doc, "link"):
        at = ("link", n)
        kind = row.get("kind") if isinstance(row, dict) else None
        if not isinstance(kind, str) or kind not in KINDS:
            doc.add(at, f"needs a kind; valid: one of: {', '.join(KINDS)}")
            continue
        cls: Any = KINDS[kind]
        try:
            if cls is MovingStrut:
                found += StrutRows().read([{k: v for k, v in row.items() if k != "kind"}], "strut")
            else:
                needed = [f.name for f in fields(cls) if f.default is MISSING]
                values = read_row(doc, at, row, kinds(cls), needed, ("kind",))
                found += [] if values is None else [cls(**values)]
        except TinbookError as wrong:
            doc.add(at, str(wrong))
    return found


def _read(doc: TomlText, name: str, known: dict[str, Kind], needed: tuple[str, ...]) -> list[dict[str, Any]]:
    rows = [read_row(doc, (name, n), row, known, needed) for n, row in rows_of(doc, name)]
    return [row for row in rows if row is not None]


def _welds(doc: TomlText) -> list[dict[str, Any]]:
    """Return the rows of welds; one of an earlier kit said `both`, and the length of both sides together."""
    known = {**kinds(Weld), "both": Flag()}
    rows = _read(doc, "weld", known, ("a", "b", "throat"))
    for row in rows:
        if row.pop("both", False):
            ring = "all round" in row.get("note", "")
            row["sides"] = "all round" if ring else "both"
            if "length" in row and not ring:
                row["length"] /= 2
    return rows


def _items(doc: TomlText) -> list[tuple[str, Bought]]:
    found = []
    for n, row in rows_of(doc, "item"):
        at = ("item", n)
        values = read_row(doc, at, row, ITEM, ("name", "mass"), ("key", "pieces"))
        pieces = row.get("pieces") if isinstance(row, dict) else None
        if not isinstance(pieces, list) or not pieces:
            doc.add(at, "pieces is missing; valid: one or more tables { outer, height }")
            continue
        read = [read_row(doc, (*at, "pieces", k), p, PIECE, ("outer", "height")) for k, p in enumerate(pieces)]
        if values is None or any(p is None for p in read):
            continue
        try:
            made = Bought(**values, pieces=tuple(Piece(**p) for p in read if p is not None))
        except TinbookError as wrong:
            doc.add(at, str(wrong))
            continue
        found.append((row.get("key", made.name), made))
    return found


def rows_of(doc: TomlText, name: str) -> list[tuple[int, Any]]:
    """Return the rows of an array of tables with their numbers; what is no such array is noted."""
    rows = doc.data.get(name, [])
    if not isinstance(rows, list):
        doc.add((name,), f"must be rows [[{name}]]")
        return []
    return list(enumerate(rows))


def tables_of(doc: TomlText, name: str, read: Callable[[TomlText], T]) -> list[tuple[int, T]]:
    """Return what each row of an array of tables holds, read by itself; mistakes are noted with the row's place."""
    found = []
    for n, row in rows_of(doc, name):
        at: KeyPath = (name, n)
        if not isinstance(row, dict):
            doc.add(at, "must be a table")
            continue
        inner = doc.under(at)
        try:
            found.append((n, read(inner)))
        except BadFile:
            doc.take(inner, at)
    return found
