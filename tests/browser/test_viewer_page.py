"""The viewer on a plain page, from disk, without a notebook: as the client's page uses it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from viewer_samples import LENGTH, WIDGET, WIDTH, frames, page

pytestmark = pytest.mark.browser
WINDOW, DRAIN, FOLD = (100, 60, 1), (160, 60, 1), (20, WIDTH + 1, 4)


@pytest.fixture
def shown(fresh_page: Callable[..., Any], static: Path, tmp_path: Path) -> Any:
    """A page that shows the bracket."""
    p = fresh_page()
    p.goto(page(tmp_path, (static / "page.js").read_text(encoding="utf-8")))
    p.wait_for_function("log.some(([n, d]) => n === 'drawn' && d.stamp === 1)")
    return p


def at(p: Any, point: tuple[float, float, float]) -> tuple[float, float]:
    """Where a point of the part is on the screen."""
    x, y = p.evaluate("([x, y, z]) => onScreen(x, y, z)", list(point))
    return x, y


def events(p: Any, name: str) -> list[Any]:
    frames(p)
    return [d["name"] for n, d in p.evaluate("log") if n == name]


def test_the_built_files_are_small_and_carry_the_licence(static: Path) -> None:
    for name in ("viewer.js", "page.js"):
        assert (static / name).stat().st_size < 700_000
    licence = (static / "three-licence.txt").read_text(encoding="utf-8")
    assert "MIT" in licence
    assert "three.js authors" in licence
    # Nothing in it can fetch: its only addresses are names of XML spaces.
    text = (static / "viewer.js").read_text(encoding="utf-8")
    assert "https://" not in text
    assert text.count("http://") == text.count("http://www.w3.org/")


def test_it_draws_something_and_says_so_to_readers_that_speak(shown: Any) -> None:
    assert 0.05 < shown.evaluate("filled()") < 0.9
    words = shown.get_attribute(".tb-canvas", "aria-label")
    assert "2 holes" in words
    assert "1 fold" in words


def test_mouse_turns_pans_and_zooms(shown: Any) -> None:
    first = shown.evaluate("picture()")
    box = shown.locator(".tb-canvas").bounding_box()
    x, y = box["x"] + 60, box["y"] + 60
    shown.mouse.move(x, y)
    shown.mouse.down()
    shown.mouse.move(x + 80, y + 30, steps=4)
    shown.mouse.up()
    turned = shown.evaluate("picture()")
    assert turned != first
    assert events(shown, "pick") == []  # a drag is not a pick
    before = at(shown, WINDOW)
    shown.keyboard.down("Shift")
    shown.mouse.down()
    shown.mouse.move(x + 120, y + 30, steps=4)
    shown.mouse.up()
    shown.keyboard.up("Shift")
    after = at(shown, WINDOW)
    assert after[0] - before[0] == pytest.approx(40, abs=4)  # the part follows the hand, but for its depth
    assert after[1] - before[1] == pytest.approx(0, abs=4)
    shown.mouse.move(*after)
    shown.mouse.wheel(0, -200)
    frames(shown)
    assert at(shown, WINDOW) == pytest.approx(after, abs=1.5)  # zooms about the pointer
    assert shown.evaluate("picture()") != turned


def test_the_page_scrolls_past_a_view_that_has_not_been_clicked(shown: Any) -> None:
    distance = shown.evaluate("pair.folded.table.distance")
    shown.mouse.move(*at(shown, WINDOW))
    shown.mouse.wheel(0, -200)
    frames(shown)
    assert shown.evaluate("pair.folded.table.distance") == distance


def test_touch_turns_with_one_finger_and_zooms_with_two(
    fresh_page: Callable[..., Any], static: Path, tmp_path: Path
) -> None:
    p = fresh_page(has_touch=True)
    p.goto(page(tmp_path, (static / "page.js").read_text(encoding="utf-8")))
    p.wait_for_function("log.some(([n]) => n === 'drawn')")
    devtools = p.context.new_cdp_session(p)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        devtools.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)]},
        )

    azimuth, distance = p.evaluate("[pair.folded.table.azimuth, pair.folded.table.distance]")
    touch("touchStart", (200, 200))
    for step in range(1, 6):
        touch("touchMove", (200 + 12 * step, 200))
    touch("touchEnd")
    assert p.evaluate("pair.folded.table.azimuth") < azimuth
    touch("touchStart", (250, 220), (350, 220))
    for step in range(1, 6):
        touch("touchMove", (250 - 10 * step, 220), (350 + 10 * step, 220))
    touch("touchEnd")
    # The fingers part from 100 to 200 px: the part comes twice as near.
    assert p.evaluate("pair.folded.table.distance") == pytest.approx(distance / 2, rel=0.05)


def test_keys_turn_zoom_fit_and_give_the_standard_views(shown: Any) -> None:
    shown.focus(".tb-canvas")
    azimuth, distance = shown.evaluate("[pair.folded.table.azimuth, pair.folded.table.distance]")
    shown.keyboard.press("ArrowRight")
    shown.keyboard.press("+")
    assert shown.evaluate("pair.folded.table.azimuth") > azimuth
    assert shown.evaluate("pair.folded.table.distance") < distance
    shown.keyboard.press("2")  # above
    (x0, y0), (x1, y1) = at(shown, (0, 0, 0)), at(shown, (LENGTH, WIDTH, 0))
    assert x1 > x0
    assert y1 < y0
    shown.keyboard.press("4")  # front: x to the right, z up
    (x0, y0), (x1, y1) = at(shown, (0, 0, 0)), at(shown, (LENGTH, 0, 60))
    assert x1 > x0
    assert y1 < y0
    shown.keyboard.press("7")  # right: y to the right
    assert at(shown, (LENGTH, WIDTH, 0))[0] > at(shown, (LENGTH, 0, 0))[0]
    for _ in range(6):
        shown.keyboard.press("+")
    shown.keyboard.press("0")
    box = shown.locator(".tb-canvas").bounding_box()
    for corner in ((0, 0, 0), (LENGTH, WIDTH + 4, 60), (0, WIDTH + 4, 60), (LENGTH, 0, 0)):
        x, y = at(shown, corner)
        assert box["x"] <= x <= box["x"] + box["width"]
        assert box["y"] <= y <= box["y"] + box["height"]


def test_the_standard_views_are_in_a_list_too(shown: Any) -> None:
    names = shown.locator("select[title='look from'] option").all_text_contents()
    assert names[1:] == ["corner", "above", "below", "front", "rear", "left", "right"]
    shown.select_option("select[title='look from']", "below")
    assert at(shown, (LENGTH, WIDTH, 0))[1] > at(shown, (0, 0, 0))[1]


def test_a_hole_is_picked_through_its_air_and_marked_in_the_flat(shown: Any) -> None:
    shown.mouse.click(*at(shown, WINDOW))
    assert events(shown, "pick") == ["hole:window"]
    assert shown.get_attribute("[data-name='hole:window']", "class") == "tb-pointed tb-marked"
    assert shown.locator(".tb-marked").count() == 1
    assert "40 × 40 mm" in shown.text_content(".tb-space .tb-tip")
    shown.mouse.click(*at(shown, WINDOW))  # again: no longer
    assert events(shown, "pick") == ["hole:window", ""]
    assert shown.locator(".tb-marked").count() == 0


def test_a_fold_picked_in_the_flat_is_marked_in_space(shown: Any) -> None:
    plain = shown.evaluate("picture()")
    box = shown.locator("[data-name='fold:lip']").bounding_box()
    shown.mouse.click(box["x"] + box["width"] / 3, box["y"] + 2)  # two px beside the line
    assert events(shown, "pick") == ["fold:lip"]
    assert shown.evaluate("pair.folded.marked") == "fold:lip"
    shown.mouse.move(5, 880)
    frames(shown)
    assert shown.evaluate("picture()") != plain


def test_from_outside_a_name_is_marked_in_both_without_an_event(shown: Any) -> None:
    shown.evaluate("pair.highlight('hole:drain')")
    assert shown.get_attribute("[data-name='hole:drain']", "class") == "tb-marked"
    assert shown.evaluate("pair.folded.marks.children.length") == 2
    assert events(shown, "pick") == []
    shown.evaluate("pair.highlight('')")
    assert shown.evaluate("pair.folded.marks.children.length") == 0


def test_hover_tells_name_and_size_as_text_never_as_markup(shown: Any) -> None:
    shown.mouse.move(*at(shown, FOLD))
    frames(shown)
    assert events(shown, "hover")[-1] == "fold:lip"
    shown.mouse.move(*at(shown, (150, WIDTH + 2, 45)))
    frames(shown)
    assert events(shown, "hover")[-1] == "panel:lip"
    assert shown.text_content(".tb-space .tb-tip").startswith("<img src=x")
    assert shown.locator(".tb-pair img").count() == 0
    assert shown.title() == "still"
    shown.mouse.move(5, 880)
    assert events(shown, "hover")[-1] == ""
    assert shown.locator(".tb-space .tb-tip").is_hidden()


def test_keys_step_through_features_in_both_views(shown: Any) -> None:
    shown.focus(".tb-canvas")
    for key in "nnnnp":
        shown.keyboard.press(key)
    assert events(shown, "pick") == ["hole:window", "hole:drain", "bead:rib", "fold:lip", "bead:rib"]
    shown.keyboard.press("Escape")
    assert events(shown, "pick")[-1] == ""
    shown.focus(".tb-paper")
    shown.keyboard.press("n")
    assert events(shown, "pick")[-1] == "hole:window"
    assert shown.evaluate("pair.folded.marked") == "hole:window"


def test_a_section_cuts_the_picture_and_what_can_be_picked(shown: Any) -> None:
    shown.evaluate("pair.folded.look('above')")
    whole = shown.evaluate("filled()")
    shown.select_option("select[title='section']", "x")
    half = shown.evaluate("filled()")
    assert half == pytest.approx(whole / 2, rel=0.1)
    drain, window = at(shown, DRAIN), at(shown, (20, 60, 1))
    shown.mouse.click(*drain)  # cut away (x = 160 of 200)
    shown.mouse.click(*window)
    assert events(shown, "pick") == ["", "panel:base"]
    shown.get_by_text("other half").click()
    shown.mouse.click(*window)
    assert events(shown, "pick")[-1] == ""
    slider = shown.get_by_label("place of the section")
    slider.fill("0.9")
    assert shown.evaluate("filled()") == pytest.approx(whole / 10, rel=0.25)
    shown.select_option("select[title='section']", "")
    assert shown.evaluate("filled()") == pytest.approx(whole, rel=0.01)
    assert slider.is_hidden()


@pytest.mark.parametrize(("background", "theme"), [("#ffffff", "light"), ("#111111", "dark")])
def test_it_follows_the_page_into_the_dark(
    fresh_page: Callable[..., Any], static: Path, tmp_path: Path, artefacts: Path, background: str, theme: str
) -> None:
    p = fresh_page()
    p.goto(page(tmp_path, (static / "page.js").read_text(encoding="utf-8"), background))
    p.wait_for_function("log.some(([n]) => n === 'drawn')")
    assert p.get_attribute(".tb-pair", "data-theme") == theme
    p.evaluate("pair.highlight('hole:window')")
    frames(p)
    p.screenshot(path=artefacts / f"viewer_{theme}.png")
    other = "#111111" if theme == "light" else "#ffffff"
    before = p.evaluate("picture()")
    p.evaluate("(c) => document.body.setAttribute('style', `background:${c}`)", other)
    p.wait_for_function("(t) => document.querySelector('.tb-pair').dataset.theme !== t", arg=theme)
    assert p.evaluate("picture()") != before


def test_new_values_keep_the_camera_until_the_part_would_leave_the_picture(shown: Any) -> None:
    distance = shown.evaluate("pair.folded.table.distance")
    shown.evaluate("pair.update({...parts.short, stamp: 2})")
    assert shown.evaluate("pair.folded.table.distance") == distance
    shown.evaluate("pair.update({...parts.long, stamp: 3})")
    shown.wait_for_function("log.some(([n, d]) => n === 'drawn' && d.stamp === 3)")
    shown.wait_for_function("() => pair.folded.table.gliding === 0")
    assert shown.evaluate("pair.folded.table.distance") > 2 * distance
    assert "600" in shown.evaluate("pair.folded.data.groups[0].label")
    assert shown.get_attribute(".tb-paper svg", "viewBox").split()[2] == "620"


def test_new_geometry_goes_to_the_gpu_at_once_but_once_a_frame(shown: Any) -> None:
    seen = shown.evaluate(
        """async () => {
            await new Promise(requestAnimationFrame);
            log.length = 0;
            const drawn = () => log.filter(([n]) => n === "drawn").map(([, d]) => d.stamp);
            const seen = [];
            for (const stamp of [2, 3, 4]) {
                pair.update({...parts[stamp % 2 ? "short" : "long"], stamp});
                seen.push(drawn());
            }
            for (let i = 0; i < 3; i++) await new Promise(requestAnimationFrame);
            return [...seen, drawn()];
        }"""
    )
    assert seen == [[2], [2], [2], [2, 4]]  # the third was overtaken before its frame
    # What was drawn is what a fresh view draws.
    shown.wait_for_function("() => pair.folded.table.gliding === 0")
    last = shown.evaluate("picture()")
    shown.evaluate("pair.setTheme('dark'); pair.setTheme('light'); pair.update({...parts.long, stamp: 5})")
    assert shown.evaluate("picture()") == last


def test_colours_follow_when_kinds_change_on_the_same_triangles(shown: Any) -> None:
    before = shown.evaluate("picture()")
    shown.evaluate(
        """() => {
            const groups = parts.short.groups.map((g) => ({...g, kind: g.kind === "panel" ? "bead" : g.kind}));
            pair.update({...parts.short, groups, stamp: 2});
        }"""
    )
    changed = shown.evaluate("picture()")
    assert changed != before
    shown.evaluate("pair.update({...parts.short, stamp: 3})")
    assert shown.evaluate("picture()") == before


def test_a_notebooks_model_comes_column_by_column(shown: Any, static: Path) -> None:
    assert shown.evaluate(WIDGET, (static / "viewer.js").read_text(encoding="utf-8")) == [True] * 10


def test_it_follows_its_place_when_that_is_resized(shown: Any) -> None:
    before = shown.evaluate("[pair.folded.canvas.width, pair.folded.canvas.height]")
    shown.evaluate("document.getElementById('here').style.width = '500px'")
    shown.wait_for_function("(w) => pair.folded.canvas.width !== w", arg=before[0])
    sides = shown.locator(".tb-side")
    # Narrow: one below the other.
    assert sides.nth(1).bounding_box()["y"] > sides.nth(0).bounding_box()["y"] + 100


def test_layers_are_switched_and_the_flat_zooms_and_fits(shown: Any) -> None:
    boxes = shown.locator(".tb-layer")
    assert boxes.all_text_contents() == ["edge", "holes", "folds up", "dimensions"]
    boxes.nth(1).locator("input").uncheck()
    assert shown.locator("[data-name='hole:drain']").is_hidden()
    assert shown.locator("g[data-layer='folds up']").evaluate("e => getComputedStyle(e).display") == "inline"
    shown.evaluate("pair.update({svg: parts.long.svg})")
    assert shown.locator("[data-name='hole:drain']").is_hidden()  # stays switched off in a new drawing
    boxes.nth(1).locator("input").check()
    assert shown.locator("[data-name='hole:drain']").is_visible()
    whole = shown.get_attribute(".tb-paper svg", "viewBox")
    shown.focus(".tb-paper")
    shown.keyboard.press("+")
    zoomed = shown.get_attribute(".tb-paper svg", "viewBox")
    assert float(zoomed.split()[2]) < float(whole.split()[2])
    shown.evaluate("pair.update({svg: parts.long.svg + ' '})")
    assert shown.get_attribute(".tb-paper svg", "viewBox") == zoomed  # new values keep the zoom
    shown.get_by_text("whole blank").click()
    assert shown.get_attribute(".tb-paper svg", "viewBox") == whole


def test_what_is_not_a_drawing_leaves_the_last_one(shown: Any) -> None:
    for bad in ("", "<svg", "<p>no</p>"):
        shown.evaluate("(svg) => pair.update({svg})", bad)
        assert shown.locator("[data-name='hole:drain']").count() == 1


def test_a_note_dims_the_views_and_is_text(shown: Any) -> None:
    shown.evaluate("pair.setNote('<b>late</b>')")
    assert shown.text_content(".tb-note") == "<b>late</b>"
    assert shown.evaluate("getComputedStyle(document.querySelector('.tb-canvas')).opacity") == "0.45"
    shown.evaluate("pair.setNote('')")
    assert shown.locator(".tb-note").is_hidden()


def test_thirty_views_in_turn_give_their_graphics_memory_back(shown: Any) -> None:
    lost = shown.evaluate(
        """async () => {
            for (let i = 0; i < 30; i++) {
                const e = document.createElement("div");
                document.body.append(e);
                const p = new tinbookViewer.Pair(e);
                p.update({...parts.short, stamp: 10 + i});
                await new Promise(requestAnimationFrame);
                p.dispose();
                e.remove();
            }
            return pair.folded.renderer.getContext().isContextLost();
        }"""
    )
    assert lost is False
    assert shown.evaluate("filled()") > 0.05


def test_without_3d_graphics_the_flat_pattern_still_works(
    fresh_page: Callable[..., Any], static: Path, tmp_path: Path
) -> None:
    p = fresh_page()
    p.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    p.goto(page(tmp_path, (static / "page.js").read_text(encoding="utf-8")))
    assert "No 3-D picture here" in p.text_content(".tb-sorry")
    p.locator("[data-name='hole:window']").click()
    assert events(p, "pick") == ["hole:window"]
