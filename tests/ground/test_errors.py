"""Messages quote the beginning of what is long, and never fail themselves."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadFile, BadValue, Mistake, TinbookError, UnknownName, brief, quoted

LONG = "x" * 5000


class Odd:
    def __repr__(self) -> str:
        raise RuntimeError("no name")


@pytest.mark.parametrize(
    "value",
    [LONG, LONG.encode(), [LONG] * 9, list(range(10**6)), {LONG: LONG}, 10**5000, -(10**5000), Odd(), {1.5: Odd()}],
    ids=["text", "bytes", "texts", "a million", "dict", "5000 digits", "negative", "no repr", "nested"],
)
def test_any_value_is_quoted_in_short(value: object) -> None:
    assert 0 < len(quoted(value)) < 260
    assert len(str(BadValue("leg", value, "a length"))) < 400


def test_what_is_short_stays_as_it_is() -> None:
    for text in ("", "fold 'tunnel'", "it's one of: a, b", "x" * 200, " ".join(["word"] * 900), "part's " * 300):
        assert brief(text) == text
    assert quoted("1,5 mm") == "'1,5 mm'"


def test_a_long_list_of_names_shows_the_nearest() -> None:
    known = [f"hole {n}" for n in range(3000)]
    said = str(UnknownName("hole", "hole 1234x", known))
    assert "hole 1234," in said
    assert ", and 2990 more" in said
    assert len(said) < 400
    assert "one of: a, b" in str(UnknownName("edge", "c", ["a", "b"]))


def test_what_may_have_been_meant_comes_first() -> None:
    sheets = [f"{grade} {t}" for grade in ("S235", "S355", "DC01") for t in ("1.0", "1.5", "2.0", "3.0")]
    said = str(UnknownName("sheet", "DCO1 1.5", sheets))
    assert "one of: DC01 1.5, " in said
    assert all(name in said for name in sheets)


def test_a_file_of_many_mistakes() -> None:
    said = str(BadFile(LONG, [Mistake(LONG, f"{LONG!r} is not usable")] * 10_000))
    assert said.count("\n") == 41
    assert said.endswith("and 9960 more")
    assert len(said) < 30_000


@pytest.mark.parametrize("token", [LONG, "'" + LONG, "= " * 2500, "[" * 5000, "9" * 5000, "ä" * 5000, "\\" * 5000])
def test_readers_quote_no_more(token: str, tmp_path: Path) -> None:
    """Whatever a stranger's file says, the message is one that can be read."""
    readers: tuple[tuple[str, str, Callable[[Path], Any]], ...] = (
        ("toml", "number = {}", tb.read_part),
        ("toml", "number = '{}'\nsheet = '{}'\noutline = '{}'", tb.read_part),
        ("toml", "base = '{}'\n[sheets.'{}']\nthickness = '{}'", tb.Shop.load),
        ("csv", "edge,x,y\n{},1,{}\n", lambda f: tb.read_outline(f, tol=1)),
        ("dxf", "  0\nSECTION\n  2\n{}\n  0\nENDSEC\n", tb.read_dxf),
        ("step", "ISO-10303-21;\n{};DATA;#1={};ENDSEC;", tb.unfold),
    )
    for suffix, text, read in readers:
        file = tmp_path / f"a.{suffix}"
        file.write_text(text.replace("{}", token), encoding="utf-8")
        began = time.process_time()
        with pytest.raises(TinbookError) as wrong:
            read(file)
        said = str(wrong.value)
        assert len(said) < 6000, said
        assert max(map(len, re.split(r"\s", said))) < 300, said
        assert time.process_time() - began < 5
