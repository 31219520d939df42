"""The fold page in a browser: turned by slider, buttons and keys, printed whole, light and dark, no request."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tinbook.families.plain import folded_box
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop
from tinbook.write.foldpage import write_fold_page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Addresses of a page with four steps and of one that cannot be folded."""
    folder, shop = tmp_path_factory.mktemp("folds"), Shop.demo()
    deep = Part("HN-U", title="<script>alert(1)</script>", sheet="DC01 1.5", base=Outline.rectangle(300, 30))
    deep = deep.fold("front", "up", leg=90).fold("rear", "up", leg=90)
    return {
        "box": write_fold_page(make(folded_box(), shop), folder / "box.html").as_uri(),
        "deep": write_fold_page(make(deep, shop), folder / "deep.html").as_uri(),
    }


def open_page(fresh_page: Callable[..., Any], address: str, **context: Any) -> tuple[Any, list[str]]:
    p = fresh_page(**context)
    asked: list[str] = []
    p.on("request", lambda r: asked.append(r.url))
    p.goto(address)
    return p, asked


def seen(p: Any) -> tuple[str, str]:
    """Title and words of the one picture that is shown."""
    assert p.locator("article:visible").count() == 1
    assert p.locator("figure:visible").count() == 1
    return p.locator("article:visible h2").inner_text(), p.locator("figure:visible figcaption").inner_text()


def test_slider_buttons_and_keys_turn_the_steps(fresh_page: Any, pages: dict[str, str], artefacts: Path) -> None:
    p, asked = open_page(fresh_page, pages["box"])
    assert seen(p) == ("Step 1 of 4: fold front up", "formed")
    assert p.locator("#back").is_disabled()
    p.keyboard.press("ArrowRight")
    assert seen(p)[0] == "Step 2 of 4: fold rear up"
    p.keyboard.press("ArrowDown")
    assert seen(p)[1] == "75% of the way"
    assert p.locator("#said").inner_text() == "Step 2 of 4: fold rear up, 75% of the way"
    p.locator("#on").click()
    assert seen(p) == ("Step 3 of 4: fold right up", "75% of the way")
    p.locator("#far").focus()
    for _ in range(9):
        p.keyboard.press("ArrowLeft")
    assert seen(p)[1] == "laid in"
    p.locator("#step").focus()
    p.keyboard.press("End")
    assert seen(p) == ("Step 4 of 4: fold left up", "laid in")
    assert p.locator("#on").is_disabled()
    for _ in range(9):
        p.keyboard.press("ArrowLeft")
    assert seen(p)[0].startswith("Step 1")
    p.screenshot(path=artefacts / "fold_page_light.png", full_page=True)
    assert asked == [pages["box"]]  # nothing but the file itself


def test_on_paper_every_step_stands_formed(fresh_page: Any, pages: dict[str, str]) -> None:
    p, _ = open_page(fresh_page, pages["box"], color_scheme="dark")
    p.keyboard.press("ArrowDown")
    p.emulate_media(media="print")
    assert p.locator("article:visible").count() == 4
    assert p.locator("figure:visible figcaption").all_inner_texts() == ["formed"] * 4
    assert not p.locator("nav").is_visible()
    assert p.locator("table:visible tr").count() == 5
    # Paper is white, whatever the screen is.
    assert p.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(251, 251, 249)"


def test_without_a_script_every_step_can_be_read(fresh_page: Any, pages: dict[str, str]) -> None:
    p, _ = open_page(fresh_page, pages["box"], java_script_enabled=False)
    assert p.locator("article:visible").count() == 4
    assert p.locator("figure:visible").count() == 4
    assert not p.locator("nav").is_visible()


def test_a_part_that_cannot_be_folded_shows_its_clash_in_the_dark(
    fresh_page: Any, pages: dict[str, str], artefacts: Path
) -> None:
    p, asked = open_page(fresh_page, pages["deep"], color_scheme="dark", viewport={"width": 420, "height": 800})
    assert "No order of folds" in p.locator("h1").inner_text()
    assert p.locator("header").inner_text().count("<script>") == 1  # as text
    assert p.locator("figure:visible .tb-clash path").count() == 1
    assert p.locator("figure:visible .tb-clash path").bounding_box()["height"] > 10
    p.keyboard.press("ArrowRight")
    assert seen(p)[0] == "fold rear is blocked"
    # Narrow as a telephone, nothing but the table may be wider than the page.
    assert p.evaluate("document.documentElement.scrollWidth") <= 420
    p.screenshot(path=artefacts / "fold_page_clash_dark.png", full_page=True)
    assert asked == [pages["deep"]]
