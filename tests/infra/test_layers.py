"""The written direction of dependencies holds."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import grimp
import pytest


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph("tinbook", include_external_packages=True, cache_dir=None)


def test_contracts(root: Path) -> None:
    command = "import sys; from importlinter.cli import lint_imports_command as run; run(['--no-cache'])"
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path.insert(0, 'kit'); {command}"],
        cwd=root,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_the_unfolder_is_a_witness(graph: grimp.ImportGraph) -> None:
    """read/step/ may know the ground and the equations, and nothing of how we make parts ourselves."""
    witnesses = sorted(m for m in graph.modules if m.startswith("tinbook.read.step."))
    assert witnesses
    for module in witnesses:
        for room in ("tinbook.part", "tinbook.making", "tinbook.shop", "tinbook.rules"):
            chains = graph.find_shortest_chains(module, room, as_packages=True)
            assert not chains, f"{module} reaches {room}: {chains}"


def test_kernel_stays_in_its_rooms(graph: grimp.ImportGraph) -> None:
    """The same rule as ruff's banned imports, over the whole graph."""
    allowed = ("tinbook.making.solid.", "tinbook.read.step.")
    for library in ("cadquery", "OCP"):
        if library in graph.modules:
            users = graph.find_modules_that_directly_import(library)
            assert sorted(u for u in users if not u.startswith(allowed)) == []
