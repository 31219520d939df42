"""A cell that is run again leaves its old widgets behind: they go as soon as the page no longer shows them."""

from __future__ import annotations

from typing import Any, Protocol
from weakref import WeakValueDictionary


class Bench(Protocol):
    """Something with widgets that can be closed."""

    box: Any

    def close(self) -> None:
        """Close all widgets."""


_newest: WeakValueDictionary[str, Bench] = WeakValueDictionary()
"""The newest bench of each place, as long as it is in use."""


def keep_newest(place: str, bench: Bench) -> None:
    """Take a bench as the newest of its place, and close the one before it once no page shows that any more."""
    old = _newest.get(place)
    if old is not None:
        retire(old)
    _newest[place] = bench


def retire(bench: Bench) -> None:
    """Close all widgets of a bench once no page shows them any more."""
    if not bench.box._view_count:
        bench.close()
    else:
        bench.box.observe(lambda change: None if change["new"] else bench.close(), names="_view_count")
