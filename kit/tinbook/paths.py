"""Paths of files to read: an error in words for a missing file, a device, a pipe or a folder."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

from tinbook.errors import BadFile, Mistake, cut

KINDS = {
    stat.S_IFDIR: "is a folder",
    stat.S_IFIFO: "is a pipe, which may never end",
    stat.S_IFCHR: "is a device, which may never end",
    stat.S_IFBLK: "is a device",
    stat.S_IFSOCK: "is a socket",
}


def existing(path: Any, wanted: str) -> Path:
    """Return the path of a regular file, or raise.

    Parameters
    ----------
    path : str or path-like
        Of the file.
    wanted : str
        What it should be ("a STEP file"), for the message.

    Raises
    ------
    BadFile
        Nothing there, something that is no regular file, or a path that the system does not take.
    """
    try:
        file = Path(path)
        kind = stat.S_IFMT(file.stat().st_mode)
    except FileNotFoundError:
        what = "does not exist"
    except (OSError, ValueError, TypeError) as wrong:
        what = f"cannot be read: {cut(getattr(wrong, 'strerror', None) or str(wrong))}"
    else:
        if kind == stat.S_IFREG:
            return file
        what = KINDS.get(kind, "is no file")
    raise BadFile(
        cut(os.fspath(path) if isinstance(path, str | os.PathLike) else repr(path)),
        [Mistake("file", f"{what}; valid: the path of {wanted}")],
    )
