"""What a pack says of itself: names of its inputs, the hash of all that it follows from, its own hash."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final

from tinbook.job.releasing.archive import digest

MANIFEST: Final = "manifest.json"
FORMAT: Final = 3
"""2: fitting instructions and a notebook may be among the inputs; 3: revisions and layouts too."""
JOB, SHOP, STOCK = "inputs/job.toml", "inputs/shop.json", "inputs/stock.json"
FITTING, NOTEBOOK = "inputs/fitting.md", "inputs/notebook.ipynb"
REVISIONS, LAYOUTS = "inputs/revisions.json", "inputs/layouts.json"
NEEDED: Final = (JOB, SHOP, STOCK)
INPUTS: Final = (*NEEDED, FITTING, NOTEBOOK, REVISIONS, LAYOUTS)


def inputs_digest(inputs: Mapping[str, bytes], options: Mapping[str, Any], rev: str) -> str:
    """Return the hash of all that a release follows from."""
    text = json.dumps({"rev": rev, "options": options, **{n: digest(d) for n, d in inputs.items()}}, sort_keys=True)
    return digest(text.encode())


def own_digest(manifest: Mapping[str, Any]) -> str:
    """Return the hash of a manifest without the field that holds it."""
    rest = {k: v for k, v in manifest.items() if k != "manifest"}
    return digest(json.dumps(rest, sort_keys=True).encode())
