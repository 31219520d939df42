"""Seeded mutants: break the package in one place at a time and see whether a test notices.

    python tests/mutants.py                          60 mutants, 12 in each room
    python tests/mutants.py --room route --seed 3    other places of one room
    python tests/mutants.py --only route-4 --show    one mutant, as a diff

A mutant is one changed operator, constant, comparison, branch or dropped call, drawn from a seed. It is made in a copy of
`kit` and `tests`, never in the tree itself. The tests that import the changed module run first, then the rest of
its room, then the invariants, and the first failure ends the run. A mutant that nothing kills means a missing test, or
a change that makes no difference; which of the two, a person decides. pytest does not collect this file.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from weights import HEAVY

ROOT = Path(__file__).resolve().parents[1]
ROOMS: dict[str, tuple[str, ...]] = {
    "making": ("tests/making", "tests/invariants", "tests/families", "tests/write"),
    "route": ("tests/route", "tests/invariants", "tests/assembly"),
    "rules": ("tests/rules", "tests/invariants", "tests/assembly", "tests/families"),
    "read": ("tests/read", "tests/invariants"),
    "write": ("tests/write", "tests/invariants", "tests/assembly"),
}
"""Room of the package -> folders of tests that run against its mutants, in this order."""
EACH = 12
SECONDS = 900
"""CPU seconds after which a mutant counts as killed: it hangs."""

ARITHMETIC = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult}
LOGIC = {ast.And: ast.Or, ast.Or: ast.And}
COMPARISON = {
    ast.Lt: ast.Gt,
    ast.LtE: ast.GtE,
    ast.Gt: ast.Lt,
    ast.GtE: ast.LtE,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One changed place: `path` is relative to the root, `text` the whole changed module."""

    key: str
    kind: str
    path: str
    line: int
    before: str
    text: str

    def diff(self) -> str:
        """Return the change as a unified diff without context."""
        lines = difflib.unified_diff(
            self.before.splitlines(), self.text.splitlines(), self.path, self.path, n=0, lineterm=""
        )
        return "\n".join(lines)


Place = ast.expr | ast.stmt


def places(tree: ast.Module) -> Iterator[tuple[str, Place]]:
    """Yield (kind, node) for every place inside a function that can be changed; annotations and docstrings are left out."""
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            todo: list[ast.AST] = list(function.body)
            while todo:
                node = todo.pop()
                if isinstance(
                    node, ast.FunctionDef | ast.ClassDef | ast.JoinedStr | ast.Raise | ast.Import | ast.Assert
                ):
                    continue  # inner functions come by themselves; messages are no arithmetic
                if isinstance(node, Place):
                    yield from ((kind, node) for kind in kinds_of(node))
                todo += [
                    c
                    for c in ast.iter_child_nodes(node)
                    if not (isinstance(node, ast.AnnAssign) and c is node.annotation)
                ]


def kinds_of(node: Place) -> Iterator[str]:
    """Yield the kinds of change that a node allows."""
    if isinstance(node, ast.BoolOp) or (
        isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC and not _text(node)
    ):
        yield "operator"
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield "constant"
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        yield "comparison"
    elif isinstance(node, ast.If | ast.IfExp):
        yield "branch"
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield "dropped call"


def _text(node: ast.BinOp) -> bool:
    return any(
        isinstance(s, ast.JoinedStr) or (isinstance(s, ast.Constant) and isinstance(s.value, str))
        for s in ast.walk(node)
    )


def changed(kind: str, node: Place) -> ast.expr:
    """Return what takes the place of a node."""
    if isinstance(node, ast.BinOp):
        return ast.BinOp(node.left, ARITHMETIC[type(node.op)](), node.right)
    if isinstance(node, ast.BoolOp):
        return ast.BoolOp(LOGIC[type(node.op)](), node.values)
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return ast.Constant(node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + 0.01)
    if isinstance(node, ast.Compare):
        return ast.Compare(node.left, [COMPARISON[type(node.ops[0])]()], node.comparators)
    if isinstance(node, ast.If | ast.IfExp):
        return ast.UnaryOp(ast.Not(), node.test)
    assert kind == "dropped call"
    return ast.Constant(None)


def mutants_of(room: str, seed: int, count: int = EACH, root: Path = ROOT) -> list[Mutant]:
    """Return `count` mutants of a room, the five kinds in turn, the same for the same seed and source."""
    rng = random.Random(f"{room} {seed}")
    texts = {p: p.read_text(encoding="utf-8") for p in sorted((root / "kit" / "tinbook" / room).rglob("*.py"))}
    found: dict[str, list[tuple[Path, Place]]] = {}
    for path, text in texts.items():
        for kind, node in places(ast.parse(text)):
            found.setdefault(kind, []).append((path, node))
    for of_kind in found.values():
        rng.shuffle(of_kind)
    mutants = []
    for n in range(count):
        kind = sorted(found)[n % len(found)]
        path, node = found[kind].pop()
        place = node.test if isinstance(node, ast.If | ast.IfExp) else node
        text = _replaced(texts[path], place, ast.unparse(ast.fix_missing_locations(changed(kind, node))))
        name = path.relative_to(root).as_posix()
        mutants.append(
            Mutant(key=f"{room}-{n + 1}", kind=kind, path=name, line=place.lineno, before=texts[path], text=text)
        )
    return mutants


def _replaced(text: str, node: Place, new: str) -> str:
    """Put other source in a node's place; in brackets, so that precedence and line breaks hold."""
    lines = text.encode().splitlines(keepends=True)
    assert node.end_lineno is not None
    first, last = node.lineno - 1, node.end_lineno - 1
    head = b"".join(lines[:first]) + lines[first][: node.col_offset]
    tail = lines[last][node.end_col_offset :] + b"".join(lines[last + 1 :])
    return (head + f"({new})".encode() + tail).decode()


def selected(mutant: Mutant, root: Path) -> list[str]:
    """Return the test modules that run against a mutant: those that import its module, then its room's, then the rest.

    The heaviest come last in each group.
    """
    module = mutant.path.removeprefix("kit/").removesuffix(".py").replace("/", ".")
    listed: list[tuple[bool, int, int, str]] = []
    for n, folder in enumerate(ROOMS[mutant.key.split("-")[0]]):
        for path in sorted((root / folder).glob("test_*.py")):
            name = path.relative_to(root).as_posix()
            heavy = len(HEAVY) - HEAVY.index(name) if name in HEAVY else 0
            listed.append((module not in path.read_text(encoding="utf-8"), n, heavy, name))
    return [name for *_, name in sorted(listed)]


CHILD = """
import resource, sys
import pytest
seconds, *modules = sys.argv[1:]
resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds)))
words = ["-x", "-q", "-n0", "-p", "no:cacheprovider", "--no-header", "--tb=no", "-rfE"]
for module in modules:  # one after the other, so that the first failure spares the collection of the rest
    code = pytest.main([*words, module])
    if code not in (0, 5):
        sys.exit(int(code))
"""


def run(copy: Path, seconds: int, *tests: str) -> subprocess.CompletedProcess[str]:
    """Run tests in the copy, until the first that fails."""
    env = {**os.environ, "PYTHONPATH": str(copy / "kit"), "PYTHONDONTWRITEBYTECODE": "1", "TINBOOK_SEED": "1"}
    return subprocess.run(
        [sys.executable, "-c", CHILD, str(seconds), *tests], cwd=copy, env=env, capture_output=True, text=True
    )


def killed_by(mutant: Mutant, copy: Path, bad: set[str]) -> str:
    """Return the test that a mutant fails, "" where it survives; the modules `bad` are left out."""
    place = copy / mutant.path
    place.write_text(mutant.text, encoding="utf-8")
    try:
        done = run(copy, SECONDS, *(name for name in selected(mutant, copy) if name not in bad))
    finally:
        place.write_text(mutant.before, encoding="utf-8")
    if done.returncode == 0:
        return ""
    if done.returncode < 0:
        return f"no end within {SECONDS} CPU seconds"
    said = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return said[-1].split(" - ")[0].split(" ", 1)[1] if said else f"exit code {done.returncode}"


def main() -> int:
    """Run the mutants and print one line for each; the exit code is 1 where one survives."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--room", choices=ROOMS, action="append")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=EACH, help="mutants of each room")
    parser.add_argument("--only", nargs="*", help="keys, as printed")
    parser.add_argument("--show", action="store_true", help="print the changes and run nothing")
    asked = parser.parse_args()
    chosen = [m for room in asked.room or ROOMS for m in mutants_of(room, asked.seed, asked.count)]
    chosen = [m for m in chosen if not asked.only or m.key in asked.only]
    if asked.show:
        print("\n\n".join(f"{m.key} {m.kind}\n{m.diff()}" for m in chosen))
        return 0
    survived, good, bad = 0, set[str](), set[str]()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("kit", "tests", "notebooks"):
            shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("node_modules", "__pycache__"))
        for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / name, copy / name)
        for mutant in chosen:
            while (killer := killed_by(mutant, copy, bad)).startswith("tests/") and killer not in good:
                if run(copy, SECONDS, killer).returncode == 0:
                    good.add(killer)
                else:
                    bad.add(killer.split("::")[0])
                    print(f"{killer} fails unchanged as well: its module is left out", flush=True)
            survived += not killer
            print(f"{mutant.key:10} {mutant.kind:12} {mutant.path}:{mutant.line} {killer or 'SURVIVED'}", flush=True)
    print(f"{len(chosen) - survived} of {len(chosen)} killed")
    return int(survived > 0)


if __name__ == "__main__":
    sys.exit(main())
