"""How families and notebooks are written: short enough to be read and copied."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path


def test_every_family_function_is_short_enough_to_copy(root: Path) -> None:
    for file in sorted((root / "kit" / "tinbook" / "families").glob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                doc = node.body[0] if ast.get_docstring(node) else None
                own = node.end_lineno - node.lineno + 1 - (doc.end_lineno - doc.lineno + 1 if doc else 0)  # type: ignore[operator]
                assert own <= 65, f"{file.name}: {node.name} has {own} lines"


def _is_family(node: ast.AST) -> bool:
    """Whether it is the part itself: a function for the workbench, its parameters with ranges, at most 30 lines."""
    return isinstance(node, ast.FunctionDef) and "Range" in ast.dump(node.args) and node.end_lineno - node.lineno < 30  # type: ignore[operator]


def test_no_helper_in_a_notebook_is_longer_than_eight_lines(root: Path) -> None:
    for file in sorted((root / "notebooks").glob("*.ipynb")):
        for cell in json.loads(file.read_text(encoding="utf-8"))["cells"]:
            text = "".join(cell["source"])
            if cell["cell_type"] != "code" or text.lstrip().startswith(("%", "!")):
                continue
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.FunctionDef | ast.ClassDef) and not _is_family(node):
                    # The reference cases build meshes of their own, in lines of 88 columns.
                    most = 17 if file.stem == "18_verification" else 8
                    assert node.end_lineno - node.lineno + 1 <= most, f"{file.name}: {node.name}"  # type: ignore[operator]


def test_no_two_notebooks_write_the_same_file(root: Path) -> None:
    """They are run side by side, by the tests and by people: the later one's pan would stand under the name of the first."""
    written: dict[str, str] = {}
    for file in sorted((root / "notebooks").glob("*.ipynb")):
        for cell in json.loads(file.read_text(encoding="utf-8"))["cells"]:
            told = "".join("".join(o.get("text", "")) for o in cell.get("outputs", ()))
            for name in re.findall(r"\bout/[\w./+-]+\.\w+", told):
                assert written.setdefault(name, file.name) == file.name, f"{name}: {written[name]} and {file.name}"
    assert len(written) > 50
