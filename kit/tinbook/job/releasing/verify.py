"""What was altered in a pack, added to it or taken from it."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tinbook.errors import BadFile, BadValue, Mistake
from tinbook.htmltable import html_table
from tinbook.job.releasing.archive import digest, pack_bytes, unpack
from tinbook.job.releasing.manifest import FORMAT, INPUTS, MANIFEST, NEEDED, inputs_digest, own_digest
from tinbook.job.stock.store import Store
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What `verify` found.

    Parameters
    ----------
    name : str
        Of the pack.
    altered : tuple of str
        What is not as it was released, one sentence each; empty if all is.
    files : int
        How many files were compared.
    sha256 : str
        Of the whole pack: what a second copy, or a note of it, is compared by.
    """

    name: str
    altered: tuple[str, ...]
    files: int
    sha256: str

    @property
    def ok(self) -> bool:
        """Whether nothing was altered."""
        return not self.altered

    def __repr__(self) -> str:
        if self.ok:
            return f"{self.name}: as released, {self.files} files compared, sha256 {self.sha256}"
        return "\n".join((f"{self.name}: altered", *(f"  {line}" for line in self.altered)))

    def _repr_html_(self) -> str:
        head, *rest = repr(self).splitlines()
        return html_table((), [(line.strip(),) for line in rest] or [("nothing altered",)], caption=head)


def verify(path: str | os.PathLike[str], store: Store | None = None) -> Verified:
    """Hold a pack against its own manifest, byte by byte, and against the store's record of its release.

    Who alters a pack and writes a manifest to match is found only by its whole hash, which stands in the answer and in
    the store.

    Parameters
    ----------
    path : path
        A pack as `release` writes it.
    store : Store, optional
        That recorded the release.

    Returns
    -------
    Verified

    Raises
    ------
    BadFile
        A pack of a newer version of this kit.
    BadValue
        No path.
    """
    if not isinstance(path, str | os.PathLike):
        raise BadValue("pack", path, "the path of a pack")
    file = Path(path)
    try:
        raw, files = unpack(file)
    except BadFile as wrong:
        if not os.path.isfile(file):
            raise
        lines = tuple(f"{m.where}: {m.what}" for m in wrong.mistakes)
        return Verified(name=file.name, altered=lines, files=0, sha256="")
    found = tuple(_altered(raw, files, file))
    if store is not None and not found:
        found = tuple(_against(store, raw, files))
    return Verified(name=file.name, altered=found, files=len(files), sha256=digest(raw))


def whole_pack(path: str | os.PathLike[str]) -> dict[str, bytes]:
    """Return the files in a pack; BadFile for one that was altered."""
    found = verify(path)
    if not found.ok:
        raise BadFile(str(path), [Mistake("pack", line) for line in found.altered])
    return unpack(Path(path))[1]


def _altered(raw: bytes, files: dict[str, bytes], path: Path) -> Iterator[str]:
    manifest = _manifest(files.get(MANIFEST))
    if manifest is None:
        yield f"{MANIFEST}: is missing, or is no manifest"
        return
    if isinstance(manifest.get("format"), int) and manifest["format"] > FORMAT:
        raise BadFile(
            str(path), [Mistake("format", f"{manifest['format']} is newer than this kit; valid: at most {FORMAT}")]
        )
    if manifest.get("manifest") != own_digest(manifest):
        yield f"{MANIFEST}: was altered"
    listed = manifest.get("files")
    listed = listed if isinstance(listed, dict) else {}
    for name in sorted(listed.keys() | files.keys() - {MANIFEST}):
        if name not in files:
            yield f"{name}: was removed"
        elif name not in listed:
            yield f"{name}: was added"
        elif not isinstance(listed[name], dict) or listed[name].get("sha256") != digest(files[name]):
            yield f"{name}: was altered"
    inputs = {name: files[name] for name in INPUTS if name in files}
    options = manifest.get("options")
    if not inputs.keys() >= set(NEEDED) or not isinstance(options, dict):
        yield "inputs: are not complete"
    elif manifest.get("inputs") != inputs_digest(inputs, options, str(manifest.get("rev"))):
        yield "inputs: job, shop, stock and options are not those of the manifest"
    if pack_bytes(files) != raw:
        yield "archive: bytes between the files, their order, dates or rights were altered"


def _against(store: Store, raw: bytes, files: dict[str, bytes]) -> Iterator[str]:
    manifest = _manifest(files[MANIFEST]) or {}
    number, rev = str(manifest.get("job")), str(manifest.get("rev"))
    known = store.released(number, rev)
    if not known:
        yield f"store: has no record of {number} rev {rev}"
    elif known.get(f"{number}_{rev}.zip") != digest(raw):
        yield f"store: {number} rev {rev} was released with other content"


def _manifest(data: bytes | None) -> dict[str, Any] | None:
    try:
        found = json.loads(data) if data is not None else None
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None
