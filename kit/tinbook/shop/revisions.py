"""How revisions are named: the schemes that a shop file may choose."""

from __future__ import annotations

import re
from typing import Final

from tinbook.errors import BadValue
from tinbook.fields import Choice

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
_LETTERS: Final = {"ASME Y14.35": ASME, "letters without I O Q": _PLAIN}


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


def next_revision(rev: str, scheme: str) -> str:
    """Return the revision that follows another in a scheme.

    Parameters
    ----------
    rev : str
        In the scheme; "-" is the issue before any change.
    scheme : str
        One of `REVISION_SCHEMES`.

    Raises
    ------
    BadValue
        A scheme that is not known, a revision outside it, or its last one.
    """
    Choice(REVISION_SCHEMES).read(scheme, "revision scheme")
    if not isinstance(rev, str) or not in_scheme(rev, scheme):
        raise BadValue("revision", rev, in_words(scheme))
    letters = _LETTERS.get(scheme)
    if letters is None:
        following = "1" if rev == FIRST else str(int(rev) + 1)
    elif rev == FIRST:
        following = letters[0]
    else:
        # Counted like the columns of a table: after the last letter come two.
        n = 0
        for letter in rev:
            n = n * len(letters) + letters.index(letter) + 1
        following = ""
        n += 1
        while n:
            n, k = divmod(n - 1, len(letters))
            following = letters[k] + following
    if not in_scheme(following, scheme):
        raise BadValue("revision", rev, f"one before the last of its scheme, {scheme}")
    return following
