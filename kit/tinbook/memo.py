"""Results that stay with the value they were computed from, owned by the module that computes them."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import field
from functools import wraps
from typing import Any, Concatenate, Generic, ParamSpec, Protocol, TypeVar, cast

from tinbook.values import dataclass

T = TypeVar("T")
V = TypeVar("V", bound="Holder")
P = ParamSpec("P")

_NOTHING = object()


class Holder(Protocol):
    """Whatever results may stay with: a `Remembers` value, or an object with a dict of its own for them."""

    @property
    def _results(self) -> dict[tuple[Memo[Any], Hashable], Any]: ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Remembers:
    """Base of a frozen value that results may stay with.

    A copy with another field (`dataclasses.replace`) starts with none: what was computed from one value says nothing
    of another. The results live and die with the value, and take no part in comparing it. The base compares nothing:
    an equality of its own would hold between any two values of a class that inherits it.
    """

    _results: dict[tuple[Memo[Any], Hashable], Any] = field(default_factory=dict, init=False, repr=False, compare=False)


@dataclass(frozen=True, eq=False)
class Memo(Generic[T]):
    """One kind of result of a value, computed once for each value and key.

    A module makes one of its own at its top, so that no other module can read or overwrite what it keeps.

    Parameters
    ----------
    name : str
        Of the result, for messages and debugging.
    """

    name: str

    def of(self, value: Holder, compute: Callable[[], T], key: Hashable = None) -> T:
        """Return the result for a value, computed on the first call; `key` tells several results of one value apart."""
        known = value._results
        at = self, key
        found: Any = known.get(at, _NOTHING)
        if found is _NOTHING:
            found = known[at] = compute()
        result: T = found
        return result

    def put(self, value: Holder, result: T, key: Hashable = None) -> None:
        """Store a result that was computed on the way to something else."""
        value._results[self, key] = result

    def known(self, value: Holder, key: Hashable = None) -> T | None:
        """Return the stored result, None where there is none yet."""
        return cast("T | None", value._results.get((self, key)))


def remembered(compute: Callable[Concatenate[V, P], T]) -> Callable[Concatenate[V, P], T]:
    """Make a function of a value compute once for each value and further arguments (positional and hashable)."""
    memo: Memo[T] = Memo(compute.__qualname__)

    @wraps(compute)
    def known(value: V, /, *args: P.args, **kwargs: P.kwargs) -> T:
        return memo.of(value, lambda: compute(value, *args, **kwargs), args)

    return known
