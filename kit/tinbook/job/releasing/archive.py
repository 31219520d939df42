"""The archive of a release: stored, dates fixed, names in order."""

from __future__ import annotations

import hashlib
import io
import re
import stat
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from tinbook.errors import BadFile, Mistake

NAME: Final = re.compile(r"(?:[A-Za-z0-9][A-Za-z0-9._+-]{0,119}/){0,4}[A-Za-z0-9][A-Za-z0-9._+-]{0,119}")
"""Names inside: plain, relative, without a step upward on any system."""
DATE: Final = (1980, 1, 1, 0, 0, 0)
MOST_FILES: Final = 5000
MOST_BYTES: Final = 1 << 30
"""A pack's size and that of all it holds (own proposal: ten times a job of 200 parts)."""


def digest(data: bytes) -> str:
    """Return the SHA-256 of bytes as hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def pack_bytes(files: Mapping[str, bytes]) -> bytes:
    """Return the archive of files; equal files give equal bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted(files):
            if not NAME.fullmatch(name) or ".." in name:
                raise ValueError(f"{name!r} cannot stand in a pack")
            info = zipfile.ZipInfo(name, DATE)
            info.create_system, info.external_attr = 3, (stat.S_IFREG | 0o644) << 16
            archive.writestr(info, files[name])
    return out.getvalue()


def unpack(path: Path) -> tuple[bytes, dict[str, bytes]]:
    """Return the bytes of a pack and the files in it.

    Raises
    ------
    BadFile
        It is gone, too large or no archive; a name, link, method or size in it that no pack has. Nothing is written.
    """
    raw = _raw(path)
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            return raw, _contents(archive, str(path), len(raw))
    except (zipfile.BadZipFile, NotImplementedError, ValueError, EOFError, OverflowError, RuntimeError) as wrong:
        raise BadFile(str(path), [Mistake("pack", f"is no whole archive: {wrong}"[:200])]) from None


def _raw(path: Path) -> bytes:
    why = ""
    try:
        if not path.is_file():
            why = "is not there, or is no plain file"
        elif path.stat().st_size > MOST_BYTES:
            why = f"is larger than {MOST_BYTES >> 20} MB"
        else:
            return path.read_bytes()
    except (OSError, ValueError) as wrong:
        why = f"cannot be read: {wrong}"[:200]
    raise BadFile(str(path)[:200], [Mistake("pack", why)])


def _contents(archive: zipfile.ZipFile, path: str, most: int) -> dict[str, bytes]:
    entries = archive.infolist()
    wrong = [Mistake("pack", f"has {len(entries)} files; valid: at most {MOST_FILES}")] * (len(entries) > MOST_FILES)
    seen: set[str] = set()
    for e in entries[:MOST_FILES]:
        kind = stat.S_IFMT(e.external_attr >> 16)
        said = repr(e.filename)[:120]
        if not NAME.fullmatch(e.filename) or ".." in e.filename:
            wrong.append(Mistake(said, "is a name that could lead out of a folder, or that not every system takes"))
        elif e.filename in seen:
            wrong.append(Mistake(said, "stands twice"))
        elif kind not in (0, stat.S_IFREG):
            wrong.append(Mistake(said, "is no plain file but a link or a device"))
        elif e.compress_type != zipfile.ZIP_STORED or e.flag_bits & 1:
            wrong.append(Mistake(said, "is compressed or locked; a pack holds its files as they are"))
        seen.add(e.filename)
    # Stored files cannot be larger together than the archive.
    if sum(e.file_size for e in entries) > most:
        wrong.append(Mistake("pack", "claims to hold more than it does"))
    if wrong:
        raise BadFile(path, wrong)
    return {e.filename: archive.read(e) for e in entries}
