"""An assembly in the viewer, on a plain page: members picked, hidden, drawn apart and lit; the list of parts beside it."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.write.scene import scene_of

pytestmark = pytest.mark.browser

PAGE = """<!doctype html><meta charset="utf-8"><title>assembly</title>
<body style="background:#fff;margin:10px"><div id="here" style="width:1200px"></div>
<script>{script}</script>
<script>
const scene = {scene};
for (const body of Object.values(scene.bodies))
  for (const k of ["positions", "triangles", "group_of", "edges"]) body[k] = tinbookViewer.bytes(body[k]);
const log = [];
for (const n of ["hover", "pick", "drawn"]) document.addEventListener("tinbook:" + n, (e) => log.push([n, e.detail]));
const pair = new tinbookViewer.Pair(document.getElementById("here"));
const view = pair.folded;
pair.setMembers(scene, 1);
const spot = (name) => {{
  const m = view.members.list.find((e) => e.name === name);
  const r = view.canvas.getBoundingClientRect();
  const soup = m.shape.sheet.getAttribute("position").array;
  const p = view.table.camera.position.clone();
  for (let o = 0; o < soup.length; o += 9) {{
    p.set(...[0, 1, 2].map((k) => (soup[o + k] + soup[o + 3 + k] + soup[o + 6 + k]) / 3)).applyMatrix4(m.place);
    p.project(view.table.camera);
    const [x, y] = [((p.x + 1) / 2) * r.width, ((1 - p.y) / 2) * r.height];
    if (view.at(x, y)?.name === "member:" + name) return [r.left + x, r.top + y];
  }}
  return null;
}};
</script>"""


def packed(value: Any) -> Any:
    """Return what stands in the page for the bytes of a body."""
    return base64.b64encode(value).decode()


def shelf(members: int = 28) -> tb.Assembly:
    """Return two different trays in a pile, every second turned about z, and a bolt in each."""
    low = tb.Part("HN-S1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 120)).fold("front", leg=30)
    high = tb.Part("HN-S2", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 120)).fold("rear", leg=30)
    bolt = tb.part.hexagon_bolt("M8", 30)
    made = tb.Assembly("HN-SHELF")
    for k in range(members):
        thing = (low, high, bolt)[k % 3]
        made = made.add(f"thing {k + 1}", thing, tb.part.frame_at((0.0, 0.0, 40.0 * k)))
    return made


def open_scene(assembly: tb.Assembly, page: Any, static: Path, folder: Path) -> Any:
    """Show an assembly on a page of its own."""
    scene = scene_of(tb.assemble(assembly, tb.Shop.demo()))
    bodies = {
        key: {k: packed(v) if isinstance(v, bytes) else v for k, v in body.items()}
        for key, body in scene.bodies.items()
    }
    data = json.dumps({"bodies": bodies, "members": scene.members, "rows": scene.rows, "movements": scene.movements})
    file = folder / "assembly.html"
    script = (static / "page.js").read_text(encoding="utf-8")
    file.write_text(PAGE.format(script=script, scene=data), encoding="utf-8")
    page.goto(file.as_uri())
    page.wait_for_function("log.some(([n]) => n === 'drawn')")
    return page


@pytest.fixture
def shown(fresh_page: Callable[..., Any], static: Path, tmp_path: Path) -> Any:
    """A page that shows an assembly of 28 members of three kinds."""
    page = open_scene(shelf(), fresh_page(), static, tmp_path)
    assert page.evaluate("view.members.bodies.size") == 3
    return page


def test_two_draw_calls_a_member_and_one_buffer_for_all_places_of_a_part(shown: Any) -> None:
    calls, buffers = shown.evaluate(
        "(view.draw(), [view.renderer.info.render.calls, view.renderer.info.memory.geometries])"
    )
    assert 28 <= calls <= 2 * 28
    assert buffers == 2 * 3
    # A result is drawn in their place, and they come back without it.
    flat = "points: Float32Array.of(0, 0, 0, 9, 0, 0, 0, 9, 0), moves: new Float32Array(9), values: new Float32Array(3)"
    about = 'triangles: Uint32Array.of(0, 1, 2), title: "stress", unit: "MPa", low: 0, high: 1, over: "", swings: false'
    drawn = [f"pair.setField({{{flat}, {about}}})", "pair.setField(null)"]
    seen = "(view.draw(), view.renderer.info.render.calls)"
    assert [shown.evaluate(f"({do}, {seen})") for do in drawn] == [2, calls]
    assert shown.get_attribute(".tb-canvas", "aria-label").startswith("Assembly of 28 members")


@pytest.mark.full
def test_a_picture_of_28_members_takes_8_ms_of_script(shown: Any) -> None:
    took = shown.evaluate(
        """() => {
            const all = [];
            for (let k = 0; k < 60; k++) {
                view.table.orbit(0.02, 0);
                const start = performance.now();
                view.draw();
                all.push(performance.now() - start);
            }
            return all.sort((a, b) => a - b)[30];
        }"""
    )
    print(f"script for a picture of 28 members: {took:.2f} ms")
    assert took <= 8


def test_a_member_is_picked_in_the_view_and_marked_in_the_list_and_back(shown: Any) -> None:
    x, y = shown.evaluate("spot('thing 28')")
    shown.mouse.click(x, y)
    shown.wait_for_timeout(100)
    assert [d["name"] for n, d in shown.evaluate("log") if n == "pick"] == ["member:thing 28"]
    assert shown.locator(".tb-row-marked .tb-member").inner_text() == "thing 28"
    assert shown.locator(".tb-space .tb-tip").inner_text().startswith("thing 28")
    # The list's rows: parts first, then what is bought; a row pressed again steps to its next member.
    row = shown.locator(".tb-part").nth(1)
    row.click()
    assert shown.evaluate("view.marked") == "member:thing 2"
    row.click()
    assert shown.evaluate("view.marked") == "member:thing 5"
    assert shown.locator(".tb-part[aria-pressed=true]").count() == 1


def test_a_hidden_member_is_neither_drawn_nor_picked(shown: Any) -> None:
    x, y = shown.evaluate("spot('thing 28')")
    before = shown.evaluate("(view.draw(), view.renderer.info.render.calls)")
    shown.locator(".tb-rows input").first.uncheck()
    assert shown.evaluate("(view.draw(), view.renderer.info.render.calls)") == before - 2 * 10
    r = shown.locator(".tb-canvas").bounding_box()
    under = shown.evaluate("([x, y]) => view.at(x, y)?.name", [x - r["x"], y - r["y"]])
    assert under != "member:thing 28"
    shown.locator(".tb-rows input").first.check()
    assert shown.evaluate("([x, y]) => view.at(x, y)?.name", [x - r["x"], y - r["y"]]) == "member:thing 28"


def test_members_drawn_apart_stay_in_the_picture(shown: Any) -> None:
    high = shown.evaluate("view.data.box[1][2]")
    shown.evaluate("pair.pull.value = 1, pair.pull.oninput()")
    # Without an order each goes away from the middle by six tenths of its distance from it.
    assert shown.evaluate("view.data.box[1][2]") == pytest.approx(high + 0.6 * (27 * 40 - 27 * 20), abs=15)
    assert shown.evaluate("view.table.holds(view.data.box)")
    shown.evaluate("pair.pull.value = 0, pair.pull.oninput()")
    assert shown.evaluate("view.data.box[1][2]") == pytest.approx(high, abs=1e-3)


def test_members_are_put_together_one_after_the_other(shown: Any) -> None:
    """With an order a slider carries each member in during its own step; half way the first half stands in place."""
    assert shown.locator("text=put together").is_hidden()
    shown.evaluate(
        "pair.setMembers({ ...scene, members: scene.members.map((m, k) => ({ ...m, turn: k, away: [0, 0, 100] })) }, 2)"
    )
    assert shown.locator("text=put together").is_visible()
    lifted = "view.members.list.map((m) => m.place.elements[14] - m.home.elements[14])"
    assert shown.evaluate(lifted) == [0] * 28
    shown.evaluate("view.put(14.25 / 28)")
    assert shown.evaluate(lifted) == pytest.approx([0] * 14 + [75] + [100] * 13, abs=1e-3)
    assert shown.evaluate("view.pointed") == "member:thing 15"
    shown.evaluate("view.put(1)")
    assert shown.evaluate(lifted) == [0] * 28


def test_a_clash_is_lit_and_what_meets_the_marked_member_is_named(shown: Any) -> None:
    shown.evaluate(
        """pair.setLinks([{ a: "thing 1", b: "thing 2", kind: "clash", text: "12 mm³ in common" },
                          { a: "thing 1", b: "thing 3", kind: "mate", text: "1 hole in line" }])"""
    )
    colour = "(n) => view.members.list[n].sheet.material === view.members.sheet.section"
    assert [shown.evaluate(colour, n) for n in (0, 1, 2)] == [True, True, False]
    shown.locator(".tb-part").first.click()
    assert shown.locator(".tb-link").all_inner_texts() == [
        "clashes with thing 2: 12 mm³ in common",
        "is bolted or pinned to thing 3: 1 hole in line",
    ]
    shown.locator(".tb-link-mate").click()
    assert shown.evaluate("view.marked") == "member:thing 3"


def test_a_section_opens_every_member_in_the_same_calls(shown: Any) -> None:
    shown.evaluate("view.setSection({ axis: 'x', at: 0.5 })")
    assert shown.evaluate("(view.draw(), view.renderer.info.render.calls)") <= 2 * 28


def test_a_body_that_did_not_change_is_not_uploaded_again(shown: Any) -> None:
    same = shown.evaluate(
        """() => {
            const before = [...view.members.bodies.values()].map((b) => b.sheet);
            const moved = scene.members.map((m) => ({ ...m, at: m.at.map((v, k) => (k === 0 ? v + 500 : v)) }));
            pair.setMembers({ ...scene, members: moved }, 2);
            return [...view.members.bodies.values()].every((b, k) => b.sheet === before[k]) && view.data.box[0][0] >= 400;
        }"""
    )
    assert same
    # A part in its place: the list makes way for the flat pattern.
    shown.evaluate("pair.update({ positions: new Float32Array(9), triangles: new Uint32Array(3), groups: [] })")
    assert shown.locator(".tb-parts").is_hidden()
    assert not shown.evaluate("view.members.on")


def test_a_lid_moved_by_its_slider_stands_where_the_family_draws_it_open(
    fresh_page: Callable[..., Any], static: Path, tmp_path: Path, axe: str, artefacts: Path
) -> None:
    """Every corner of every member, struts included, against the meshes of the lid that the family draws open."""
    page = open_scene(tb.families.lid_on_struts(hinges=2), fresh_page(), static, tmp_path)
    slider = page.get_by_role("slider", name="lid opens")
    slider.focus()
    for _ in range(20):
        page.keyboard.press("ArrowRight")
    assert slider.get_attribute("aria-valuetext") == "15 deg"  # a hundredth of 75 degrees a key
    assert page.locator(".tb-moves output").inner_text() == "15 deg"
    open_ = tb.assemble(tb.families.lid_on_struts(hinges=2, opened=15.0), tb.Shop.demo())
    seen = page.evaluate(
        """view.members.list.map((m) => {
            const p = view.table.camera.position.clone();
            const a = m.sheet.geometry.getAttribute("position").array;
            const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
            for (let i = 0; i < a.length; i += 3) p.set(a[i], a[i + 1], a[i + 2]).applyMatrix4(m.place).toArray()
                .forEach((v, k) => { low[k] = Math.min(low[k], v); high[k] = Math.max(high[k], v); });
            return [m.name, low, high];
        })"""
    )
    assert [name for name, _, _ in seen] == list(open_.assembly.names)
    for name, low, high in seen:
        points, corners = open_.mesh(name)
        used = points[corners.ravel()]
        assert low == pytest.approx(used.min(axis=0).tolist(), abs=2e-3), name
        assert high == pytest.approx(used.max(axis=0).tolist(), abs=2e-3), name
    calls, shown = page.evaluate("(view.draw(), [view.renderer.info.render.calls, view.members.list.length])")
    assert calls <= 2 * shown
    page.screenshot(path=artefacts / "assembly_lid_open.png")
    # A change of values that leaves the movement leaves the lid open; its sliders stay the same elements.
    page.evaluate("pair.setMembers(scene, 2)")
    assert slider.get_attribute("aria-valuetext") == "15 deg"
    assert page.evaluate("view.members.amounts.get('lid opens')") == 15
    page.evaluate(axe)
    found = page.evaluate("axe.run(document.getElementById('here'), { resultTypes: ['violations'] })")
    assert [v["id"] for v in found["violations"] if v["impact"] in ("serious", "critical")] == []
    assert slider.bounding_box()["height"] >= 24
    for _ in range(20):
        page.keyboard.press("ArrowLeft")
    page.evaluate("view.draw()")
    own = "view.members.list.filter((m) => m.sheet.geometry !== m.shape.sheet).length"
    assert page.evaluate(own) == 0
