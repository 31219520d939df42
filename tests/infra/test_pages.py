"""The page of each room: what the room is for, its doors, and an example that runs."""

from __future__ import annotations

import doctest
import importlib
import inspect
import re
from pathlib import Path

import pytest

import tinbook
from tinbook.doors import homes

HOUSE = Path(str(tinbook.__file__)).parent
PAGES = ["tinbook", *sorted(f"tinbook.{f.parent.name}" for f in HOUSE.glob("*/__init__.py"))]


@pytest.mark.parametrize("page", PAGES)
def test_the_example_on_a_page_runs(page: str) -> None:
    room = importlib.import_module(page)
    if page == "tinbook.bench":
        pytest.importorskip("ipywidgets")
    done = doctest.testmod(room, globs={"__name__": "__main__"}, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert done.attempted >= 2, "a page has an example"
    assert done.failed == 0


def test_every_folder_says_what_it_holds() -> None:
    for file in HOUSE.rglob("*/__init__.py"):
        package = ".".join(file.parent.relative_to(HOUSE.parent).parts)
        assert inspect.getdoc(importlib.import_module(package)), package


@pytest.mark.parametrize("page", PAGES)
def test_a_page_names_what_exists(page: str) -> None:
    """Every `tb.name` on a page can be had, every name alone is a door, a parameter of one, a module or a value of the room."""
    room = importlib.import_module(page)
    text = inspect.getdoc(room) or ""
    for path in re.findall(r"\btb\.(\w+(?:\.\w+)?)", text):
        first, _, second = path.partition(".")
        thing = getattr(tinbook, first)
        assert not second or hasattr(thing, second), path
    folder = Path(str(room.__file__)).parent
    known = (
        set(homes("tinbook"))
        | {"Made", "Sheet", "OutOfRange", "Literal", "bool", "str"}
        | {file.stem for file in folder.iterdir()}
    )
    if (folder / "__init__.pyi").exists():
        known |= set(homes(page))
        functions = [thing for name in homes(page) if inspect.isfunction(thing := getattr(room, name))]
        known |= {parameter for f in functions for parameter in inspect.signature(f).parameters}
    assert {n for n in re.findall(r"`(\w+)`", text) if not hasattr(room, n)} - known == set()
