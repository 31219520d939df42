"""How revisions are named: the schemes that a shop file may choose."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

FIRST: Final = "-"
"""The issue before any change, in every scheme."""

ASME: Final = "ABCDEFGHJKLMNPRTUVWY"
"""Letters of ASME Y14.35: I, O, Q, S, X and Z are read for something else."""

_PLAIN: Final = "ABCDEFGHJKLMNPRSTUVWXYZ"


def _letters(used: str) -> Callable[[str], object]:
    return re.compile(f"[{used}]{{1,2}}").fullmatch


_SCHEMES: Final[dict[str, tuple[Callable[[str], object], str]]] = {
    "ASME Y14.35": (_letters(ASME), f"one or two of the letters {ASME}"),
    "letters without I O Q": (_letters(_PLAIN), f"one or two of the letters {_PLAIN}"),
    "numbers": (re.compile("0|[1-9][0-9]{0,3}").fullmatch, "a whole number from 0 to 9999"),
}
REVISION_SCHEMES: Final = tuple(_SCHEMES)


def in_scheme(rev: str, scheme: str) -> bool:
    """Whether a revision is named by a scheme; "-" is in each.

    Parameters
    ----------
    rev : str
        As a part carries it.
    scheme : str
        One of `REVISION_SCHEMES`.
    """
    return rev == FIRST or bool(_SCHEMES[scheme][0](rev))


def in_words(scheme: str) -> str:
    """Return what a scheme allows."""
    return f'"{FIRST}" for the first issue, or {_SCHEMES[scheme][1]}'
