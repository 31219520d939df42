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


def test_no_verb_shares_its_name_with_a_room() -> None:
    """A subpackage of a verb's name would hide the verb as soon as anything imports it."""
    rooms = {path.stem for path in Path(str(tinbook.__file__)).parent.iterdir()}
    assert rooms & set(tinbook._HOMES) == set()


def test_a_room_is_imported_by_its_dotted_name() -> None:
    import tinbook.making.resolve as r

    assert r.make is tinbook.make
