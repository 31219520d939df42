"""The camera, measuring and picking of the viewer on a plain page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from viewer_samples import LEG, LENGTH, WIDTH, T, page

pytestmark = pytest.mark.browser

TIGHT = "(t = pair.folded.table) => t.distance / t.needed(pair.folded.data.box)"


@pytest.fixture
def shown(fresh_page: Callable[..., Any], static: Path, tmp_path: Path) -> Any:
    p = fresh_page()
    p.goto(page(tmp_path, (static / "page.js").read_text(encoding="utf-8")))
    p.wait_for_function("log.some(([n, d]) => n === 'drawn' && d.stamp === 1)")
    return p


def test_it_is_fitted_when_it_is_laid_out_even_if_it_was_a_few_px_wide_before(shown: Any) -> None:
    """As in a page whose second view is made while its place still has no size."""
    got = shown.evaluate(
        """async () => {
            const turn = () => new Promise(requestAnimationFrame);
            const ratios = [];
            for (const first of ["36px", "0px", "900px"]) {
                const e = document.createElement("div");
                e.style.width = first;
                document.body.append(e);
                const p = new tinbookViewer.Pair(e);
                p.update({...parts.short, stamp: 2});
                await turn();
                await turn();
                e.style.width = "1200px";
                for (let i = 0; i < 4; i++) await turn();
                const t = p.folded.table;
                ratios.push(t.distance / t.needed(p.folded.data.box));
                p.dispose();
                e.remove();
            }
            return ratios;
        }"""
    )
    assert got == pytest.approx([1.08] * 3, abs=0.01)  # the margin that is drawn round a part


def settled(p: Any) -> None:
    p.wait_for_function("() => pair.folded.table.gliding === 0")


def test_it_follows_large_changes_gently_and_back(shown: Any) -> None:
    start = shown.evaluate("pair.folded.table.distance")
    # In one call, as a frame may be drawn between two.
    at_once = shown.evaluate("() => { pair.update({...parts.long, stamp: 2}); return pair.folded.table.distance; }")
    assert at_once == start  # not at a jump
    settled(shown)
    assert shown.evaluate(f"({TIGHT})()") == pytest.approx(1.08, abs=0.01)
    shown.evaluate("pair.update({...parts.short, stamp: 3})")
    settled(shown)
    assert shown.evaluate(f"({TIGHT})()") == pytest.approx(1.08, abs=0.01)
    middle = shown.evaluate("pair.folded.table.target.toArray()")
    assert middle == pytest.approx([LENGTH / 2, (WIDTH + 4) / 2, LEG / 2], abs=0.01)


def test_who_wants_no_motion_gets_none(shown: Any) -> None:
    shown.emulate_media(reduced_motion="reduce")
    shown.evaluate("pair.update({...parts.long, stamp: 2})")
    assert shown.evaluate(f"({TIGHT})()") == pytest.approx(1.08, abs=0.01)


def test_a_detail_that_was_zoomed_to_stays_until_the_whole_part_is_given_for(shown: Any) -> None:
    shown.focus(".tb-canvas")
    for _ in range(6):
        shown.keyboard.press("+")
    near = shown.evaluate("pair.folded.table.distance")
    shown.evaluate("pair.update({...parts.long, stamp: 2})")
    shown.wait_for_timeout(50)
    assert shown.evaluate("[pair.folded.table.distance, pair.folded.table.gliding]") == [near, 0]
    shown.evaluate("document.getElementById('here').style.width = '700px'")
    shown.wait_for_timeout(100)
    assert shown.evaluate("pair.folded.table.distance") == near
    shown.keyboard.press("0")
    assert shown.evaluate(f"({TIGHT})()") == pytest.approx(1.08, abs=0.01)


def press(p: Any, x: float, y: float, z: float) -> None:
    sx, sy = p.evaluate("([x, y, z]) => onScreen(x, y, z)", [x, y, z])
    p.mouse.click(sx + 2, sy + 1)  # near the corner, not on it


def test_two_points_are_measured_on_corners_that_are_seen(shown: Any) -> None:
    ruler = shown.get_by_role("button", name="measure")
    assert ruler.get_attribute("aria-pressed") == "false"
    ruler.click()
    assert ruler.get_attribute("aria-pressed") == "true"
    shown.evaluate("pair.folded.look('corner')")
    press(shown, 0, 0, T)
    press(shown, LENGTH, WIDTH + 4, LEG)  # the lip's far upper corner
    found = shown.evaluate("pair.folded.measure.result")
    parts = [LENGTH, WIDTH + 4, LEG - T]
    assert found["parts"] == pytest.approx(parts, abs=1e-4)
    assert found["distance"] == pytest.approx(sum(v * v for v in parts) ** 0.5, abs=1e-3)
    assert f"{found['distance']:.2f} mm" in shown.text_content(".tb-measure")
    # The lower front corner is hidden from above: what lies over it is meant, T higher.
    shown.evaluate("pair.folded.look('above')")
    press(shown, 0, 0, 0)
    press(shown, LENGTH, 0, 0)
    ends = shown.evaluate("pair.folded.measure.points.map((p) => p.toArray())")
    assert [e[2] for e in ends] == pytest.approx([T, T], abs=1e-4)
    shown.keyboard.press("Escape")
    assert ruler.get_attribute("aria-pressed") == "false"
    assert shown.locator(".tb-measure").is_hidden()


def test_the_keyboard_measures_between_features(shown: Any) -> None:
    shown.focus(".tb-canvas")
    shown.keyboard.press("m")
    for name in ("hole:window", "hole:drain"):
        shown.evaluate("(name) => pair.folded.highlight(name)", name)
        shown.keyboard.press("Enter")
    assert shown.evaluate("pair.folded.measure.result.distance") == pytest.approx(
        60, abs=0.1
    )  # 100 to 160 mm, both at 60


# Draws each triangle in the colour of its group's number and compares: the GPU's depth buffer knows what is in front.
BY_DEPTH = """([look, section]) => {
    const v = pair.folded;
    v.look(look);
    v.setSection(section);
    const colour = v.sheet.geometry.getAttribute("color");
    v.data.groupOf.forEach((g, t) => { for (let k = 0; k < 3; k++) colour.array.set([16 * (g + 1), 0, 0, 255], 12 * t + 4 * k); });
    colour.needsUpdate = true;
    const Plain = v.inside.material.constructor;
    const old = v.sheet.material;
    v.sheet.material = new Plain({ vertexColors: true, side: 2, clippingPlanes: old.clippingPlanes });
    v.inside.visible = v.lines.visible = false;
    v.renderer.outputColorSpace = "srgb-linear";
    v.draw();
    const c = document.createElement("canvas");
    [c.width, c.height] = [v.canvas.clientWidth, v.canvas.clientHeight];
    const g = c.getContext("2d");
    g.drawImage(v.canvas, 0, 0, c.width, c.height);
    const d = g.getImageData(0, 0, c.width, c.height).data;
    const id = (x, y) => { const o = 4 * (y * c.width + x); return d[o + 3] < 255 ? -1 : Math.round(d[o] / 16) - 1; };
    let asked = 0, holes = 0;
    const wrong = [];
    for (let y = 3; y < c.height - 3; y += 7) for (let x = 3; x < c.width - 3; x += 7) {
        const here = id(x, y);
        const flat = [-2, 0, 2].every((a) => [-2, 0, 2].every((b) => id(x + a, y + b) === here));
        if (!flat) continue;
        const got = v.at(x + 0.5, y + 0.5);
        const place = got ? v.data.groups.indexOf(got) : -1;
        asked += here >= 0;
        if (got?.kind === "hole") holes++;
        else if (place !== here) wrong.push([x, y, place, here]);
    }
    return [asked, holes, wrong];
}"""


@pytest.mark.parametrize("look", ["corner", "above", "below", "front"])
@pytest.mark.parametrize("section", [{"axis": ""}, {"axis": "x", "at": 0.4, "flip": False}])
def test_what_is_picked_is_what_is_seen_not_what_lies_behind(shown: Any, look: str, section: dict[str, Any]) -> None:
    asked, holes, wrong = shown.evaluate(BY_DEPTH, [look, section])
    assert asked > 150
    assert wrong == []
    assert holes > 0 or look == "front" or section["axis"]


def test_words_count_features_not_pieces_of_them(shown: Any) -> None:
    shown.evaluate(
        """() => {
            const groups = parts.short.groups.map((g) => (g.kind === "bead" ? {...g, name: "fold:lip", kind: "fold"} : g));
            pair.update({...parts.short, groups, stamp: 2});
        }"""
    )
    words = shown.get_attribute(".tb-canvas", "aria-label")
    assert "1 fold." in words
    assert "2 holes" in words
