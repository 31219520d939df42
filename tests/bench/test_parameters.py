"""A design function's annotations become parameters, or every reason why not is told at once."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Literal

import pytest

from tinbook.bench.parameters import BadFunction, checked, defaults, parameters
from tinbook.errors import BadValue, TinbookError, UnknownName
from tinbook.fields import Range


def design(
    length: Annotated[float, Range(600, 1200, 5, "mm")] = 900,
    beads: Annotated[int, Range(0, 9)] = 5,
    side: Literal["left", "right"] = "right",
    lip: bool = True,
    label: str = "HN",
) -> object:
    """A design."""
    return (length, beads, side, lip, label)


def test_every_kind_is_read_with_its_default() -> None:
    got = parameters(design)
    assert [(p.name, p.kind, p.default) for p in got] == [
        ("length", "length", 900.0),
        ("beads", "count", 5),
        ("side", "choice", "right"),
        ("lip", "switch", True),
        ("label", "text", "HN"),
    ]
    assert got[0].label == "length, mm"
    assert got[2].choices == ("left", "right")
    assert type(got[0].default) is float
    assert type(got[1].default) is int


def test_without_a_default_it_starts_in_the_middle_of_the_range_on_a_step() -> None:
    def f(a: Annotated[float, Range(0, 11, 5)], b: Annotated[int, Range(0, 9)], c: Literal["x", "y"], d: bool) -> None:
        """Nothing."""

    # (0 + 11) / 2 = 5.5, nearest step 5; (0 + 9) / 2 = 4.5, which Python rounds to the even step.
    assert defaults(parameters(f)) == {"a": 5.0, "b": 4, "c": "x", "d": False}


def test_a_function_without_parameters_has_no_controls() -> None:
    assert parameters(lambda: None) == ()


def test_all_reasons_come_at_once_and_name_the_parameter_and_what_to_write() -> None:
    def f(a, b: float, c: Annotated[float, "mm"], d: list[int], *more: int) -> None:  # type: ignore[no-untyped-def]
        """Nothing."""

    with pytest.raises(BadFunction) as caught:
        parameters(f)
    text = str(caught.value)
    assert [r.split(":")[0] for r in caught.value.reasons] == ["a", "b", "c", "d", "more"]
    assert "tb.Range(600, 1200" in text
    assert text.startswith("f: no workbench")
    assert isinstance(caught.value, TypeError)
    assert isinstance(caught.value, TinbookError)


@pytest.mark.parametrize("bad", ["Annotated[float, Range(9, 1)]", "Annotated[float, Range(0, 1, 0)]", "Missing"])
def test_a_range_upside_down_in_a_text_annotation_is_told_not_raised_through(bad: str) -> None:
    def f(a: float) -> None:
        """Nothing."""

    f.__annotations__["a"] = bad
    f.__globals__["Range"] = Range
    with pytest.raises(BadFunction, match="annotations cannot be read"):
        parameters(f)


def test_a_range_upside_down_is_refused_where_it_is_written() -> None:
    with pytest.raises(BadValue, match="low smaller than high"):
        Range(1200, 600, 5, "mm")


@pytest.mark.parametrize(
    ("default", "hint"),
    [(1300, Annotated[float, Range(600, 1200)]), (2.5, Annotated[int, Range(0, 9)]), ("up", Literal["left"])],
)
def test_a_default_outside_its_range_is_a_reason(default: object, hint: object) -> None:
    def f(a: object = default) -> None:
        """Nothing."""

    f.__annotations__["a"] = hint
    with pytest.raises(BadFunction, match="a: "):
        parameters(f)


def test_a_whole_number_needs_whole_ranges() -> None:
    def f(a: Annotated[int, Range(0, 1, 0.5)]) -> None:
        """Nothing."""

    with pytest.raises(BadFunction, match="whole numbers"):
        parameters(f)


@pytest.mark.parametrize("thing", [3, None, "design"])
def test_what_is_no_function_is_refused(thing: object) -> None:
    with pytest.raises(BadFunction, match="not a function"):
        parameters(thing)  # type: ignore[arg-type]


def test_partial_functions_and_callable_objects_work_under_a_name_without_an_address() -> None:
    got = parameters(partial(design, beads=3))
    assert [p.default for p in got][1] == 3

    class Maker:
        def __call__(self, length: Annotated[float, Range(0, 10)]) -> None:
            """Nothing."""

    assert [p.name for p in parameters(Maker())] == ["length"]
    with pytest.raises(BadFunction) as caught:
        parameters(partial(lambda a: a))
    assert str(caught.value).startswith("<lambda>: no workbench")
    assert "0x" not in str(caught.value)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("length", 599.9),
        ("length", float("nan")),
        ("length", "900"),
        ("length", True),
        ("beads", 2.5),
        ("beads", 10),
        ("side", "up"),
        ("lip", 1),
        ("label", 5),
    ],
)
def test_values_that_do_not_fit_are_refused_by_name(name: str, value: object) -> None:
    given = {p.name: p for p in parameters(design)}
    with pytest.raises(BadValue) as caught:
        given[name].checked(value)
    assert caught.value.field == name


def test_true_is_not_the_choice_one() -> None:
    def f(a: Literal[1, 2]) -> None:
        """Nothing."""

    (p,) = parameters(f)
    assert p.checked(2) == 2
    with pytest.raises(UnknownName):
        p.checked(True)


def test_checked_fills_in_defaults_and_reports_all_mistakes() -> None:
    given = parameters(design)
    assert checked(given, {"beads": 3})["length"] == 900.0
    with pytest.raises(BadFunction) as caught:
        checked(given, {"beads": 99, "depth": 1, "side": "up"})
    assert len(caught.value.reasons) == 3
