"""A pack opened: the job with all that it was released from."""

from __future__ import annotations

import json
import os
import tempfile
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

from tinbook.htmltable import html_table
from tinbook.job.declared import Job
from tinbook.job.jobfile import job_from_toml
from tinbook.job.layoutfile import laid_out
from tinbook.job.nested import JobNest, nest_job
from tinbook.job.releasing.history import Row, read_revisions
from tinbook.job.releasing.manifest import FITTING, JOB, LAYOUTS, MANIFEST, NOTEBOOK, REVISIONS, SHOP, STOCK
from tinbook.job.releasing.release import release
from tinbook.job.releasing.values import from_json
from tinbook.job.releasing.verify import whole_pack
from tinbook.job.stock.values import Stock
from tinbook.shop.shop import Shop
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A pack that was opened.

    Parameters
    ----------
    job, rev, shop, stock
        What was released.
    options : dict
        The other parameters of `release`.
    fitting : str
        Fitting instructions that it was given, "" for none.
    notebook : bytes
        The executed notebook, empty for none.
    revisions : dict
        Rows of letter, date and what changed by the number of a part.
    layouts : str
        Layouts that it was given, "" where it was nested anew.
    manifest : dict
        What the pack says of itself.
    """

    job: Job
    rev: str
    shop: Shop
    stock: Stock
    options: dict[str, Any]
    fitting: str
    notebook: bytes
    revisions: dict[str, list[Row]]
    layouts: str
    manifest: dict[str, Any]

    def again(self, folder: str | os.PathLike[str], executor: Executor | None = None) -> Path:
        """Release it again into another folder; with the same versions of Python and libraries the bytes are the same."""
        with tempfile.TemporaryDirectory(prefix="tinbook-notebook-") as place:
            notebook = None
            if self.notebook:
                notebook = Path(place) / "notebook.ipynb"
                notebook.write_bytes(self.notebook)
            given: dict[str, Any] = {
                **self.options,
                "fitting": self.fitting,
                "notebook": notebook,
                "revisions": self.revisions,
                "nest": self.nest,
                "executor": executor,
            }
            return release(self.job, self.rev, self.shop, folder, stock=self.stock, **given)

    @property
    def nest(self) -> JobNest | None:
        """The job on its sheets as it was given, None where it was nested anew."""
        if not self.layouts:
            return None
        how = {"sets": self.options["sets"], "despite": self.options["despite"]}
        found = nest_job(self.job, self.shop, self.stock, effort=0, **how)
        return laid_out(found, self.layouts, LAYOUTS)

    def __repr__(self) -> str:
        return f"<release {self.job.number} rev {self.rev}: {len(self.manifest['files'])} files>"

    def _repr_html_(self) -> str:
        rows = [(p["where"], p["what"]) for p in self.manifest["proofs"]]
        return html_table(("file or layout", "proof"), rows, caption=repr(self)[1:-1])


def open_release(path: str | os.PathLike[str]) -> Opened:
    """Return the job of a pack with shop, stock and options; the pack must be whole.

    Raises
    ------
    BadFile
        It was altered (`verify` says what), comes from a newer version, or is no pack.
    """
    files = whole_pack(path)
    manifest = json.loads(files[MANIFEST])
    return Opened(
        job=job_from_toml(files[JOB].decode("utf-8"), JOB),
        rev=manifest["rev"],
        shop=from_json(files[SHOP].decode("utf-8"), Shop, SHOP),
        stock=from_json(files[STOCK].decode("utf-8"), Stock, STOCK),
        options=manifest["options"],
        fitting=files.get(FITTING, b"").decode("utf-8"),
        notebook=files.get(NOTEBOOK, b""),
        revisions=read_revisions(json.loads(files.get(REVISIONS, b"{}"))),
        layouts=files.get(LAYOUTS, b"").decode("utf-8"),
        manifest=manifest,
    )
