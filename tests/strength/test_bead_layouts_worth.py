"""A search for bead layouts is worth its time: what it finds beats evenly spread beads."""

from __future__ import annotations

from concurrent.futures import Executor

import pytest

import layoutcases as cases
from strategies import SHOP
from tinbook.strength.bead_search.search import bead_layouts


def beats_even_ones(name: str, runs: int, executor: Executor | None) -> float:
    """Return by how much the best layout beats every even one of the same rolls and length; finer meshes than searched.

    Even ones: equal beads, evenly spread, of any number and in both directions, that give the same length in all.
    """
    p = cases.PANELS[name]
    got = bead_layouts(
        p.part, SHOP, p.supports, feet=(), most=p.most, rolls=p.rolls, members=2, runs=runs, executor=executor
    )
    size = got.size / 1.5
    mine, error = cases.frequency(got.pick(got.best), p, size)
    # On the search's own mesh their order is right within its error: only the four best can be the best.
    rivals = sorted(cases.even_ones(got, got.best).values(), key=lambda part: cases.quick(part, p, got.size))[-4:]
    others = [cases.frequency(part, p, size) for part in rivals]
    assert others
    best, its_error = max(others)
    assert mine * (1 - error) > best * (1 + its_error), f"{name}: {mine} ({error}) against {best} ({its_error})"
    return mine / best - 1


def test_beats_even_spacing_on_a_panel_with_a_free_edge(one: Executor) -> None:
    """Reduced: one panel of five and 48 runs; the five with all runs are marked full."""
    assert beats_even_ones("one edge free", 48, one) > 0.03


@pytest.mark.full
@pytest.mark.parametrize("name", cases.PANELS)
def test_beats_even_spacing_on_five_panels(name: str) -> None:
    assert beats_even_ones(name, 128, None) > 0.03
