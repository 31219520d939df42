"""The language of the papers: one table, numbers and dates with it, a language of one's own as a file."""

from __future__ import annotations

import ast
import locale
import re
from pathlib import Path

import pytest

import tinbook as tb
from tinbook.errors import BadFile, BadValue, TinbookError
from tinbook.language import ENGLISH, WORDS, mistake_in, places_in

GERMAN = tb.Language.of("de")


def test_numbers_and_dates_follow_the_language_and_never_the_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """DIN 5008: decimal comma; a date as day.month.year. English: decimal point, ISO 8601."""
    monkeypatch.setattr(locale, "localeconv", lambda: {"decimal_point": "~"})
    for name in ("LC_ALL", "LANG", "LC_NUMERIC"):
        monkeypatch.setenv(name, "fr_FR.UTF-8")
    assert (ENGLISH.number(1234.56), GERMAN.number(1234.56), GERMAN.number(-0.04)) == ("1234.6", "1234,6", "0,0")
    assert (GERMAN.number(0.12345, ".3f"), GERMAN.number(7, ".0f"), GERMAN.number(-1.25, ".2f")) == (
        "0,123",
        "7",
        "-1,25",
    )
    assert (ENGLISH.date("2027-03-31"), GERMAN.date("2027-03-31")) == ("2027-03-31", "31.03.2027")
    assert GERMAN.date("next week") == "next week"
    assert (ENGLISH.separator, GERMAN.separator) == (", ", "; ")


def test_a_text_is_looked_up_and_its_values_are_not() -> None:
    own = tb.Language(name="xx", decimal=",", words=(("{n} of {what}, {v:.2f} mm", "{v:.2f} mm; {what}: {n}"),))
    assert own("{n} of {what}, {v:.2f} mm", n=3, what="1.5 page", v=0.5) == "0,50 mm; 1.5 page: 3"
    assert own("a text that no table has") == "a text that no table has"
    assert ENGLISH("{n} of {what}, {v:.2f} mm", n=3, what="{n}", v=0.5) == "3 of {n}, 0.50 mm"


def test_the_table_holds_every_word_of_the_code_and_no_other(root: Path) -> None:
    """Every text that the code hands to a language is in the table, and every text of the table stands in the code."""
    said: dict[str, str] = {}
    sources = {file: file.read_text(encoding="utf-8") for file in sorted((root / "kit" / "tinbook").rglob("*.py"))}
    for file in (file for file, text in sources.items() if "tinbook.language import" in text):
        for node in ast.walk(ast.parse(sources[file])):
            if isinstance(node, ast.Call) and _is_say(node.func) and node.args:
                said |= {node.args[0].value: file.name} if isinstance(node.args[0], ast.Constant) else {}
    table = dict(GERMAN.words)
    bare = {text for text in said if not re.search("[A-Za-z]", re.sub(r"\{[^}]*\}| mm", "", text))}
    assert {text: file for text, file in said.items() if text not in table | dict.fromkeys(bare)} == {}
    sides = {f"at the {way}" for way in ("left", "right", "lower left", "lower right", "upper left", "upper right")}
    whole = re.sub(r'"\s*\n\s*"', "", "".join(sources.values()))
    assert [text for text in table if not any(q + text + q in whole for q in "'\"") and text not in sides] == []
    assert GERMAN.missing == ()


def _is_say(func: ast.expr) -> bool:
    name = func.id if isinstance(func, ast.Name) else func.attr if isinstance(func, ast.Attribute) else ""
    return name in ("say", "Said")


def test_a_file_of_ones_own_is_read_and_travels_with_the_job(tmp_path: Path) -> None:
    file = tmp_path / "fr.toml"
    file.write_text('name = "fr"\ndecimal = ","\n\n[any]\n"Date" = "Date du jour"\n', encoding="utf-8")
    french = tb.Language.load(file)
    assert (french("Date"), french("Checked")) == ("Date du jour", "Checked")
    assert "Checked" in french.missing
    assert "Date" not in french.missing
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 40))
    for language in (french, "de", GERMAN, ENGLISH):
        job = tb.Job(number="Q1", items=[tb.job.Item(thing=plate)], language=language, paper="A3")
        again = tb.job.read_job(tb.job.write_job(job, tmp_path / "job.toml", replace=True))
        assert again == job
        assert again.paper == "A3"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('name = "fr"\n[a]\n"Date" = ""\n', "printable"),
        ('name = "fr"\n[a]\n"{kind}, page {n} of {all}" = "page {n}"\n', "places all, kind, n"),
        ('name = "fr"\n[a]\n"{kind}, page {n} of {all}" = "page {n} {all"\n', "whole braces"),
        ('name = "fr"\n[a]\n"Dade" = "x"\n', "no text of the papers"),
        ('name = "fr"\n[a]\n"Date" = "x"\n[b]\n"Date" = "y"\n', "another way"),
        ('name = "fr"\n[a]\n"Date" = 3\n', "3 is not usable"),
        ('name = "fr"\npaper = "A4"\n', "is not known"),
        ('name = "F R"\n', "small letters"),
        ('name = "fr"\ndecimal = "x"\n', "decimal"),
        ('name = "fr"\ndates = "soon"\n', "dates"),
        ('name = "fr\n', "cannot be read"),
    ],
)
def test_a_bad_file_names_its_mistakes(text: str, said: str, tmp_path: Path) -> None:
    file = tmp_path / "fr.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile, match=said):
        tb.Language.load(file)


@pytest.mark.parametrize("bad", [None, "", "fr", "DE", 3, {}, {"name": "x", "words": 3}, {"paper": "A4"}, float("nan")])
def test_a_job_takes_a_language_only(bad: object) -> None:
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 40))
    if bad == {}:
        bad = {"words": {"Date": 4}}
    with pytest.raises(TinbookError, match="language"):
        tb.Job(number="Q1", items=[tb.job.Item(thing=plate)], language=bad)


def test_bad_words_are_named() -> None:
    for words in (3, "ab", (("a",),), (("Date", 3),), (("Date", " "),)):
        with pytest.raises(BadValue, match="language word"):
            tb.Language(name="xx", words=words)
    for name in (None, "", "no", "../de"):
        with pytest.raises(TinbookError, match="language"):
            tb.Language.of(name)
    for path in (None, 3, "", WORDS, WORDS / "zz.toml", "\0"):
        with pytest.raises(TinbookError):
            tb.Language.load(path)
    assert mistake_in("{a}", "{a:.2f}") == ""
    assert places_in("{a:.1f} {b}") == {"a", "b"}
