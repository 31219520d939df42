"""Errors of a user's function are told with the user's own line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tinbook.bench.tables import failure_note
from tinbook.bench.usercode import Failure, run_user_code


def divides(x: float) -> Any:
    """Fails in its own line."""
    y = 0 * x
    return x / y


def inner(x: float) -> Any:
    """Fails deeper."""
    return divides(x) + 1


def asks_the_kit(x: float) -> Any:
    """Fails inside the kit."""
    from tinbook.fields import Range

    return Range(x, -x)


def asks_a_library(x: float) -> Any:
    """Fails inside a library."""
    import tomlkit

    return tomlkit.parse("= =")


@pytest.mark.parametrize(
    ("function", "name", "source", "said"),
    [
        (divides, "divides", "return x / y", "division by zero"),
        (inner, "divides", "return x / y", "division by zero"),
        (asks_the_kit, "asks_the_kit", "return Range(x, -x)", "low smaller than high"),
        (asks_a_library, "asks_a_library", 'return tomlkit.parse("= =")', "mpty"),
    ],
)
def test_the_innermost_line_of_the_users_own_code_is_named(function: Any, name: str, source: str, said: str) -> None:
    got = run_user_code(function, {"x": 3.0})
    assert isinstance(got, Failure)
    assert (got.function, got.source) == (name, source)
    lines = Path(__file__).read_text(encoding="utf-8").splitlines()
    assert lines[got.line - 1].strip() == source
    assert said in got.what
    assert f"line {got.line}" in str(got)


@pytest.mark.parametrize(("value", "said"), [(None, "nothing"), (3, "a int"), ("x", "a str"), ([], "a list")])
def test_something_that_is_not_a_part_is_told(value: object, said: str) -> None:
    got = run_user_code(lambda: value, {})
    assert isinstance(got, Failure)
    assert said in got.what
    assert "tb.Part" in got.what


def test_a_wrong_parameter_is_told_too() -> None:
    assert "unexpected keyword argument" in str(run_user_code(divides, {"z": 1}))


def test_an_interrupt_goes_through() -> None:
    def stop() -> Any:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_user_code(stop, {})


def test_markup_in_an_error_is_shown_as_text() -> None:
    def bad() -> Any:
        raise ValueError("<img src=x onerror=alert(1)>")

    got = run_user_code(bad, {})
    assert isinstance(got, Failure)
    html = failure_note(got)
    assert "<img" not in html
    assert "&lt;img" in html
