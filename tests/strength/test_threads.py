"""One thread for linear algebra inside an analysis, the user's own number before and after; the same bytes for any number."""

from __future__ import annotations

import threading

import pytest
from threadpoolctl import ThreadpoolController, threadpool_limits

from strategies import SHOP
from tinbook.families.plain import bead_rolled_panel
from tinbook.making.resolve import make
from tinbook.strength.request import strength_of
from tinbook.strength.shell.threads import one_thread


def blas() -> set[int]:
    return {lib["num_threads"] for lib in ThreadpoolController().info() if lib["user_api"] == "blas"}


@pytest.fixture
def two():
    with threadpool_limits(2, "blas"):
        if blas() != {2}:
            pytest.skip("linear algebra here has one thread whatever is asked")
        yield


def test_inside_there_is_one_and_afterwards_what_was_before(two):
    with one_thread():
        assert blas() == {1}
        with one_thread():
            assert blas() == {1}
        assert blas() == {1}
    assert blas() == {2}
    with pytest.raises(ZeroDivisionError), one_thread():
        _ = 1 / 0
    assert blas() == {2}


def test_analyses_that_overlap_in_threads_share_one(two):
    """Another one ends within the first: its end gives nothing back before the first has ended."""
    seen = []

    def other() -> None:
        with one_thread():
            seen.append(blas())

    with one_thread():
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
        assert seen == [{1}]
        assert blas() == {1}
    assert blas() == {2}


def test_who_lowered_it_gives_it_back_whoever_ends_last(two):
    """OpenBLAS heeds only the thread that lowered its number: were it left to the other, one thread would remain for good."""
    within, ended = threading.Event(), threading.Event()

    def other() -> None:
        with one_thread():
            within.set()
            assert ended.wait(60)

    thread = threading.Thread(target=other)
    with one_thread():
        thread.start()
        assert within.wait(60)
    ended.set()
    thread.join()
    assert blas() == {2}


def test_two_threads_and_one_give_the_same_bytes(two):
    panel = make(bead_rolled_panel(beads=0), SHOP)
    two_threads = strength_of(panel, "pinned", size=50.0)
    with threadpool_limits(1, "blas"):
        one = strength_of(panel, "pinned", size=50.0)
    assert two_threads.under.displacement.tobytes() == one.under.displacement.tobytes()
    assert two_threads.modes.frequencies == one.modes.frequencies
