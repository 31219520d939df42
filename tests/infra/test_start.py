"""kit/start.py: clear messages, each step once, nothing but the standard library."""

from __future__ import annotations

import ast
import ctypes
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest


def test_standard_library_only_and_readable_by_old_pythons(root: Path) -> None:
    source = (root / "kit" / "start.py").read_text(encoding="utf-8")
    tree = ast.parse(source, feature_version=(3, 6))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert names
    assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names


@pytest.mark.parametrize("version", [(3, 10, 13), (3, 15, 0), (2, 7, 18)])
def test_wrong_python(start: ModuleType, monkeypatch: pytest.MonkeyPatch, version: tuple[int, int, int]) -> None:
    monkeypatch.setattr(sys, "version_info", version)
    monkeypatch.setattr(start.shutil, "which", lambda name: f"/somewhere/{name}")
    monkeypatch.setattr(start, "runs", lambda command: command[0] == "python3.12")
    with pytest.raises(start.Trouble, match=r"needs Python 3\.11 to 3\.14; this is .*run it as: python3\.12 kit/start"):
        start.check_python()
    monkeypatch.setattr(start, "runs", lambda command: False)
    with pytest.raises(start.Trouble, match=r"install one of: python3\.14, python3\.13, python3\.12, python3\.11"):
        start.check_python()


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 14, 9)])
def test_right_python(start: ModuleType, monkeypatch: pytest.MonkeyPatch, version: tuple[int, int, int]) -> None:
    monkeypatch.setattr(sys, "version_info", version)
    start.check_python()


def test_programs_of_each_system(start: ModuleType) -> None:
    assert start.python_of(Path("home"), "posix").as_posix() == "home/bin/python"
    assert start.python_of(Path("home"), "nt").as_posix() == "home/Scripts/python.exe"


@pytest.fixture
def steps(start: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A project in an empty folder whose steps only note that they ran."""
    for name in ("kit/requirements.lock", "pyproject.toml", "kit/build_hook.py", "kit/viewer/main.js"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("first")
    monkeypatch.delenv("TINBOOK_NO_VIEWER", raising=False)
    for constant, value in {
        "ROOT": tmp_path,
        "HOME": tmp_path / ".venv",
        "STAMP": tmp_path / ".venv" / "tinbook.json",
        "LOCK": tmp_path / "kit" / "requirements.lock",
        "VIEWER": tmp_path / "kit" / "viewer",
        "PYTHON": tmp_path / ".venv" / "python",
    }.items():
        monkeypatch.setattr(start, constant, value)
    done: list[str] = []

    def make() -> None:
        done.append("environment")
        start.HOME.mkdir(exist_ok=True)
        start.PYTHON.touch()

    monkeypatch.setattr(start, "make_environment", make)
    monkeypatch.setattr(start, "runs", lambda command: start.PYTHON.exists())
    for name in ("libraries", "package"):
        monkeypatch.setattr(start, f"install_{name}", lambda name=name: done.append(name))
    monkeypatch.setattr(start, "check_kernel", lambda: done.append("kernel"))
    return done


def again(start: ModuleType, steps: list[str]) -> list[str]:
    steps.clear()
    start.prepare()
    return list(steps)


def test_each_step_once(start: ModuleType, steps: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    assert again(start, steps) == ["environment", "libraries", "package", "kernel"]
    assert again(start, steps) == []
    (start.VIEWER / "main.js").write_text("second")
    assert again(start, steps) == ["package"]
    (start.VIEWER / "node_modules").mkdir()
    (start.VIEWER / "node_modules" / "library.js").write_text("fetched, not source")
    assert again(start, steps) == []
    start.LOCK.write_text("second")
    assert again(start, steps) == ["libraries", "kernel"]
    monkeypatch.setenv("TINBOOK_NO_VIEWER", "1")
    assert again(start, steps) == ["package"]
    start.PYTHON.unlink()
    assert again(start, steps) == ["environment", "libraries", "package", "kernel"]
    start.STAMP.write_text("{ half")
    assert again(start, steps) == ["libraries", "package", "kernel"]


def test_a_failed_step_is_tried_again(start: ModuleType, steps: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    good = start.install_package

    def fail() -> None:
        raise start.Trouble("no node here")

    monkeypatch.setattr(start, "install_package", fail)
    with pytest.raises(start.Trouble, match="no node here"):
        start.prepare()
    assert set(json.loads(start.STAMP.read_text())) == {"libraries"}
    monkeypatch.setattr(start, "install_package", good)
    assert again(start, steps) == ["package", "kernel"]


def test_missing_system_library_is_named(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    def absent(name: str) -> None:
        if name in {"libGL.so.1", "libexpat.so.1"}:
            raise OSError(f"{name}: cannot open shared object file")

    monkeypatch.setattr(ctypes, "CDLL", absent)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(start.shutil, "which", lambda name: "/usr/bin/apt-get")
    monkeypatch.setattr(start, "PYTHON", Path(sys.executable))
    # What the kernel's import says on a system without the library.
    monkeypatch.setattr(start, "KERNEL", "raise ImportError('libGL.so.1: cannot open shared object file')")
    with pytest.raises(
        start.Trouble, match=r"needs libGL\.so\.1, libexpat\.so\.1, .*apt-get install libgl1 libexpat1$"
    ):
        start.check_kernel()
    monkeypatch.setattr(ctypes, "CDLL", lambda name: None)
    with pytest.raises(start.Trouble, match=r"(?s)does not load here:.*cannot open shared object"):
        start.check_kernel()


def test_installer_is_quiet_unless_it_fails(start: ModuleType, capfd: pytest.CaptureFixture[str]) -> None:
    noise = "for i in range(10): print('Collecting', i)"
    start.run_quietly([sys.executable, "-c", noise], "Fetching", 10)
    out, err = capfd.readouterr()
    assert out == ""
    assert err.splitlines() == [f"  {n} of about 10" for n in (2, 4, 6, 8, 10)]
    with pytest.raises(
        start.Trouble, match=r"(?s)Fetching failed\. The installer said:\n\nCollecting 0.*Collecting 9$"
    ):
        start.run_quietly([sys.executable, "-c", f"{noise}\nraise SystemExit(3)"], "Fetching", 0)


def test_no_parts_for_an_environment(start: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import venv

    def broken(self: object, folder: str) -> None:
        raise subprocess.CalledProcessError(1, "ensurepip")

    monkeypatch.setattr(venv.EnvBuilder, "create", broken)
    monkeypatch.setattr(start, "HOME", tmp_path / ".venv")
    with pytest.raises(start.Trouble, match=rf"apt-get install python3\.{sys.version_info[1]}-venv"):
        start.make_environment()


def test_trouble_ends_with_code_1(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail() -> None:
        raise start.Trouble("the disk is full")

    monkeypatch.setattr(start, "prepare", fail)
    assert start.main([]) == 1
    assert capsys.readouterr().err.strip() == "the disk is full"


@pytest.mark.parametrize("word", ["tets", "bnech", "../x"])
def test_unknown_word(start: ModuleType, capsys: pytest.CaptureFixture[str], word: str) -> None:
    assert start.main([word]) == 2
    assert f"unknown word {word!r}" in capsys.readouterr().err


def test_help_needs_no_environment(start: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    assert start.main(["--help"]) == 0
    assert "kit/start.py bench" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "module"),
    [
        (["--out", "here"], ["-m", "tinbook.demo", "--out", "here"]),
        (["bench", "pan"], ["tests/benchmarks/run.py", "pan"]),
    ],
)
def test_words_are_handed_on(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, words: list[str], module: list[str]
) -> None:
    handed: list[tuple[str, ...]] = []
    monkeypatch.setattr(start, "prepare", lambda: None)
    monkeypatch.setattr(start, "hand_over", lambda *given: handed.append(given))
    start.main(words)
    (given,) = handed
    assert [word.removeprefix(f"{start.ROOT.as_posix()}/") for word in given] == module


def test_lab_opens_the_first_page_trusts_what_ships_and_asks_nothing(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(start, "HOME", tmp_path)
    handed: list[tuple[str, ...]] = []
    signed: list[list[str]] = []
    monkeypatch.setattr(start, "prepare", lambda: None)
    monkeypatch.setattr(start, "hand_over", lambda *given: handed.append(given))
    monkeypatch.setattr(start, "runs", lambda command: signed.append(command) or True)
    start.main(["lab", "--port=9"])
    (given,), (sign,) = handed, signed
    assert given[:2] == ("-m", "jupyterlab")
    assert given[-1] == "--port=9"
    assert "--LabApp.default_url=/lab/tree/00_start_here.ipynb" in given
    assert "--LabApp.news_url=None" in given
    (settings,) = tmp_path.rglob("overrides.json")
    assert json.loads(settings.read_text(encoding="utf-8"))[start.NEWS]["fetchNews"] == "false"
    # One file for both, in the kit's own environment.
    assert [word for word in sign if "db_file" in word] == [word for word in given if "db_file" in word]
    assert [Path(word).name for word in sign if word.endswith(".ipynb")][:2] == [
        "00_start_here.ipynb",
        "01_floor_pan.ipynb",
    ]


def test_the_readmes_line_for_voila_names_the_template_that_asks_nobody(root: Path) -> None:
    lines = [line for line in (root / "README.md").read_text(encoding="utf-8").splitlines() if "bin/voila" in line]
    assert lines
    assert all("--template=tinbook" in line for line in lines)


@pytest.mark.parametrize(
    ("bad", "words", "code"),
    [((), [], 0), (("ruff",), [], 1), (("mypy",), ["-k", "x"], 1), (("pytest",), ["tests/part"], 1)],
)
def test_test_runs_everything(
    start: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    bad: tuple[str, ...],
    words: list[str],
    code: int,
) -> None:
    ran: list[tuple[str, ...]] = []

    def run(*given: str) -> int:
        ran.append(given)
        return int(given[0] in bad)

    monkeypatch.setattr(start, "prepare", lambda: None)
    monkeypatch.setattr(start, "run", run)
    monkeypatch.setattr(start, "run_aside", lambda *given: (run(*given), "what is wrong\n" if "mypy" in bad else ""))
    assert start.main(["test", *words]) == code
    assert sorted(given[0] for given in ran) == ["mypy", "pytest", "ruff", "ruff"]
    (tests,) = [given for given in ran if given[0] == "pytest"]
    assert not words or tests == ("pytest", *words)
    said = capfd.readouterr().out
    assert ("types: FAILED" in said) == ("what is wrong" in said) == ("mypy" in bad)
    assert ("lint: FAILED" in said) == ("ruff" in bad)


def test_a_fresh_clone_is_compiled_by_one_process(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    ran: list[tuple[str, ...]] = []
    monkeypatch.setattr(start, "prepare", lambda: None)
    monkeypatch.setattr(start, "ROOT", tmp_path)
    monkeypatch.setattr(start, "run", lambda *given: 0)
    # Broken tests fail in the run that follows, not here.
    monkeypatch.setattr(start, "run_aside", lambda *given: (ran.append(given), (int(given[0] == "pytest"), ""))[1])
    assert start.main(["test"]) == 0
    assert [given for given in ran if given[0] == "pytest"] == [("pytest", "--collect-only", "-q")]
    (tmp_path / "tests" / "part" / "__pycache__").mkdir(parents=True)
    for words in ([], ["tests/part"]):
        ran.clear()
        assert start.main(["test", *words]) == 0
        assert [given[0] for given in ran] == ["mypy"]


def test_a_check_that_runs_aside_gives_its_code_and_its_words(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "wrong.py").write_text("import sys\nprint('line 3: wrong type')\nsys.exit(1)\n", encoding="utf-8")
    monkeypatch.setattr(start, "PYTHON", sys.executable)
    monkeypatch.setattr(start, "ROOT", tmp_path)
    code, said = start.run_aside("wrong")
    assert (code, said.split()) == (1, ["line", "3:", "wrong", "type"])
