"""The benchmark frame: medians of pairs, verdicts, one table; with a clock that the test turns."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def frame(root: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.syspath_prepend(str(root / "tests" / "benchmarks"))
    module = importlib.import_module("frame")
    monkeypatch.setattr(module.gc, "collect", lambda: 0)  # a clock that is turned by hand needs no clean memory
    return module


class Clock:
    """Time that passes only when a job says so."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now

    def job(self, *seconds: float) -> Callable[[], None]:
        left = list(seconds)

        def work() -> None:
            self.now += left.pop(0)

        return work


def result(frame: Any, **wanted: float) -> Any:
    clock = Clock()
    # The first of each only warms up; medians of 2, 4, 3 and of 30, 20, 90; ratios 15, 5, 30.
    case = frame.Case(
        name="ours", against="theirs", ours=clock.job(99, 2, 4, 3), base=clock.job(99, 30, 20, 90), rounds=3, **wanted
    )
    return frame.measure(case, clock)


def test_medians_of_pairs(frame: Any) -> None:
    got = result(frame)
    assert (got.ours, got.base, got.ratio) == (3, 30, 15)
    assert got.missed == ""


@pytest.mark.parametrize(
    ("wanted", "missed"),
    [
        ({"faster": 15}, ""),
        ({"faster": 16}, "at least 16 x faster"),
        ({"slower": 0.1}, ""),
        ({"slower": 0.05}, "at most 0.05 x the time"),
        ({"seconds": 3}, ""),
        ({"seconds": 2.9}, "at most 2.9 s"),
        ({"faster": 2, "seconds": 1}, "at most 1 s"),
    ],
)
def test_verdict(frame: Any, wanted: dict[str, float], missed: str) -> None:
    got = result(frame, **wanted)
    assert got.missed == missed
    assert frame.row(got)[-1] == ("MISSED" if missed else "good")


def test_table(frame: Any) -> None:
    head, rule, line = frame.table([frame.row(result(frame, faster=10))]).splitlines()
    assert head.split() == ["what", "against", "ours", "baseline", "baseline/ours", "wanted"]
    assert set(rule) == {"-"}
    assert line.split("  ")
    assert [cell.strip() for cell in line.split("  ") if cell.strip()] == [
        "ours",
        "theirs",
        "3.00 s",
        "30.00 s",
        "15 x",
        ">= 10 x",
        "good",
    ]
