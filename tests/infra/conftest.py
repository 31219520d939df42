"""start.py and the build hook as modules, without putting their folder on the path twice."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest


def load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"loaded_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def start(root: Path) -> ModuleType:
    """A fresh copy of kit/start.py, so that a test may change its constants."""
    return load(root / "kit" / "start.py")


@pytest.fixture
def build_hook(root: Path) -> ModuleType:
    """A fresh copy of kit/build_hook.py."""
    return load(root / "kit" / "build_hook.py")
