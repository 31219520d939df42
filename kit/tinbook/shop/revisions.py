"""How revisions are named: the schemes that a shop file may choose."""

from __future__ import annotations

import re
from typing import Final

FIRST: Final = "-"
"""The issue before any change, in every scheme."""

ASME: Final = "ABCDEFGHJKLMNPRTUVWY"
"""Letters of ASME Y14.35: I, O, Q, S, X and Z are read for something else."""

_PLAIN: Final = "ABCDEFGHJKLMNPRSTUVWXYZ"


_SCHEMES: Final = {
    "ASME Y14.35": (f"[{ASME}]{{1,2}}", f"one or two of the letters {ASME}"),
    "letters without I O Q": (f"[{_PLAIN}]{{1,2}}", f"one or two of the letters {_PLAIN}"),
    "numbers": ("0|[1-9][0-9]{0,3}", "a whole number from 0 to 9999"),
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
    return rev == FIRST or bool(re.fullmatch(_SCHEMES[scheme][0], rev))


def in_words(scheme: str) -> str:
    """Return what a scheme allows."""
    return f'"{FIRST}" for the first issue, or {_SCHEMES[scheme][1]}'
