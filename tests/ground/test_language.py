"""The language of the papers: one table, numbers and dates with it, a language of one's own as a file."""

from __future__ import annotations

import ast
import locale
import re
import tomllib
from collections.abc import Iterator
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
    literals = {text for pair in re.findall(r"\"((?:[^\"\\\n]|\\.)*)\"|'((?:[^'\\\n]|\\.)*)'", whole) for text in pair}
    findings = tomllib.loads((WORDS / "de.toml").read_text("utf-8"))["findings"]
    lost = (text for text in table if text not in literals | sides | findings.keys())
    assert [text for text in lost if not any(q + text + q in whole for q in "'\"")] == []
    assert GERMAN.missing == ()


def _is_say(func: ast.expr) -> bool:
    name = func.id if isinstance(func, ast.Name) else func.attr if isinstance(func, ast.Attribute) else ""
    return name in ("say", "Said")


# Parts of sentences, whose wholes are in the table, and findings that are good, which no paper prints.
PIECES = re.compile(
    r"(no tool of the shop|louvres . × .|stretch at the ends.*|. may split: .|the deduction typed .*|fits on a sheet.*|a flat pan follows.*|the inside radius is large.*"
    r"|nothing meets at.*|. pairs of holes.*|. . holes of panel.*|check|.* (bent|reach|stepsx|no|reach all of|thickx|hemx) ?.?"
    r"|. may splitx|.*degreesx|(the base has no x|. is not straight|. carries .*))"
)


def test_every_text_of_a_finding_is_said_in_german(root: Path) -> None:
    """Texts in the calls that make findings, straight or by a local name, with x or 5 for each value."""
    english: dict[str, str] = {}
    for room in ("making", "rules", "route", "part/forms"):
        for file in sorted((root / "kit" / "tinbook" / room).rglob("*.py")):
            for f in ast.walk(ast.parse(file.read_text("utf-8"))):
                for said in found_texts(f) if isinstance(f, ast.FunctionDef) else ():
                    if all(GERMAN.retold(text) == text for text in said) and not PIECES.fullmatch(said[0]):
                        english[said[0]] = file.name
    assert english == {}


def found_texts(f: ast.FunctionDef) -> Iterator[tuple[str, ...]]:
    """Yield each text of findings that a function makes, in the ways in which its values may be filled."""
    local: dict[str, list[ast.expr]] = {}
    for a in (a for a in ast.walk(f) if isinstance(a, ast.Assign)):
        for target in a.targets:
            pairs = [(target, a.value)]
            if isinstance(target, ast.Tuple) and isinstance(a.value, ast.Tuple):
                pairs = list(zip(target.elts, a.value.elts, strict=True))
            for name, value in pairs:
                if isinstance(name, ast.Name):
                    local.setdefault(name.id, []).append(value)
    for call in (c for c in ast.walk(f) if isinstance(c, ast.Call)):
        name = call.func.id if isinstance(call.func, ast.Name) else "said" if isinstance(call.func, ast.IfExp) else ""
        for text in call.args[1:4] if name in ("stop", "caution", "said", "_caution", "Refused", "Obstruction") else ():
            for one in local.get(text.id, []) if isinstance(text, ast.Name) else [text]:
                yield from (
                    t
                    for t in zip(*(filled(one, v) for v in ("x", "5", "")), strict=True)
                    if re.search("[a-z]{3}", t[0])
                )


def filled(text: ast.expr, value: str) -> list[str]:
    """Return the texts that an expression gives; "" fills numbers and names by their forms."""
    if isinstance(text, ast.Constant):
        return [text.value] if isinstance(text.value, str) else []
    if isinstance(text, ast.IfExp):
        return filled(text.body, value) + filled(text.orelse, value)
    if isinstance(text, ast.BinOp):
        return [a + b for a in filled(text.left, value) for b in filled(text.right, value)]
    found = [""]
    for piece in text.values if isinstance(text, ast.JoinedStr) else ():
        new = (
            filled(piece.value, value)
            if isinstance(piece, ast.FormattedValue) and isinstance(piece.value, ast.IfExp)
            else []
        )
        if isinstance(piece, ast.FormattedValue) and not new:
            put = value or ("5" if piece.format_spec else "x")
            new = [repr(put) if piece.conversion == ord("r") and put == "x" else put]
        found = [a + b for a in found for b in (new or filled(piece, value))]
    return found if isinstance(text, ast.JoinedStr) else []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("folds 'front', 'far'", "Kantungen 'front', 'far'"),
        ("fold 'a', hole 'b'", "Kantung 'a', Loch 'b'"),
        ("beam and frame", "beam und frame"),
        ("far is held and near, the larger side, swings: with near held far hits the die",
         "far ist geklemmt und near, die größere Seite, schwenkt: mit near geklemmt stößt far an Matrize"),
        ("a strut would be 212.5 mm long", "eine Gasdruckfeder wäre 212,5 mm lang"),
        ("far", "far"),
        ("ISO 4014/4017, class 8.8, zinc", "ISO 4014/4017, Klasse 8.8, verzinkt"),
        ("my own words", "my own words"),
        ("3.5", "3,5"),
        ("R2.5x4", "R2.5x4"),
        ("", ""),
    ],
)  # fmt: skip
def test_a_finding_is_retold_and_names_in_it_stay(text: str, said: str) -> None:
    assert GERMAN.retold(text) == said
    assert ENGLISH.retold(text) == text


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


@pytest.mark.parametrize(
    "bad",
    [
        None,
        "",
        "fr",
        "DE",
        3,
        {},
        {"decimal": ","},
        {"words": {"Date": 4}},
        {"name": "x", "words": 3},
        {"paper": "A4"},
        float("nan"),
    ],
)
def test_a_job_takes_a_language_only(bad: object) -> None:
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 40))
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
