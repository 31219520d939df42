"""A part as a file that the command line and another day's notebook read again."""

from __future__ import annotations

import os
from pathlib import Path

from tinbook.errors import of_kind
from tinbook.part.part import Part
from tinbook.part.partfile import part_to_toml
from tinbook.write.files import target, write_whole


def write_part(part: Part, path: str | os.PathLike[str]) -> Path:
    """Write a part as TOML; `read_part` gives it back.

    Parameters
    ----------
    part : Part
        Any part, also one that cannot be made.
    path : str or path-like
        File name ending in .toml, or an existing folder, into which "<number>_<revision>.toml" is written.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        Something else than a part; a name or folder that cannot be used.
    """
    of_kind(part, Part, "write_part", "a Part; of a made one it is made.part")
    file = target(path, ".toml", f"{part.number}_{part.rev}")
    write_whole({file: part_to_toml(part)})
    return file
