"""Puts the entities of an exchange file (ISO 10303-21) in an order that its content alone decides.

The kernel orders the lists of colours by memory address, so two processes
write the same model differently. Here every entity gets a digest of its
content, references included; the file is then walked from its roots in the
order of their digests and renumbered as it is met.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from typing import Final

_ENTITY: Final = re.compile(r"#(\d+)\s*=\s*((?:[^';]|'(?:[^']|'')*')*);")
_PIECE: Final = re.compile(r"'(?:[^']|'')*'|#(\d+)")
_COUNTED: Final = re.compile(r"^(NEXT_ASSEMBLY_USAGE_OCCURRENCE\()'\d+'")
_TOKEN: Final = re.compile(r"(?:'(?:[^']|'')*'|[^',])*(?:,|$)")
_SETS: Final = ("MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION(",)
"""Entities whose list of items is a set, written in no order that means anything."""

_WIDTH: Final = 76


def header(name: str, schema: str, mark: str = "") -> str:
    """Return a header section without date, user or system.

    Parameters
    ----------
    name : str
        What the file holds.
    schema : str
        Schema with its identifier, as the data section needs it.
    mark : str
        What the file says of itself, plain characters.
    """
    quoted = name.replace("'", "''")
    return (
        f"ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('{mark}'),'2;1');\n"
        f"FILE_NAME('{quoted}','',(''),(''),'tinbook','','');\n"
        f"FILE_SCHEMA(('{schema}'));\nENDSEC;\n"
    )


def ordered(text: str, name: str, mark: str = "") -> str:
    """Return an exchange file with its own header and its entities in an order decided by content.

    Parameters
    ----------
    text : str
        A file as the kernel wrote it.
    name : str
        What the file holds, for the header.
    mark : str
        What the file says of itself, for the header.

    Returns
    -------
    str
        The same model; equal models give equal text.
    """
    schema = re.search(r"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", text)
    start = text.index("DATA;") + len("DATA;")
    # Long lines are broken anywhere but inside strings, with what was there before the break kept.
    data = re.sub(r"\r?\n *", "", text[start : text.rindex("ENDSEC;")])
    bodies = {int(n): _COUNTED.sub(r"\1''", body.strip()) for n, body in _ENTITY.findall(data)}
    refs = {n: [int(r) for r in _PIECE.findall(body) if r] for n, body in bodies.items()}
    digests = _digests(bodies, refs)
    new = _numbered(bodies, refs, digests)
    out = [header(name, schema.group(1) if schema else "", mark), "DATA;\n"]
    occurrences = 0
    for n in sorted(new, key=new.__getitem__):
        body = bodies[n]
        if body.startswith(_SETS):
            body = _sorted_set(body, new)
        body = _PIECE.sub(lambda m: f"#{new[int(m.group(1))]}" if m.group(1) else m.group(0), body)
        if body.startswith("NEXT_ASSEMBLY_USAGE_OCCURRENCE("):
            occurrences += 1
            body = body.replace("''", f"'{occurrences}'", 1)
        out.append(_broken(f"#{new[n]}={body};"))
    out.append("ENDSEC;\nEND-ISO-10303-21;\n")
    return "".join(out)


def _digests(bodies: dict[int, str], refs: dict[int, list[int]]) -> dict[int, str]:
    """Return a digest of each entity's content, including the entities that it refers to."""
    found: dict[int, str] = {}
    for root in bodies:
        stack = [root]
        while stack:
            n = stack[-1]
            if n in found:
                stack.pop()
                continue
            missing = [r for r in refs[n] if r not in found]
            if missing:
                stack += missing
                continue
            parts = [found[r] for r in refs[n]]
            body = bodies[n]
            if body.startswith(_SETS):
                # The last reference is the context, those before it are the set.
                parts = [*sorted(parts[:-1]), parts[-1]]
            shape = _PIECE.sub(lambda m: "#" if m.group(1) else m.group(0), body)
            found[n] = hashlib.sha256("|".join((shape, *parts)).encode()).hexdigest()
            stack.pop()
    return found


def _numbered(bodies: dict[int, str], refs: dict[int, list[int]], digests: dict[int, str]) -> dict[int, int]:
    """Return new numbers: products first, then what merely points at them (colours), each by content."""
    used = {r for rs in refs.values() for r in rs}
    roots = [n for n in bodies if n not in used]
    sets = [n for n in roots if bodies[n].startswith(_SETS)]
    shapes = sorted((n for n in roots if n not in set(sets)), key=lambda n: (_rank(bodies[n]), digests[n]))
    new: dict[int, int] = {}
    for n in shapes:
        _walk(n, refs, new)

    def place(n: int) -> tuple[str, tuple[int, ...]]:
        # Equal colours of equal shapes differ only in the shape they refer to, which has its number already.
        return digests[n], tuple(sorted(new[r] for r in refs[n] if r in new))

    members = {n: sorted(refs[n][:-1], key=place) for n in sets}
    for n in sorted(sets, key=lambda n: (digests[n], [place(m) for m in members[n]])):
        new[n] = len(new) + 1
        for m in (*members[n], refs[n][-1]):
            _walk(m, refs, new)
    return new


def _rank(body: str) -> int:
    """Put the protocol first and the shapes before the rest, as a reader expects."""
    first = ("APPLICATION_PROTOCOL_DEFINITION", "SHAPE_DEFINITION_REPRESENTATION")
    return next((i for i, kind in enumerate(first) if body.startswith(kind)), len(first))


def _walk(n: int, refs: dict[int, list[int]], new: dict[int, int]) -> None:
    stack = [n]
    while stack:
        n = stack.pop()
        if n not in new:
            new[n] = len(new) + 1
            stack += reversed(refs[n])


def _sorted_set(body: str, new: dict[int, int]) -> str:
    """Order the set's references by their new numbers; the text around them stays."""
    found = [m for m in _PIECE.finditer(body) if m.group(1)]
    items = sorted((m.group(0) for m in found[:-1]), key=lambda r: new[int(r[1:])])
    out, end = [], 0
    for m, item in zip(found[:-1], items, strict=True):
        out += [body[end : m.start()], item]
        end = m.end()
    return "".join((*out, body[end:]))


def _broken(line: str) -> str:
    """Break a long line after commas that stand outside strings."""
    if len(line) <= _WIDTH:
        return line + "\n"
    out: list[str] = []
    row = ""
    for token in _tokens(line):
        if row and len(row) + len(token) > _WIDTH:
            out.append(row)
            row = ""
        row += token
    return "\n".join((*out, row)) + "\n"


def _tokens(line: str) -> Iterable[str]:
    return (m.group(0) for m in _TOKEN.finditer(line) if m.group(0))
