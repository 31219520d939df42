"""A part written to TOML and read back is the same part; mistakes come all at once with their lines."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strategies import parts
from tinbook.errors import BadFile, TinbookError
from tinbook.families.plain import bead_rolled_panel
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.part.partfile import part_from_toml, part_to_toml, read_part


@given(parts())
@settings(max_examples=80)
def test_round_trip_is_exact(part):
    again = part_from_toml(part_to_toml(part))
    for name in ("number", "rev", "sheet", "base", "folds", "holes", "beads", "texts", "other_hand", "trim", "marking"):
        assert getattr(again, name) == getattr(part, name)


def test_cut_outs_texts_and_rows_survive():
    part = (
        Part(
            "HN-DS",
            rev="C",
            sheet="DC01 1.0",
            base=Outline.rectangle(300, 120),
            title='a "dash" edge',
            marking=False,
            cautions=("It carries a seat.",),
        )
        .cut_out(Outline.rectangle(40, 20).rounded(5), at=(100, 40), turn=10)
        .text("HN 7 °", (10, 10), turn=90, face="down")
        .holes_along(["front", "rear"], count=5, use="bolt", size="M6")
        .hole_grid((200, 30), (3, 2), (20, 20), dia=6)
        .etch([(150, 60), ("190 mm", 60), (190, 110)], closed=True, face="down", name="other plate")
    )
    again = part_from_toml(part_to_toml(part))
    for name in ("holes", "texts", "etches", "title", "marking", "cautions"):
        assert getattr(again, name) == getattr(part, name)


def test_every_mistake_with_its_line(tmp_path):
    text = part_to_toml(bead_rolled_panel(returns=20))
    text = text.replace('direction = "down"', 'direction = "sideways"', 1).replace('roll = "R18x5"', "roll = 5")
    text += "\n[[fold]]\nname = 'x'\ncolour = 'red'\n"
    file = tmp_path / "part.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        read_part(file)
    said = str(caught.value)
    for piece in ("sideways", "roll", "colour", "panel is missing", "edge is missing", "leg is missing"):
        assert piece in said
    assert all(m.where.startswith("line ") for m in caught.value.mistakes)


@pytest.mark.parametrize(
    ("good", "bad", "says"),
    [
        ('number = "PANEL"', 'number = "../up"', "line 2, number"),
        ('number = "PANEL"', "number = 'a<b>'", "line 2, number"),
        ("leg = [20.0, 20.0]", 'leg = ["2 kg", 20]', "leg"),
        ("leg = [20.0, 20.0]", "leg = [nan, 20]", "leg"),
        ("[[fold]]", "[[fold]]\nangel = 90.0", "angel"),
        ('edge = "front"', 'edge = "nowhere"', "nowhere"),
        ("start = [0.0, 0.0]", "start = [0.0]", "start"),
        ("quantity = 1", "quantity = 0", "quantity"),
        ("quantity = 1", "quantity = 1\nmarking = 'no'", "marking"),
        ("quantity = 1", "quantity = 1\nother_hand = 'yes'", "other_hand"),
        ("leg = [20.0, 20.0]", "leg = [20.0, 20.0, 20.0]", "leg"),
        ("leg = [20.0, 20.0]", "leg = -5", "leg"),
        ("leg = [20.0, 20.0]", "leg = 20.0\nangle = [90, 90]", "angle"),
        ("leg = [20.0, 20.0]", "leg = 20.0\nradius = [1, 1]", "radius"),
        ("[[fold]]", "[[hole]]\nname = 'h'\npanel = 'base'\ncentre = 5\ndia = 5\n[[fold]]", "centre"),
        ("[[fold]]", "[[hole]]\nname = 'h'\npanel = 'base'\ncentre = [5, 5]\ndia = [5, 5]\n[[fold]]", "dia"),
        ("[[fold]]", "[[row]]\nname = 'h'\nedges = []\ndia = 5\npitch = 40\n[[fold]]", "edges"),
        (
            "[[fold]]",
            "[[grid]]\nname = 'g'\npanel = 'base'\nfirst = [5, 5]\ncounts = 3\nsteps = [9, 9]\ndia = 5\n[[fold]]",
            "counts",
        ),
    ],
)
def test_bad_values_are_named(good, bad, says):
    text = part_to_toml(bead_rolled_panel(returns=20).renamed(quantity=1))
    assert good in text
    with pytest.raises(BadFile, match=says):
        part_from_toml(text.replace(good, bad, 1))


def test_one_number_stands_for_both_ends_of_a_leg():
    text = part_to_toml(bead_rolled_panel(returns=20))
    assert part_from_toml(text.replace("leg = [20.0, 20.0]", "leg = '20 mm'")).folds == part_from_toml(text).folds


GOOD = part_to_toml(bead_rolled_panel(returns=20)).encode()


@given(st.lists(st.tuples(st.integers(0, len(GOOD) - 1), st.integers(0, 255)), min_size=1, max_size=6))
@settings(max_examples=300)
def test_no_mutation_crashes_the_reader(tmp_path_factory, changes):
    raw = bytearray(GOOD)
    for at, byte in changes:
        raw[at] = byte
    file = tmp_path_factory.mktemp("fuzz") / "part.toml"
    file.write_bytes(bytes(raw))
    with contextlib.suppress(TinbookError):
        read_part(file)
