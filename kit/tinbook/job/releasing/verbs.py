"""The command line's verbs for what leaves the workshop: release, verify, compare, sent."""

from __future__ import annotations

import argparse
import sys
from contextlib import nullcontext
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadValue
from tinbook.executors import pool
from tinbook.finding import NOTHING, Findings, fine, stop
from tinbook.job.comparing.comparison import compare
from tinbook.job.kits.text import read_fitting_text
from tinbook.job.layoutfile import read_layouts
from tinbook.job.releasing.opening import open_release
from tinbook.job.releasing.release import release
from tinbook.job.releasing.verify import verify
from tinbook.job.stock.store import Store
from tinbook.job.verbs import existing_store, job_of
from tinbook.part.partfile import read_part
from tinbook.progress import progress_bar
from tinbook.shop.shop import Shop

FEW: Final = 6
"""Parts up to which starting other processes takes longer than they save."""


def release_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Release a job file as one archive in the folder of --out."""
    job, shop, stock = job_of(asked)
    how: dict[str, Any] = {
        n: getattr(asked, n) for n in ("sets", "effort", "seed", "flats", "despite", "notebook", "before", "date")
    }
    if asked.fitting is not None:
        how["fitting"] = read_fitting_text(asked.fitting)
    if asked.layouts is not None:
        how["nest"] = read_layouts(asked.layouts, job, shop, stock, sets=asked.sets)
    how["progress"] = progress_bar(sys.stderr) if sys.stderr.isatty() else None
    workers = pool() if len(job.parts) > FEW else nullcontext()
    with workers as how["executor"], nullcontext() if asked.stock is None else Store(asked.stock) as store:
        pack = release(job, asked.rev, shop, asked.out or Path(), stock=stock, store=store, **how)
    opened = open_release(pack)
    proofs = Findings(fine(p["code"], p["where"], p["what"]) for p in opened.manifest["proofs"])
    facts = {"revision": opened.rev, "inputs": opened.manifest["inputs"], "sha256": verify(pack).sha256}
    lines = [f"  {name}: {value}" for name, value in facts.items()]
    return {"part": f"job {job.number}", "facts": facts, "lines": lines, "findings": proofs, "files": [str(pack)]}


def sent_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Note to whom a release was sent, and show who was sent what."""
    with existing_store(asked.file) as store:
        if asked.release:
            number, rev = asked.release
            store.send(number, rev, asked.to or "", how=asked.how or "", day=asked.day)
        rows = store.sent()
    lines = [
        f"  {s.day}  {s.number} rev {s.rev}  to {s.to}{f', {s.how}' if s.how else ''}  {s.sha256[:12]}" for s in rows
    ]
    facts = {"sent": [asdict(s) for s in rows]}
    return {"part": str(asked.file), "facts": facts, "lines": lines, "findings": NOTHING, "files": []}


def verify_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Say what was altered in a pack."""
    if asked.stock is None:
        found = verify(asked.file)
    else:
        with existing_store(asked.stock) as store:
            found = verify(asked.file, store)
    stops = Findings(
        stop("release.altered", found.name, text, "ask whoever sent it for a new copy") for text in found.altered
    )
    facts = {"files": found.files, "sha256": found.sha256}
    return {"part": found.name, "facts": facts, "lines": [f"  {found!r}"], "findings": stops, "files": []}


def compare_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Compare two part files or two packs."""
    shop = Shop.demo() if asked.shop is None else Shop.load(asked.shop)
    found = compare(_thing(asked.file), _thing(asked.new), shop)
    lines = [f"  {line}" for line in repr(found).splitlines()]
    facts = {"same": found.same, "changes": [asdict(c) for c in found.changes]}
    return {"part": f"{found.old}, {found.new}", "facts": facts, "lines": lines, "findings": NOTHING, "files": []}


def _thing(path: Path) -> Any:
    if path.suffix.lower() == ".zip":
        return open_release(path)
    if path.suffix.lower() == ".toml":
        return read_part(path)
    raise BadValue("file", str(path), "a part file (.toml) or a pack (.zip)")
