"""A file gives way to a later draft of its own design, and to nothing else; what stops a part stops its files."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import make_dataclass, replace
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from pypdf import PdfReader

import tinbook as tb
from tinbook.errors import BadValue, CannotMake, CannotWrite
from tinbook.making.made import Made
from tinbook.part.outline import Outline
from tinbook.route.fold_order import fold_sequence
from tinbook.write import drafts
from tinbook.write.drafts import mark_in, new_run, together
from tinbook.write.stamp import stamp_of, stamp_of_drawing
from zoo import made_zoo

SHOP = tb.Shop.demo()
WRITERS: dict[str, Callable[..., Path]] = {
    "dxf": tb.write_dxf,
    "R12": lambda made, path, **more: tb.write_dxf(made, path, "R12", **more),
    "step": tb.write_step,
    "glb": tb.write_glb,
    "svg": tb.write_svg,
    "sheet": tb.write_sheet,
    "template": tb.write_template,
}


def plate(width: float = 200, number: str = "HN-RP", **more: Any) -> Made:
    return tb.make(tb.Part(number, sheet="DC01 1.5", base=Outline.rectangle(width, 100), **more), SHOP)


def slit() -> Made:
    """An opening of 2 mm in 3 mm plate: the plasma table does not cut it."""
    part = tb.Part("HN-SL", sheet="DC01 3.0", base=Outline.rectangle(200, 100)).hole((100, 50), "2 mm", length=30)
    return tb.make(part, SHOP)


# --- one file, one design -----------------------------------------------------------------------


@pytest.mark.parametrize("kind", WRITERS)
def test_two_shapes_do_not_share_a_file(kind: str, tmp_path: Path) -> None:
    write = WRITERS[kind]
    file = write(plate(200), tmp_path)
    first = file.read_bytes()
    assert write(plate(200), tmp_path) == file, "the same again is no other"
    assert file.read_bytes() == first
    with pytest.raises(CannotWrite, match="this run has already written another HN-RP rev A"):
        write(plate(260), tmp_path)
    assert file.read_bytes() == first
    write(plate(260), tmp_path, replace=True)
    assert file.read_bytes() != first


@pytest.mark.parametrize("kind", WRITERS)
def test_a_later_draft_replaces_an_earlier_one(kind: str, tmp_path: Path) -> None:
    """A length, a fold and a hole more: still the plate that is being designed."""
    file = WRITERS[kind](plate(200), tmp_path)
    first = file.read_bytes()
    new_run()
    later = plate(260).part.fold("front", "up", leg=30).hole((50, 50), dia=20)
    assert WRITERS[kind](tb.make(later, SHOP), tmp_path) == file
    assert file.read_bytes() != first


@pytest.mark.parametrize(
    "other",
    [
        plate(title="Cover"),
        plate(rev="B"),
        tb.make(plate().part.mirrored(), SHOP),
        plate(number="HN-RQ"),
        tb.make(
            tb.Part("HN-RP", sheet="DC01 1.5", base=Outline.polygon([(0, 0), (9, 0), (0, 9)], ("a", "b", "c"))), SHOP
        ),
    ],
    ids=["title", "revision", "other hand", "number", "edges"],
)
def test_another_design_leaves_a_file_alone(other: Made, tmp_path: Path) -> None:
    file = tb.write_dxf(plate(), tmp_path / "plate.dxf")
    first = file.read_bytes()
    new_run()
    with pytest.raises(CannotWrite, match="of another design than HN-R"):
        tb.write_dxf(other, file)
    assert file.read_bytes() == first
    tb.write_dxf(other, file, replace=True)


@pytest.mark.parametrize("content", [b"", b"0\nSECTION\n", b"\x00" * 100])
def test_what_was_not_written_here_stays(content: bytes, tmp_path: Path) -> None:
    file = tmp_path / "HN-RP_A_DC01_1.5mm_x1.dxf"
    file.write_bytes(content)
    with pytest.raises(CannotWrite, match="carries no mark of this kit"):
        tb.write_dxf(plate(), tmp_path)
    assert file.read_bytes() == content
    assert list(tmp_path.iterdir()) == [file]
    tb.write_dxf(plate(), tmp_path, replace=True)


def test_part_files_and_stored_orders_are_guarded_too(tmp_path: Path) -> None:
    tray = plate().part.fold("front", "up", leg=30)
    file = tb.write_part(tray, tmp_path)
    assert tb.read_part(file) == tray
    with pytest.raises(CannotWrite, match="another HN-RP"):
        tb.write_part(plate(260).part, tmp_path)
    file.write_text("number = 'MINE'", "utf-8")
    with pytest.raises(CannotWrite, match="no mark"):
        tb.write_part(tray, tmp_path)


SCRIPT = """
import sys, tinbook as tb
width = float(sys.argv[1])
part = tb.Part("HN-RP", sheet="DC01 1.5", base=tb.Outline.rectangle(width, 100))
print(tb.write_svg(tb.make(part, tb.Shop.demo()), sys.argv[2]))
In = [""] * 3  # as a notebook keeps what was run: each further line is another run
if len(sys.argv) > 3:
    for cell in (80, 90):
        In.append(f"width = {cell}")
        part = tb.Part("HN-RP", sheet="DC01 1.5", base=tb.Outline.rectangle(cell, 100))
        tb.write_svg(tb.make(part, tb.Shop.demo()), sys.argv[2])
"""


def test_a_script_run_again_and_a_cell_run_again_replace_their_drafts(tmp_path: Path) -> None:
    for more in (["200"], ["260"], ["300", "cells"]):
        width, *cells = more
        done = subprocess.run([sys.executable, "-c", SCRIPT, width, tmp_path, *cells], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    assert 'width="92mm"' in next(tmp_path.iterdir()).read_text("utf-8")


def both(first: tuple[Made, Path], second: tuple[Made, Path]) -> None:
    with together():
        tb.write_dxf(*first)
        assert not first[1].exists(), "nothing before the end"
        (tb.write_svg if second[1].suffix == ".svg" else tb.write_dxf)(*second)


def test_files_of_one_block_appear_together_or_not_at_all(tmp_path: Path) -> None:
    a, mine = tmp_path / "a.dxf", tmp_path / "mine.svg"
    mine.write_text("somebody's work", "utf-8")
    with pytest.raises(CannotWrite, match="no mark"):
        both((plate(), a), (plate(), mine))
    with pytest.raises(CannotWrite, match="two different HN-RP rev A"):
        both((plate(200), a), (plate(260), a))
    assert list(tmp_path.iterdir()) == [mine]
    both((plate(), a), (plate(), tmp_path / "a.svg"))
    assert sorted(f.name for f in tmp_path.iterdir()) == ["a.dxf", "a.svg", "mine.svg"]
    with pytest.raises(CannotWrite, match="this run has already"):
        tb.write_dxf(plate(260), a)


def test_replace_is_yes_or_no(tmp_path: Path) -> None:
    with pytest.raises(BadValue, match="replace"):
        tb.write_svg(plate(), tmp_path, replace="yes")  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())


# --- what a file says of itself -----------------------------------------------------------------


@pytest.mark.parametrize("kind", WRITERS)
def test_every_file_carries_design_and_inputs(kind: str, tmp_path: Path) -> None:
    it = plate()
    stamp = stamp_of(it)
    file = WRITERS[kind](it, tmp_path)
    found = mark_in(file)
    assert found == (stamp.design, stamp.inputs)
    assert b"state=proved" in file.read_bytes()


def test_every_input_that_matters_changes_the_hash() -> None:
    it = plate()
    own = stamp_of(it)
    others = [
        stamp_of(plate(200.001)),
        stamp_of(tb.make(it.part.hole((9, 9), dia=4), SHOP)),
        stamp_of(it, quantity=2),
        stamp_of(tb.make(it.part, SHOP.with_measured("DC01 1.5", 1.46))),
        stamp_of(tb.make(it.part, SHOP.with_k("DC01 1.5", 0.4))),
    ]
    assert len({own.inputs, *(s.inputs for s in others)}) == 6
    assert {s.design for s in others} == {own.design}
    assert stamp_of(tb.make(it.part, replace(SHOP, name="Another name"))).inputs == own.inputs


def test_readers_take_the_marked_files(tmp_path: Path) -> None:
    """The property and the comment are read by an independent reader, and our own readers see the same metal."""
    it = tb.make(plate().part.fold("front", "up", leg=30), SHOP)
    doc = ezdxf.readfile(tb.write_dxf(it, tmp_path))
    assert doc.header.custom_vars.get("tinbook") == stamp_of(it).mark
    for version in ("R2010", "R12"):
        file = tb.write_dxf(it, tmp_path, version)
        assert not ezdxf.readfile(file).audit().has_issues
        assert tb.read_dxf(file).area == pytest.approx(it.flat.area, rel=1e-6)
    assert tb.unfold(tb.write_step(it, tmp_path), bend=0.44).thickness == pytest.approx(1.5)
    assert PdfReader(tb.write_sheet(it, tmp_path)).metadata["/Keywords"] == stamp_of(it).mark


# --- what stops a part --------------------------------------------------------------------------


@pytest.mark.parametrize("kind", WRITERS)
def test_what_stops_a_part_stops_its_files(kind: str, tmp_path: Path) -> None:
    it = slit()
    assert [f.code for f in tb.check(it).stops] == ["hole.narrow"]
    with pytest.raises(CannotMake, match=r"narrower than(.|\n)*despite='a reason' or despite=\['hole.narrow'\]"):
        WRITERS[kind](it, tmp_path)
    with pytest.raises(CannotMake, match="narrower"):
        WRITERS[kind](it, tmp_path, despite=("fold.force",))
    assert not list(tmp_path.iterdir())
    for reason in ("cut by a friend's laser", "hole.narrow", ["hole.narrow"]):
        file = WRITERS[kind](it, tmp_path, despite=reason)
        assert b"state=stopped despite: " in file.read_bytes()


def test_what_cannot_be_made_at_all_is_never_written(tmp_path: Path) -> None:
    it = tb.make(plate().part.fold("front", "up", leg=1), SHOP)
    with pytest.raises(CannotMake, match="nothing was written"):
        tb.write_dxf(it, tmp_path, despite="we will see")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("wrong", ["", " ", "x" * 161, "two\nlines", 5, True, ["not a code"], [5], ()])
def test_a_reason_is_a_reason(wrong: Any, tmp_path: Path) -> None:
    with pytest.raises((BadValue, CannotMake), match="despite"):
        tb.write_svg(slit(), tmp_path, despite=wrong)
    assert not list(tmp_path.iterdir())


def test_the_reason_stands_on_paper_and_cannot_break_a_file(tmp_path: Path) -> None:
    reason = "it's \"Ä\" (1) --> ')); \\ & <b>"
    sheet = PdfReader(tb.write_sheet(slit(), tmp_path, despite=reason)).pages[0].extract_text()
    assert 'Written all the same: it\'s "Ä" (1)' in sheet
    assert "STOPPED" in sheet
    tile = PdfReader(tb.write_template(slit(), tmp_path, despite=reason)).pages[0].extract_text()
    assert "STOPPED" in tile
    assert not ezdxf.readfile(tb.write_dxf(slit(), tmp_path, despite=reason)).audit().has_issues
    assert tb.unfold(tb.write_step(slit(), tmp_path, despite=reason), 0.44).area > 0
    svg = tb.write_svg(slit(), tmp_path, despite=reason).read_text("utf-8")
    assert re.search(r"<metadata>tinbook design=\w+ inputs=\w+ state=stopped despite: [\w .,:;/+]+</metadata>", svg)


def test_what_is_not_proved_is_written_and_says_so(tmp_path: Path) -> None:
    it = made_zoo("tray, open corners")
    ended = fold_sequence(replace(it), seconds=0.0)
    sheet = tb.write_sheet(it, tmp_path, order=ended)
    assert "NOT PROVED" in PdfReader(sheet).pages[0].extract_text()
    assert b"state=not-proved" in sheet.read_bytes()


def test_the_state_shows_in_the_drawing(tmp_path: Path) -> None:
    def layers(file: Path) -> set[str]:
        return {layer.dxf.name for layer in ezdxf.readfile(file).layers if layer.dxf.name.startswith("STATE")}

    assert layers(tb.write_dxf(plate(), tmp_path)) == set()
    cut = tb.write_dxf(slit(), tmp_path, despite="a test")
    assert layers(cut) == {"STATE_STOPPED"}
    assert not ezdxf.readfile(cut).query('*[layer=="STATE_STOPPED"]'), "nothing that a cutter could burn"
    read = ezdxf.readfile(tb.write_dxf(slit(), tmp_path, folds=True, despite="a test"))
    assert [
        t.dxf.text for t in read.query("TEXT") if "STOPPED by hole.narrow; written despite it: a test" in t.dxf.text
    ]


def test_a_stop_of_the_check_is_given_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three files, one search."""
    searched: list[Any] = []
    from tinbook.route import fold_order

    real = fold_order._sequence
    monkeypatch.setattr(fold_order, "_sequence", lambda made, *more: searched.append(made) or real(made, *more))
    it = tb.make(plate().part.fold("front", "up", leg=30), SHOP)
    tb.write_dxf(it, tmp_path)
    tb.write_step(it, tmp_path)
    tb.write_sheet(it, tmp_path)
    assert searched == [it]


def test_a_broken_rule_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tinbook.rules import registry as rules
    from tinbook.rules.rule import Rule

    def broken(_made: Made) -> Any:
        raise ZeroDivisionError("odd")

    monkeypatch.setattr(rules, "RULES", (Rule(broken), *rules.RULES))
    with pytest.raises(CannotMake, match="rule crashed"):
        tb.write_dxf(plate(), tmp_path)
    assert not list(tmp_path.iterdir())


def test_only_drafts_are_remembered(tmp_path: Path) -> None:
    """What failed is no draft."""
    before = dict(drafts._written)
    with pytest.raises(CannotMake):
        tb.write_dxf(slit(), tmp_path)
    assert drafts._written == before


def test_the_order_of_fields_changes_no_mark():
    one = make_dataclass("Tool", [("key", str), ("length", float)])("d", 600.0)
    other = make_dataclass("Tool", [("length", float), ("key", str)])(600.0, "d")
    longer, kind = replace(one, length=601.0), make_dataclass("Bar", [("key", str), ("length", float)])("d", 600.0)
    first, same, *others = (stamp_of_drawing("TL-1", [tool, ("a", 1.0)]).inputs for tool in (one, other, longer, kind))
    assert first == same
    assert len({first, *others}) == 3
