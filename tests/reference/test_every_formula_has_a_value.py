"""Every public function of `tinbook.calc` has a value from outside the project and names a known source.

Each reference test file lists the functions whose values it holds in a tuple `COVERS` of full names, which must also
be called in that file. The files are parsed, not imported, so a broken test cannot hide its list.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import tinbook.calc
from tinbook.sources import SOURCES

HERE = Path(__file__).parent
GUARDS = {"limits"}
"""Rooms of `calc` that hold no formula."""


def formulas() -> Iterator[str]:
    for module in pkgutil.iter_modules(tinbook.calc.__path__):
        if module.name in GUARDS:
            continue
        room = importlib.import_module(f"tinbook.calc.{module.name}")
        for name, thing in inspect.getmembers(room, inspect.isfunction):
            # An undecorated look: a cached function counts as well.
            if not name.startswith("_") and inspect.unwrap(thing).__module__ == room.__name__:
                yield f"{room.__name__}.{name}"


def covers() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for file in sorted(HERE.glob("test_*.py")):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        called = {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
        called |= {n.id for n in ast.walk(tree) if isinstance(n, ast.Name)}
        for node in tree.body:
            names = [t.id for t in getattr(node, "targets", []) if isinstance(t, ast.Name)]
            if isinstance(node, ast.Assign) and names == ["COVERS"]:
                for full in ast.literal_eval(node.value):
                    used = full.rsplit(".", 1)[1] in called
                    found.setdefault(full, []).append(file.name if used else f"{file.name}, which never calls it")
    return found


def test_every_formula_has_an_outside_value() -> None:
    missing = sorted(set(formulas()) - set(covers()))
    assert not missing, f"{len(missing)} formulas without an outside value in tests/reference: {', '.join(missing)}"


def test_the_lists_are_true() -> None:
    known = set(formulas())
    wrong = {name: files for name, files in covers().items() if name not in known or any("never" in f for f in files)}
    assert not wrong


@pytest.mark.parametrize("name", [n for n in sorted(formulas()) if not n.endswith("_source")])
def test_every_formula_names_its_source(name: str) -> None:
    room, function = name.rsplit(".", 1)
    text = " ".join((inspect.getdoc(getattr(importlib.import_module(room), function)) or "").split())
    stated = re.split(r"[Ss]ources?: ", text)[1:]
    assert stated, f"{name}: no 'Source:' in its docstring"
    keys = sorted(SOURCES, key=len, reverse=True)
    for part in stated:
        # Plain or in backticks; a first word such as "below 3 mm" may come before it.
        assert any(key in part.split(". ")[0].replace("`", "") for key in keys), (
            f"{name}: unknown source in {part[:60]!r}"
        )
