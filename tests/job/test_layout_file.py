"""Layouts of a job as a file: what was corrected by hand comes back, and what cannot be cut is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadFile

SHOP = tb.Shop.demo()
PLATE = tb.Part("A", sheet="DC01 1.5", base=tb.Outline.rectangle(300, 200), marking=False)
JOB = tb.Job(number="Q1", items=[tb.job.Item(thing=PLATE, quantity=2)])


@pytest.fixture(scope="module")
def by_hand() -> Any:
    return tb.job.move_in_job(tb.job.nest_job(JOB, SHOP, effort=0), 1, "A rev A", 2, x=1200.125, y=0.1 + 0.2 + 400)


def test_layouts_come_back_as_they_were(by_hand: Any, tmp_path: Path) -> None:
    file = tb.job.write_layouts(by_hand, tmp_path)
    again = tb.job.read_layouts(file, JOB, SHOP)
    assert again.groups == by_hand.groups
    assert tb.job.write_layouts(again, tmp_path) == file  # an earlier draft of the same job gives way
    assert again.plans()[0].pierces == by_hand.plans()[0].pierces


def one(found: dict[str, Any], n: int = 0) -> dict[str, Any]:
    blank: dict[str, Any] = found["groups"][0]["plates"][0]["blanks"][n]
    return blank


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda f: f.update(format=2), "format"),
        (lambda f: f.update(job="Q2"), "job"),
        (lambda f: f.update(sets=3), "sets"),
        (lambda f: f.update(groups=[]), "groups"),
        (lambda f: f["groups"][0].update(sheet="DC01 2.0"), "groups"),
        (lambda f: f["groups"][0].update(plates=7), "plates"),
        (lambda f: f["groups"][0]["plates"][0].update(plate="S9"), "plate"),
        (lambda f: one(f).update(blank="B"), "blank"),
        (lambda f: one(f).update(copy=3), "copy"),
        (lambda f: one(f).update(copy=one(f, 1)["copy"]), "each lies on one sheet, once"),
        (lambda f: f["groups"][0]["plates"][0]["blanks"].pop(), "each lies on one sheet, once"),
        (lambda f: one(f).update(x=one(f, 1)["x"] + 5, y=one(f, 1)["y"]), "overlap"),
        (lambda f: one(f).update(x=-5), "margin"),
        (lambda f: one(f).update(x=True), "x"),
        (lambda f: one(f).update(x=1e400), "x"),
        (lambda f: one(f).update(turned_over=True), "turned over"),
        (lambda f: one(f).update(locked="no"), "locked"),
        (lambda f: one(f).pop("angle"), "angle"),
    ],
)
def test_layouts_that_cannot_be_cut_are_refused(
    by_hand: Any, tmp_path: Path, spoil: Callable[[dict[str, Any]], object], said: str
) -> None:
    file = tb.job.write_layouts(by_hand, tmp_path)
    found = json.loads(file.read_text())
    spoil(found)
    file.write_text(json.dumps(found))
    with pytest.raises(BadFile, match=said):
        tb.job.read_layouts(file, JOB, SHOP)


@pytest.mark.parametrize("text", ["", "[]", "{", "null", "[" * 5000, '{"format": 1}'])
def test_what_is_no_layout_is_refused(text: str, tmp_path: Path) -> None:
    (file := tmp_path / "x.json").write_text(text)
    with pytest.raises(BadFile):
        tb.job.read_layouts(file, JOB, SHOP)
    with pytest.raises(BadFile):
        tb.job.read_layouts(tmp_path / "none.json", JOB, SHOP)
