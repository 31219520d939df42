"""A headless browser that talks to nobody but this machine."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from book_pages import lab_in, serve_books
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


class Tab:
    """A page that refuses other machines, with what it asked them for and the errors of its scripts."""

    def __init__(self, browser: Any, own_errors: bool, **options: Any) -> None:
        self.strangers: list[str] = []
        self.errors: list[str] = []
        self.context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **options})
        self.context.route("**/*", self._guard)
        self.context.set_default_timeout(120_000)
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda e: self._failed(e, own_errors))

    def _guard(self, route: Any) -> None:
        if urlsplit(route.request.url).hostname not in (*LOOPBACK, None):
            self.strangers.append(route.request.url)
            route.abort()
        else:
            route.continue_()

    def _failed(self, error: Any, own: bool) -> None:
        if not own or "tb-" in (error.stack or ""):
            self.errors.append(str(error))

    def blank(self) -> None:
        """Leave the page as one that has just been opened."""
        self.strangers.clear()
        self.errors.clear()
        self.page.mouse.move(0, 0)
        self.page.emulate_media(color_scheme=None, reduced_motion=None, media=None)
        self.page.set_viewport_size({"width": 1280, "height": 900})


@pytest.fixture(scope="module")
def plain_tab(browser: Any) -> Iterator[Tab]:
    """The tab of all tests of a module that want a plain one: a new one takes a process and compiles the viewer anew."""
    tab = Tab(browser, False)
    yield tab
    tab.context.close()


@pytest.fixture
def fresh_page(browser: Any, plain_tab: Tab) -> Iterator[Callable[..., Any]]:
    """Return `fresh_page(**context)`: a page that refuses other machines and fails the test if it asked for one.

    With `own_errors` only errors that name the viewer count.
    """
    tabs: list[Tab] = []

    def open_page(own_errors: bool = False, **options: Any) -> Any:
        if own_errors or options or plain_tab in tabs:
            tabs.append(Tab(browser, own_errors, **options))
        else:
            plain_tab.blank()
            tabs.append(plain_tab)
        return tabs[-1].page

    yield open_page
    for tab in tabs:
        if tab is plain_tab:
            tab.page.goto("about:blank")
        else:
            tab.context.close()
    assert [url for tab in tabs for url in tab.strangers] == []
    assert [error for tab in tabs for error in tab.errors] == []


@pytest.fixture(scope="module")
def lab_page(browser: Any, books: str) -> Iterator[Any]:
    """JupyterLab in one tab for all tests of a module: to load it costs more than most of what they do in it."""
    tab = Tab(browser, False, viewport={"width": 1500, "height": 1000})
    yield lab_in(tab.page, books)
    tab.context.close()
    assert (tab.strangers, tab.errors) == ([], [])


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


@pytest.fixture(scope="module")
def book_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder that `books` serves; what a module puts there can be opened."""
    return tmp_path_factory.mktemp("books") / "notebooks"


@pytest.fixture(scope="module")
def books(book_folder: Path, static: Path) -> Iterator[str]:
    """Address of JupyterLab, and of Notebook 7 beside it, in a copy of the notebooks."""
    with serve_books(book_folder) as address:
        yield address
