"""SVG files: the flat pattern at true size, and the folded part as a line picture."""

from __future__ import annotations

import os
from pathlib import Path

from tinbook.svg import flat_svg
from tinbook.write.drafts import draft_of
from tinbook.write.folded import folded_svg as folded_svg
from tinbook.write.names import Subject, blank_of
from tinbook.write.stamp import Despite


def write_svg(
    thing: Subject,
    path: str | os.PathLike[str],
    *,
    folds: bool = True,
    marks: bool = True,
    dims: bool = False,
    quantity: int | None = None,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the flat pattern as SVG, 1:1 in mm.

    Parameters
    ----------
    thing : Made or FlatPattern
        What to draw.
    path : str or path-like
        File name ending in .svg, or an existing folder.
    folds, marks, dims : bool
        Draw fold lines, marks, dimensions.
    quantity : int, optional
        For the file name, instead of the part's own.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops it; the file says so.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        Something stops the part and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    BadValue
        A name or folder that cannot be used.
    """
    draft = draft_of(thing, path, ".svg", quantity=quantity, despite=despite, replace=replace)
    text = flat_svg(blank_of(thing), folds=folds, marks=marks, dims=dims, true_size=True)
    body, _, end = text.rpartition("</svg>")
    return draft.write(f"{body}<metadata>{draft.stamp.mark}</metadata>\n</svg>{end}")
