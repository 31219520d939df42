"""The same seed gives the same bead layouts: with threads, processes and a cluster, on another processor, on the other hand."""

from __future__ import annotations

import os
import random
from concurrent.futures import Executor, ThreadPoolExecutor

import pytest

from layoutcases import HELD, QUICK, SMALL, same
from strategies import SHOP
from tinbook.strength.bead_search import search as layouts
from tinbook.strength.bead_search.result import BeadLayouts, rounded
from tinbook.strength.bead_search.search import bead_layouts


def test_supports_in_words(found: BeadLayouts, one: Executor) -> None:
    """The panel as it is, which every search runs too: the same supports, the same figures."""
    words = bead_layouts(SMALL, SHOP, "simply supported", **QUICK, executor=one, seconds=0.0)
    assert words.supports == found.supports
    flat, other = (next(r.figures for r in x.rows if not r.layout.count) for x in (found, words))
    assert other.frequency == pytest.approx(flat.frequency, rel=1e-9)


def test_the_other_hand_is_the_same_search(found: BeadLayouts, one: Executor) -> None:
    other = bead_layouts(SMALL.mirrored("HN-PN-R"), SHOP, HELD, **QUICK, executor=one)
    assert [r.layout for r in other.rows] == [r.layout for r in found.rows]
    for a, b in zip(other.rows, found.rows, strict=True):
        assert a.figures.frequency == pytest.approx(b.figures.frequency, rel=1e-3)


def test_same_seed_same_answer_on_our_own_processes(found: BeadLayouts) -> None:
    same(bead_layouts(SMALL, SHOP, HELD, **QUICK, workers=2), found)


def test_same_seed_same_answer_with_more_threads(found: BeadLayouts) -> None:
    with ThreadPoolExecutor(3) as executor:
        same(bead_layouts(SMALL, SHOP, HELD, **QUICK, executor=executor), found)


def test_last_digits_of_another_processor_do_not_turn_it(
    found: BeadLayouts, one: Executor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same search with figures off by some 1e-10, as seen with the instructions of a processor of 2008."""
    noise = random.Random(7)

    def off(value: float) -> float:
        return rounded(value * (1 + 2e-10 * (noise.random() - 0.5)))

    monkeypatch.setattr(layouts, "rounded", off)
    same(bead_layouts(SMALL, SHOP, HELD, **QUICK, executor=one), found)


def test_another_seed_searches_otherwise(found: BeadLayouts, one: Executor) -> None:
    other = bead_layouts(SMALL, SHOP, HELD, **QUICK, seed=2, executor=one)
    assert other.tried != found.tried


# What a cluster warns about is its own: our settings would turn it into errors.
@pytest.mark.filterwarnings("default")
def test_same_seed_same_answer_on_a_dask_cluster(found: BeadLayouts) -> None:
    """A worker process of dask with two threads, on this machine, asked through the executor of its client."""
    try:
        import distributed
    except ImportError:
        # It is in the lock: where the lock was installed its absence is a mistake.
        (pytest.fail if os.environ.get("CI") else pytest.skip)("dask.distributed is not installed")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=2, processes=True, dashboard_address=None, host="127.0.0.1"
        ) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor() as executor,
    ):
        same(bead_layouts(SMALL, SHOP, HELD, **QUICK, executor=executor), found)
