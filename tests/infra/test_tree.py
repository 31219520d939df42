"""What lies in the repository, and what its pages point to."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tinbook.shop.shop import Shop


def tracked(root: Path) -> list[str]:
    if not (root / ".git").exists():
        pytest.skip("not a git work tree")
    done = subprocess.run(["git", "ls-files"], cwd=root, capture_output=True, text=True, check=True)
    return done.stdout.splitlines()


def test_nothing_built_or_fetched(root: Path) -> None:
    built = re.compile(r"(^|/)(node_modules|static|dist|build|__pycache__|\.venv)/|\.min\.js$|\.(whl|so|pyc)$")
    names = tracked(root)
    assert "kit/start.py" in names
    assert [name for name in names if built.search(name)] == []


def test_no_path_of_one_machine(root: Path) -> None:
    place = re.compile(r"(?<![\w.<>])/(?:tmp|root|work|Users|home/\w+)/\w")
    found = []
    for name in tracked(root):
        path = root / name
        if path.exists() and path.suffix in {".py", ".toml", ".md", ".yml", ".js", ".mjs", ".json", ".ipynb", ".csv"}:
            lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
            found += [f"{name}:{number}" for number, line in enumerate(lines, 1) if place.search(line)]
    assert found == []


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_pages_point_to_what_exists(root: Path, page: str) -> None:
    text = (root / page).read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in link]
    named = re.findall(r"`((?:kit|tests|notebooks|binder)/[\w./]+)`", text)
    assert links or named
    assert [path for path in [*links, *named] if not (root / path).exists()] == []


def test_notes_beside_the_code_name_files_that_exist(root: Path) -> None:
    """From the note's own room, the package, its tests or the root."""
    notes = [root / name for name in tracked(root) if name.endswith(("DECISIONS.md", "ADDING.md"))]
    assert len(notes) > 8
    lost = []
    for note in notes:
        places = [
            note.parent,
            root / "kit" / "tinbook",
            root,
            *(p for p in (root / "tests").glob("*/")),
            root / "tests",
        ]
        for name in re.findall(r"`([\w./-]+(?:\.py|\.md|\.js|\.toml|/))`", note.read_text(encoding="utf-8")):
            if not any((place / name).exists() for place in places):
                lost.append(f"{note.relative_to(root)}: {name}")
    assert lost == []


def test_pages_name_every_word_of_start(root: Path, start: ModuleType) -> None:
    text = (root / "README.md").read_text(encoding="utf-8")
    words = re.findall(r"(?m)^\| `python3 kit/start\.py ?(\w*)`", text)
    assert words == re.findall(r"(?m)^ {4}python3 kit/start\.py ?(\w*)", start.__doc__ or "")


def blocks(root: Path, page: str, language: str) -> list[str]:
    return re.findall(rf"(?ms)^```{language}\n(.*?)^```", (root / page).read_text(encoding="utf-8"))


ROOT = Path(__file__).resolve().parents[2]
PAGES = {"README.md": "HN-FP-L_B.dxf", "DEVELOPERS.md": "HN-W1_A_DC01_1.5mm_x1.dxf"} | {
    page.relative_to(ROOT).as_posix(): "" for page in sorted((ROOT / "kit" / "tinbook").rglob("ADDING.md"))
}
"""Page with code -> a file that its code writes to `out`."""


@pytest.mark.parametrize("page", PAGES)
def test_the_code_of_the_pages_runs(root: Path, page: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All blocks of a page, one after the other, in a folder that holds the notebooks and nothing else."""
    (tmp_path / "notebooks").symlink_to(root / "notebooks")
    (tmp_path / "out").mkdir()
    monkeypatch.chdir(tmp_path)
    code = blocks(root, page, "python")
    assert len(code) == (root / page).read_text(encoding="utf-8").count("```python") > 0
    # A module of its own: what is declared here looks its names up in `sys.modules`.
    module = ModuleType("page")
    monkeypatch.setitem(sys.modules, "page", module)
    for number, text in enumerate(code, 1):
        exec(compile(text, f"{page}, block {number}", "exec"), vars(module))
    assert PAGES[page] in {"", *(f.name for f in (tmp_path / "out").iterdir())}


def test_the_shop_file_of_the_first_page_loads(root: Path, tmp_path: Path) -> None:
    (text,) = blocks(root, "README.md", "toml")
    (tmp_path / "my_shop.toml").write_text(text, encoding="utf-8")
    shop = Shop.load(tmp_path / "my_shop.toml")
    assert (shop.name, shop.sheet("DC01", 1.5).thickness) == ("My workshop", 1.46)
    assert [(d.tool, d.deduction) for d in shop.deductions] == [("F1", 2.9)]
