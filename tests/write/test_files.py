"""Files appear whole or not at all, under safe names."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from write_samples import plain

from tinbook.errors import BadValue, CannotWrite
from tinbook.write.files import checked_name, ready_folder, target, whole, write_whole
from tinbook.write.names import file_stem


def test_all_or_nothing(tmp_path: Path) -> None:
    a, b = tmp_path / "a.txt", tmp_path / "b.txt"
    a.write_text("old")

    def broken() -> None:
        with whole(a, b) as (part_a, part_b):
            part_a.write_text("new")
            part_b.write_text("half of ")
            raise RuntimeError("the disk went away")

    with pytest.raises(RuntimeError):
        broken()
    assert a.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_a_failing_sync_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_space(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_space)
    with pytest.raises(CannotWrite, match=r"nothing was written.*No space") as caught:
        write_whole({tmp_path / "a.dxf": b"0\nEOF\n"})
    assert isinstance(caught.value, OSError)
    assert not list(tmp_path.iterdir())


def test_a_folder_that_a_file_stands_in_for(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(CannotWrite, match="cannot be made"):
        ready_folder(tmp_path / "out" / "deeper")
    with pytest.raises(CannotWrite, match="nothing was written"):
        write_whole({tmp_path / "out" / "a.dxf": b"0\nEOF\n"})
    assert ready_folder(tmp_path / "new" / "one").is_dir()


def test_a_forgotten_file_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(CannotWrite), whole(tmp_path / "a", tmp_path / "b") as (part, _):
        part.write_text("only one of two")
    assert not list(tmp_path.iterdir())


def test_written_files_have_ordinary_rights(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("")
    write_whole({tmp_path / "a.svg": "ü\n"})
    assert (tmp_path / "a.svg").read_bytes() == b"\xc3\xbc\n"
    assert (tmp_path / "a.svg").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_targets(tmp_path: Path) -> None:
    assert target(tmp_path, ".dxf", "HN-FP-L_B") == tmp_path / "HN-FP-L_B.dxf"
    assert target(tmp_path / "x.DXF", ".dxf", "") == tmp_path / "x.DXF"
    with pytest.raises(BadValue, match="folder that exists"):
        target(tmp_path / "no" / "x.dxf", ".dxf", "")
    with pytest.raises(BadValue, match=r"ends in \.dxf"):
        target(tmp_path / "x.step", ".dxf", "")
    for name in ("con.dxf", "a?.dxf", 'a".dxf', "a\n.dxf", "y" * 201 + ".dxf"):
        with pytest.raises(BadValue, match="file name"):
            target(tmp_path / name, ".dxf", "")


@pytest.mark.parametrize("empty", ["", "  "])
def test_an_empty_path_is_not_the_current_folder(empty: str) -> None:
    with pytest.raises(BadValue, match=r"file name.*current folder"):
        target(empty, ".dxf", "x")
    with pytest.raises(BadValue, match=r"folder.*current folder"):
        ready_folder(empty)


@pytest.mark.parametrize(
    "name",
    ["../a", "..", "a..b", "a'b", 'a"b', "<i>", "a b", "", ".hidden", "-rf", "a.", "NUL", "com1.x", "ä", None, 7],
)
def test_unsafe_names(name: object) -> None:
    with pytest.raises(BadValue, match="letters, digits"):
        checked_name(name)


def test_safe_names_and_stem() -> None:
    assert checked_name("HN-FP-L") == "HN-FP-L"
    assert checked_name("1.4301", "material") == "1.4301"
    assert file_stem(plain(), 2) == "HN-TL_DC01_1.6mm_x2"
    with pytest.raises(BadValue, match="quantity"):
        file_stem(plain(), 0)


def test_what_is_no_file_is_never_written_to(tmp_path: Path) -> None:
    """A pipe would wait for ever, a device would be replaced by a file."""
    os.mkfifo(tmp_path / "pipe.dxf")
    (tmp_path / "folder.dxf" / "inside").mkdir(parents=True)
    (tmp_path / "loop.dxf").symlink_to("loop.dxf")
    for path, words in (
        (tmp_path / "pipe.dxf", "is a pipe"),
        (Path("/dev/zero"), "ends in .dxf"),
        ("x" * 5000 + ".dxf", "at most 190 bytes"),
        ("x/" * 4000 + "a.dxf", "too long"),
    ):
        with pytest.raises(BadValue, match=words) as caught:
            target(path, ".dxf", "HN-X")
        assert len(str(caught.value)) < 500
    assert target(tmp_path / "folder.dxf", ".dxf", "HN-X") == tmp_path / "folder.dxf" / "HN-X.dxf"
    assert sorted(f.name for f in tmp_path.iterdir()) == ["folder.dxf", "loop.dxf", "pipe.dxf"]


KILLED = """
import os, signal, sys
from pathlib import Path
from tinbook.write.files import whole
with whole(Path(sys.argv[1]) / "a.dxf") as (part,):
    part.write_text("half")
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(os.name != "posix", reason="asks for a process by its number")
def test_what_a_killed_writer_left_is_swept_and_nothing_else(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-c", KILLED, tmp_path])
    (stray,) = tmp_path.iterdir()
    mine = stray.name.replace(stray.name.split(".")[-2].split("-")[0], f"{os.getpid():x}", 1)
    elsewhere = stray.name.replace(stray.name.split("-")[1], "0f0f0f")
    kept = [mine, elsewhere, ".a.dxf.part", "a.dxf.0123-012345-0123456789ab.part", "notes.part"]
    for name in kept:
        (tmp_path / name).write_text("not to be touched")
    write_whole({tmp_path / "b.svg": "new"})
    assert stray.exists(), "it may be at work still"
    for file in tmp_path.iterdir():
        os.utime(file, (time.time() - 7200,) * 2)
    write_whole({tmp_path / "b.svg": "newer"})
    assert sorted(f.name for f in tmp_path.iterdir()) == sorted([*kept, "b.svg"])
    os.utime(tmp_path / elsewhere, (0, 0))
    write_whole({tmp_path / "b.svg": "newest"})
    assert not (tmp_path / elsewhere).exists()
    assert (tmp_path / mine).exists()
