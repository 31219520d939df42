"""The fit card in one call: a finished part's tape readings calculated and printed on one page."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tinbook.fit.card import fit_card
from tinbook.language import ENGLISH, Language
from tinbook.making.made import Made
from tinbook.write.cards import write_card
from tinbook.write.page import Paper


def write_fit_card(
    made: Made,
    sides: Mapping[str, Any],
    diagonals: Mapping[Any, Any],
    path: str | os.PathLike[str],
    *,
    paper: Paper = "A4",
    language: Language | str = ENGLISH,
    replace: bool = False,
    **readings: Any,
) -> Path:
    """Calculate a finished part's fit card and write it as a PDF, before the part is welded in.

    Parameters
    ----------
    made, sides, diagonals
        As `tb.fit.fit_card` takes them.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    paper : {"A4", "A3"}
        Upright.
    language : Language or {"en", "de"}
        Of its words, with its decimal sign.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same card gives way.
    **readings
        `rises`, `legs`, `blanks`, `opening`, `laps` and `tol` as `tb.fit.fit_card` takes them.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        Readings that contradict each other, naming the odd one; nothing is written.
    CannotWrite
        The file there is none of this card's drafts, or the system refuses.
    """
    return write_card(fit_card(made, sides, diagonals, **readings), path, paper, language=language, replace=replace)
