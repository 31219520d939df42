"""A card on paper: its picture, its notes and its tables, on one page where they have room."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from tinbook.errors import BadValue
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.page import Page, Paper, paper_size
from tinbook.write.stamp import stamp_of_drawing
from tinbook.write.template import Traceable
from tinbook.write.template_numbers import numbers


def write_card(
    card: Any,
    path: str | os.PathLike[str],
    paper: Paper = "A4",
    *,
    language: Language | str = ENGLISH,
    replace: bool = False,
) -> Path:
    """Write a card's picture, notes and tables as a PDF, on one page where they have room; not at true size.

    Parameters
    ----------
    card : FitCard, HostCut, ScribeCard, BraceCard, TableCard, or anything whose `drawing` has numbers
        What to print.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    paper : {"A4", "A3"}
        Upright.
    language : Language or {"en", "de"}
        Of its words, with its decimal sign.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same card gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        Something without tables, or a name, folder or paper that cannot be used.
    CannotWrite
        The file there is none of this card's drafts, or the system refuses.
    """
    drawing = card.drawing() if isinstance(card, Traceable) else None
    if drawing is None or not drawing.numbers:
        raise BadValue("card", type(card).__name__, "a fit card, a host cut, a scribe card, a brace card, a table card")
    say = Spoken().read(language, "language")
    drawing = drawing.retold(say)
    stem = drawing.name.replace(" ", "_")
    stamp = stamp_of_drawing(stem, (*drawing.lines, drawing.numbers, drawing.notes))
    draft = Draft(file=target(path, ".pdf", stem), stamp=stamp, replace=replace)
    page = Page(*paper_size(paper), drawing.heading or drawing.name, "", stamp.mark)
    numbers(page, drawing, say)
    return draft.write(page.done())
