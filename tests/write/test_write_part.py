"""A part file is written whole, under the part's own name if none is given, and read back as the same part."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_samples import impossible, pan

import tinbook as tb
from tinbook.errors import BadValue


def test_there_and_back(tmp_path: Path) -> None:
    part = pan().part
    file = tb.write_part(part, tmp_path)
    assert file == tmp_path / f"{part.number}_{part.rev}.toml"
    assert tb.read_part(file) == part
    first = file.read_bytes()
    tb.write_part(tb.read_part(file), tmp_path / "again.toml")
    assert (tmp_path / "again.toml").read_bytes() == first


def test_a_part_that_cannot_be_made_is_kept_too(tmp_path: Path) -> None:
    part = impossible().part
    assert tb.read_part(tb.write_part(part, tmp_path / "p.toml")) == part


@pytest.mark.parametrize(
    ("thing", "name", "words"),
    [
        ("made", "p.toml", "write_part: 'Made' is not usable; valid: a Part"),
        ("part", "p.txt", r"file name: .*p\.txt' is not usable; valid: a name that ends in \.toml"),
        ("part", "no/p.toml", "folder: .*make it first"),
    ],
)
def test_bad_input_is_named_and_nothing_is_written(tmp_path: Path, thing: str, name: str, words: str) -> None:
    made = pan()
    given = made if thing == "made" else made.part
    with pytest.raises(BadValue, match=words):
        tb.write_part(given, tmp_path / name)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())
