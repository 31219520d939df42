"""What a check has to say: a value beside its limit, its source and its remedy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from tinbook.errors import BadValue, brief

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
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = "common practice"
    remedy: str = ""

    def __post_init__(self) -> None:
        if str(self.severity) == "mind":
            object.__setattr__(self, "severity", "caution")
        elif self.severity not in ORDER:
            raise BadValue("severity", self.severity, "stop, caution, fine")

    def __str__(self) -> str:
        numbers = ""
        if self.value is not None and self.limit is not None:
            numbers = f" ({shown(self.value)} against {shown(self.limit)} {self.unit})".replace(" )", ")")
        cure = f" Remedy: {self.remedy}" if self.remedy else ""
        return brief(f"{self.severity}: {self.where}: {self.what}{numbers}.{cure}")


def shown(value: float) -> str:
    """Return a number to four digits, a large one whole rather than in powers of ten."""
    return f"{value:.0f}" if 1e4 <= abs(value) < 1e9 else f"{value:.4g}"


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort findings by severity, keeping their order within one severity."""
    return tuple(sorted(findings, key=lambda f: ORDER[f.severity]))


def gathered(findings: Iterable[Finding]) -> list[list[Finding]]:
    """Put findings together that say the same of several places, in the order of the first of each.

    What is fine may differ in its value; what is not must be the same in that too.
    """
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for f in findings:
        value = None if f.severity == "fine" else f.value
        groups.setdefault((f.code, f.severity, f.what, value, f.limit, f.unit, f.source, f.remedy), []).append(f)
    return list(groups.values())


NAMED: Final = 12
"""Places of one group that are named one by one; more are counted."""


def places(group: Sequence[Finding]) -> str:
    """Return where the findings of a group stand: "fold 'front'", "folds 'front', 'rear'"."""
    where = [f.where for f in group]
    kinds = {w.partition(" '")[0] for w in where}
    kind = kinds.pop()
    if len(group) > 1 and not kinds and kind.isalpha() and all(w.endswith("'") for w in where):
        where = [w.removeprefix(f"{kind} ") for w in where]
        where[0] = f"{kind}s {where[0]}"
    more = f" and {len(where) - NAMED} more" if len(where) > NAMED else ""
    return ", ".join(where[:NAMED]) + more


def stops(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings that forbid making the part."""
    return tuple(f for f in findings if f.severity == "stop")


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
        self.finding = Finding(
            code=code,
            severity="stop",
            where=where,
            what=what,
            value=value,
            limit=limit,
            unit="" if value is None else unit,
            source="geometry",
            remedy=remedy,
        )
        super().__init__(str(self.finding))
