"""The lists of what to install agree with each other, and none names a place on the net."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

import pytest
import yaml
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name
from packaging.version import Version


@pytest.fixture(scope="module")
def project(root: Path) -> dict[str, Any]:
    return tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def lock(root: Path) -> str:
    return (root / "kit" / "requirements.lock").read_text(encoding="utf-8")


def entries(lock: str) -> dict[str, list[tuple[Version, int]]]:
    """Name -> its locked versions (one for each range of Python), each with its number of hashes."""
    found: dict[str, list[tuple[Version, int]]] = {}
    for block in re.split(r"\n(?=[A-Za-z])", lock):
        head, *rest = block.splitlines()
        requirement = Requirement(head.rstrip(" \\"))
        (pin,) = requirement.specifier
        assert pin.operator == "=="
        hashes = sum(bool(re.fullmatch(r" {4}--hash=sha256:[0-9a-f]{64}( \\)?", line)) for line in rest)
        assert hashes == len(rest), f"{head}: a line that is no hash"
        found.setdefault(canonicalize_name(requirement.name), []).append((Version(pin.version), hashes))
    return found


def wanted(project: dict[str, Any]) -> list[Requirement]:
    table = project["project"]
    lists = [table["dependencies"], *table["optional-dependencies"].values()]
    return [Requirement(text) for one in lists for text in one]


def test_lock_holds_what_the_project_asks_for(project: dict[str, Any], lock: str) -> None:
    locked = entries(lock)
    for requirement in wanted(project):
        versions = locked.get(canonicalize_name(requirement.name), [])
        assert versions, f"{requirement} is not locked"
        assert all(version in requirement.specifier for version, _ in versions), requirement
    assert all(hashes > 0 for versions in locked.values() for _, hashes in versions)


def test_lock_holds_what_its_libraries_ask_for(lock: str) -> None:
    """It is installed as it stands, so nobody else adds what a library needs."""
    locked = entries(lock)
    here = {canonicalize_name(found.name): found for found in distributions()}
    asked = {
        (library, canonicalize_name(requirement.name))
        for library in locked
        if library in here
        for requirement in map(Requirement, here[library].requires or ())
        if requirement.marker is None or requirement.marker.evaluate({"extra": ""})
    }
    assert len(asked) > 300
    assert sorted(pair for pair in asked if pair[1] not in locked) == []


@pytest.mark.parametrize("file", ["kit/requirements.lock", "kit/viewer/package-lock.json", "kit/viewer/package.json"])
def test_no_addresses(root: Path, file: str) -> None:
    text = (root / file).read_text(encoding="utf-8")
    # "funding" names a page of thanks, nothing that npm reads from.
    kept = [line for line in text.splitlines() if '"url":' not in line]
    assert [line for line in kept if re.search(r"://|--(extra-)?index|--find-links|file:", line)] == []


def test_every_npm_package_has_its_hash(root: Path) -> None:
    packages = json.loads((root / "kit/viewer/package-lock.json").read_text(encoding="utf-8"))["packages"]
    libraries = {name: entry for name, entry in packages.items() if name}
    assert libraries
    assert [name for name, entry in libraries.items() if not entry["integrity"].startswith("sha512-")] == []


def test_build_requirements_are_locked_too(project: dict[str, Any]) -> None:
    assert project["build-system"]["requires"] == project["project"]["optional-dependencies"]["build"]


def test_conda_list_agrees(root: Path, project: dict[str, Any]) -> None:
    listed = yaml.safe_load((root / "environment.yml").read_text(encoding="utf-8"))
    assert listed["channels"] == ["conda-forge"]
    texts = [text for text in listed["dependencies"] if text != "pip"]
    python, *rest = (Requirement(text) for text in texts)
    assert (python.name, python.specifier) == ("python", SpecifierSet(project["project"]["requires-python"]))
    assert {str(r) for r in rest} == {str(Requirement(text)) for text in project["project"]["dependencies"]}


def test_binder_lists_agree(root: Path, project: dict[str, Any], start: Any) -> None:
    listed = yaml.safe_load((root / "binder" / "environment.yml").read_text(encoding="utf-8"))
    assert listed["channels"] == ["conda-forge"]
    python, pip = listed["dependencies"]
    name, version = python.split(" =")
    assert name == "python"
    assert Version(version) in SpecifierSet(project["project"]["requires-python"])
    assert pip == "pip"
    assert (root / "binder" / "apt.txt").read_text().split() == sorted(start.LIBRARIES.values())
    script = (root / "binder" / "postBuild").read_text()
    assert "--no-deps --require-hashes --only-binary :all: -r kit/requirements.lock" in script
    assert "--no-deps --no-build-isolation -e ." in script
    assert (root / "binder" / "postBuild").stat().st_mode & 0o111, "Binder runs only an executable postBuild"


def test_binder_would_take_the_repository(root: Path) -> None:
    """repo2docker reads the lists as Binder does and prints the image it would build."""
    done = subprocess.run(
        [sys.executable, "-m", "repo2docker", "--no-build", "."], cwd=root, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert "RUN ./binder/postBuild" in done.stdout
    assert "libexpat1 libgl1 libx11-6" in done.stdout
    assert "binder/environment.yml" in done.stdout


def test_ci_installs_what_the_kernel_needs(root: Path, start: Any) -> None:
    script = (root / ".ci" / "run").read_text()
    for library, package in start.LIBRARIES.items():
        assert f"\n{library} {package}\n" in script


@pytest.mark.full
def test_binder_steps_in_a_fresh_environment(root: Path, tmp_path: Path) -> None:
    """Binder's postBuild in an empty environment, then a part's way in; needs the net and some minutes."""
    copy = tmp_path / "copy"
    subprocess.run(["git", "clone", "-q", str(root), str(copy)], check=True)
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "env")], check=True)
    path = f"{tmp_path / 'env' / 'bin'}:/usr/bin:/bin"
    # Everything else stays: a workplace may need its certificates to reach the net.
    home = dict(os.environ, PATH=path, HOME=str(tmp_path))
    done = subprocess.run([str(copy / "binder" / "postBuild")], env=home, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    code = "import tinbook as tb, cadquery, ipywidgets; print(tb.Shop.demo() and tb.__file__)"
    done = subprocess.run(["python", "-c", code], env=home, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert str(copy) in done.stdout
