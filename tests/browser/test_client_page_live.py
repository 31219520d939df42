"""The customer's page in a real browser without a network: desktop and phone, mouse, keys, and readers that speak."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb

pytestmark = pytest.mark.browser

DESK = {"viewport": {"width": 1280, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "color_scheme": "dark"}


@pytest.fixture(scope="module")
def kit(static: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of an assembly and a part; a name holds markup."""
    shop = tb.Shop.demo()
    part = tb.Part("HN-K1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 120), title="<img src=x onerror=alert(1)>")
    tray = tb.make(part.fold("front", leg=30).fold("rear", leg=30).hole((100, 60), 20, name="drain"), shop)
    lid = tb.assemble(tb.families.lid_on_struts(), shop)
    return tb.write_client_page([lid, tray], tmp_path_factory.mktemp("page"), title="Lid & tray", flats=True)


FILM = "document.querySelector('#film .tb-canvas').toDataURL()"
PICTURE = "document.querySelector('.tb-canvas').toDataURL()"


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_the_kit_is_turned_named_drawn_apart_and_read(
    fresh_page: Callable[..., Any], kit: Path, axe: str, artefacts: Path, size: dict[str, Any]
) -> None:
    page = fresh_page(offline=True, **size)
    said: list[str] = []
    page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
    page.goto(kit.as_uri())
    canvas = page.locator(".tb-canvas")
    canvas.wait_for()
    page.wait_for_function("document.querySelector('#view .tb-parts li')")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    first = page.evaluate(PICTURE)
    canvas.focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(f"(old) => {PICTURE} !== old", arg=first)
    before = page.evaluate(PICTURE)
    apart = page.get_by_label("apart")
    apart.focus()
    page.keyboard.press("End")
    page.wait_for_function(f"(old) => {PICTURE} !== old", arg=before)
    canvas.focus()
    page.keyboard.press("n")
    page.locator(".tb-space .tb-tip").wait_for()
    assert page.locator(".tb-space .tb-tip").inner_text().strip()
    page.screenshot(path=artefacts / f"client_page_{size['viewport']['width']}.png", full_page=True)
    # The part instead: its flat pattern beside it, its hole named under the mouse.
    page.select_option("#choice", label="HN-K1 rev A")
    page.wait_for_function("document.querySelector('.tb-canvas').getAttribute('aria-label').includes('1 hole')")
    assert page.locator(".tb-plane svg").is_visible()
    for _ in range(4):
        page.keyboard.press("Tab")
    canvas.focus()
    for _ in range(3):
        page.keyboard.press("n")
        if re.search("drain", page.locator(".tb-space .tb-tip").inner_text()):
            break
    assert "drain" in page.locator(".tb-space .tb-tip").inner_text()
    # Its folds instead, by keyboard: the machine is not on the page, and the finished part comes back.
    page.get_by_role("button", name="Show how it is folded").press("Enter")
    words = page.locator("#film .tb-words")
    assert words.inner_text() == "Step 1 of 2: fold front up; turned 0.0°"
    flat = page.evaluate(FILM)
    page.get_by_label("how far the fold is formed").press("End")
    assert words.inner_text() == "Step 1 of 2: fold front up; turned 90.0°"
    page.wait_for_function(f"(old) => {FILM} !== old", arg=flat)
    page.get_by_role("button", name="the step after").press("Enter")
    assert words.inner_text() == "Step 2 of 2: fold rear up; turned 0.0°"
    assert page.get_by_role("button", name="the step after").is_disabled()
    assert not page.locator("#view").is_visible()
    assert page.get_by_text("tools", exact=True).count() == 0
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.screenshot(path=artefacts / f"client_folds_{size['viewport']['width']}.png")
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, { resultTypes: ['violations'] })")
    assert [
        (v["id"], v["nodes"][0]["html"]) for v in found["violations"] if v["impact"] in ("serious", "critical")
    ] == []
    assert said == []


def test_on_paper_a_picture_stands_for_the_view(fresh_page: Callable[..., Any], kit: Path) -> None:
    page = fresh_page(offline=True)
    page.goto(kit.as_uri())
    page.locator(".tb-canvas").wait_for()
    assert not page.locator(".still img").first.is_visible()
    page.emulate_media(media="print")
    assert page.locator(".still img").first.is_visible()
    assert not page.locator("#live").is_visible()
    assert page.evaluate("[...document.images].every((i) => i.complete && i.naturalWidth > 0)")


def test_twelve_parts_take_at_most_three_megabytes(static: Path, tmp_path: Path) -> None:
    shop = tb.Shop.demo()
    pan = tb.bead_rolled_panel()
    kit = [tb.make(pan.renamed(number=f"HN-M{k}"), shop) for k in range(12)]
    assert tb.write_client_page(kit, tmp_path).stat().st_size < 3_000_000
