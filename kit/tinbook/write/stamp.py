"""The stamp of a file: its design, its inputs, and whether the part was proved makeable."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from functools import singledispatch
from typing import Any, Final, Literal, TypeAlias

from tinbook.errors import BadValue, CannotMake
from tinbook.finding import NOTHING, Finding, Findings
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.part.part import Part
from tinbook.part.partfile import part_values
from tinbook.route.steps import FoldPlan
from tinbook.rules.check import check
from tinbook.values import dataclass
from tinbook.write.names import Subject, label, need_members, refuse

State: TypeAlias = Literal["proved", "not proved", "stopped", "not checked"]
Despite: TypeAlias = str | Sequence[str] | None

_CODE: Final = re.compile(r"[a-z_]+\.[a-z_]+")
_REASON: Final = 160
_ASIDE: Final = ("name", "materials", "sheets", "rates", "revision_scheme")
"""Fields of a shop that do not affect a part's shape; the part's own sheet is taken with its material."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """The stamp of a file.

    Parameters
    ----------
    name : str
        What it is of, for messages.
    design : str
        Which design, 16 hexadecimal digits: number, revision, title, hand and the names of the base's edges. It stays
        while lengths, folds and holes change, and so tells a draft of this design from somebody else's file.
    inputs : str
        From which inputs, 16 hexadecimal digits: the whole declaration, sheet, tools, tables and quantity.
    state : {"proved", "not proved", "stopped", "not checked"}
        The state that `tb.check` gives; a flat pattern that was read is not checked.
    despite : str
        Why it was written in spite of what stops it, "" otherwise.
    stopped : Findings
        What stops it.
    """

    name: str
    design: str
    inputs: str
    state: State = "not checked"
    despite: str = ""
    stopped: Findings = NOTHING

    @property
    def mark(self) -> str:
        """The stamp as text in a file: plain characters without meaning in any format."""
        text = f"tinbook design={self.design} inputs={self.inputs} state={self.state.replace(' ', '-')}"
        return text + (f" despite: {re.sub(r'[^A-Za-z0-9 .,:;_/+]', '_', self.despite)}" if self.despite else "")

    @property
    def layer(self) -> str:
        """Name of an empty DXF layer for the state, "" if the part is proved or was not checked."""
        return f"STATE_{self.state.upper().replace(' ', '_')}" if self.state in ("not proved", "stopped") else ""

    @property
    def words(self) -> str:
        """The state as a sentence, "" if the part is proved or was not checked."""
        if self.state == "stopped":
            codes = ", ".join(dict.fromkeys(f.code for f in self.stopped))
            return f"STOPPED by {codes}; written despite it: {self.despite}"
        return "NOT PROVED: nobody knows yet whether it can be made so" if self.state == "not proved" else ""


def stamp_of(
    thing: Subject | Assembled, *, quantity: int | None = None, despite: Despite = None, plan: FoldPlan | None = None
) -> Stamp:
    """Check a part or an assembly and return the stamp of its files; raise CannotMake if a finding stops it.

    Parameters
    ----------
    thing : Made, FlatPattern or Assembled
        A flat pattern that was only read is not checked; its own findings stop it.
    quantity : int, optional
        Instead of the part's own.
    despite : str or sequence of str, optional
        A reason in words, or the codes of the findings that shall not stop it. What `make` stops has no shape that
        could be written, and no reason helps.
    plan : fold sequence, optional
        An order that was worked out before.

    Raises
    ------
    CannotMake
        Something stops it and `despite` does not name it; an assembly without members.
    BadValue
        A reason that cannot be printed, a number or quantity that cannot stand in a file name.
    """
    reason = reason_of(despite)
    stamp = _checked(thing, quantity, plan)
    forbid(stamp.stopped, despite, stamp.name)
    return replace(stamp, despite=reason) if stamp.stopped else stamp


@singledispatch
def _checked(flat: Any, quantity: int | None, plan: FoldPlan | None) -> Stamp:
    it = label(flat, quantity)
    refuse(flat.findings, flat.name)
    drawn = (flat.outer.edges, flat.cuts, flat.folds, flat.marks, flat.drills, flat.thickness, it.quantity)
    return Stamp(name=it.name, design=_digest("flat", it.number), inputs=_digest(drawn))


@_checked.register(Made)
def _(made: Made, quantity: int | None, plan: FoldPlan | None) -> Stamp:
    it = label(made, quantity)
    refuse(made.findings, made.part.number)
    found = check(made, plan=plan)
    inputs = _digest(*_inputs(made), str(it.quantity))
    return Stamp(name=it.name, design=_design(made.part), inputs=inputs, state=found.state, stopped=found.stops)


@_checked.register(Assembled)
def _(made: Assembled, *_: None) -> Stamp:
    need_members(made)
    it, stopped = made.assembly, check(made).stops
    members = [(m.name, m.kind, m.at, m.label) for m in it.members]
    parts = [_inputs(made.part(p.number)) for p in it.parts]
    return Stamp(
        name=f"{it.number} rev {it.rev}",
        design=_digest("assembly", it.number, it.rev),
        inputs=_digest(members, parts),
        state="stopped" if stopped else "not checked",
        stopped=stopped,
    )


def stamp_of_part(part: Part) -> Stamp:
    """Return the stamp of a part file; it is an input, so nothing is checked."""
    return Stamp(name=f"{part.number} rev {part.rev}", design=_design(part), inputs=_digest(part_values(part)))


def stamp_of_drawing(name: str, drawn: Iterable[object]) -> Stamp:
    """Return the stamp of a bare drawing."""
    return Stamp(name=name, design=_digest("drawing", name), inputs=_digest(*drawn))


def reason_of(despite: Despite) -> str:
    """Return the reason for writing despite a stop; raise BadValue for what is neither a reason nor codes."""
    if despite is None:
        return ""
    reason = despite if isinstance(despite, str) else ", ".join(map(str, despite)) if _listed(despite) else ""
    if not reason.strip() or len(reason) > _REASON or not reason.isprintable():
        valid = f"a reason in 1 to {_REASON} printable characters, or the codes of findings"
        raise BadValue("despite", despite, valid)
    return reason.strip()


def _listed(despite: object) -> bool:
    return isinstance(despite, (tuple, list)) and all(isinstance(c, str) and _CODE.fullmatch(c) for c in despite)


def forbid(stopped: Sequence[Finding], despite: Despite, name: str) -> None:
    """Raise CannotMake for stops that neither a reason nor their code excepts."""
    left = [f for f in stopped if not excepted(f, despite)]
    if left:
        lines = [f"{name}: nothing was written", *(f"  {f}" for f in left)]
        lines.append(f"  To write it all the same: despite='a reason' or despite={sorted({f.code for f in left})}")
        raise CannotMake("\n".join(lines))


def excepted(f: Finding, despite: Despite) -> bool:
    """Whether a reason, or its code, excepts a finding."""
    if isinstance(despite, str):
        return not _CODE.fullmatch(despite.strip()) or f.code == despite.strip()
    return f.code in (despite or ())


def _design(part: Part) -> str:
    hand = "other hand" if part.other_hand else ""
    return _digest("part", part.number, part.rev, part.title, hand, *sorted(set(part.base.names)))


def _inputs(made: Made) -> tuple[Any, ...]:
    tables = {name: value for name, value in _named(made.shop).items() if name not in _ASIDE}
    return part_values(made.part), made.sheet, tables


def _digest(*values: Any) -> str:
    return hashlib.sha256(json.dumps(values, default=_named, sort_keys=True).encode("ascii")).hexdigest()[:16]


def _named(value: Any) -> dict[str, Any]:
    """Return a value's fields by name, so that their order in its class changes no digest."""
    return {"": type(value).__name__, **{f.name: getattr(value, f.name) for f in fields(value) if f.init}}
