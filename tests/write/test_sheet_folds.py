"""The fold sheet's steps are the planner's, and where nothing was proved the sheet says so and why."""

from __future__ import annotations

import io
import math
import re
from pathlib import Path

import pytest
from made_samples import channel, sheet_bytes
from pypdf import PdfReader

from tinbook.errors import BadFile, BadValue, CannotMake
from tinbook.families.floor_braces import floor_brace
from tinbook.flatpattern import both_ways
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.route.foldstep import HEAD, overbend, told
from tinbook.shop.shop import Shop
from tinbook.write.sheet.folds import folding, step_table
from tinbook.write.textfiles import folds_text, read_folds, write_folds
from zoo import ZOO, all_on, made_zoo

SHOP = Shop.demo()
EDGES = ("near", "right", "far", "left")


def words(data: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(p.extract_text() for p in PdfReader(io.BytesIO(data)).pages))


def strip(width: float, number: str = "HN-X") -> Part:
    return Part(number, sheet="DC01 1.5", base=Outline.rectangle(200, width, EDGES))


def made(part: Part) -> Made:
    found = make(part, SHOP)
    assert found.ok, found.findings
    return found


def u() -> Made:
    return made(strip(60).fold("near", "up", leg=30, tool="V12").fold("far", "up", leg=30, tool="V12"))


def stairs(count: int) -> Made:
    part, edge = strip(40), "near"
    for n in range(count):
        part = part.fold(edge, "up" if n % 4 in (0, 3) else "down", leg=25, tool="V12", name=f"s{n}")
        edge = f"s{n}.end"
    return made(part)


def column(it: Made, head: str) -> list[str]:
    table = step_table(folding(it, None))
    assert table is not None
    return [row[HEAD.index(head)] for row in table.rows]


def test_each_step_of_the_planner_stands_on_the_sheet() -> None:
    it = channel()
    sequence = fold_sequence(it)
    said = words(sheet_bytes(it))
    at = 0
    for n, s in enumerate(sequence.steps, 1):
        # One row after the other: what, tool, the line in the part's state and in the blank, angles, what to check.
        for text in (f"{s.action} {n} {s.fold}", *s.set_by):
            at = said.index(text, at)
        assert f"{both_ways(round(s.angle_formed, 1))}, stays {s.angle:g}{overbend(s)}" in said
        assert s.check in said
        assert s.force is None or f"{s.force / 1e3:.0f} of {(s.rating or 0) / 1e3:.0f}" in said
    assert [s.fold for s in sequence.steps] != [s.name for s in it.strips], "the planner's order, not the drawn one"
    assert "Each step was proved free of collision" in said
    assert "fold in the order of the steps" in said


def test_lines_by_hand() -> None:
    """U of web 60 and legs 30 over V12: r = 0.16 x 12 = 1.92, BA = pi/2 (r + 0.41 t), blank 120 - 2 BD.

    First line: half a strip inside the tangent of its leg, measured from the far edge. The second is gauged from the
    same leg's own edge now: 30 - (r + t) + BA/2, in the blank and in the folded state alike.
    """
    allowance = math.pi / 2 * (1.92 + 0.41 * 1.5)
    own = 30 - 3.42 + allowance / 2
    blank = 120 - 2 * (2 * 3.42 - allowance)
    it = u()
    assert column(it, "To line now") == [f"{blank - own:.1f}", f"{own:.1f}"]
    assert column(it, "In the blank") == [f"{blank - own:.1f}", f"{own:.1f}"]
    # Springback table, r/t = 1.28: 90 / 0.99 = 90.9 to form.
    assert column(it, "Set, degrees") == ["turned 90.9 / included 89.1, stays 90, overbend 0.3 to 0.9"] * 2
    # Air-bend chart: 650 x 1.5² x 200 / 12 x 410/450 N = 22.2 kN; the brake has 1000.
    assert column(it, "Force, kN") == ["22 of 1000"] * 2


def test_a_line_that_moves_with_the_part() -> None:
    """A Z on the brake: what is gauged from the outside of a leg that stands is nearer than in the blank."""
    it = made(strip(60).fold("near", "up", leg=30, tool="V12").fold("far", "down", leg=30, tool="V12"))
    table = step_table(folding(it, None))
    assert table is not None
    second = table.rows[1]
    now, flat = (float(second[HEAD.index(h)]) for h in ("To line now", "In the blank"))
    assert second[HEAD.index("Before it")].startswith("turn over")
    if "outside of fold" in second[HEAD.index("Set by")]:
        # web 60 to the outside of the first leg, less r + t and half a strip; in the blank the leg lies beyond.
        allowance = math.pi / 2 * (1.92 + 0.41 * 1.5)
        assert now == pytest.approx(60 - 3.42 + allowance / 2, abs=0.06)
        assert flat > now + 20
    else:
        assert now == pytest.approx(flat, abs=0.06)


def test_curls_and_hems_are_named_for_what_they_are() -> None:
    said = words(sheet_bytes(made_zoo("eye")))
    assert "curl 3 eye, up" in said
    assert "a bar of 12 mm" in said
    assert "turned 260, stays 260" in said  # no included angle past half a turn
    hem = words(sheet_bytes(made_zoo("hem on a leg")))
    assert "start the hem" in hem
    assert told("start the hem", "hem") == "start the hem"
    assert told("start the hem", "hem 2") == "start the hem 2"
    assert told("fold", "rear") == "fold rear"
    assert "press to its gap" in hem  # an open hem: pressed flat it would be scrap
    assert "press flat" not in hem


# --- where nothing is proved ------------------------------------------------------------------------


def test_a_sheet_of_many_folds_is_searched_like_any() -> None:
    it = stairs(13)
    said = words(sheet_bytes(it))
    assert "NOT PROVED" not in said
    assert HEAD[-1] in said


def test_a_cancelled_search_is_told() -> None:
    it = u()
    said = words(sheet_bytes(it, order=fold_sequence(it, seconds=0.0)))
    assert "NOT PROVED: the clock ended the search before an order was found" in said
    assert "Stop: do not make it like this" not in said, "nobody knows that it does not fold"


def test_little_effort_is_told() -> None:
    it = stairs(8)
    good = fold_sequence(it, effort=40)
    assert good.steps
    assert not good.proven
    assert "Order of folds: the best that was found." in words(sheet_bytes(it, order=good))


def test_an_impossible_part_says_stop_and_what_hits() -> None:
    """A hat on the own hand folder, whose beams are drawn: its second fold meets the beam in every order."""
    it = make(all_on(floor_brace(), "F1"), SHOP)
    with pytest.raises(CannotMake, match=r"hits the folding beam(.|\n)*despite="):
        sheet_bytes(it)
    said = words(sheet_bytes(it, despite="to show the customer"))
    assert "Stop: do not make it like this Written all the same: to show the customer." in said
    assert "STOPPED" in said
    assert re.search(r"fold 'near side': near flange hits the folding beam", said)
    assert "NOT PROVED: no order folds the part, see Stop." in said
    assert said.index("Stop: do not") < said.index("Before you cut")


def test_a_part_that_only_assumed_tools_stop_is_not_proved() -> None:
    said = words(
        sheet_bytes(made(strip(40).fold("near", "up", leg=80, tool="V12").fold("far", "up", leg=80, tool="V12")))
    )
    assert "NOT PROVED: on the tools that were assumed no order folds the part, see Cautions." in said
    assert "hits the punch" in said
    assert "STOPPED" not in said


def test_the_machine_has_not_the_force() -> None:
    """3 mm plate, 400 long, on the own press of 300 kN: bottoming takes 424 kN (air-bend chart times four)."""
    said = words(sheet_bytes(make(all_on(ZOO["hat"](), "VB25"), SHOP), despite="fold.force"))
    assert "the required force exceeds the capacity of" in said


def test_names_are_proved_too() -> None:
    it = made(strip(70).fold("near", "up", leg=34, tool="V12").fold("near.end", "up", leg=12, tool="V12"))
    good = words(sheet_bytes(it, order=("near.end", "near")))
    assert "Order of folds: as it was given. Each step was proved" in good
    hat = make(all_on(ZOO["hat"](), "VB25"), SHOP)
    bad = words(sheet_bytes(hat, order=[s.name for s in hat.strips], despite="to see why"))
    assert "NOT PROVED: this order" in bad
    assert "the given order of folds collides" in bad


def test_a_sequence_of_another_part_is_refused() -> None:
    other = fold_sequence(made(strip(61, "HN-Y").fold("near", "up", leg=30, tool="V12")))
    with pytest.raises(BadValue, match="a fold sequence of HN-X"):
        sheet_bytes(u(), order=other)


# --- the same input, the same bytes ------------------------------------------------------------------


def test_the_same_bytes_and_a_stored_sequence(tmp_path: Path) -> None:
    it = channel()
    assert sheet_bytes(it) == sheet_bytes(channel())
    found = fold_sequence(it)
    file = write_folds(found, tmp_path)
    assert file.name == "HN-WC_A_DC01_2mm_x1_folds.toml"
    again = read_folds(file, channel())
    assert again.steps == found.steps
    assert again.given
    assert folds_text(again).splitlines()[2:] == folds_text(found).splitlines()[2:]
    assert sheet_bytes(it, order=again) == sheet_bytes(it, order=read_folds(file, it))
    assert sheet_bytes(it, order=found.hits) == sheet_bytes(it, order=again)


@pytest.mark.parametrize("name", ["tray, open corners", "hem on a leg", "eye", "aluminium tray"])
def test_pieces_hems_and_curls_are_stored(name: str, tmp_path: Path) -> None:
    it = made_zoo(name)
    found = fold_sequence(it)
    assert read_folds(write_folds(found, tmp_path / "folds.toml"), it).steps == found.steps


@pytest.mark.parametrize(("key", "known"), [("punch", "generic straight punch"), ("machine", "brake"), ("tool", "V12")])
def test_a_stored_sequence_whose_tool_is_gone(key: str, known: str, tmp_path: Path) -> None:
    it = u()
    file = write_folds(fold_sequence(it), tmp_path)
    text = file.read_text("utf-8")
    assert f'{key} = "{known}"' in text
    file.write_text(text.replace(f'{key} = "{known}"', f'{key} = "the old one"'), "utf-8")
    gone = read_folds(file, it)
    assert not gone.steps
    found = [f for f in gone.findings if f.severity == "stop"]
    assert {f.code for f in found} == {"route.stored"}
    assert {f.where for f in found} == {"fold 'near'", "fold 'far'"}
    assert all("the old one" in f.what.partition(";")[0] for f in found)
    assert all(known in f.what.partition(";")[2] for f in found)
    with pytest.raises(CannotMake, match=r"route\.stored"):
        sheet_bytes(it, order=gone)
    sheet = words(sheet_bytes(it, order=gone, despite="route.stored"))
    assert "NOT PROVED" in sheet


def test_mistakes_of_the_file_are_named_by_line(tmp_path: Path) -> None:
    it = u()
    good = folds_text(fold_sequence(it))
    file = tmp_path / "folds.toml"
    first = good.splitlines().index("[[hits]]") + 1
    cases = {
        'part = "HN-X"': ('part = "HN-Z"', "line 3, part", "this part's is 'HN-X'"),
        'fold = "far"': ('fold = "lid"', "hits", "each fold once: near, far"),
        "level = 1": ("level = 3", "level", "at most 2|1 to 2"),
        'tooling = "whole"': ("tooling = 3", "tooling", "text"),
        'at_back = "base"': ('colour = "red"', "colour", "not known"),
    }
    for old, (new, where, what) in cases.items():
        if old not in good:
            continue
        file.write_text(good.replace(old, new, 1), "utf-8")
        with pytest.raises(BadFile) as wrong:
            read_folds(file, it)
        assert where in str(wrong.value), str(wrong.value)
        assert re.search(what, str(wrong.value)), str(wrong.value)
    # Two at once, the second with the line of its row.
    file.write_text(good.replace('"HN-X"', '"HN-Z"').replace("tool = ", "tol = ", 1), "utf-8")
    with pytest.raises(BadFile) as wrong:
        read_folds(file, it)
    assert f"line {first}" in str(wrong.value)
    assert len(wrong.value.mistakes) >= 2
    with pytest.raises(BadFile, match="does not exist"):
        read_folds(tmp_path / "none.toml", it)
    with pytest.raises(BadValue, match="with steps"):
        write_folds(fold_sequence(u(), seconds=0.0), tmp_path)
