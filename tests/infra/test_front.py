"""The public front: quick, lazy, and its verbs win over the rooms of the same name."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import tinbook

HEAVY = (
    "OCP",
    "cadquery",
    "vtkmodules",
    "ipywidgets",
    "anywidget",
    "IPython",
    "matplotlib",
    "scipy",
    "shapely",
    "pint",
    "numpy",
)


def python(root: Path, code: str) -> str:
    """Run `code` in a fresh interpreter that sees the package, and return what it prints."""
    env = dict(os.environ, PYTHONPATH=str(root / "kit"))
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_import_is_light(root: Path) -> None:
    loaded = json.loads(python(root, "import tinbook, sys, json; print(json.dumps(sorted(sys.modules)))"))
    assert "tinbook" in loaded
    assert [name for name in loaded if name.split(".")[0] in HEAVY] == []
    assert [name for name in loaded if name.startswith("tinbook.")] == []


@pytest.mark.parametrize(
    "before", ["", "import tinbook.make.made", "from tinbook.make import made; import tinbook.check"]
)
@pytest.mark.parametrize("verb", ["make", "check"])
def test_verb_wins_over_room(root: Path, before: str, verb: str) -> None:
    code = f"""
        import sys
        {before}
        import tinbook as tb
        assert callable(tb.{verb}), tb.{verb}
        home = tb.{verb}.__module__
        import importlib, tinbook.{verb}
        importlib.import_module(home)
        assert callable(tb.{verb}) and tb.{verb} is getattr(sys.modules[home], "{verb}")
        from tinbook import {verb} as named
        assert named is tb.{verb}
        from tinbook.make import made
        assert made.__name__ == "tinbook.make.made"
        print("good")
    """
    assert python(root, "\n".join(line.strip() for line in code.splitlines())).strip() == "good"


@pytest.mark.parametrize("name", sorted(tinbook._HOMES))
def test_every_public_name_is_there(name: str) -> None:
    assert getattr(tinbook, name).__name__ == name
    assert name in dir(tinbook)


def test_unknown_name_lists_what_exists() -> None:
    with pytest.raises(AttributeError, match=r"no attribute 'maek'; it has: .*make"):
        _ = tinbook.maek


def test_type_checkers_see_the_same_names() -> None:
    tree = ast.parse(Path(str(tinbook.__file__)).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    seen = {
        (alias.name, node.module) for node in block.body if isinstance(node, ast.ImportFrom) for alias in node.names
    }
    assert seen == set(tinbook._HOMES.items())


def test_nobody_imports_a_hidden_room_by_its_dotted_name(root: Path) -> None:
    """`import tinbook.make.made as m` asks the package for `make` and gets the verb."""
    found = []
    for folder in ("kit", "tests"):
        for path in (root / folder).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    found += [
                        f"{path.relative_to(root)}:{node.lineno}"
                        for alias in node.names
                        if alias.name.startswith("tinbook.") and alias.name.split(".")[1] in tinbook._HOMES
                    ]
    assert found == []
