"""SVG files: the flat pattern at true size, and the folded part as a line picture."""

from __future__ import annotations

import os
from pathlib import Path

from tinbook.svg import flat_svg
from tinbook.write.files import target, write_whole
from tinbook.write.folded import folded_svg as folded_svg
from tinbook.write.names import Subject, blank_of, file_stem, label


def write_svg(
    thing: Subject,
    path: str | os.PathLike[str],
    *,
    folds: bool = True,
    marks: bool = True,
    dims: bool = False,
    quantity: int | None = None,
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

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        The part has a stop finding; nothing is written.
    BadValue
        A name or folder that cannot be used.
    """
    flat = blank_of(thing)
    label(thing, quantity)
    file = target(path, ".svg", file_stem(thing, quantity))
    write_whole({file: flat_svg(flat, folds=folds, marks=marks, dims=dims, true_size=True)})
    return file
