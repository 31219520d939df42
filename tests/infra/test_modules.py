"""Modules stay small enough to read, and no two of them need each other."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tinbook.doors import homes
from weights import HEAVY

LIMIT = 400


def test_no_module_is_too_long_to_read(root: Path) -> None:
    long = set()
    for folder in ("kit", "tests"):
        for path in (root / folder).rglob("*.py"):
            if "node_modules" not in path.parts and len(path.read_text(encoding="utf-8").splitlines()) > LIMIT:
                long.add(path.relative_to(root).as_posix())
    assert long == set()


# --- circles --------------------------------------------------------------------------------------


def imports(tree: ast.Module, modules: set[str]) -> set[str]:
    """Return the modules that a module imports anywhere, functions included; not those that only type checkers see.

    What it takes from a lazy package (`import tinbook.making.solid as solids`, then `solids.build`) counts too.
    """
    found = set()
    lazy: dict[str, str] = {}
    todo: list[ast.AST] = [tree]
    while todo:
        node = todo.pop()
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            todo += node.orelse
            continue
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                below = f"{node.module}.{alias.name}"
                found.add(below if below in modules else node.module)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
            lazy |= {alias.asname: alias.name for alias in node.names if alias.asname and alias.name in modules}
        todo += ast.iter_child_nodes(node)
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in lazy:
            home = doors_of(lazy[node.value.id]).get(node.attr)
            found |= {home, f"{home}.{node.attr}"} if home else set()
    return found & modules


def doors_of(package: str) -> dict[str, str]:
    """Return the public names of a package and their homes; none for one that is not lazy."""
    file = Path(str(importlib.import_module(package).__file__) + "i")
    return homes(package) if file.exists() else {}


def circles(graph: dict[str, set[str]]) -> set[frozenset[str]]:
    """Return the groups of modules each of which reaches all others of its group."""

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        todo = list(graph[start])
        while todo:
            here = todo.pop()
            if here not in seen:
                seen.add(here)
                todo += graph[here]
        return seen

    reach = {name: reached(name) for name in graph}
    return {frozenset(other for other in reach[name] if name in reach[other]) for name in graph if name in reach[name]}


def package(root: Path) -> Iterator[tuple[str, Path]]:
    for path in (root / "kit" / "tinbook").rglob("*.py"):
        parts = path.relative_to(root / "kit").with_suffix("").parts
        yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


def test_no_import_circle(root: Path) -> None:
    """Imports in functions count: they hide a circle, they do not open it."""
    modules = dict(package(root))
    texts = {name: path.read_text(encoding="utf-8") for name, path in modules.items()}
    # One tree at a time: all of them together keep the collector of garbage busy for longer than this takes.
    found = circles({name: imports(ast.parse(text), set(modules)) - {name} for name, text in texts.items()})
    assert found == set()


@pytest.mark.parametrize(
    ("graph", "expected"),
    [
        ({"a": {"b"}, "b": {"c"}, "c": set()}, set()),
        ({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}, {frozenset("abc")}),
        ({"a": {"b"}, "b": {"a"}, "c": {"d", "a"}, "d": {"c"}}, {frozenset("ab"), frozenset("cd")}),
    ],
)
def test_circles_are_found(graph: dict[str, set[str]], expected: set[frozenset[str]]) -> None:
    assert circles(graph) == expected


def test_imports_in_functions_are_seen_and_those_for_type_checkers_are_not() -> None:
    source = """
from typing import TYPE_CHECKING
if TYPE_CHECKING:
    from a import b
def f():
    from c.d import e
    import g.h
"""
    assert imports(ast.parse(source), {"a", "c.d", "c.d.e", "g.h"}) == {"c.d.e", "g.h"}


def test_what_is_taken_from_a_lazy_package_is_seen() -> None:
    source = """
import tinbook as tb
import tinbook.making.solid as solids
def f():
    return tb.make, solids.build.shape
"""
    modules = {"tinbook", "tinbook.making.resolve", "tinbook.making.solid", "tinbook.making.solid.build"}
    assert imports(ast.parse(source), modules) == modules


def test_the_list_of_heavy_test_modules_names_what_exists(root: Path) -> None:
    assert [name for name in HEAVY if not (root / name).exists()] == []
