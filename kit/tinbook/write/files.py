"""Files written whole or not at all, under names that are safe on every system."""

from __future__ import annotations

import hashlib
import os
import platform
import re
import secrets
import shutil
import stat
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadValue, CannotWrite, cut, of_kind
from tinbook.paths import KINDS

_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
_LONGEST: Final = 190
"""Bytes of a file name: file systems take 255, and the temporary name is longer than the last one."""
_STRAY: Final = re.compile(r"\..+\.([0-9a-f]{1,16})-([0-9a-f]{6})-[0-9a-f]{12}\.part")
_SCRATCH: Final = re.compile(r"tinbook-([0-9a-f]{1,16})-([0-9a-f]{6})-.+")
_OLD, _FORGOTTEN = 3600.0, 7 * 86400.0
"""s: age from which a temporary file is deleted if its process has ended, and if nothing is known of its process."""
_DEVICES: Final = {"con", "prn", "aux", "nul", *(f"{d}{i}" for d in ("com", "lpt") for i in range(1, 10))}


def checked_name(text: object, field: str = "part number") -> str:
    """Return a name that may stand in a file name, or refuse it.

    Parameters
    ----------
    text : str
        Letters, digits, ".", "_" and "-", starting with a letter or digit, at most 80.
    field : str
        What the name is, for the message.

    Raises
    ------
    BadValue
        Anything else: path separators, "..", quotes, spaces, HTML, names that a system reserves.
    """
    usable = isinstance(text, str) and _NAME.fullmatch(text) and ".." not in text and not text.endswith(".")
    if not isinstance(text, str) or not usable or text.split(".")[0].lower() in _DEVICES:
        raise BadValue(field, text, "letters, digits and . _ - only, starting with a letter or digit, e.g. HN-FP-L")
    return text


def target(path: str | os.PathLike[str], suffix: str, stem: str) -> Path:
    """Return the file to write.

    Parameters
    ----------
    path : str or path-like
        A file name with the right suffix, or an existing folder, into which `stem` is written.
    suffix : str
        ".dxf", ".step" ...
    stem : str
        File name without suffix, used when `path` is a folder.

    Raises
    ------
    BadValue
        A folder that does not exist, another suffix, a file name the system would not keep, a device or a pipe.
    """
    of_kind(path, (str, os.PathLike), "file name", f"a path that ends in {suffix}, or a folder that exists")
    _stated(path, "file name")
    try:
        file = _target(Path(path), suffix, stem)
        kind = stat.S_IFMT(file.stat().st_mode) if file.exists() else stat.S_IFREG
    except OSError as wrong:  # too long, a loop of links
        raise BadValue("file name", path, f"a path that the system takes; it says: {wrong.strerror}") from None
    if kind != stat.S_IFREG:
        raise BadValue("file name", str(file), f"a file; what stands there {KINDS.get(kind, 'is no file')}")
    return file


def _stated(path: Any, field: str) -> None:
    """Refuse an empty text, which every system takes for the current folder."""
    if isinstance(path, str) and not path.strip():
        raise BadValue(field, path, "a path; '.' is the current folder")


def _target(wanted: Path, suffix: str, stem: str) -> Path:
    if len(os.fsencode(wanted.name)) > _LONGEST:
        raise BadValue("file name", wanted.name, f"at most {_LONGEST} bytes")
    if wanted.is_dir():
        return wanted / (stem + suffix)
    if wanted.suffix.lower() != suffix:
        raise BadValue("file name", str(wanted), f"a name that ends in {suffix}, or a folder that exists")
    if not wanted.parent.is_dir():
        raise BadValue("folder", str(wanted.parent), "a folder that exists; make it first")
    if re.search(r'[<>:"|?*\x00-\x1f]', wanted.name) or wanted.stem.split(".")[0].lower() in _DEVICES:
        raise BadValue("file name", wanted.name, 'a name without < > : " | ? * and not a device of the system')
    return wanted


def ready_folder(folder: str | os.PathLike[str]) -> Path:
    """Return a folder that exists, made if it was not there."""
    _stated(folder, "folder")
    try:
        place = Path(folder)
        place.mkdir(parents=True, exist_ok=True)
    except (TypeError, ValueError):
        raise BadValue("folder", folder, "the path of a folder") from None
    except OSError as wrong:
        raise CannotWrite(
            f"{cut(str(folder))}: this folder cannot be made: {wrong.strerror or wrong}; valid: a folder that exists, or the "
            "name of a new one"
        ) from wrong
    return place


@contextmanager
def new_folder(folder: str | os.PathLike[str]) -> Iterator[Path]:
    """Yield a folder as `ready_folder` makes it; what it made and stays empty is gone afterwards."""
    new = [p for p in (Path(folder), *Path(folder).parents) if not os.path.exists(p)]  # Path's own raises on odd names
    try:
        yield ready_folder(folder)
    finally:
        for p in new:
            with suppress(OSError):
                p.rmdir()


def _sync_folder(folder: Path) -> None:
    # So that the new name survives a power cut; systems that cannot open a folder do this by themselves.
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@cache
def _here() -> str:
    """Return what identifies this machine among others that write into the same folder."""
    return hashlib.sha256(platform.node().encode()).hexdigest()[:6]


def _sweep(folder: Path) -> None:
    """Delete the temporary files and folders of writers that were killed: named by us, old, and their process has ended."""
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            file, place = _STRAY.fullmatch(entry.name), _SCRATCH.fullmatch(entry.name)
            found = file or place
            if found and (entry.is_file if file else entry.is_dir)(follow_symlinks=False):
                with suppress(OSError):
                    age = time.time() - entry.stat(follow_symlinks=False).st_mtime
                    if age > (_OLD if _gone(found.group(1), found.group(2)) else _FORGOTTEN):
                        os.unlink(entry.path) if file else shutil.rmtree(entry.path, ignore_errors=True)


@contextmanager
def scratch() -> Iterator[Path]:
    """Give an empty folder among the temporary ones of the system, gone afterwards; those of killed writers go too.

    Raises
    ------
    CannotWrite
        The system gives none.
    """
    try:
        root = Path(tempfile.gettempdir())
        _sweep(root)
        here = Path(tempfile.mkdtemp(prefix=f"tinbook-{os.getpid():x}-{_here()}-", dir=root))
    except OSError as wrong:
        raise CannotWrite(
            f"a temporary folder cannot be made: {wrong.strerror or wrong}; valid: room on a disk"
        ) from wrong
    try:
        yield here
    finally:
        shutil.rmtree(here, ignore_errors=True)


def _gone(pid: str, host: str) -> bool:
    """Whether a process of this machine has ended; unknown, so False, for one of another machine."""
    if os.name != "posix" or host != _here():
        return False
    try:
        os.kill(int(pid, 16), 0)  # signal 0 only tests
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return False


@contextmanager
def whole(*paths: Path) -> Iterator[tuple[Path, ...]]:
    """Give temporary names beside `paths`; rename them all into place at the end, or leave nothing.

    Parameters
    ----------
    *paths : Path
        Files to be written; their folders must exist.

    Yields
    ------
    tuple of Path
        One temporary name for each path; each must be written inside the block.
    """
    mark = _mark()
    parts = tuple(p.with_name(f".{p.name}.{mark}.part") for p in paths)
    for folder in {p.parent for p in paths}:
        _sweep(folder)
    try:
        yield parts
        for part in parts:
            with open(part, "r+b") as f:
                os.fsync(f.fileno())
        for part, path in zip(parts, paths, strict=True):
            os.replace(part, path)
        for folder in {p.parent for p in paths}:
            _sync_folder(folder)
    except OSError as wrong:
        names = ", ".join(str(p) for p in paths)
        raise CannotWrite(
            f"{names}: nothing was written, the system says: {wrong.strerror or wrong}; valid: a folder that may be "
            "written to, with room left, and a file that no other program holds open"
        ) from wrong
    finally:
        for part in parts:
            with suppress(OSError):
                part.unlink()


def write_whole(files: Mapping[Path, str | bytes]) -> None:
    """Write files so that each stands complete or, if anything fails before the renaming, none exists.

    Parameters
    ----------
    files : mapping of Path to str or bytes
        Contents; text is written as UTF-8 with bare line feeds.
    """
    with whole(*files) as parts:
        for part, data in zip(parts, files.values(), strict=True):
            part.write_bytes(data.encode("utf-8") if isinstance(data, str) else data)


def write_new(path: Path, data: bytes) -> None:
    """Write a file whose name must be free, so that no other is ever written over, even one that comes at that moment.

    Raises
    ------
    CannotWrite
        The name is taken, or the system refuses; nothing is left behind.
    """
    part = path.with_name(f".{path.name}.{_mark()}.part")
    _sweep(path.parent)
    try:
        with open(part, "xb") as f:
            f.write(data)
            f.flush()
            os.fsync(f.fileno())
        os.link(part, path)  # a rename would write over a file of that name
        _sync_folder(path.parent)
    except FileExistsError:
        raise CannotWrite(
            f"{path}: it is there already and is never written over; valid: another name or folder"
        ) from None
    except OSError as wrong:
        raise CannotWrite(
            f"{path}: nothing was written, the system says: {wrong.strerror or wrong}; valid: a folder that may be "
            "written to, with room left, on a disk that knows hard links"
        ) from wrong
    finally:
        with suppress(OSError):
            part.unlink()


def _mark() -> str:
    return f"{os.getpid():x}-{_here()}-{secrets.token_hex(6)}"
