"""A file replaces an earlier draft of its own design and nothing else."""

from __future__ import annotations

import itertools
import mmap
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Final, TypeAlias

from tinbook.errors import CannotWrite, of_kind
from tinbook.making.assembled import Assembled
from tinbook.route.steps import FoldPlan
from tinbook.values import dataclass
from tinbook.write.files import target, write_whole
from tinbook.write.names import Subject, file_stem
from tinbook.write.stamp import Despite, Stamp, stamp_of

_MARK: Final = re.compile(rb"tinbook design=([0-9a-f]{16}) inputs=([0-9a-f]{16})")

Run: TypeAlias = tuple[int, int]
Waiting: TypeAlias = tuple[str | bytes, str, tuple[Run, str]]

_presses = itertools.count(1)
_press = 0
_written: dict[str, tuple[Run, str]] = {}
"""The run and the inputs from which this process wrote a file; the file itself does not say so."""
_waiting: ContextVar[dict[Path, Waiting] | None] = ContextVar("waiting", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A file that may be written.

    Parameters
    ----------
    file : Path
        Where.
    stamp : Stamp
        What it says of itself.
    replace : bool
        Write over whatever is there.
    """

    file: Path
    stamp: Stamp
    replace: bool = False

    def __post_init__(self) -> None:
        of_kind(self.replace, bool, "replace", "True or False")

    def write(self, data: str | bytes, *, ours: bytes = b"") -> Path:
        """Write it over nothing, or over an earlier draft of its own design.

        Parameters
        ----------
        data : str or bytes
            With the mark of the stamp in it.
        ours : bytes
            How a file begins that can carry no mark.

        Raises
        ------
        CannotWrite
            Another design's file is there, one that was not written here, or one that this run wrote from other inputs.
        """
        file, stamp = self.file, self.stamp
        key, run = os.path.normcase(os.path.realpath(file)), _run()
        if file.exists() and not self.replace:
            try:
                why = _refused(file, stamp, _written.get(key), run, ours)
            except OSError as wrong:
                why = f"the file there cannot be read: {wrong.strerror}"
            if why:
                raise CannotWrite(
                    f"{file}: nothing was written; {why}; valid: another number, revision or folder, or replace=True"
                )
        waiting = _waiting.get()
        if waiting is None:
            write_whole({file: data})
            _written[key] = run, stamp.inputs
            return file
        if file in waiting and waiting[file][2][1] != stamp.inputs and not self.replace:
            raise CannotWrite(f"{file}: nothing was written; two different {stamp.name} were to be written to it")
        waiting[file] = data, key, (run, stamp.inputs)
        return file


def draft_of(
    thing: Subject | Assembled,
    path: str | os.PathLike[str],
    suffix: str,
    *,
    ending: str = "",
    quantity: int | None = None,
    despite: Despite = None,
    replace: bool = False,
    plan: FoldPlan | None = None,
) -> Draft:
    """Check what every writer is given, before anything is drawn.

    Parameters
    ----------
    thing : Made, FlatPattern or Assembled
        What to write.
    path, suffix
        As for `target`.
    ending : str
        Follows its own file name where `path` is a folder.
    quantity, despite, plan
        As for `stamp_of`.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Raises
    ------
    CannotMake, BadValue
        As `stamp_of` and `target`.
    """
    file = target(path, suffix, file_stem(thing, quantity) + ending)
    stamp = stamp_of(thing, quantity=quantity, despite=despite, plan=plan)
    return Draft(file=file, stamp=stamp, replace=replace)


def mark_in(file: Path) -> tuple[str, str] | None:
    """Return design and inputs in the mark of a file, None if the kit did not write it.

    Parameters
    ----------
    file : Path
        Any regular file.
    """
    with open(file, "rb") as f:
        if not os.fstat(f.fileno()).st_size:
            return None
        with mmap.mmap(f.fileno(), 0, access=mmap.ACCESS_READ) as data:
            found = _MARK.search(data)
            return (found.group(1).decode(), found.group(2).decode()) if found else None


def new_run() -> None:
    """Begin a new run, so that files written before count as earlier drafts; each press of a write button does."""
    global _press
    _press = next(_presses)


@contextmanager
def together() -> Iterator[None]:
    """Write all files of a block together at its end; if one writer raises, none is written."""
    waiting: dict[Path, Waiting] = {}
    token = _waiting.set(waiting)
    try:
        yield
    finally:
        _waiting.reset(token)
    if waiting:
        write_whole({file: data for file, (data, _, _) in waiting.items()})
        _written.update((key, written) for _, key, written in waiting.values())


def _refused(file: Path, stamp: Stamp, before: tuple[Run, str] | None, run: Run, ours: bytes) -> str:
    """Return why a file must not be replaced, "" if it may be."""
    found = mark_in(file)
    if found is None and ours and file.read_bytes().startswith(ours):
        found = (stamp.design, "")
    if found is None:
        return "the file there carries no mark of this kit, so somebody else's work may be in it"
    if found[0] != stamp.design:
        return f"the file there is of another design than {stamp.name}"
    if before is not None and before[0] == run and before[1] != stamp.inputs and not _typed():
        return f"this run has already written another {stamp.name} to it"
    return ""


def _run() -> Run:
    """Return what identifies the present run: a script, an executed notebook cell, or a press of a button."""
    return len(getattr(sys.modules.get("__main__"), "In", ())), _press


def _typed() -> bool:
    """Whether this is an interactive prompt, where every statement is a run of its own."""
    return hasattr(sys, "ps1") and not hasattr(sys.modules.get("__main__"), "In")
