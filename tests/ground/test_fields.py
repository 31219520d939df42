"""One annotation beside a field feeds the method, the file, the error, the docs and the slider."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

import pytest

import tinbook as tb
from tinbook import fields as f
from tinbook.bench.parameters import parameters
from tinbook.errors import BadFile, BadValue, UnknownName
from tinbook.part.features import Fold
from tinbook.part.partfile import part_from_toml, part_to_toml

PLATE = tb.Part("P", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100))


def test_a_method_a_file_and_the_docs_say_the_same() -> None:
    """180 degrees are half a turn, 330 the kit's own limit of a curl; an inch is 25.4 mm by definition."""
    folded = PLATE.fold("front", leg="1 in", angle="1.0 rad")
    assert folded.folds[0].leg == (25.4, 25.4)
    text = part_to_toml(folded)
    valid = f.kinds(Fold)["angle"].valid
    assert valid == "a number greater than 0 and at most 330 deg"
    with pytest.raises(BadValue, match=valid):
        PLATE.fold("front", leg=20, angle=331)
    with pytest.raises(BadFile, match=valid):
        part_from_toml(text.replace("angle = ", "angle = 331.0 # "))
    assert f"- angle: {valid}" in (Fold.__doc__ or "")


def test_a_family_its_slider_and_its_docs_say_the_same() -> None:
    (length,) = [p for p in parameters(tb.families.tunnel) if p.name == "length"]
    assert length.hint == "300 to 1800 mm"
    assert f"- length: {length.hint}\n" in (tb.families.tunnel.__doc__ or "")
    with pytest.raises(f.Beyond, match="300 to 1800 mm; nearest 1800") as wrong:
        tb.families.tunnel(length="2 m")  # type: ignore[arg-type]
    assert wrong.value.better == {("length",): 1800}


@dataclass(frozen=True, slots=True, kw_only=True)
class Peg:
    """A value with a field of every kind."""

    name: Annotated[str, f.Word("[a-z]+", "small letters")]
    dia: Annotated[float, f.Number("mm", above=0, most=20)]
    turns: Annotated[int, f.Count(1, 5)] = 1
    at: Annotated[tuple[float, float], f.Pair(f.Number("mm"))] = (0.0, 0.0)
    way: Literal["in", "out"] = "in"
    note: Annotated[str, f.Text(empty=True, most=10)] = ""
    glued: bool = False
    cap: float | None = None  # no kind: nobody checks it
    depth: Annotated[float, f.Number("mm", least=0)] | None = None

    def __post_init__(self) -> None:
        f.check_fields(self, f"peg {self.name!r}")


def test_values_are_turned_into_what_the_field_holds() -> None:
    peg = Peg(name="a", dia="1/2 in", at=["1 cm", 2], depth="3 mm")  # type: ignore[arg-type]
    assert (peg.dia, peg.at, peg.depth) == (12.7, (10.0, 2.0), 3.0)
    assert "cap" not in f.kinds(Peg)


@pytest.mark.parametrize(
    ("field", "value", "valid"),
    [
        ("name", "A", "small letters"),
        ("dia", 0, "greater than 0 and at most 20 mm"),
        ("dia", "4 kg", "a number in mm"),
        ("dia", True, "a number in mm"),
        ("dia", 1e9, "within 1000000 mm"),
        ("turns", 1.0, "a whole number from 1 to 5"),
        ("turns", "2", "a whole number from 1 to 5"),
        ("turns", True, "a whole number from 1 to 5"),
        ("at", (1, 2, 3), r"a pair \(x, y\)"),
        ("at", "12", r"a pair \(x, y\)"),
        ("way", "up", "in, out"),
        ("note", "x" * 11, "at most 10 printable characters"),
        ("glued", 1, "true or false"),
        ("depth", -1, "at least 0 mm"),
    ],
)
def test_what_cannot_be_used_is_named_with_what_would_be(field: str, value: Any, valid: str) -> None:
    with pytest.raises(BadValue, match=rf"peg '\w' {field}.*{valid}"):
        Peg(**{"name": "a", "dia": 5.0, field: value})


def test_choices_keep_their_type_and_an_unknown_one_lists_them() -> None:
    kind = f.Choice((3, 4, "thick"))
    assert kind.read(3.0, "t") == 3
    assert isinstance(kind.read(3.0, "t"), int)
    for value in (True, 5, [3], None):
        with pytest.raises(UnknownName, match="3, 4, thick"):
            kind.read(value, "t")


def test_a_whole_range_rounds_to_the_nearest_whole_number() -> None:
    kind = f.kind_of(Annotated[int, tb.Range(0, 9)])
    assert isinstance(kind, f.Range)
    assert (kind.whole, kind.nearest(12.2), kind.nearest(3.4)) == (True, 9, 3)
    with pytest.raises(f.Beyond, match="a whole number, 0 to 9; nearest 3"):
        kind.read(3.4, "holes")


def test_points_on_one_place_are_refused() -> None:
    assert f.Points().read([("1 cm", 0), (20, 0)], "path") == ((10.0, 0.0), (20.0, 0.0))
    for path in ([(0, 0)], [(0, 0), (0, 0)], "ab", 3):
        with pytest.raises(BadValue, match="path"):
            f.Points().read(path, "path")
