"""Workbenches on the demo shop, in an empty folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_hands import Bench

from tinbook.bench.workbench import Workbench, workbench
from tinbook.families.plain import folded_box
from tinbook.making.resolve import make
from tinbook.route.fold_order import fold_sequence
from tinbook.route.steps import FoldPlan
from tinbook.shop.shop import Shop


@pytest.fixture(scope="module")
def shop() -> Shop:
    return Shop.demo()


@pytest.fixture(scope="module")
def box(shop: Shop) -> FoldPlan:
    """The order of folds of the default box."""
    return fold_sequence(make(folded_box(), shop))


@pytest.fixture
def bench(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    """Open workbenches in an empty folder; they are closed after the test."""
    monkeypatch.chdir(tmp_path)
    opened: list[Workbench] = []

    def open_bench(function: Callable[..., Any], **options: Any) -> Workbench:
        opened.append(workbench(function, shop, **options))
        return opened[-1]

    yield open_bench
    for b in opened:
        b.close()
