"""How many random examples a test draws: a few in every run, many with `--full`."""

from __future__ import annotations

import os


def wanted_in_full() -> bool:
    """Whether the run was started with `--full`, or with Hypothesis' profile `full`."""
    return bool(os.environ.get("TINBOOK_FULL")) or os.environ.get("HYPOTHESIS_PROFILE") == "full"


def count(few: int, many: int) -> int:
    """Return `few` in an ordinary run, `many` in a full one."""
    return many if wanted_in_full() else few
