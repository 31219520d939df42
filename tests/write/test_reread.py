"""Written files read again: the same is fine, a file that was changed on the disk is a stop."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_samples import channel

import tinbook as tb
from tinbook.errors import BadFile, BadValue

SHOP = tb.Shop.demo()


def test_files_that_hold_the_part(tmp_path: Path) -> None:
    made = channel()
    found = tb.write.read_back(made, tb.write_files(made, tmp_path))
    assert [f.code for f in found] == ["file.blank", "file.solid"]
    assert not found.open


def test_a_file_that_holds_another_part_is_a_stop(tmp_path: Path) -> None:
    made, other = channel(), tb.make(tb.folded_channel(flange=35.0, number="OTHER"), SHOP)
    files, wrong = tb.write_files(made, tmp_path), tb.write_files(other, tmp_path)
    files.cut.write_bytes(wrong.cut.read_bytes())
    assert [f.code for f in tb.write.read_back(made, files).stops] == ["file.blank"]
    files.step.write_bytes(wrong.step.read_bytes())
    assert [f.code for f in tb.write.read_back(made, files).stops] == ["file.blank", "file.solid"]
    files.step.unlink()
    with pytest.raises(BadFile, match="STEP"):
        tb.write.read_back(made, files)
    files.cut.unlink()
    with pytest.raises(BadFile, match="dxf"):
        tb.write.read_back(made, files)


def test_an_assembly_and_each_of_its_parts(tmp_path: Path) -> None:
    made = tb.assemble(tb.families.strap_and_bolt(number="HN-SB"), SHOP)
    files = tb.write_files(made, tmp_path)
    found = tb.write.read_back(made, files)
    assert [f.code for f in found] == ["file.solid", "file.blank", "file.solid"]
    assert not found.open
    files.step.write_bytes(files.parts[0].step.read_bytes())
    assert [f.where for f in tb.write.read_back(made, files).stops] == [files.step.name]


@pytest.mark.parametrize("files", [None, "out", (), ("a.dxf", "a.step")])
def test_only_what_was_written_together_is_read(files: object) -> None:
    with pytest.raises(BadValue, match="write_files"):
        tb.write.read_back(channel(), files)  # type: ignore[call-overload, arg-type]
    with pytest.raises(BadValue, match="read_back"):
        tb.write.read_back("HN-FP-L", files)  # type: ignore[arg-type]
