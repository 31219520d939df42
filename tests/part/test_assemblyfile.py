"""Assemblies as files: everything comes back equal, every mistake is named with its line."""

from __future__ import annotations

from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadFile, BadValue
from tinbook.part.assemblyfile import assembly_from_toml, assembly_to_toml
from tinbook.part.bought import block

FAMILIES = ("body_mount", "front_joiner", "lid_on_struts", "recovery_plate", "strapped_tank", "winch_cradle")


def small() -> tb.Assembly:
    plate = tb.Part("PL-1", sheet="DC01 1.5", base=tb.Outline.rectangle(100, 50)).fold("front", leg=20)
    bolt = tb.part.hexagon_bolt("M6", 20)
    whole = tb.Assembly("WH", title="two plates", cautions=("look twice",)).add("lower", plate)
    whole = whole.add("upper", plate, tb.part.frame_at((0, 0, 40), (0, 1, 0), (-1, 0, 0)), flexible=True)
    return (
        whole.add("bolt", bolt)
        .weld("lower", "upper", throat=2, length=30, sides="both", note="in a hurry")
        .pulled("bolt", (1, 1, 0))
    )


@pytest.mark.parametrize("name", FAMILIES)
def test_families_come_back_equal_and_as_the_same_text(name: str) -> None:
    whole = getattr(tb.families, name)()
    text = assembly_to_toml(whole)
    back = assembly_from_toml(text)
    assert back == whole
    assert assembly_to_toml(back) == text


def test_everything_that_an_assembly_holds_comes_back() -> None:
    whole = small()
    back = assembly_from_toml(assembly_to_toml(whole))
    assert back == whole
    assert back.member("upper").flexible
    assert (back.welds[0].sides, back.welds[0].length, back.welds[0].total) == ("both", 30.0, 60.0)
    assert back.explode == whole.explode


@pytest.mark.parametrize(
    ("rest", "sides", "each", "total"),
    [
        ("", "one", 80.0, 80.0),
        ("both = true", "both", 40.0, 80.0),
        ('both = true, note = "all round"', "all round", 80.0, 80.0),
        ('both = false, note = "both sides of the slot"', "one", 80.0, 80.0),
    ],
)
def test_a_weld_of_an_earlier_file_states_the_length_of_both_sides_together(
    rest: str, sides: str, each: float, total: float
) -> None:
    text = assembly_to_toml(small())
    new = 'length = 30.0, sides = "both", note = "in a hurry"'
    assert new in text
    (weld,) = assembly_from_toml(text.replace(new, ", ".join(filter(None, ("length = 80.0", rest))))).welds
    assert (weld.sides, weld.length, weld.total) == (sides, each, total)


def test_items_of_one_name_stay_apart() -> None:
    a, b = block("spacer", (10, 10, 5)), block("spacer", (10, 10, 8))
    whole = tb.Assembly("WH").add("one", a).add("other", b)
    assert assembly_from_toml(assembly_to_toml(whole)) == whole


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('part = "PL-1"', 'part = "PL-2"', "PL-2"),
        ('part = "PL-1"\n', "", "needs a part or an item"),
        ("throat = 2.0", "throat = -1", "throat"),
        ('b = "upper"', 'b = "nobody"', "nobody"),
        ("at = [0.0, 0.0, 40.0, 0.0, 1.0", "at = [0.0, 0.0, 40.0, 0.0, 2.0", "square"),
        ("at = [0.0, 0.0, 40.0,", 'at = ["x", 0.0, 40.0,', "number"),
        ("leg = [20.0, 20.0]", "leg = [0.0, 20.0]", "leg"),
        ("mass = ", "weight = ", "weight"),
        ('number = "WH"', 'number = "W H"', "number"),
        ("flexible = true", 'flexible = "yes"', "true or false"),
        ('name = "upper"', 'name = "lower"', "lower"),
        ("height = ", "high = ", "height"),
    ],
)
def test_a_mistake_is_named(old: str, new: str, said: str) -> None:
    text = assembly_to_toml(small())
    assert old in text
    with pytest.raises(BadFile, match="mistake") as caught:
        assembly_from_toml(text.replace(old, new, 1))
    assert said in str(caught.value)


def test_all_mistakes_at_once_with_their_lines() -> None:
    text = assembly_to_toml(small()).replace("throat = 2.0", "throat = 0").replace("leg = [20.0, 20.0]", "leg = 0")
    with pytest.raises(BadFile) as caught:
        assembly_from_toml(text)
    assert len(caught.value.mistakes) == 2
    assert all(m.where.startswith(("line", "part[1]")) for m in caught.value.mistakes)
    assert "line" in caught.value.mistakes[0].where


@pytest.mark.parametrize(
    "text", ["", "x", "member = 3", 'number = "A"\npart = 3', "[[part]]", "\x00", 'number = "A"\n[[member]]']
)
def test_what_is_no_assembly_is_refused(text: str) -> None:
    with pytest.raises(BadFile):
        assembly_from_toml(text)


@pytest.mark.parametrize("thing", [None, 3, "WH", tb.families.gusset()])
def test_only_assemblies_are_written(thing: Any) -> None:
    with pytest.raises(BadValue, match="assembly"):
        assembly_to_toml(thing)


@pytest.mark.parametrize(
    "bad",
    [
        {"size": None},
        {"size": (1, 2)},
        {"size": (0, 1, 1)},
        {"mass": -1},
        {"holes": 5},
        {"holes": ((0, 0),)},
        {"holes": ((500, 0),), "dia": 5},
        {"opening": 5},
        {"colour": "red"},
    ],
)
def test_a_block_that_is_none_is_named(bad):
    with pytest.raises(BadValue):
        block(**{"name": "spare wheel", "size": (10, 10, 5), **bad})
