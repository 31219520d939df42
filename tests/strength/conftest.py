"""One small search for bead layouts, run once for all tests that look at it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor

import pytest

from layoutcases import HELD, QUICK, SMALL
from strategies import SHOP
from tinbook.strength.bead_search.result import BeadLayouts
from tinbook.strength.bead_search.search import bead_layouts


@pytest.fixture(scope="session")
def one() -> Iterator[Executor]:
    with ThreadPoolExecutor(1) as executor:
        yield executor


@pytest.fixture(scope="session")
def told() -> list[float]:
    """What the search of `found` reported of its progress."""
    return []


@pytest.fixture(scope="session")
def found(one: Executor, told: list[float]) -> BeadLayouts:
    return bead_layouts(SMALL, SHOP, HELD, **QUICK, executor=one, progress=lambda done, _: told.append(done))
