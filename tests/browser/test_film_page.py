"""A step of the fold sequence played in the browser: buttons, pressed states, one's wish for less motion, tools."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.bench.film import FRAMES, film_of
from tinbook.families.plain import folded_box

pytestmark = pytest.mark.browser

PAGE = """<!doctype html><meta charset="utf-8"><html lang="en"><title>film</title>
<body style="background:#fff;margin:10px"><div id="here" style="width:{width}px"></div>
<script>{script}</script>
<script>
const unpack = (v) => Array.isArray(v) ? v.map(unpack) : v && v.base64 !== undefined ? tinbookViewer.bytes(v.base64)
  : v && typeof v === "object" ? Object.fromEntries(Object.entries(v).map(([k, w]) => [k, unpack(w)])) : v;
const steps = unpack({steps});
const log = [];
let at = 0;
const film = new tinbookViewer.Film(document.getElementById("here"), {{ step: (by) => {{
  log.push(by);
  at += by;
  film.set({{ ...steps[at], stamp: at + 1 }});
}} }}, {{ theme: "{theme}" }});
film.set({{ ...steps[0], stamp: 1 }});
</script>"""


def packed(value: Any) -> Any:
    """Return a value as the page carries it, bytes in base64."""
    if isinstance(value, bytes):
        return {"base64": base64.b64encode(value).decode()}
    if isinstance(value, dict):
        return {k: packed(v) for k, v in value.items()}
    return [packed(v) for v in value] if isinstance(value, list) else value


@pytest.fixture(scope="module")
def steps() -> str:
    plan = tb.fold_sequence(tb.make(folded_box(), tb.Shop.demo()))
    return json.dumps([packed(asdict(film_of(plan, k))) for k in range(len(plan.steps))])


def open_film(page: Any, steps: str, static: Path, folder: Path, theme: str = "light", width: int = 900) -> Any:
    script = (static / "page.js").read_text(encoding="utf-8")
    file = folder / "film.html"
    file.write_text(PAGE.format(script=script, steps=steps, theme=theme, width=width), encoding="utf-8")
    page.goto(file.as_uri())
    return page


def test_it_plays_to_the_end_by_its_buttons(
    fresh_page: Callable[..., Any], steps: str, static: Path, tmp_path: Path, axe: str, artefacts: Path
) -> None:
    page = open_film(fresh_page(), steps, static, tmp_path)
    said, play = page.locator(".tb-words"), page.get_by_role("button", name="play the steps")
    assert said.inner_text() == "Step 1 of 4: fold front up; turned 0.0°"
    assert play.get_attribute("aria-pressed") == "false"
    assert page.get_by_role("button", name="the step before").is_disabled()
    slider = page.get_by_role("slider", name="how far the fold is formed")
    slider.focus()
    page.keyboard.press("End")
    assert slider.get_attribute("aria-valuetext") == said.inner_text().rpartition("; ")[2]
    formed = page.evaluate("film.step.angles.at(-1)")
    assert 90 < formed < 95
    page.evaluate("film.view.draw()")
    page.screenshot(path=artefacts / "film_formed_light.png")
    calls, seen = page.evaluate(
        "[film.view.renderer.info.render.calls, film.view.members.list.filter((m) => m.sheet.visible).length]"
    )
    assert calls <= 2 * seen
    # Nothing plays by itself; played, a step is followed by the next one until the last has been formed.
    play.focus()
    page.keyboard.press("Space")
    assert play.get_attribute("aria-pressed") == "true"
    page.wait_for_function("log.length === 3 && !film.playing")
    assert page.evaluate("log") == [1, 1, 1]
    assert play.get_attribute("aria-pressed") == "false"
    assert said.inner_text().startswith("Step 4 of 4: fold left up; turned 9")
    assert page.get_by_role("button", name="the step after").is_disabled()
    page.get_by_role("button", name="the step before").click()
    assert said.inner_text().startswith("Step 3 of 4")
    before = page.evaluate("film.view.members.list.filter((m) => m.sheet.visible).length")
    page.get_by_label("tools").uncheck()
    tools = page.evaluate("film.tools().length")
    assert page.evaluate("film.view.members.list.filter((m) => m.sheet.visible).length") == before - tools
    page.evaluate(axe)
    found = page.evaluate("axe.run(document.getElementById('here'), { resultTypes: ['violations'] })")
    assert [v["id"] for v in found["violations"] if v["impact"] in ("serious", "critical")] == []
    small = "[...document.querySelectorAll('#here button, #here select')].filter((e) => e.offsetHeight < 24).length"
    assert page.evaluate(small) == 0


def test_with_less_motion_wished_for_it_jumps(
    fresh_page: Callable[..., Any], steps: str, static: Path, tmp_path: Path, artefacts: Path
) -> None:
    page = open_film(
        fresh_page(reduced_motion="reduce", viewport={"width": 420, "height": 800}),
        steps,
        static,
        tmp_path,
        "dark",
        400,
    )
    page.evaluate("(film.seen = [], film.show = ((f) => (n) => (film.seen.push(n), f.call(film, n)))(film.show), 0)")
    page.get_by_role("button", name="play the steps").click()
    page.wait_for_function("log.length >= 1")
    page.get_by_role("button", name="play the steps").click()
    seen = page.evaluate("film.seen")
    assert seen[:4] == [FRAMES // 4, FRAMES // 2, 3 * (FRAMES // 4), FRAMES - 1]
    assert page.evaluate("document.documentElement.scrollWidth") <= 420
    page.screenshot(path=artefacts / "film_dark_420.png")
