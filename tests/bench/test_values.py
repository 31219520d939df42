"""History of values, values as code, values in a file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tinbook.bench.parameters import parameters
from tinbook.bench.values import LONGEST, History, as_code, load_values, save_values
from tinbook.errors import BadFile, BadValue, CannotWrite
from tinbook.fields import Range


def design(
    length: Annotated[float, Range(600, 1200, 5, "mm")] = 900,
    beads: Annotated[int, Range(0, 9)] = 5,
    side: Literal["left", "right"] = "left",
    label: str = "",
) -> dict[str, object]:
    """A design."""
    return {"length": length, "beads": beads, "side": side, "label": label}


GIVEN = parameters(design)


def test_undo_and_redo_walk_the_same_steps() -> None:
    h = History(({"a": 1},)).step({"a": 2}).step({"a": 3})
    assert h.undo().now == {"a": 2}
    assert h.undo().undo().now == {"a": 1}
    assert h.undo().undo().undo().now == {"a": 1}
    assert h.undo().undo().redo().redo().redo() == h


def test_another_control_begins_another_step() -> None:
    start = {"a": 1, "b": 1}
    h = History((start,))
    assert h.parted(start, {"a": 2, "b": 1}) == h  # the first move
    assert h.parted({"a": 2, "b": 1}, {"a": 3, "b": 1}) == h  # the same slider, on its way
    both = h.parted({"a": 3, "b": 1}, {"a": 3, "b": 2}).step({"a": 3, "b": 2})
    assert both.done == (start, {"a": 3, "b": 1}, {"a": 3, "b": 2})


def test_a_new_step_forgets_what_was_undone_and_the_same_values_are_no_step() -> None:
    h = History(({"a": 1},)).step({"a": 2}).undo().step({"a": 5})
    assert h.redo().now == {"a": 5}
    assert h.step({"a": 5}) is h


def test_the_history_does_not_grow_without_end() -> None:
    h = History(({"a": 0},))
    for i in range(LONGEST + 50):
        h = h.step({"a": i + 1})
    assert len(h.done) == LONGEST
    assert h.now == {"a": LONGEST + 50}


@given(
    length=st.floats(600, 1200),
    beads=st.integers(0, 9),
    side=st.sampled_from(["left", "right"]),
    label=st.text(max_size=20),
)
def test_values_as_code_give_the_same_values_again(length: float, beads: int, side: str, label: str) -> None:
    values = {"length": length, "beads": beads, "side": side, "label": label}
    assert eval(as_code("design", values), {"design": design}) == values


@given(
    length=st.floats(600, 1200),
    beads=st.integers(0, 9),
    label=st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
)
def test_saved_values_come_back_exactly(
    tmp_path_factory: pytest.TempPathFactory, length: float, beads: int, label: str
) -> None:
    folder = tmp_path_factory.mktemp("values")
    values = {"length": length, "beads": beads, "side": "right", "label": label}
    file = save_values(folder / "pan.toml", "design", values, GIVEN)
    assert load_values(file, "design", GIVEN) == values
    assert [p.name for p in folder.iterdir()] == ["pan.toml"]


def test_a_folder_gets_a_file_named_after_the_function(tmp_path: Path) -> None:
    assert save_values(tmp_path, "design", {"beads": 1}, GIVEN).name == "design_values.toml"


def test_values_replace_values_and_nothing_else(tmp_path: Path) -> None:
    file = save_values(tmp_path / "a.toml", "design", {"beads": 1}, GIVEN)
    assert save_values(file, "design", {"beads": 2}, GIVEN) == file
    for other in ('base = "demo"\n', 'function = "lid"\n', 'function = "design"\n[sheets]\n', "no toml ="):
        file.write_text(other, encoding="utf-8")
        with pytest.raises(CannotWrite, match="holds no values of 'design'"):
            save_values(file, "design", {"beads": 3}, GIVEN)
        assert file.read_text(encoding="utf-8") == other


def test_the_same_values_give_the_same_bytes(tmp_path: Path) -> None:
    a = save_values(tmp_path / "a.toml", "design", {"beads": 1, "length": 700.0}, GIVEN).read_bytes()
    assert a == save_values(tmp_path / "b.toml", "design", {"beads": 1, "length": 700.0}, GIVEN).read_bytes()
    assert b"\r" not in a


@pytest.mark.parametrize("name", ["missing/pan.toml", "pan.dxf", "pa<n.toml", "con.toml"])
def test_an_unusable_file_name_is_refused_and_nothing_is_written(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadValue):
        save_values(tmp_path / name, "design", {"beads": 1}, GIVEN)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("function = 'other'\n[values]\nbeads = 3\n", "'other'; valid: 'design'"),
        ("function = 'design'\n[values]\nbeads = 99\nside = 'up'\ndepth = 3\n", "3 mistake"),
        ("function = 'design'\nvalues = 3\n", "a table of parameters"),
        ("function = 'design'\nextra = 1\n", "extra: unknown"),
        ("function = 'design'\n[values]\nlength = inf\n", "length"),
        ("not toml at all", "valid: a file that the Save button wrote"),
        ("\x00\xff", "valid: a file that the Save button wrote"),
    ],
)
def test_a_wrong_file_is_refused_with_all_its_mistakes(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "pan.toml"
    file.write_bytes(text.encode("latin-1"))
    with pytest.raises(BadFile, match=said):
        load_values(file, "design", GIVEN)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(BadFile, match="mistake"):
            load_values(path, "design", GIVEN)
