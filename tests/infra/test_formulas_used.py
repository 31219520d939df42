"""Every formula of `tinbook.calc` is called by something that a user meets: the package, or a notebook's code."""

from __future__ import annotations

import ast
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tinbook.calc.book import book

ROOT: Final = Path(__file__).resolve().parents[2]
PACKAGE: Final = ROOT / "kit" / "tinbook"
CALC: Final = PACKAGE / "calc"
EXCEPTIONS: Final = {"struts.lid_sweep": "a lid's whole way in one call, for tables of a user's own"}
"""Formulas that nothing calls, each with the reason why it stays."""


def imported(tree: ast.Module) -> dict[str, str]:
    """Return what names from `calc` mean in a module, as room or room.name."""
    bound = {}
    for n in ast.walk(tree):
        if isinstance(n, ast.ImportFrom) and (n.module or "").startswith("tinbook.calc"):
            room = (n.module or "").removeprefix("tinbook.calc").lstrip(".")
            bound |= {a.asname or a.name: f"{room}.{a.name}".lstrip(".") for a in n.names}
    return bound


def called(tree: ast.AST, bound: dict[str, str], home: str = "") -> Iterator[str]:
    """Yield formulas, as room.name, that code names; `home` is its own room where it lies in `calc`."""
    for n in ast.walk(tree):
        if isinstance(n, ast.Name):
            yield bound.get(n.id, f"{home}.{n.id}")
        elif isinstance(n, ast.Attribute):
            held = n.value
            if isinstance(held, ast.Name) and held.id in bound:
                yield f"{bound[held.id]}.{n.attr}"
            elif isinstance(held, ast.Attribute) and "calc" in (
                getattr(held.value, "attr", ""),
                getattr(held.value, "id", ""),
            ):
                yield f"{held.attr}.{n.attr}"


def outside() -> Iterator[str]:
    """Yield the code outside `calc` that speaks of it."""
    for path in PACKAGE.rglob("*.py"):
        if path.parent != CALC and "tinbook.calc" in (text := path.read_text(encoding="utf-8")):
            yield text
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        code = ("".join(c["source"]) for c in cells if c["cell_type"] == "code")
        yield from (text for text in code if "calc." in text)


def test_every_formula_has_a_use() -> None:
    """Called from the package outside `calc` or a notebook's code, by itself or through another formula that is."""
    within: dict[str, set[str]] = {}
    for path in CALC.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        bound = imported(tree)
        for d in tree.body:
            if isinstance(d, ast.FunctionDef | ast.ClassDef):
                within[f"{path.stem}.{d.name}"] = set(called(d, bound, path.stem))
    trees = [ast.parse(text) for text in outside()]
    todo = {name for tree in trees for name in called(tree, imported(tree))}
    used: set[str] = set()
    while todo:
        used |= todo
        todo = {more for name in todo for more in within.get(name, ())} - used
    unused = {f.name for f in book()} - used
    assert len(EXCEPTIONS) <= 5
    assert set(EXCEPTIONS) <= {f.name for f in book()}
    assert unused <= set(EXCEPTIONS), "give it a use, or delete it with its row in kit/tinbook/calc/values.csv"
