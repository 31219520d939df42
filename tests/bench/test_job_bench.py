"""The workbench of a job: quantities, one item's sliders, sheets corrected by hand, the price; without a browser."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
import shapely

import tinbook as tb
from tinbook.bench.job_bench import JobBench
from tinbook.bench.layouts import laid, page_sheets
from tinbook.errors import BadValue, CannotMake, TinbookError
from tinbook.job.nesting.layout import Nest

Item = tb.job.Item


def plate(number: str, length: float, width: float) -> tb.Part:
    return tb.Part(number, sheet="DC01 1.5", base=tb.Outline.rectangle(length, width))


@pytest.fixture(scope="module")
def nest() -> tb.job.JobNest:
    """Three kinds of blank of one metal: two strips, a plate, and a gusset with sliders."""
    shop = tb.shop.cut_on(tb.Shop.demo(), "laser")
    items = [
        Item(thing=plate("PL", 300, 200)),
        Item(thing=plate("ST", 400, 60), quantity=2),
        Item(thing=tb.families.gusset(sheet="DC01 1.5")),
    ]
    return tb.job.nest_job(tb.Job(number="Q41", items=tuple(items)), shop, effort=0.0)


@pytest.fixture
def bench(nest: tb.job.JobNest) -> Iterator[JobBench]:
    made = JobBench(nest, effort=0.0, height=400)
    yield made
    made.close()


def boxes(found: tb.job.JobNest) -> dict[tuple[str, int], list[float]]:
    return {
        (b["blank"], b["copy"]): [b["left"], b["bottom"], b["left"] + b["wide"], b["bottom"] + b["high"]]
        for b in page_sheets(found)[0]["blanks"]
    }


def sound(found: Nest) -> bool:
    """Whether blanks keep their gap, by another library's distances of their corners' polygons."""
    shapes = [p.place(next(b for b in found.blanks if b.name == p.blank).shape) for p in found.layouts[0].placements]
    return all(a.distance(b) >= found.gap - 1e-6 for i, a in enumerate(shapes) for b in shapes[:i])


def test_the_page_gets_every_blank_where_it_lies(nest: tb.job.JobNest) -> None:
    """Its contour, moved by the matrix that the page is given, is the placement's shape with y pointing down."""
    (sheet,) = page_sheets(nest)
    group = nest.groups[0].nest
    assert sheet["size"] == "2000 x 1000 mm"
    assert len(sheet["blanks"]) == 4
    for shown, p in zip(sheet["blanks"], group.layouts[0].placements, strict=True):
        shape = next(b for b in group.blanks if b.name == p.blank).shape
        a, b, c, d, x, y = shown["matrix"]
        down = shapely.transform(shape, lambda at: at * (1, -1))
        drawn = shapely.affinity.affine_transform(down, (a, c, b, d, x, y))
        assert drawn.symmetric_difference(shapely.transform(p.place(shape), lambda at: at * (1, -1))).area < 1e-6


def test_a_blank_is_laid_turned_and_locked_and_the_rest_nests_around_it(bench: JobBench) -> None:
    lay = {"do": "lay", "sheet": 1, "blank": "PL rev A", "copy": 1}
    bench.gesture({**lay, "how": {"left": "120 cm", "bottom": 500, "angle": 0}})
    assert boxes(bench.nest)["PL rev A", 1] == [1200, 500, 1500, 700]
    bench.gesture({**lay, "how": {"turn": 90}})  # about its middle
    assert boxes(bench.nest)["PL rev A", 1] == [1250, 450, 1450, 750]
    bench.gesture({**lay, "how": {"right": 10, "up": -50}})
    assert bench.sheets.said[0] == "PL rev A no. 1 is locked there"
    bench.gesture({"do": "around", "sheet": 1})
    assert boxes(bench.nest)["PL rev A", 1] == [1260, 400, 1460, 700]
    assert len(boxes(bench.nest)) == 4
    assert sound(bench.nest.groups[0].nest)
    for _ in range(2):
        bench.gesture({"do": "undo"})
    assert boxes(bench.nest)["PL rev A", 1] == [1250, 450, 1450, 750]
    bench.gesture({**lay, "how": {"locked": False}})
    assert bench.sheets.said[0].endswith("free again: nesting may move it")


def test_what_overlaps_is_refused_in_words_and_nothing_changes(bench: JobBench) -> None:
    before = bench.nest
    at = boxes(before)["ST rev A", 1]
    bench.gesture({"do": "lay", "sheet": 1, "blank": "PL rev A", "copy": 1, "how": {"left": at[0], "bottom": at[1]}})
    text, severity, _ = bench.sheets.said
    assert severity == "stop"
    assert "ST rev A" in text
    assert "overlap" in text
    assert bench.nest is before


@pytest.mark.parametrize(
    "how",
    [
        None, 3, {}, {"left": math.nan}, {"left": "wide"}, {"left": -50}, {"bottom": 1e9}, {"angle": "x"}, {"turn": 720},
        {"to": 2}, {"to": "1"}, {"sideways": 1}, {"right": True}, {"up": []}, {"left": 1990},
    ],
)  # fmt: skip
def test_gestures_that_mean_nothing_change_nothing(bench: JobBench, how: Any) -> None:
    before = boxes(bench.nest)
    bench.gesture({"do": "lay", "sheet": 1, "blank": "PL rev A", "copy": 1, "how": how})
    assert boxes(bench.nest) == before
    for other in ({}, {"do": 3}, {"do": "lay"}, {"do": "lay", "sheet": 9, "how": {}}, {"do": "around", "sheet": None}):
        bench.gesture(other)
    assert bench.sheets.said[:2] == ["not nested: sheet: nothing was given; valid: a sheet of the job, 1 to 1", "stop"]
    assert boxes(bench.nest) == before
    with pytest.raises(TinbookError):
        laid(bench.nest, 1, "NO", 1, {"left": 5})


def test_quantity_and_slider_change_the_price(bench: JobBench) -> None:
    """The price is that of the changed job nested from the start by the job's own functions."""
    was, made = bench.price, bench.nest.parts[1].made
    bench.set(PL=12)
    assert bench.price.net == tb.job.price_nest(tb.job.nest_job(bench.job, bench.nest.shop, effort=0.0)).net > was.net
    assert [p.quantity for p in bench.job.parts] == [12, 2, 1]
    assert bench.nest.parts[1].made is made, "what did not change is not made again"
    assert f"(+{bench.price.net - was.net} EUR)" in bench._price.value
    bench.choose("GUSSET")
    foot, size = bench.controls.by_name["foot"], bench.nest.parts[2].flat.size
    foot.value = foot.value + 20
    assert bench.nest.parts[2].flat.size[0] + bench.nest.parts[2].flat.size[1] == pytest.approx(sum(size) + 20)


def test_values_that_give_no_part_leave_the_sheets_and_say_so(bench: JobBench) -> None:
    """An older nest under the newest values would be cut as theirs."""
    bench.choose("GUSSET")
    lip = bench.controls.by_name["lip"]
    lip.value = 60
    with pytest.raises(CannotMake, match="give no sheets"):
        _ = bench.nest
    bench.gesture({"do": "undo"})
    assert "give no sheets" in bench.sheets.said[0]
    lip.value = lip.parameter.default
    assert bench.nest.parts[2].part.number == "GUSSET"


def test_sheets_laid_by_hand_stay_while_their_blanks_do(bench: JobBench) -> None:
    bench.gesture({"do": "lay", "sheet": 1, "blank": "PL rev A", "copy": 1, "how": {"left": 1200, "bottom": 500}})
    bench.set(sets=2)
    assert "no longer locked, as the blanks of their metal changed: PL rev A no. 1" in bench.sheets.said[0]


def test_anything_else_is_refused(nest: tb.job.JobNest) -> None:
    with pytest.raises(BadValue, match="left out"):
        tb.workbench(nest, tb.Shop.demo())  # type: ignore[call-overload]
    with pytest.raises(BadValue, match="left out"):
        tb.workbench(nest, start={"a": 1})  # type: ignore[call-overload]
    with pytest.raises(BadValue, match="nest_job gives"):
        tb.workbench(nest.job, nest.shop)  # type: ignore[call-overload]
    with pytest.raises(BadValue, match="100 to 4000"):
        tb.workbench(nest, height=-5)


def test_wrong_quantities_change_nothing(bench: JobBench) -> None:
    wrongs: list[Any] = [None, "x", math.nan, -1, 0, 1.5, True, [], 1e12]
    for wrong in wrongs:
        with pytest.raises(TinbookError, match="PL"):
            bench.set(sets=2, PL=wrong)
    with pytest.raises(TinbookError, match="one of: sets, PL"):
        bench.set(NO=1)
    with pytest.raises(TinbookError, match="one of: no item, GUSSET"):
        bench.choose("PL")
    assert bench.nest.sets == 1


def test_a_cell_that_is_run_again_closes_what_it_left(nest: tb.job.JobNest) -> None:
    first = tb.workbench(nest)
    first.box._view_count = 1  # the page shows it
    second = tb.workbench(nest)
    assert first.box.comm is not None
    first.box._view_count = 0
    assert first.box.comm is None
    assert first.sheets.comm is None
    assert second.box.comm is not None
    second.close()


def test_without_a_rate_the_price_says_which_to_state(nest: tb.job.JobNest) -> None:
    job = replace(nest.job, items=(replace(nest.job.items[0], finish="gold"), *nest.job.items[1:]))
    bench = JobBench(tb.job.nest_job(job, nest.shop, effort=0.0), effort=0.0, height=400)
    assert (
        "no price: state these rates in the shop file, under [rates]: finish_per_m2 of &#x27;gold&#x27;"
        in bench._price.value
    )
    bench.close()


@pytest.mark.parametrize(
    ("number", "said"),
    [
        ("PL", "one part only"),
        ("CON", "no device"),
        ("😀", "letters"),
        ("A" * 300, "letters"),
        ("a/b", "letters"),
        ("", "a line of text"),
    ],
)
def test_a_number_that_cannot_be_leaves_the_sheets_and_says_so(bench: JobBench, number: str, said: str) -> None:
    bench.choose("GUSSET")
    control, shown = bench.controls.by_name["number"], page_sheets(bench.nest)
    try:
        control.value = control.parameter.checked(number)
    except BadValue as wrong:
        assert said in str(wrong)  # noqa: PT017 -- at the field, or where the part is made
        return
    with pytest.raises(CannotMake, match="give no sheets"):
        _ = bench.nest
    assert said in bench._state.value
    assert page_sheets(bench._answer.nest) == shown
