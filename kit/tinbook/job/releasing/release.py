"""A job released: one archive, made whole or not at all, never written over, that can be made again to the byte."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Mapping
from concurrent.futures import Executor
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadValue, CannotWrite, of_kind
from tinbook.job.declared import Job
from tinbook.job.jobfile import job_to_toml
from tinbook.job.kits.text import blocks
from tinbook.job.layoutfile import laid_out, layouts_to_json
from tinbook.job.nested import JobNest, nest_job
from tinbook.job.pricing.price import price_nest
from tinbook.job.releasing.archive import digest, pack_bytes, unpack
from tinbook.job.releasing.contents import write_contents
from tinbook.job.releasing.history import Revisions, read_revisions, revisions_since
from tinbook.job.releasing.manifest import (
    FITTING,
    FORMAT,
    JOB,
    LAYOUTS,
    MANIFEST,
    NOTEBOOK,
    REVISIONS,
    SHOP,
    STOCK,
    inputs_digest,
    own_digest,
)
from tinbook.job.releasing.notebook import executed_notebook
from tinbook.job.releasing.values import to_json
from tinbook.job.releasing.verify import verify
from tinbook.job.stock.store import Store
from tinbook.job.stock.values import NO_STOCK, Stock
from tinbook.making.made import Made
from tinbook.part.names import PRINTED_DATE
from tinbook.progress import Progress, part_of, telling
from tinbook.shop.revisions import in_scheme, in_words
from tinbook.shop.shop import Shop
from tinbook.write.files import new_folder, scratch, write_new
from tinbook.write.stamp import Despite, reason_of

NESTED: Final = 0.15
"""Share of the time that nesting takes, about."""


def release(
    job: Job,
    rev: str,
    shop: Shop,
    folder: str | os.PathLike[str] = ".",
    *,
    stock: Stock = NO_STOCK,
    sets: int = 1,
    effort: float = 3.0,
    seed: int = 0,
    flats: bool = False,
    prices: Mapping[str, str] | None = None,
    despite: Despite = None,
    fitting: str = "",
    notebook: str | os.PathLike[str] | None = None,
    before: str | os.PathLike[str] | None = None,
    revisions: Revisions | None = None,
    date: str = "",
    nest: JobNest | None = None,
    store: Store | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Path:
    """Release a job as one archive: inputs, files of every part, sheets for the cutter, papers, the customer's page.

    Every delivery proves itself before it exists: cut files and STEP files are read back, each STEP is unfolded by the
    independent reader and held against the cut file, each paper's text is read again and held against the model, and
    each layout is judged by another library.

    Parameters
    ----------
    job : Job
        What is wanted.
    rev : str
        Of the release, in the scheme of the shop file.
    shop : Shop
        On whose tools.
    folder : path
        Made if it is not there; the archive is NUMBER_REV.zip in it.
    stock, sets, effort, seed
        As for `nest_job`; the same values give the same layouts.
    flats, prices
        As for `write_client_page`. A release with prices stops where the shop file misses a rate for this job.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for releasing although something stops a part; papers and page say so.
    fitting : str
        Fitting instructions with your own words, as `tb.job.fitting_text` gives them; the generated steps are brought
        up to date.
    notebook : path, optional
        An executed notebook that goes into the pack as an input, without its timings.
    before : path, optional
        The pack of the release before: each part's sheet then has the table of its revisions, with what changed since. With
        a store that knows earlier releases it is looked for in `folder`.
    revisions : mapping of str to rows of (str, str, str), optional
        The tables themselves instead: letter, date and what changed, by the number of a part.
    date : str
        Printed in the title strips and in the new rows of the tables; none is printed by itself.
    nest : JobNest, optional
        The job on its sheets, as `move_in_job` or the workbench left it; its layouts go into the pack as an input. Else it
        is nested by effort and seed.
    store : Store, optional
        Records the hashes of the pack and of every file in it; a revision that it knows is not released again.
    executor : Executor, optional
        Of `concurrent.futures`: metals are nested and parts written at the same time, with the same bytes.
    progress : callable, optional
        Called with 0 to 1 and a word, as `tb.job.progress_bar()` draws it.

    Returns
    -------
    Path
        The archive. Files in it are stored, with fixed dates, in the order of their names.

    Raises
    ------
    CannotMake
        A part is stopped, or a proof fails; nothing is written.
    BadFile
        Instructions whose marks are not whole; no executed notebook.
    CannotWrite
        This revision is there already, or the system refuses; nothing is written over.
    BadValue
        Something that cannot be used; a part that changed since the release before and has the revision that it had.
    """
    of_kind(job, Job, "job", "a Job")
    of_kind(shop, Shop, "shop", "a Shop")
    if not isinstance(rev, str) or not in_scheme(rev, shop.revision_scheme):
        raise BadValue("rev", rev, in_words(shop.revision_scheme))
    reason_of(despite)
    of_kind(folder, (str, os.PathLike), "folder", "a path")
    of_kind(prices, (Mapping, type(None)), "prices", 'words and amounts as text, as {"one set": "412.00 EUR"}')
    of_kind(store, (Store, type(None)), "store", "a tb.job.Store")
    of_kind(nest, (JobNest, type(None)), "nest", "what tb.job.nest_job gives")
    if nest is not None and (nest.job, nest.shop, nest.stock, nest.sets) != (job, shop, stock, sets):
        raise BadValue("nest", repr(nest), "one of this job, shop, stock and number of sets")
    told = telling(progress)
    of_kind(executor, (Executor, type(None)), "executor", "an Executor of concurrent.futures")
    spelt: dict[str, str] = {}
    twice = next((p.number for p in job.parts if spelt.setdefault(p.number.casefold(), p.number) != p.number), "")
    if twice:
        raise BadValue(
            "job items", twice, "numbers that differ by more than small and capital letters: each names a folder"
        )
    with new_folder(folder) as place:  # it can be made, and is there again when there is a pack
        pass
    file = place / f"{job.number}_{rev}.zip"
    if store is not None and store.released(job.number, rev):
        raise CannotWrite(f"{job.number} rev {rev}: the store knows this release already; valid: the next revision")
    if file.exists() and store is None:
        write_new(file, b"")  # raises, in its own words
    PRINTED_DATE.read(date, "date")
    if before is not None and revisions is not None:
        raise BadValue("revisions", revisions, "left out beside an earlier pack, which has them")
    before = _earlier(job, place, store) if before is None and revisions is None else before
    rows = read_revisions(revisions or {}) if before is None else revisions_since(before, job, shop, date)
    blocks(fitting)
    more = {FITTING: fitting.encode()} if fitting else {}
    if notebook is not None:
        more[NOTEBOOK] = executed_notebook(notebook)
    if rows:
        more[REVISIONS] = (json.dumps(rows, indent=1, sort_keys=True, ensure_ascii=False) + "\n").encode()
    if nest is not None:
        more[LAYOUTS] = layouts_to_json(nest).encode()
    told(0.0, "sheets")
    own_effort = 0.0 if nest else effort
    nested = nest_job(job, shop, stock, sets=sets, effort=own_effort, seed=seed, despite=despite, executor=executor)
    if nest is not None:
        nested = laid_out(nested, more[LAYOUTS].decode(), LAYOUTS)
    if prices:
        price_nest(nested)  # names what is missing
    inputs = {JOB: job_to_toml(job).encode(), SHOP: to_json(shop).encode(), STOCK: to_json(stock).encode()} | more
    options = {
        "sets": sets, "effort": float(effort), "seed": seed, "flats": flats, "prices": dict(prices) if prices else None,
        "despite": list(despite) if isinstance(despite, list | tuple) else despite, "date": date,
    }  # fmt: skip
    follows = inputs_digest(inputs, options, rev)
    if store is not None and file.exists():
        store.release(job.number, rev, _unrecorded(file, follows))
        return file
    try:
        with scratch() as here:
            proofs = write_contents(
                nested, here, rev=rev, fitting=fitting, flats=flats, prices=prices, despite=despite,
                executor=executor, progress=part_of(told, NESTED, 1.0),
                revisions=rows, date=date,
            )  # fmt: skip
            files = {p.relative_to(here).as_posix(): p.read_bytes() for p in sorted(here.rglob("*")) if p.is_file()}
    except OSError as wrong:
        said = wrong.__cause__ or wrong
        raise CannotWrite(
            f"{job.number} rev {rev}: nothing was released, the system says: {said}; valid: room among the system's "
            "temporary files"
        ) from wrong
    files |= inputs
    manifest: dict[str, Any] = {
        "format": FORMAT,
        "job": job.number,
        "title": job.title,
        "rev": rev,
        "inputs": follows,
        "options": options,
        "made_with": versions(),
        "parts": [
            {
                "number": c.part.number,
                "rev": c.rev,
                "quantity": c.part.quantity * sets,
                "mass_kg": round(c.made.mass, 6),
            }
            for c in nested.parts
            if isinstance(c.made, Made)
        ],
        "proofs": [{"code": f.code, "where": f.where, "what": f.what} for f in proofs],
        "files": {name: {"sha256": digest(data), "bytes": len(data)} for name, data in sorted(files.items())},
    }
    manifest["manifest"] = own_digest(manifest)
    files[MANIFEST] = (json.dumps(manifest, indent=1, sort_keys=True) + "\n").encode()
    data = pack_bytes(files)
    with new_folder(folder):
        write_new(file, data)
        if store is not None:
            try:
                store.release(job.number, rev, _hashes(file, data, files))
            except BaseException:
                file.unlink()  # written a moment ago: neither the pack nor its record stays alone
                raise
    return file


def _hashes(file: Path, data: bytes, files: Mapping[str, bytes]) -> dict[str, str]:
    return {file.name: digest(data), **{n: digest(d) for n, d in files.items()}}


def _unrecorded(file: Path, follows: str) -> dict[str, str]:
    """Return the hashes of a whole pack of the same inputs that a killed release left without its record; else refuse it."""
    if verify(file).ok:
        data, files = unpack(file)
        manifest = json.loads(files[MANIFEST])
        if (manifest["inputs"], manifest["made_with"]) == (follows, versions()):
            return _hashes(file, data, files)
    raise CannotWrite(
        f"{file}: it is there already, the store does not know it and it does not follow from the same inputs; it is never "
        "written over; valid: another revision or folder"
    )


def versions() -> dict[str, str]:
    """Return what a release depends on besides its inputs: this kit, Python's minor version, and the libraries that draw."""
    from importlib.metadata import version

    libraries = ("cadquery-ocp", "ezdxf", "matplotlib", "numpy", "reportlab", "shapely", "tinbook")
    return {"python": ".".join(platform.python_version_tuple()[:2]), **{name: version(name) for name in libraries}}


def _earlier(job: Job, place: Path, store: Store | None) -> Path | None:
    """Return the pack of the release before, as a store knows it; None for a first release."""
    known = [] if store is None else store.releases(job.number)
    if not known:
        return None
    rev, packed = known[-1]
    file = place / f"{job.number}_{rev}.zip"
    if not file.is_file() or digest(file.read_bytes()) != packed:
        valid = f"the pack of revision {rev}, which the store knows, or revisions={{}} for tables without it"
        raise BadValue("before", None, valid)
    return file
