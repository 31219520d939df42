"""The revisions of a job's parts: what the release before says of them, and what changed since."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from tinbook.errors import BadValue
from tinbook.job.comparing.changes import Change, changes, merged
from tinbook.job.comparing.facts import by_name, made_facts
from tinbook.job.declared import Job
from tinbook.job.jobfile import job_from_toml
from tinbook.job.releasing.manifest import JOB, REVISIONS, SHOP
from tinbook.job.releasing.values import from_json
from tinbook.job.releasing.verify import whole_pack
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.shop.shop import Shop

Row = tuple[str, str, str]
Revisions = Mapping[str, Sequence[Row]]
"""Letter, date and what changed, by the number of a part."""

FIRST: Final = "first release"
SAME: Final = "nothing changed"
MOST: Final = 6
"""Changes that are named one by one."""
_VALID: Final = (
    "rows of letter, date and what changed by the number of a part, as {'HN-1': [('B', '2027-03-31', 'a drain')]}"
)


def read_revisions(rows: Any) -> dict[str, list[Row]]:
    """Return revisions as a caller or a pack gives them; BadValue for anything else."""
    if not isinstance(rows, Mapping):
        raise BadValue("revisions", rows, _VALID)
    found: dict[str, list[Row]] = {}
    for number, listed in rows.items():
        good = isinstance(listed, list | tuple) and all(isinstance(r, list | tuple) and len(r) == 3 for r in listed)
        if not isinstance(number, str) or not good or not all(isinstance(v, str) for r in listed for v in r):
            raise BadValue("revisions", {number: listed}, _VALID)
        found[number] = [(r[0], r[1], r[2]) for r in listed]
    return found


def revisions_since(before: str | os.PathLike[str], job: Job, shop: Shop, date: str) -> dict[str, list[Row]]:
    """Return the revisions of a job's parts: those of an earlier pack, and a row for each part that changed since.

    Raises
    ------
    BadFile
        The earlier pack was altered, or is none.
    BadValue
        The pack of another job; a part that changed and has the revision that it had.
    """
    if not isinstance(before, str | os.PathLike):
        raise BadValue("before", before, "the path of an earlier pack")
    files = whole_pack(before)
    earlier = job_from_toml(files[JOB].decode("utf-8"), JOB)
    if earlier.number != job.number:
        raise BadValue("before", earlier.number, f"an earlier pack of job {job.number}")
    tools = from_json(files[SHOP].decode("utf-8"), Shop, SHOP)
    known = read_revisions(json.loads(files.get(REVISIONS, b"{}")))
    was = {p.number: p.thing for p in earlier.parts if isinstance(p.thing, Part)}
    rows: dict[str, list[Row]] = {}
    for row in job.parts:
        part, old = row.thing, was.get(row.number)
        if not isinstance(part, Part):
            continue
        if old is None:
            rows[row.number] = [(part.rev, date, FIRST)]
            continue
        rows[row.number] = list(known.get(row.number, ())) or [(old.rev, "", FIRST)]
        what = what_changed(make(old, tools), make(part, shop))
        if part.rev == old.rev and what:
            valid = f"the next one, {shop.next_revision(old.rev)}: it changed since the release before ({what})"
            raise BadValue(f"revision of {row.number}", part.rev, valid)
        if part.rev != old.rev:
            rows[row.number].append((part.rev, date, what or SAME))
    return rows


def what_changed(old: Made, new: Made) -> str:
    """Return what changed of a part in a sentence, "" for nothing: what was declared first, else what follows from it."""
    every = [
        c
        for c in changes(by_name(made_facts(old)), by_name(made_facts(new)))
        if c.of != "title block" or c.what == "title"
    ]
    told = [c for c in every if not _follows(c)] or every
    said = list(dict.fromkeys(_said(told)))
    more = [f"and {len(said) - MOST} more"] if len(said) > MOST else []
    return "; ".join(said[:MOST] + more)


def _follows(c: Change) -> bool:
    """Whether a change follows from others: sizes of the blank, mass, finished sizes, bend numbers, places of edges."""
    derived = c.what in ("mass", "deduction", "bend rule") or c.what.startswith("middle")
    return derived or c.of in ("blank", "finished size")


def _said(listed: Sequence[Change]) -> Iterator[str]:
    for of, what, old, new, by in merged(listed):
        what = what.removesuffix(", left end").removesuffix(", right end")
        yield f"{of}: {by}" if by in ("added", "removed") else f"{of}: {what} {old} to {new}"
