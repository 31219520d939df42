"""What the workbench's buttons do: files, undo, code, values."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

import ezdxf
import pytest
from bench_hands import Bench, button, files, html, slider
from bench_samples import clamped, tray


def test_the_write_buttons_write_files_that_others_can_read(bench: Bench) -> None:
    b = bench(tray)
    button(b, "Write DXF").click()
    (dxf,) = files()
    assert f"written: {dxf}" in html(b)
    assert dxf.startswith("out/HN-BT_A")
    page = ezdxf.readfile(dxf)
    assert not page.audit().errors
    assert len(page.modelspace().query("CIRCLE")) >= 23  # 22 plug welds and the drain
    button(b, "Write STEP").click()
    (step,) = (f for f in files() if f != dxf)
    assert step.startswith("out/HN-BT_A")
    assert Path(step).read_text(encoding="utf-8").startswith("ISO-10303-21;")


@pytest.mark.parametrize("kind", ["dxf", "step"])
def test_a_part_that_no_order_folds_is_not_written(bench: Bench, kind: Literal["dxf", "step"]) -> None:
    b = bench(clamped)
    assert b.write(kind) is None
    assert files() == []
    for words in ("nothing written", "every order of folds collides", "rib 1 hits the clamp", "Remedy"):
        assert words in html(b)
    assert "here: stop: fold &#x27;front&#x27;" in html(b)
    assert "more in the table" in html(b)


def test_a_folder_that_cannot_be_made_is_said(bench: Bench) -> None:
    Path("out").write_text("a file is in the way", encoding="utf-8")
    b = bench(tray)
    assert b.write("dxf") is None
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
