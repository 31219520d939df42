"""Cross-sections and punches of a shop: what a file may say, and every way to get it wrong, with its line."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from tinbook.errors import BadFile, BadValue
from tinbook.shop.sections import Punch, Section, generic_die, generic_folder, generic_punch
from tinbook.shop.shop import Shop


def load(tmp_path: Path, text: str) -> Shop:
    path = tmp_path / "my_shop.toml"
    path.write_text('base = "demo"\n' + text)
    return Shop.load(path)


def mistakes(tmp_path: Path, text: str) -> str:
    with pytest.raises(BadFile) as caught:
        load(tmp_path, text)
    return str(caught.value)


GOOD = """
[sections.mine]
kind = "punch"
points = [[0, 0], [5, 6], ["1/2 in", 80], [-5, 80], [-5, 6], [0, 0]]
[punches.mine]
machine = "brake"
section = "mine"
nose = "0.8 mm"
angle = 80
segments = [50, 20, "100 mm"]
"""


def test_a_punch_of_ones_own(tmp_path: Path) -> None:
    shop = load(tmp_path, GOOD)
    drawn, punch = shop.section("mine"), shop.punch("mine")
    assert drawn.points == ((0, 0), (5, 6), (12.7, 80), (-5, 80), (-5, 6))
    assert (drawn.height, drawn.assumed, punch.segments) == (80, False, (20, 50, 100))
    assert pickle.loads(pickle.dumps(shop)) == shop
    assert hash(shop)


@pytest.mark.parametrize(
    ("points", "what"),
    [
        ("[[0, 0], [5, 6], [5, 80], [-5, 80]]", "open: ends at [-5.0, 80.0], begins at [0.0, 0.0]"),
        ("[[0, 0], [5, 6], [-5, 80], [5, 80], [-5, 6], [0, 0]]", "sides 2 and 4 cross or touch"),
        ("[[0, 0], [5, 6], [5, 6], [5, 80], [0, 0]]", "points 2 and 3 are the same"),
        ("[[0, 0], [0, 50], [0, 20], [5, 20], [0, 0]]", "cross or touch"),
        ("[[0, 0], [5, 6], [0, 0]]", "points [[y, z], ...]"),
        ("[[0, 0], [5], [5, 80], [0, 0]]", "point 2"),
        ("[[0, 0], [5, 'x'], [5, 80], [0, 0]]", "point 2 item 2"),
        ("[[0, 0], [5, nan], [5, 80], [0, 0]]", "point 2 item 2"),
        ("[[1, 0], [5, 6], [-5, 6], [1, 0]]", "no point (0, 0)"),
        ("[[0, 0], [5, -6], [5, 80], [-5, 80], [0, 0]]", "only lowest point"),
    ],
)
def test_bad_lines_of_a_punch_are_named_with_their_line(tmp_path: Path, points: str, what: str) -> None:
    text = GOOD.replace('[[0, 0], [5, 6], ["1/2 in", 80], [-5, 80], [-5, 6], [0, 0]]', points)
    said = mistakes(tmp_path, text)
    assert what in said
    assert "line" in said
    assert "1 mistake(s), nothing was used" in said


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("[machines.brake]\nforce = 0\n", "force: 0 is not usable; valid: a number greater than 0 N"),
        ("[machines.brake]\ngauge_max = 3\n", "greater than gauge_min = 5 mm"),
        ("[machines.brake]\nram = 'nose bar'\n", "'nose bar' is a clamp; valid: a ram"),
        ("[machines.brake]\nbed = 'tabel'\n", "unknown section 'tabel'"),
        ("[dies.V12]\nsection = 'plain blade'\n", "'plain blade' is a punch; valid: a die"),
        ("[punches.blade]\nmachine = 'folder'\n", "'folder' is a folder; valid: a brake or a press"),
        ("[punches.blade]\nsegments = [20, -5]\n", "segments item 2"),
        ("[punches.blade]\nnose = 0\n", "nose"),
        ("[folders.F1]\nfingers = 25\n", "fingers"),
        ("[roller]\nshaft_dia = 80\n", "less than roll_dia = 70 mm"),
        ("[sections.x]\nkind = 'anvil'\npoints = [[0, 0], [1, 0], [0, 1], [0, 0]]\n", "kind: 'anvil'"),
    ],
)
def test_bad_machines_and_tools(tmp_path: Path, text: str, what: str) -> None:
    said = mistakes(tmp_path, text)
    assert what in said
    assert "line" in said


def test_values_are_checked_when_built_too() -> None:
    with pytest.raises(BadValue, match="open"):
        Section(key="x", kind="ram", points=((0, 0), (1, 0), (1, 1)), source="own data")
    with pytest.raises(BadValue, match="angle"):
        Punch(key="p", machine="brake", section="x", nose=1, angle=0, source="own data")
    turned = Section(key="x", kind="ram", points=((0, 0), (0, 1), (1, 1), (0, 0)), source="own data")
    assert turned.points == ((1, 1), (0, 1), (0, 0))  # anticlockwise whichever way it was drawn


def test_usual_sections_are_marked_as_assumed() -> None:
    for s in (
        *(generic_punch(k, 80) for k in ("straight", "acute", "gooseneck")),
        generic_die(12, 30),
        *(generic_folder(k) for k in ("clamp", "folder bed", "folder beam")),
    ):
        assert s.assumed
        assert s.source == "common practice"
    assert not any(s.assumed for s in Shop.demo().sections)
    with pytest.raises(BadValue, match="straight"):
        generic_punch("round", 80)
