"""A part as a TOML file, to be read by the command line or by a later notebook."""

from __future__ import annotations

import os
from pathlib import Path

from tinbook.errors import of_kind
from tinbook.part.part import Part
from tinbook.part.partfile import part_to_toml
from tinbook.write.drafts import put
from tinbook.write.files import target
from tinbook.write.stamp import stamp_of_part


def write_part(part: Part, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write a part as TOML; `read_part` gives it back.

    Parameters
    ----------
    part : Part
        Any part, also one that cannot be made.
    path : str or path-like
        File name ending in .toml, or an existing folder, into which "<number>_<revision>.toml" is written.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        Something else than a part; a name or folder that cannot be used.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    """
    of_kind(part, Part, "write_part", "a Part; of a made one it is made.part")
    file = target(path, ".toml", f"{part.number}_{part.rev}")
    stamp = stamp_of_part(part)
    return put(file, f"{part_to_toml(part)}# {stamp.mark}\n", stamp, replace)
