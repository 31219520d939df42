"""Findings: what a check found, as a value beside its limit, its source and its remedy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial
from typing import Annotated, Final, Literal, Self

from tinbook.errors import BadValue, brief
from tinbook.fields import Number
from tinbook.htmltable import html_table
from tinbook.values import dataclass

Severity = Literal["stop", "caution", "fine"]
ORDER: dict[str, int] = {"stop": 0, "caution": 1, "fine": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One statement of a check.

    Parameters
    ----------
    code : str
        Stable name of the rule, "subject.rule" ("fold.leg").
    severity : {"stop", "caution", "fine"}
        stop: the part cannot be made so; caution: it can be made, but read this before cutting; fine: checked and good.
        "mind", the word of older files for a caution, is read as one.
    where : str
        Place in the part ("fold 'tunnel'", "hole 12 of 'lip'").
    what : str
        One plain sentence.
    value, limit : float or None
        The number found and the number it is held against, in `unit`.
    unit : str
        Unit of both, "" for a bare number.
    source : str
        Key of the sources registry.
    remedy : str
        What would cure it; "" only when fine.
    """

    code: str
    severity: Severity
    where: str
    what: str
    value: Annotated[float, Number()] | None = None
    limit: Annotated[float, Number()] | None = None
    unit: str = ""
    source: str = "common practice"
    remedy: str = ""

    def __post_init__(self) -> None:
        if self.severity in ORDER:
            return
        if str(self.severity) != "mind":
            raise BadValue("severity", self.severity, "stop, caution, fine")
        object.__setattr__(self, "severity", "caution")

    def __str__(self) -> str:
        numbers = ""
        if self.value is not None and self.limit is not None:
            numbers = f" ({shown(self.value)} against {shown(self.limit)} {self.unit})".replace(" )", ")")
        cure = f" Remedy: {self.remedy}" if self.remedy else ""
        return brief(f"{self.severity}: {self.where}: {self.what}{numbers}.{cure}")


def shown(value: float) -> str:
    """Return a number to four digits, a large one whole rather than in powers of ten."""
    return f"{value:.0f}" if 1e4 <= abs(value) < 1e9 else f"{value:.4g}"


class Findings(tuple[Finding, ...]):
    """Findings, worst first; in a notebook a table, in a terminal one line each.

    Parameters
    ----------
    findings : iterable of Finding
        In any order; those of one severity keep theirs.
    """

    __slots__ = ()

    def __new__(cls, findings: Iterable[Finding] = ()) -> Self:
        """Sort by severity."""
        return super().__new__(cls, sorted(findings, key=lambda f: ORDER[f.severity]))

    @property
    def stops(self) -> Findings:
        """Those that forbid making the part."""
        return Findings(f for f in self if f.severity == "stop")

    @property
    def cautions(self) -> Findings:
        """Those to read before cutting."""
        return Findings(f for f in self if f.severity == "caution")

    @property
    def ok(self) -> bool:
        """Whether none of them is a stop."""
        return not self.stops

    @property
    def open(self) -> Findings:
        """Those to act on or to read: stops and cautions."""
        return Findings(f for f in self if f.severity != "fine")

    def rounded(self, decimals: int) -> Findings:
        """Return the findings with no more decimals of their numbers."""

        def short(value: float | None) -> float | None:
            return None if value is None else round(value, decimals)

        return Findings(replace(f, value=short(f.value), limit=short(f.limit)) for f in self)

    def of(self, *codes: str) -> Findings:
        """Return the findings of some codes ("fold.leg"), or of some subjects ("fold")."""
        return Findings(f for f in self if any(f.code == c or f.code.startswith(f"{c}.") for c in codes))

    def __repr__(self) -> str:
        return "\n".join(str(f) for f in self) or "nothing found"

    def _repr_html_(self) -> str:
        marks = {
            "stop": "■\u00a0stop",
            "caution": "▲\u00a0caution",
            "fine": "●\u00a0fine",
        }  # a mark stays beside its word
        rows = [
            (marks[f.severity], places(group), f.what, _numbers(group), f.source, f.remedy)
            for group in gathered(self)
            for f in group[:1]
        ]
        return html_table(("", "where", "what", "found / limit", "source", "remedy"), rows)


NOTHING: Final = Findings()
"""No finding."""


def finding(
    severity: Severity,
    code: str,
    where: str,
    what: str,
    remedy: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "mm",
    source: str = "common practice",
) -> Finding:
    """Return a finding: the fields of `Finding` in the order in which a rule has them, `unit` only beside a value."""
    return Finding(
        code=code,
        severity=severity,
        where=where,
        what=what,
        value=value,
        limit=limit,
        unit="" if value is None else unit,
        source=source,
        remedy=remedy,
    )


stop: Final = partial(finding, "stop")
"""`finding` that the part cannot be made so."""
caution: Final = partial(finding, "caution")
"""`finding` to read before cutting."""


def fine(
    code: str,
    where: str,
    what: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "mm",
    source: str = "common practice",
) -> Finding:
    """Return the finding that something was checked and is good; it needs no remedy."""
    return finding("fine", code, where, what, "", value, limit, unit, source)


def failed(rule: str, wrong: Exception) -> Finding:
    """Return the stop that a rule crashed: a check without an answer lets nothing pass."""
    what = f"this rule crashed, so nothing is known ({type(wrong).__name__}: {wrong})"
    return stop("check.failed", rule, what, "check it by hand and report the error to the authors", source="geometry")


def gathered(findings: Iterable[Finding]) -> list[list[Finding]]:
    """Group findings that say the same of several places, in the order of the first of each.

    Fine findings of a group may differ in their value; stops and cautions may not.
    """
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for f in findings:
        value = None if f.severity == "fine" else f.value
        groups.setdefault((f.code, f.severity, f.what, value, f.limit, f.unit, f.source, f.remedy), []).append(f)
    return list(groups.values())


NAMED: Final = 12
"""Places of one group that are named one by one; more are counted."""


def places(group: Sequence[Finding]) -> str:
    """Return the places of a group: "fold 'front'", "folds 'front', 'rear'"."""
    where = [f.where for f in group]
    kinds = {w.partition(" '")[0] for w in where}
    kind = kinds.pop()
    if len(group) > 1 and not kinds and kind.isalpha() and all(w.endswith("'") for w in where):
        where = [w.removeprefix(f"{kind} ") for w in where]
        where[0] = f"{kind}s {where[0]}"
    more = f" and {len(where) - NAMED} more" if len(where) > NAMED else ""
    return ", ".join(where[:NAMED]) + more


class Refused(Exception):
    """A stop finding met while a part is resolved; `make` catches it and returns it among its findings."""

    def __init__(
        self,
        code: str,
        where: str,
        what: str,
        remedy: str,
        value: float | None = None,
        limit: float | None = None,
        unit: str = "mm",
    ) -> None:
        self.finding = stop(code, where, what, remedy, value, limit, unit, "geometry")
        super().__init__(str(self.finding))


def _numbers(group: Sequence[Finding]) -> str:
    """Return the values of a group, from the least to the largest, and their limit."""
    values = [f.value for f in group if f.value is not None]
    if not values:
        return ""
    f, low, high = group[0], shown(min(values)), shown(max(values))
    limit = "" if f.limit is None else f" / {shown(f.limit)}"
    return f"{low}{'' if low == high else f' to {high}'}{limit} {f.unit}".strip()
