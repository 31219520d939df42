"""What the workbench's buttons do: files, undo, code, values."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Annotated, Any

import cadquery
import ezdxf
import ezdxf.bbox
import pytest
from bench_hands import Bench, button, files, html, slider
from bench_samples import clamped, tray

import tinbook as tb
from tinbook.errors import CannotMake
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part


def test_the_button_and_the_notebooks_function_write_the_same_bytes(bench: Bench, tmp_path: Path) -> None:
    b = bench(tray)
    slider(b, "length").value = 805
    button(b, "Write all files").click()
    stem = "HN-BT_A_DC01_1.6mm_x1"
    endings = (".dxf", ".pdf", ".step", "_folds.dxf", "_folds.html", "_template_A4.pdf")
    assert files() == [f"out/{stem}{ending}" for ending in endings]
    for file in files():
        assert file in html(b)
    again = tb.write_files(b.made, tmp_path / "notebook")
    for file in again:
        assert file.read_bytes() == (Path("out") / file.name).read_bytes()


def test_what_is_written_is_the_part_of_the_controls_marks_included(bench: Bench) -> None:
    """Read back by libraries that know nothing of the kit."""
    b = bench(tray)
    b.set(length=745, leg=31, lip=False, beads=2)
    written = b.write()
    assert written is not None
    page = ezdxf.readfile(written.cut)
    assert not page.audit().errors
    assert page.modelspace().query("*[layer ? 'ETCH.*']")  # fold lines and beads to be etched
    wide, _, _ = ezdxf.bbox.extents(page.modelspace()).size
    assert wide == pytest.approx(745, abs=1e-6)
    solid = cadquery.importers.importStep(str(written.step)).val().BoundingBox()
    assert (solid.xlen, solid.zlen) == pytest.approx((745, 31), abs=1e-6)


def test_a_part_without_folds_has_no_fold_page(bench: Bench) -> None:
    written = bench(lambda: Part("HN-RP", sheet="S355 8.0", base=Outline.rectangle(90, 60))).write()
    assert written is not None
    assert written.fold_page is None
    assert len(list(written)) == 5


def test_part_and_made_are_those_of_the_latest_values_or_an_error(bench: Bench) -> None:
    def fragile(length: Annotated[float, Range(600, 1200, 5, "mm")] = 900) -> Part:
        if length > 1000:
            raise ValueError("too long")
        return tray(length)

    async def scene() -> None:
        b = bench(fragile)
        slider(b, "length").value = 700
        assert b._refresh.waiting
        assert b.part == b.made.part == tray(700)
        slider(b, "length").value = 1100
        with pytest.raises(CannotMake, match=r"fragile.*too long"):
            _ = b.made

    asyncio.run(scene())


def test_a_workbench_starts_with_the_values_it_is_given(bench: Bench) -> None:
    b = bench(tray, start={"length": 745, "lip": False})
    assert b.part == tray(745, lip=False)
    assert "no such parameter" in html(bench(tray, start={"long": 745}))


def test_a_part_that_no_order_folds_is_not_written(bench: Bench) -> None:
    b = bench(clamped)
    assert b.write() is None
    assert files() == []
    for words in ("nothing written", "every order of folds collides", "rib 1 hits the clamp", "Remedy"):
        assert words in html(b)
    assert "here: stop: fold &#x27;front&#x27;" in html(b)
    assert "more in the table" in html(b)
    with pytest.raises(CannotMake, match="collides"):
        tb.write_files(b.made)
    assert files() == []


def test_a_folder_that_cannot_be_made_is_said(bench: Bench) -> None:
    Path("out").write_text("a file is in the way", encoding="utf-8")
    b = bench(tray)
    assert b.write() is None
    assert "nothing written" in html(b)
    assert files() == ["out"]


def test_undo_and_redo_walk_back_and_forth(bench: Bench) -> None:
    b = bench(tray)
    assert button(b, "Undo").disabled
    slider(b, "length").value = 1000
    slider(b, "side").value = "down"
    assert not button(b, "Undo").disabled
    button(b, "Undo").click()
    assert (b.values["side"], b.values["length"]) == ("up", 1000)
    button(b, "Undo").click()
    assert b.values["length"] == 900
    assert "900.0 ×" in html(b)
    assert button(b, "Undo").disabled
    button(b, "Redo").click()
    assert b.values["length"] == 1000
    assert "1000.0 ×" in html(b)
    slider(b, "beads").value = 2
    assert button(b, "Redo").disabled


def test_values_are_copied_as_code_that_gives_the_same_part(bench: Bench, monkeypatch: Any) -> None:
    b = bench(tray)
    b.set(length=745, side="down", lip=False)
    sent: list[Any] = []
    monkeypatch.setattr(b.view, "send", sent.append)
    button(b, "Copy as code").click()
    assert sent == [{"copy": b.code}]
    assert eval(b.code, {"tray": tray}) == tray(745.0, 40.0, 3, "down", False)


def test_values_are_saved_and_loaded(bench: Bench) -> None:
    b = bench(tray)
    b.set(length=745, beads=5)
    button(b, "Save values").click()
    assert files() == ["tray_values.toml"]
    b.set(length=600, beads=0)
    button(b, "Load values").click()
    assert (b.values["length"], b.values["beads"]) == (745.0, 5)
    assert "745.0 ×" in html(b)
    button(b, "Undo").click()
    assert b.values["length"] == 600


def test_a_wrong_values_file_changes_nothing(bench: Bench) -> None:
    b = bench(tray)
    Path("bad.toml").write_text("function='tray'\n[values]\nlength = 5\nside = '<b>'\n", encoding="utf-8")
    before = b.values
    assert b.load("bad.toml") is False
    assert b.values == before
    assert "2 mistake" in html(b)
    assert "&lt;b&gt;" in html(b)
    assert b.load("missing.toml") is False
    assert b.save("no/such/folder.toml") is None
    assert files() == ["bad.toml"]
