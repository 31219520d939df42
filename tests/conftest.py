"""What every test shares: Hypothesis profiles, the foreign parts, and programs that may be absent."""

from __future__ import annotations

import gc
import os
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from counts import wanted_in_full
from weights import HEAVY

# `ci` draws the same examples on every machine, with `--full` ten times as many; `full` searches on, other ones each time.
for _name, _examples in (("ci", 40), ("ci-full", 400)):
    settings.register_profile(
        _name,
        derandomize=True,
        deadline=None,
        max_examples=_examples,
        suppress_health_check=[HealthCheck.too_slow],
    )
settings.register_profile("full", deadline=None, max_examples=10_000, suppress_health_check=[HealthCheck.too_slow])

ROOT = Path(__file__).resolve().parents[1]
PROGRAMS = {"chromium": ("chromium", "chromium-browser"), "ccx": ("ccx",), "pdftoppm": ("pdftoppm",), "git": ("git",)}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--full", action="store_true", help="run the tests marked `full` too")


def pytest_configure(config: pytest.Config) -> None:
    # Once a run, before its processes start: they inherit it. Each has a core, and threads that wait for each other
    # on it take a quarter of a shell analysis.
    os.environ.setdefault("TINBOOK_SEED", str(random.SystemRandom().randrange(10**6)))
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    # Notebooks store answers of solves, whose last digits follow the kernels that the library picks for a processor.
    os.environ.setdefault("OPENBLAS_CORETYPE", "Haswell")
    if config.getoption("--full"):
        os.environ["TINBOOK_FULL"] = "1"
    settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci-full" if wanted_in_full() else "ci"))


def pytest_report_header(config: pytest.Config) -> str:
    return f"injured files: TINBOOK_SEED={os.environ['TINBOOK_SEED']} runs the same again"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if hasattr(config, "workerinput"):
        # The heaviest modules first, so that no core ends a run alone on one of them.
        order = {name: n for n, name in enumerate(HEAVY)}
        items.sort(key=lambda item: order.get(item.nodeid.split("::")[0], len(order)))
    if not config.getoption("--full"):
        skip = pytest.mark.skip(reason="marked full: takes long; ask for it with --full")
        for item in items:
            if "full" in item.keywords:
                item.add_marker(skip)


def pytest_collection_finish() -> None:
    # Tests and libraries stay until the end: a collection of garbage in the middle need not look at them each time.
    gc.freeze()


@pytest.fixture(scope="session")
def root() -> Path:
    """Folder that holds pyproject.toml."""
    return ROOT


@pytest.fixture(scope="session")
def foreign() -> Path:
    """Folder of parts drawn elsewhere, named by TINBOOK_FOREIGN."""
    named = os.environ.get("TINBOOK_FOREIGN")
    if not named:
        pytest.skip("foreign parts: TINBOOK_FOREIGN names no folder")
    folder = Path(named).expanduser()
    if not folder.is_dir():
        # A folder that was named and is not there is a mistake, not an absence.
        pytest.fail(f"TINBOOK_FOREIGN names {named}, which is not a folder")
    return folder


@pytest.fixture(scope="session")
def needs() -> Callable[[str], str]:
    """Return `needs(program)`: the program's path; without it the test fails in CI and is skipped elsewhere."""

    def find(program: str) -> str:
        for name in PROGRAMS.get(program, (program,)):
            if path := shutil.which(name):
                return path
        reason = f"{program} is not installed"
        if os.environ.get("CI", "").lower() in {"1", "true"}:
            pytest.fail(f"{reason}, and in CI it must be")
        pytest.skip(reason)

    return find


@pytest.fixture(scope="session")
def static(root: Path) -> Path:
    """Folder of the built viewer; without it the tests fail in CI and are skipped elsewhere."""
    folder = root / "kit" / "tinbook" / "bench" / "static"
    if (folder / "page.js").is_file():
        return folder
    reason = "the viewer is not built; install the package, or run build.mjs in kit/viewer"
    if os.environ.get("CI", "").lower() in {"1", "true"}:
        pytest.fail(f"{reason}, and in CI it must be")
    pytest.skip(reason)
