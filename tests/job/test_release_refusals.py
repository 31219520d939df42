"""What a release is refused for: names, dates, systems that will not write; in words, and nothing is left."""

from __future__ import annotations

import builtins
import errno
import os
import resource
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any
from unicodedata import normalize

import pytest
from pypdf import PdfReader

import tinbook as tb
from tinbook.__main__ import main
from tinbook.errors import BadValue, CannotWrite, TinbookError
from tinbook.finding import Findings
from tinbook.job.releasing import release as releasing
from tinbook.write.page import on_paper

SHOP = tb.Shop.demo()
ITEM = tb.job.Item(thing=tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 60)))
JOB = tb.Job(number="Q1", items=[ITEM])


@pytest.fixture
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    """One file instead of all: what is tried here comes before or after them."""

    def one(_: Any, folder: Path, **__: Any) -> Findings:
        (folder / "page.html").write_text("page")
        return Findings()

    monkeypatch.setattr(releasing, "write_contents", one)


@contextmanager
def small_files(most: int) -> Iterator[None]:
    """Let the system refuse every file beyond some bytes, as a disk that is full does."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def left(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*"))


@pytest.mark.skipif(os.name != "posix", reason="the limit is POSIX's")
def test_a_disk_that_is_full_leaves_no_pack_and_no_record(light: None, tmp_path: Path) -> None:
    with tb.job.Store(tmp_path / "s.db") as store:
        with small_files(2000), pytest.raises(CannotWrite, match=r"Q1_A\.zip: nothing was written.*too large.*room"):
            tb.release(JOB, "A", SHOP, tmp_path / "out", effort=0, store=store)
        assert not store.releases("Q1")
        assert left(tmp_path / "out") == []
        pack = tb.release(JOB, "A", SHOP, tmp_path / "out", effort=0, store=store)
        assert tb.verify(pack, store).ok


@pytest.mark.parametrize("number", [errno.EROFS, errno.EACCES, errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_a_folder_that_may_not_be_written_to_is_named(
    light: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    real, out = builtins.open, tmp_path / "out"

    def refused(path: Any, mode: str = "r", *more: Any, **named: Any) -> Any:
        if str(path).startswith(str(out)) and mode != "r":
            raise OSError(number, os.strerror(number), str(path))
        return real(path, mode, *more, **named)

    monkeypatch.setattr(builtins, "open", refused)
    with tb.job.Store(tmp_path / "s.db") as store:
        with pytest.raises(
            CannotWrite, match=rf"Q1_A\.zip: nothing was written.*{os.strerror(number)}.*valid: a folder"
        ):
            tb.release(JOB, "A", SHOP, out, effort=0, store=store)
        assert not store.releases("Q1")
    assert left(out) == []


@pytest.mark.parametrize("number", [errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS])
def test_a_share_without_hard_links_is_refused_before_anything_could_be_written_over(
    light: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    def unknown(*_: Any, **__: Any) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "link", unknown)
    with pytest.raises(CannotWrite, match="a disk that knows hard links"):
        tb.release(JOB, "A", SHOP, tmp_path, effort=0)
    assert left(tmp_path) == []


def test_what_stands_in_the_packs_place_stays(light: None, tmp_path: Path) -> None:
    """A folder, and a link to nowhere, of the pack's name; a file in place of the folder."""
    (tmp_path / "Q1_A.zip").mkdir()
    (tmp_path / "Q1_B.zip").symlink_to(tmp_path / "nowhere")
    (tmp_path / "file").write_text("mine")
    for rev in "AB":
        with pytest.raises(CannotWrite, match="never written over"):
            tb.release(JOB, rev, SHOP, tmp_path, effort=0)
    for folder in (tmp_path / "file", tmp_path / "file" / "below", tmp_path / ("d" * 300)):
        with pytest.raises(CannotWrite, match=r"cannot be made.*valid: a folder that exists"):
            tb.release(JOB, "A", SHOP, folder, effort=0)
    assert left(tmp_path) == ["Q1_A.zip", "Q1_B.zip", "file"]
    assert not (tmp_path / "nowhere").exists()


def test_a_refused_release_leaves_no_folder_and_a_released_one_has_it(light: None, tmp_path: Path) -> None:
    folder = tmp_path / "new" / "packs"
    large = tb.job.Item(thing=tb.Part("BIG", sheet="DC01 1.5", base=tb.Outline.rectangle(5000, 60)))
    with pytest.raises(BadValue, match="date"):
        tb.release(JOB, "A", SHOP, folder, effort=0, date="a\nb")
    with pytest.raises(TinbookError, match="BIG"):
        tb.release(tb.Job(number="BIG", items=[large]), "A", SHOP, folder, effort=0)
    assert left(tmp_path) == []
    tb.release(JOB, "A", SHOP, folder, effort=0)
    assert left(tmp_path) == ["new", "new/packs", "new/packs/Q1_A.zip"]


def test_a_release_with_prices_wants_the_rates_of_its_work_and_one_without_none(light: None, tmp_path: Path) -> None:
    bare = replace(SHOP, rates=replace(SHOP.rates, cut_per_m=(), cut_per_min=()))
    with pytest.raises(BadValue, match=r"rates.*cut_per_m"):
        tb.release(JOB, "A", bare, tmp_path, effort=0, prices={"one set": "12.00 EUR"})
    assert left(tmp_path) == []
    tb.release(JOB, "A", bare, tmp_path, effort=0)
    tb.release(JOB, "B", SHOP, tmp_path, effort=0, prices={"one set": "12.00 EUR"})


NAMES = ("A" * 300, "😀", "حامل", "a/b", "a\\b", "a\0b", "..", "A.", "a b", "a\nb", "a\u202eb", "<b>", "")


@pytest.mark.parametrize("name", [*NAMES, "CON", "aux.x", "nul", "Com1", "LPT9.b"])
def test_a_number_that_no_file_can_carry_is_refused_at_the_door(name: str, tmp_path: Path) -> None:
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 60))
    for wrong in (
        lambda: tb.Job(number=name, items=[ITEM]),
        lambda: tb.Part(name, sheet="DC01 1.5", base=tb.Outline.rectangle(120, 60)),
        lambda: tb.Assembly(name),
        lambda: plate.renamed(number=name),
    ):
        with pytest.raises(BadValue, match=r"number.*valid: 1 to 40 letters"):
            wrong()
    for rev in (name, "I"):
        with pytest.raises(BadValue, match="rev"):
            tb.release(JOB, rev, SHOP, tmp_path)
    assert left(tmp_path) == []


@pytest.mark.parametrize("title", ["Держатель бака", "Βάση δεξαμενής", "Uchwyt Žďár, Łódź, č. 7", "Konsole ≤ 3 ∅ Ω"])
def test_greek_cyrillic_and_all_latin_letters_are_printed_and_read_again(title: str, tmp_path: Path) -> None:
    file = tb.write_sheet(tb.make(ITEM.thing.renamed(title=title), SHOP), tmp_path)  # type: ignore[union-attr]
    assert title in " ".join(PdfReader(file).pages[0].extract_text().split())
    part = ITEM.thing.renamed(title=normalize("NFD", title))  # type: ignore[union-attr]
    assert tb.write_sheet(tb.make(part, SHOP), tmp_path, replace=True).is_file()  # letters and accents apart


def test_what_no_paper_can_print_is_said_and_nothing_is_released(static: Path, tmp_path: Path) -> None:
    assert on_paper("Dvořák, Gauß, 1 ½ × Ø") == "Dvořák, Gauß, 1 ½ × Ø"
    for title in ("Halter 🛠", "حامل", "托盘"):
        with pytest.raises(BadValue, match=r"text on paper.*papers' face has; it lacks"):
            tb.write_sheet(tb.make(ITEM.thing.renamed(title=title), SHOP), tmp_path)  # type: ignore[union-attr]
    item = tb.job.Item(thing=ITEM.thing.renamed(title="Halter 🛠"))  # type: ignore[union-attr]
    with pytest.raises(BadValue, match="text on paper"):
        tb.release(tb.Job(number="Q1", items=[item]), "A", SHOP, tmp_path, effort=0)
    assert left(tmp_path) == []


@pytest.mark.parametrize("date", ["2027-03-31" * 3, "a\nb", "\0", 3, None])
def test_a_date_that_does_not_fit_its_column_is_refused(date: Any, tmp_path: Path) -> None:
    with pytest.raises(BadValue, match="date"):
        tb.release(JOB, "A", SHOP, tmp_path, date=date)
    with pytest.raises(BadValue, match="date"):
        tb.write_sheet(tb.make(ITEM.thing, SHOP), tmp_path, date=date)  # type: ignore[arg-type]
    with pytest.raises(BadValue, match="revisions"):
        tb.write_sheet(
            tb.make(ITEM.thing, SHOP), tmp_path, revisions=[("A", date, "x")] if date else [("A" * 9, "", "")]
        )  # type: ignore[arg-type]
    assert left(tmp_path) == []


@pytest.mark.parametrize("path", ["x" * 5000, "a\0b", "/dev/null", ".", "/proc/self/mem"])
def test_verify_says_what_is_no_pack(path: str) -> None:
    try:
        assert not tb.verify(path).ok
    except tb.errors.BadFile as wrong:
        assert "pack:" in str(wrong)  # noqa: PT017 -- either answer names the field


def test_the_command_line_says_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, out = tb.job.write_job(JOB, tmp_path), tmp_path / "out"
    stopped = tb.job.write_job(tb.Job(number="STOP", items=[tb.job.Item(thing=ITEM.thing.renamed(rev="I"))]), tmp_path)  # type: ignore[union-attr]
    large = tb.Part("BIG", sheet="DC01 1.5", base=tb.Outline.rectangle(5000, 60))
    big = tb.job.write_job(tb.Job(number="BIG", items=[tb.job.Item(thing=large)]), tmp_path)
    gold = tmp_path / "gold.toml"
    gold.write_text(job.read_text().replace('part = "PL"\n', 'part = "PL"\nfinish = "gold"\n'))
    con = tmp_path / "con.toml"
    con.write_text(job.read_text().replace('"Q1"', '"CON"'))
    for words, said in (
        (["release", job, "A", "--sets", "1,2"], "--sets"), (["nest", job, "--sets", "1,2"], "--sets"),
        (["release", stopped, "A"], "revision 'I'"), (["nest", stopped], "revision 'I'"), (["price", stopped], "revision 'I'"),
        (["release", big, "A"], "largest stock sheet"), (["price", big], "largest stock sheet"), (["price", gold], "finish_per_m2 of 'gold'"),
        (["release", con, "A"], "no device"), (["nest", con], "no device"), (["price", con], "no device"),
        (["release", job, "A", "--date", "x" * 300], "date"), (["release", job, "A", "--effort", "nan"], "effort"),
        (["verify", "x" * 5000], "too long"), (["stock", "x" * 5000], "too long"), (["compare", job, job], "part"),
    ):  # fmt: skip
        assert main([*map(str, words), *(["--out", str(out)] if words[0] in ("release", "nest") else [])]) == 2
        assert said in capsys.readouterr().err
    assert not out.exists() or left(out) == []
