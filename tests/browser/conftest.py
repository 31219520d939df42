"""A headless browser that talks to nobody but this machine."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from notebook_server import QUIET

LOOPBACK = ("127.0.0.1", "localhost", "::1", "")


@pytest.fixture(scope="module")
def browser(needs: Callable[[str], str]) -> Iterator[Any]:
    """Debian's chromium, drawing 3-D in software; one a module, as its event loop would stay for whatever runs next."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=needs("chromium"), args=QUIET)
        yield found
        found.close()


@pytest.fixture
def fresh_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """Return `fresh_page(**context)`: a page that refuses other machines and fails the test if it asked for one.

    With `own_errors` only errors that name the viewer count.
    """
    contexts: list[Any] = []
    strangers: list[str] = []
    errors: list[str] = []

    def open_page(own_errors: bool = False, **options: Any) -> Any:
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **options})
        contexts.append(context)

        def guard(route: Any) -> None:
            if urlsplit(route.request.url).hostname not in (*LOOPBACK, None):
                strangers.append(route.request.url)
                route.abort()
            else:
                route.continue_()

        context.route("**/*", guard)
        context.set_default_timeout(120_000)
        page = context.new_page()
        page.on("pageerror", lambda e: None if own_errors and "tb-" not in (e.stack or "") else errors.append(str(e)))
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert strangers == []
    assert errors == []


@pytest.fixture(scope="session")
def axe(root: Path) -> str:
    """Source of the checker of access; without it the tests fail in CI and are skipped elsewhere."""
    file = root / "kit" / "viewer" / "node_modules" / "axe-core" / "axe.min.js"
    if file.is_file():
        return file.read_text(encoding="utf-8")
    if os.environ.get("CI", "").lower() in {"1", "true"}:
        pytest.fail("axe-core is not installed; kit/viewer/package-lock.json names it, and npm ci fetches it")
    pytest.skip("axe-core is not installed; run npm ci in kit/viewer")


@pytest.fixture(scope="session")
def artefacts(root: Path) -> Path:
    """Folder for pictures that somebody should look at."""
    folder = root / "artefacts"
    folder.mkdir(exist_ok=True)
    return folder
