"""Rates that measured minutes propose, worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

import tinbook as tb
from tinbook.errors import BadValue


def test_five_jobs_propose_a_rate_which_counts_once_it_is_accepted(tmp_path: Path) -> None:
    """Ten folds a job in 20, 22, 18, 25, 15 min: 100 / 50 = 2.00 min each, at 58 an hour 2 x 58 / 60 = 1.93."""
    shop = tb.Shop.demo()
    with tb.job.Store(tmp_path / "stock.db") as store:
        for n, minutes in enumerate((99, 20, 22, 18, 25), 1):
            store.note_minutes(f"Q{n}", "fold", 10, minutes)
            store.note_minutes(f"Q{n}", "engraving", 10, minutes)
        store.note_minutes("Q1", "fold", 10, 15)
        assert [str(p.new) for p in tb.job.proposed_rates(store, shop)] == ["1.93"]
        (found,) = tb.job.proposed_rates(store, shop)
        assert (found.name, str(found.now), found.unit) == ("fold", "1.8", "EUR")
        assert dict(store.snapshot().rates) == {}, "nothing counts before it is accepted"
        store.correct_rate(found.name, found.new)
        assert not tb.job.proposed_rates(store, shop)
        for n in range(6, 11):  # only the last five count
            store.note_minutes(f"Q{n}", "fold", 4, 12)
        assert [str(p.new) for p in tb.job.proposed_rates(store, shop)] == ["2.90"]
        by_hour = replace(shop, rates=replace(shop.rates, fold=None, minutes={"fold": 2.5}))
        store.correct_rate("fold", None)
        (found,) = tb.job.proposed_rates(store, by_hour)
        assert (found.name, found.now, found.new, found.unit) == (
            "minutes.fold",
            Decimal("2.5"),
            Decimal("3.00"),
            "min",
        )
        with pytest.raises(BadValue, match="rates hour"):
            tb.job.proposed_rates(store, replace(shop, rates=replace(shop.rates, hour=None)))
        for wrong in (None, "store"):
            with pytest.raises(BadValue, match="store"):
                tb.job.proposed_rates(wrong, shop)


def test_four_jobs_propose_nothing(tmp_path: Path) -> None:
    with tb.job.Store(tmp_path / "stock.db") as store:
        for n in range(4):
            store.note_minutes(f"Q{n}", "fold", 10, 50)
        assert not tb.job.proposed_rates(store, tb.Shop.demo())
