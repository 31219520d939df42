"""The public front: quick, lazy, and its verbs win over the rooms of the same name."""

from __future__ import annotations

import importlib
import inspect
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import tinbook
from tinbook.doors import homes

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

HOUSE = Path(str(tinbook.__file__)).parent
PACKAGES = ("tinbook", *sorted(f"tinbook.{stub.parent.name}" for stub in HOUSE.glob("*/__init__.pyi")))


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
    assert [name for name in loaded if name.startswith("tinbook.")] == ["tinbook.doors"]


def test_import_stays_quick(root: Path) -> None:
    """Beside the two modules of its own it loads `importlib` alone: time is counted in modules, not on a clock."""
    code = "import sys; old = set(sys.modules); import tinbook; new = set(sys.modules) - old; print(*sorted(new))"
    bare = [sys.executable, "-I", "-S", "-c", f"import sys; sys.path.insert(0, {str(root / 'kit')!r}); {code}"]
    done = subprocess.run(bare, capture_output=True, text=True, check=True)
    assert {name for name in done.stdout.split() if not name.startswith(("importlib", "_"))} <= {
        "tinbook",
        "tinbook.doors",
        "warnings",
    }


def test_rooms_load_nothing_until_a_door_is_used(root: Path) -> None:
    code = "import tinbook as tb, sys, json; tb.families, tb.calc, tb.errors, tb.strength; print(json.dumps(list(sys.modules)))"
    loaded = json.loads(python(root, code))
    assert {name.split(".")[0] for name in loaded} & set(HEAVY) == set()
    assert "tinbook.calc.bending" not in loaded


def test_the_kernel_loads_when_a_solid_is_needed(root: Path) -> None:
    names = "tb.make, tb.assemble, tb.check, tb.unfold, tb.adopt, tb.write_step, tb.write_glb, tb.write_files"
    loaded = json.loads(python(root, f"import tinbook as tb, sys, json; {names}; print(json.dumps(list(sys.modules)))"))
    assert "tinbook.read.adopt.part" in loaded
    assert {name.split(".")[0] for name in loaded} & {"OCP", "cadquery", "vtkmodules"} == set()


def test_the_front_is_short() -> None:
    """Verbs, values and the four fixed families; everything else is a door of its room."""
    names = {name for name, home in homes("tinbook").items() if home != "tinbook"}
    assert len(names) <= 60, "with fitting, jobs and releases"
    for family in ("folded_channel", "hemmed_dash_edge", "bead_rolled_panel", "floor_pan"):
        assert getattr(tinbook, family) is getattr(tinbook.families, family)


def test_the_guide_lists_the_front(root: Path) -> None:
    guide = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = guide[guide.index("| on the front | names |") :].split("\n\n")[0]
    assert set(re.findall(r"`(\w+)`", rows)) == set(homes("tinbook"))


@pytest.mark.parametrize("package", PACKAGES)
def test_every_door_is_documented(package: str) -> None:
    page = importlib.import_module(package)
    assert set(homes(package)) <= set(dir(page))
    for name in homes(package):
        thing = getattr(page, name)
        assert thing.__name__.rpartition(".")[2] == name
        assert (thing.__doc__ or "").strip(), f"{package}.{name}"
        assert inspect.ismodule(thing) or thing.__module__.startswith("tinbook."), thing


@pytest.mark.parametrize("package", PACKAGES)
def test_no_door_shares_its_name_with_a_module(package: str) -> None:
    """Python binds a module on its package when it is first imported, which would hide the door."""
    files = {path.stem for path in Path(str(importlib.import_module(package).__file__)).parent.iterdir()}
    assert files & {name for name, home in homes(package).items() if home != package} == set()


@pytest.mark.parametrize("package", PACKAGES)
def test_unknown_name_lists_what_exists(package: str) -> None:
    page, known = importlib.import_module(package), sorted(homes(package))
    with pytest.raises(AttributeError, match=f"module '{package}' has no attribute 'maek'; it has: {known[0]}"):
        _ = page.maek


def test_a_star_import_brings_the_doors() -> None:
    names: dict[str, object] = {}
    exec("from tinbook.fit import *", names)
    assert set(homes("tinbook.fit")) <= set(names)


def test_a_room_is_imported_by_its_dotted_name() -> None:
    import tinbook.making.resolve as r

    assert r.make is tinbook.make
