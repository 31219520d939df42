"""The weld and assembly page: marks, sequences, steps in the order of assembly, blanks to fill in, cautions."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import tinbook as tb
from printed import faults, pieces
from tinbook.errors import TinbookError
from tinbook.space import Frame
from tinbook.write.weldpage.pages import CAUTIONS
from tinbook.write.weldpage.welds import halved, mark, seams, stretches

SHOP = tb.Shop.demo()


@pytest.fixture(scope="module")
def made() -> Any:
    """A plate with a rib on edge, welded over 320 mm, half of it on each side, and a patch with five plug welds lying on it."""
    flat = tb.Outline.rectangle(200, 120)
    base = tb.Part("WP-1", sheet="S355 5.0", base=flat, title="plate")
    rib = tb.Part("WP-2", sheet="S355 5.0", base=tb.Outline.rectangle(200, 50), title="rib")
    patch = tb.Part("WP-3", rev="C", sheet="DC01 1.5", base=tb.Outline.rectangle(190, 50), title="patch")
    patch = patch.holes_along("front", count=5, dia=8, inset=10, use="plug weld")
    upright = Frame((0.0, 100.0, 5.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
    it = tb.Assembly("WP", rev="B", title="patch 1.5 on plate", cautions=("Only 1.5 mm: keep it cool.",))
    it = it.add("plate", base).add("rib", rib, upright).add("patch", patch, Frame().at(5.0, 20.0, 5.0))
    return tb.assemble(
        it.weld("plate", "rib", throat=3.5, length=160, sides="both").weld("plate", "patch", throat=1), SHOP
    )


@pytest.mark.parametrize("count", [1, 2, 3, 9, 20])
def test_patches_begin_in_the_middle_then_at_the_ends_then_halve_the_gaps(count: int) -> None:
    """The trade's rule: mid-side, corners, then between the farthest neighbours; 9 welds by hand: 5 1 9 3 7 2 4 6 8."""
    order = halved(count)
    assert sorted(order) == list(range(1, count + 1))
    assert set(order[:3]) == {(count + 1) // 2, 1, count}
    if count == 9:
        assert order == (5, 1, 9, 3, 7, 2, 4, 6, 8)


@given(st.floats(1, 5000))
def test_long_seams_go_from_the_middle_out_with_skips(length: float) -> None:
    order = stretches(length)
    n = len(order)
    assert sorted(order) == list(range(1, n + 1))
    assert n == 1 or 0.6 * 50 <= length / n <= 1.5 * 50
    assert order[0] == (n + 1) // 2
    if n >= 5:
        assert all(abs(a - b) > 1 for a, b in pairwise(order[:3])), "the heat is spread"


def test_welds_lie_where_the_members_touch(made: Any) -> None:
    """By hand: the rib stands on the plate along 200 mm at y from 95 to 105, the patch lies on it."""
    rib, patch = seams(made)
    assert rib.contact == pytest.approx(200, abs=0.1)
    x, y, z = rib.at
    assert (0 <= x <= 200, 94 <= y <= 106, z) == (True, True, pytest.approx(5, abs=0.01))
    assert patch.contact == pytest.approx(190, abs=0.1)
    assert patch.at[2] == pytest.approx(5, abs=0.01)


def test_the_page_says_all_that_the_welder_needs(made: Any, tmp_path: Path) -> None:
    for language in ("en", "de"):
        file = tb.write.write_assembly_page(made, tmp_path / f"{language}.pdf", language=language, quantity=2)
        every = pieces(file.read_bytes())
        assert faults(every) == []
        said = " ".join(p.text.strip() for p in every)
        say = tb.Language.of(language)
        for text in CAUTIONS:
            assert say(text)[:40] in said
        assert "Only 1.5 mm: keep it cool." in said
        assert "patch 1.5 on plate" in said
        mark = [p for p in every if p.text.strip() in ("a3.5", "a3,5")]
        assert [p.text.strip() for p in mark] == ["a3.5" if language == "en" else "a3,5"]
        assert any(
            p.text.strip() == "160" and p.page == mark[0].page and p.box.distance(mark[0].box) < 30 for p in every
        )
        assert say("not stated; they touch over {length:.1f}", length=190.0)[:20] in said
        assert "3 1 5 2 4" in said, "five plug welds: the middle, the ends, the gaps"
        order = tb.order_of_work(made)
        for n, each in enumerate(order.schedule, 1):
            assert f"{n}. {say(each.said)}"[:40] in said
        for name in ("Process", "Gas, l/min", "Wire", "Test piece"):
            assert say(name) in said


@pytest.mark.parametrize(
    "wrong",
    [
        {"quantity": "2"}, {"quantity": 0}, {"quantity": True}, {"language": "fr"}, {"language": None}, {"paper": "A5"},
        {"paper": None}, {"date": 3}, {"despite": 4}, {"replace": "no"},
    ],
)  # fmt: skip
def test_bad_input_is_named_and_nothing_is_written(made: Any, tmp_path: Path, wrong: dict[str, Any]) -> None:
    with pytest.raises(TinbookError):
        tb.write.write_assembly_page(made, tmp_path, **wrong)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("what", [None, 3, "WP", tb.Part("P", sheet="DC01 1.5", base=tb.Outline.rectangle(9, 9))])
def test_only_an_assembly_has_a_page(what: Any, tmp_path: Path) -> None:
    with pytest.raises(TinbookError):
        tb.write.write_assembly_page(what, tmp_path)


@pytest.mark.parametrize(("sides", "rings", "symbols"), [("one", 0, 1), ("both", 0, 2), ("all round", 1, 1)])
def test_a_mark_says_the_sides_by_its_field_and_the_length_of_each(
    made: Any, sides: Any, rings: int, symbols: int
) -> None:
    """ISO 2553: a symbol above and below the line for both sides, a ring at the arrow all round, one length."""
    rib, _ = seams(made)
    drawn = mark(replace(rib, weld=replace(rib.weld, sides=sides, note="all round, both sides")), tb.Language.of("en"))
    shapes = [type(s).__name__ for s in drawn.contents]
    assert (shapes.count("Circle"), shapes.count("Polygon") - 1) == (rings, symbols)
    assert [s.text for s in drawn.contents if type(s).__name__ == "String"] == ["a3.5", "160"]
