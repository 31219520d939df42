"""A job's sheets in a browser: laid by drag, keys and fields, refused in words, light and dark, wide and narrow."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.bench.job_bench import JobBench
from tinbook.bench.layouts import page_sheets
from tinbook.bench.sheets import SOURCE

pytestmark = pytest.mark.browser

PAGE = """<!doctype html><html lang="en"><title>sheets</title><body style="%s"><main></main>
<script type="module">%s
const heard = {}, state = { sheets: [], said: [], busy: false, height: 440 };
const model = {
  get: (name) => state[name],
  on: (name, f) => (heard[name] = f),
  off: () => {},
  send: async (what) => take(await window.hand(what)),
};
function take(news) { Object.assign(state, news); heard["change:sheets"]?.(); window.answered = news.said; }
take(await window.hand({}));
widget.render({ model, el: document.querySelector("main") });
</script></body></html>"""
DARK = "background:#111;--jp-ui-font-color1:#e4e8ea;--jp-layout-color0:#111;--jp-layout-color2:#2a2f34;--jp-brand-color1:#6aa5ff"


@pytest.fixture(scope="module")
def nest() -> tb.job.JobNest:
    def part(number: str, *corners: tuple[float, float]) -> tb.Part:
        return tb.Part(number, sheet="DC01 1.5", base=tb.Outline.polygon(list(corners)))

    plate = part("HN-PL", (0, 0), (500, 0), (500, 300), (250, 420), (0, 300))
    angle = part("HN-LG", (0, 0), (300, 0), (300, 60), (60, 60), (60, 200), (0, 200))
    items = (tb.job.Item(thing=plate, quantity=2), tb.job.Item(thing=angle, quantity=4))
    return tb.job.nest_job(tb.Job(number="HN-41", items=items), tb.shop.cut_on(tb.Shop.demo(), "laser"), effort=0.0)


def open_page(fresh_page: Callable[..., Any], bench: JobBench, dark: bool = False, **context: Any) -> Any:
    page = fresh_page(**context)

    def hand(what: dict[str, Any]) -> dict[str, Any]:
        if what:
            bench.gesture(what)
        return {"sheets": page_sheets(bench._answer.nest), "said": bench.sheets.said}

    page.expose_function("hand", hand)
    source = SOURCE.read_text(encoding="utf-8").replace("export default", "const widget =")
    page.route(
        "**/sheets.html", lambda r: r.fulfill(body=PAGE % (DARK if dark else "", source), content_type="text/html")
    )
    page.goto("http://127.0.0.1:9/sheets.html")
    page.locator(".tb-plate .tb-blank").first.wait_for()
    return page


def lies(bench: JobBench, blank: str, copy: int) -> dict[str, Any]:
    (found,) = (
        b for s in page_sheets(bench._answer.nest) for b in s["blanks"] if (b["blank"], b["copy"]) == (blank, copy)
    )
    return found


def test_a_hand_lays_blanks(fresh_page: Callable[..., Any], nest: tb.job.JobNest, axe: str, artefacts: Path) -> None:
    bench = JobBench(nest, effort=0.0, height=440)
    page = open_page(fresh_page, bench, viewport={"width": 1100, "height": 900})
    blank = page.get_by_role("button", name="HN-LG rev A no. 4, ")
    was = lies(bench, "HN-LG rev A", 4)

    def answered(words: str) -> None:
        page.get_by_role("status").filter(has_text=words).wait_for()

    # Drag it to free metal: as far as the hand went, by the scale of the picture.
    box = blank.locator("path").bounding_box()
    scale = page.locator(".tb-plate").evaluate("e => 1 / e.getScreenCTM().a")
    page.mouse.move(box["x"] + 8, box["y"] + box["height"] - 5)
    page.mouse.down()
    page.mouse.move(box["x"] + 208, box["y"] + box["height"] - 5, steps=4)
    page.mouse.up()
    answered("HN-LG rev A no. 4 is locked there")
    now = lies(bench, "HN-LG rev A", 4)
    assert now["left"] - was["left"] == pytest.approx(200 * scale, abs=0.2)
    # Keys go on from there; the blank keeps the focus although the picture was drawn anew.
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("r")
    page.wait_for_function(
        "a => window.answered && document.activeElement.getAttribute('aria-label').includes(a)",
        arg=f"turned {(now['angle'] + 90) % 360:g} ",
    )
    turned = lies(bench, "HN-LG rev A", 4)
    assert (turned["wide"], turned["high"]) == (now["high"], now["wide"])
    # A typed place on another blank is refused in words, and the field shows where it still lies.
    other = lies(bench, "HN-PL rev A", 1)
    field = page.get_by_label("from the left, mm")
    field.fill(str(other["left"] + 50))
    field.press("Enter")
    answered("not moved: HN-LG rev A no. 4")
    assert float(field.input_value()) == turned["left"]
    page.get_by_role("button", name="Unlock").click()
    answered("free again")
    page.get_by_role("button", name="Undo").click()
    answered("undone")
    assert lies(bench, "HN-LG rev A", 4)["locked"]
    page.screenshot(path=artefacts / "job_sheets_light.png", full_page=True)
    page.evaluate(axe)
    found = page.evaluate(
        "async () => (await axe.run('.tb-sheets')).violations.map((v) => [v.id, v.impact, v.nodes[0].html])"
    )
    assert found == []
    bench.close()


def test_narrow_and_dark(fresh_page: Callable[..., Any], nest: tb.job.JobNest, axe: str, artefacts: Path) -> None:
    bench = JobBench(nest, effort=0.0, height=440)
    page = open_page(fresh_page, bench, dark=True, viewport={"width": 420, "height": 800}, color_scheme="dark")
    assert page.evaluate("document.documentElement.scrollWidth") <= 420
    assert min(page.get_by_role("button", name="Undo").bounding_box()[k] for k in ("width", "height")) >= 24
    page.evaluate(axe)
    assert (
        page.evaluate(
            "async () => (await axe.run('.tb-sheets')).violations.map((v) => [v.id, v.impact, v.nodes[0].html])"
        )
        == []
    )
    page.screenshot(path=artefacts / "job_sheets_dark_420.png", full_page=True)
    bench.close()
