"""One rule: a function that finds, and how long it may take. A rule that crashes answers with a stop."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import wraps
from inspect import signature
from typing import Any, Literal, ParamSpec, TypeAlias

from tinbook.errors import TinbookError
from tinbook.finding import Finding, Findings, failed
from tinbook.values import dataclass

Kind: TypeAlias = Literal["live", "searched"]
P = ParamSpec("P")


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule, failing closed.

    Parameters
    ----------
    find : callable
        Returns or yields findings.
    kind : {"live", "searched"}
        live: quick enough to run while a slider moves; searched: tries many states or meshes whole assemblies.
    """

    find: Callable[..., Iterable[Finding]]
    kind: Kind = "live"

    @property
    def name(self) -> str:
        """Module and function, as "folds.legs"."""
        return _name(self.find)

    def __call__(self, *values: Any) -> Findings:
        """Return what the rule finds; where it crashes, a stop that says so."""
        try:
            return Findings(self.find(*values))
        except Exception as wrong:  # noqa: BLE001 -- a rule that crashes must neither pass nor hide the others
            return Findings((failed(self.name, wrong),))


def family_rule(find: Callable[P, Iterable[Finding]]) -> Callable[P, Findings]:
    """Return a family's check as a public door: `Findings`, worst first, and a stop where it crashes.

    Arguments that cannot be used still raise: nothing was checked then, and the caller must know.
    """

    @wraps(find)
    def closed(*values: P.args, **named: P.kwargs) -> Findings:
        try:
            return Findings(find(*values, **named))
        except TinbookError:
            raise
        except Exception as wrong:  # noqa: BLE001 -- as with every rule
            return Findings((failed(_name(find), wrong),))

    setattr(closed, "__signature__", signature(find).replace(return_annotation=Findings))  # noqa: B010 -- for help()
    return closed


def _name(find: Callable[..., Any]) -> str:
    return f"{find.__module__.rpartition('.')[2]}.{find.__name__}"
