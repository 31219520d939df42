"""The verbs of `python -m tinbook`: exit codes, plain text, JSON, and nothing written when something stops."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import partial
from unittest.mock import ANY

import pytest

import tinbook as tb
from tinbook.__main__ import main
from tinbook.families.floor_braces import floor_brace
from tinbook.families.plain import folded_channel
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.part.partfile import part_to_toml
from tinbook.route import fold_order
from tinbook.route.fold_order import fold_sequence
from tinbook.write.drafts import new_run
from zoo import all_on


@pytest.fixture
def part_file(tmp_path):
    file = tmp_path / "channel.toml"
    file.write_text(part_to_toml(folded_channel()), encoding="utf-8")
    return file


def test_make_writes_and_says_where(part_file, tmp_path, capsys):
    out = tmp_path / "new" / "folder"
    assert main(["make", str(part_file), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    suffixes = sorted(f.suffix for f in out.iterdir())
    assert suffixes == [".dxf", ".dxf", ".pdf", ".step"]
    assert all(str(f) in said for f in out.iterdir())
    assert "turned 90" in said


def test_check_as_json(part_file, tmp_path, capsys):
    assert main(["check", str(part_file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["exit"] == 0
    assert told["facts"]["openings"] == 4
    assert {f["severity"] for f in told["findings"]} <= {"caution", "fine"}
    assert [f.name for f in tmp_path.iterdir()] == [part_file.name]


def test_the_order_of_folds_is_said(tmp_path, capsys):
    """A Z: one fold up, one down, so the part is turned over once."""
    part = Part("HN-Z", sheet="DC01 1.5", base=Outline.rectangle(200, 60))
    file = tb.write_part(
        part.fold("front", "up", leg=30, tool="V12").fold("rear", "down", leg=30, tool="V12"), tmp_path
    )
    assert main(["check", str(file), "--json"]) == 0
    steps = json.loads(capsys.readouterr().out)["facts"]["order_of_folds"]
    assert {s["name"] for s in steps} == {"front", "rear"}
    assert [s["turn_over"] for s in steps] == [False, True]
    assert main(["check", str(file)]) == 0
    first, second = (s["name"] for s in steps)
    assert f"order of folds: {first} on V12; turn over, {second} on V12" in capsys.readouterr().out


def test_a_stop_is_exit_one_and_writes_nothing(tmp_path, capsys):
    file = tmp_path / "stop.toml"
    part = Part("HN-X", sheet="DC01 1.5", base=Outline.rectangle(100, 50)).hole((200, 20), 10)
    file.write_text(part_to_toml(part), encoding="utf-8")
    out = tmp_path / "out"
    assert main(["make", str(file), "--out", str(out)]) == 1
    assert "nothing was written" in capsys.readouterr().out
    assert not out.exists()


def test_folds_that_nothing_lets_through_stop_too(tmp_path, capsys):
    """A hat on the hand folder: its second fold meets the beam in every order; the cure stands beside it."""
    file = tmp_path / "brace.toml"
    file.write_text(part_to_toml(all_on(floor_brace(), "F1")), encoding="utf-8")
    assert main(["make", str(file), "--out", str(tmp_path / "out")]) == 1
    said = capsys.readouterr().out
    assert "every order of folds collides" in said
    assert "(tried)" in said
    assert not (tmp_path / "out").exists()
    assert main(["check", str(file)]) == 1


def test_unfold_gives_the_channel_back(part_file, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["make", str(part_file), "--out", str(out)]) == 0
    step = next(out.glob("*.step"))
    capsys.readouterr()
    assert main(["unfold", str(step), "-k", "0.44", "--json", "--out", str(tmp_path / "flat")]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [round(f["turned"], 3) for f in told["facts"]["folds"]] == [90.0, 90.0]
    assert told["facts"]["thickness_mm"] == pytest.approx(1.5, abs=1e-6)


def test_clean_a_drawing(part_file, tmp_path, capsys):
    out = tmp_path / "out"
    main(["make", str(part_file), "--out", str(out)])
    dxf = min(out.glob("*.dxf"), key=lambda f: len(f.name))
    capsys.readouterr()
    assert main(["clean", str(dxf), "--out", str(tmp_path / "clean"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["facts"]["openings"] == 4
    assert told["facts"]["thickness_mm"] is None  # a drawing tells none
    assert not [f for f in (tmp_path / "clean").iterdir() if "nan" in f.name]


def test_sort_counts_the_parts_of_an_assembly(tmp_path, capsys):
    """What `unfold` suggests for a file of several solids: two channels, a block."""
    import cadquery as cq

    whole = cq.Assembly(name="HN-AS")
    channel = tb.make(folded_channel(), tb.Shop.demo()).solid
    for k in range(2):
        whole.add(channel, name=f"HN-CH-{k}", loc=cq.Location(cq.Vector(0, 0, 100 * k)))
    whole.add(cq.Workplane().box(30, 30, 30), name="block")
    step = tmp_path / "whole.step"
    whole.export(str(step))
    assert main(["sort", str(step), "-k", "0.44", "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)["facts"]
    assert [(s["count"], len(s["folds"])) for s in facts["sheets"]] == [(2, 2)]
    assert [(r["name"], r["count"]) for r in facts["rest"]] == [("block", 1)]
    assert "not a sheet" in facts["rest"][0]["why"]
    assert [f.name for f in tmp_path.iterdir()] == ["whole.step"]
    assert main(["sort", str(step), "-k", "0.44", "--out", str(tmp_path / "flats")]) == 0
    said = capsys.readouterr().out
    assert "2 x HN-CH-0" in said
    assert "1 x block: no sheet" in said
    (file,) = (tmp_path / "flats").iterdir()
    assert file.suffix == ".dxf"


@pytest.mark.parametrize("verb", ["make", "check", "unfold", "sort", "clean"])
@pytest.mark.parametrize(
    "content", [None, b"", b"\xff\xfe\x00bad", b"number = [", b"ISO-10303-21;\nnonsense", b"0\nSECTION\n"]
)
def test_bad_input_is_exit_two(verb, content, tmp_path, capsys):
    file = tmp_path / "bad.file"
    if content is not None:
        file.write_bytes(content)
    out = tmp_path / "out"
    assert main([verb, str(file), "--out", str(out)]) == 2
    assert capsys.readouterr().err.strip()
    assert not out.exists()


def test_a_bad_shop_file_names_its_line(part_file, tmp_path, capsys):
    shop = tmp_path / "shop.toml"
    shop.write_text('base = "demo"\n[rates]\nfold = "free"\n', encoding="utf-8")
    assert main(["check", str(part_file), "--shop", str(shop)]) == 2
    assert "line 3" in capsys.readouterr().err


def test_what_is_not_proved_is_written_stamped_and_has_a_code_of_its_own(part_file, tmp_path, capsys, monkeypatch):
    """A search that gave up: nothing says that the part cannot be folded, nothing that it can."""
    monkeypatch.setattr(fold_order, "fold_sequence", partial(fold_sequence, effort=1))
    monkeypatch.setattr("tinbook.write.sheet.folds.fold_sequence", partial(fold_sequence, effort=1))
    part_file.write_text(part_to_toml(tb.families.folded_box()), encoding="utf-8")
    out = tmp_path / "out"
    assert main(["make", str(part_file), "--out", str(out)]) == 3
    said = capsys.readouterr().out
    assert "BOX A: NOT PROVED" in said
    assert len(list(out.iterdir())) == 4
    assert all(b"state=not-proved" in f.read_bytes() for f in out.iterdir())
    assert main(["check", str(part_file), "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    assert (told["exit"], told["state"]) == (3, "not proved")


def test_a_reason_lets_files_be_written_and_changes_no_code(tmp_path, capsys):
    part = Part("HN-SL", sheet="DC01 3.0", base=Outline.rectangle(200, 100)).hole((100, 50), "2 mm", length=30)
    file = tb.write_part(part, tmp_path)
    out = tmp_path / "out"
    assert main(["make", str(file), "--out", str(out), "--despite", "cut by a friend's laser"]) == 1
    said = capsys.readouterr().out
    assert said.count("wrote ") == 4
    assert "nothing was written" not in said
    assert all(b"state=stopped despite: cut by a friend_s laser" in f.read_bytes() for f in out.iterdir())


def test_files_of_another_origin_stay(part_file, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["make", str(part_file), "--out", str(out)]) == 0
    for file in out.iterdir():
        file.write_bytes(b"somebody's work")
    capsys.readouterr()
    assert main(["make", str(part_file), "--out", str(out)]) == 2
    assert "carries no mark of this kit" in capsys.readouterr().err
    assert {f.read_bytes() for f in out.iterdir()} == {b"somebody's work"}
    assert main(["make", str(part_file), "--out", str(out), "--replace"]) == 0


def test_one_file_that_may_not_be_written_leaves_the_others_as_they_are(part_file, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["make", str(part_file), "--out", str(out)]) == 0
    next(out.glob("*.pdf")).write_bytes(b"somebody's work")
    before = {f: f.read_bytes() for f in out.iterdir()}
    part_file.write_text(part_to_toml(folded_channel(length=450)), encoding="utf-8")
    new_run()
    assert main(["make", str(part_file), "--out", str(out)]) == 2
    assert "carries no mark" in capsys.readouterr().err
    assert {f: f.read_bytes() for f in out.iterdir()} == before


def test_a_crash_has_a_code_of_its_own(part_file, capsys, monkeypatch):
    """1 would say that a finding stops the part."""

    def broken(*_, **__):
        raise ZeroDivisionError("odd")

    monkeypatch.setattr("tinbook.read_part", broken)
    assert main(["check", str(part_file)]) == 70
    said = capsys.readouterr().err
    assert "Traceback" in said
    assert said.splitlines()[-1].startswith("ZeroDivisionError: a mistake of the kit, not of yours")
    assert main(["check", str(part_file), "--json"]) == 70
    assert json.loads(capsys.readouterr().out) == {"error": "ZeroDivisionError", "what": ANY, "exit": 70}


def test_ctrl_c_ends_in_one_line(part_file, capsys, monkeypatch):
    def pressed(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("tinbook.read_part", pressed)
    assert main(["check", str(part_file)]) == 130
    assert capsys.readouterr().err == "ended by Ctrl-C; every file that was written is whole\n"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["check", "{part}"], 0),
        (["check", "{part}", "--json"], 0),
        (["check", "none.toml", "--json"], 2),
        (["--help"], 0),
    ],
    ids=["check", "json", "refused", "help"],
)
def test_a_reader_that_goes_away_is_quiet(words, code, part_file, root):
    env = {**os.environ, "PYTHONPATH": str(root / "kit")}
    call = [sys.executable, "-m", "tinbook", *(w.format(part=part_file) for w in words)]
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=env) as told:
        told.stdout.close()
        assert told.stderr.read() == b""
    assert told.returncode == code


@pytest.mark.parametrize("verb", ["make", "unfold", "clean"])
def test_paths_that_are_no_files(verb, tmp_path, capsys):
    fifo = tmp_path / "fifo"
    os.mkfifo(fifo)
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    for path in (fifo, loop, tmp_path, "/dev/null", "/dev/zero", "x" * 5000, "a\0b"):
        assert main([verb, str(path), "--out", str(tmp_path / "out")]) == 2
        said = capsys.readouterr().err
        assert 10 < len(said) < 500, said
        assert not (tmp_path / "out").exists()
