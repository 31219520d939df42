"""A hand on a workbench in a page: what a user does with it, step by step, and what must then have changed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class State:
    """What the page shows."""

    picture: str
    drawing: str
    numbers: str
    findings: str


WIDTHS = (1500, 1100, 420)
TIGHT = "const t = pair.folded.table; return t.distance / t.needed(pair.folded.data.box);"
CUT = """e => [...e.querySelectorAll(".tb-form *, .tb-buttons button")]
    .filter((c) => c.getBoundingClientRect().right > e.getBoundingClientRect().right + 1)
    .map((c) => c.outerHTML.slice(0, 80))"""

CHANGED = """async (e, old) => {
    const pair = e.querySelector(".tb-pair").tinbookPair;
    const now = () => [pair.flat.text, e.querySelector(".tinbook-numbers").innerText];
    const picture = () => (pair.folded.draw(), pair.folded.canvas.toDataURL());
    const wait = () => new Promise((go) => setTimeout(go, 50));
    for (const end = performance.now() + 1000 * old.seconds; performance.now() < end; await wait()) {
        const [drawing, numbers] = now();
        if (drawing === old.drawing || numbers === old.numbers || picture() === old.picture) continue;
        await wait();
        if (now().every((v, i) => v === [drawing, numbers][i])) return true;
    }
    return false;
}"""
"""Whether all that a workbench shows has come to differ from an earlier state and stays; it is watched in the page."""


class Hand:
    """Works one workbench of a page.

    Parameters
    ----------
    page : playwright page
        Already showing the workbench.
    index : int
        Which of the page's workbenches.
    """

    def __init__(self, page: Any, index: int = 0) -> None:
        self.page = page
        self.bench = page.locator(".tinbook-bench").nth(index)
        self.bench.locator(".tb-canvas").wait_for(timeout=300_000)
        self.bench.evaluate("e => e.scrollIntoView()")
        self.page.wait_for_timeout(300)

    def inside(self, script: str, argument: Any = None) -> Any:
        """Run a script with `pair`, the two views."""
        code = f"(e, a) => {{ const pair = e.querySelector('.tb-pair').tinbookPair; {script} }}"
        return self.bench.evaluate(code, argument)

    def state(self) -> State:
        """Return what is shown now."""
        return State(
            picture=self.inside("pair.folded.draw(); return pair.folded.canvas.toDataURL();"),
            drawing=self.inside("return pair.flat.text;"),
            numbers=self.bench.locator(".tinbook-numbers").inner_text(),
            findings=self.bench.locator(".tinbook-findings").inner_text(),
        )

    def filled(self) -> float:
        """Return the share of the 3-D picture that is not empty."""
        return float(
            self.inside(
                """const c = document.createElement("canvas"), from = pair.folded.canvas;
                [c.width, c.height] = [from.width, from.height];
                const g = c.getContext("2d");
                pair.folded.draw();
                g.drawImage(from, 0, 0);
                const d = g.getImageData(0, 0, c.width, c.height).data;
                let n = 0;
                for (let i = 3; i < d.length; i += 4) n += d[i] > 0;
                return n / (d.length / 4);"""
            )
        )

    def await_change(self, before: State, seconds: float = 120) -> State:
        """Wait until picture, drawing and numbers all differ from before, and stay: each of several keys is answered."""
        old = {"picture": before.picture, "drawing": before.drawing, "numbers": before.numbers, "seconds": seconds}
        assert self.bench.evaluate(CHANGED, old), f"not everything changed:\n{before.numbers}\n{self.state().numbers}"
        return self.state()

    def sliders(self) -> Any:
        """Return the handles of the sliders."""
        return self.bench.locator(".tb-slider")

    def by_key(self, index: int, key: str = "ArrowRight", times: int = 3) -> State:
        """Move a slider by the keyboard, each key when the one before is answered; return what is shown then."""
        shown = self.state()
        self.sliders().nth(index).focus()
        for _ in range(times):
            self.page.keyboard.press(key)
            shown = self.await_change(shown)
        return shown

    def type(self, name: str, text: str) -> str:
        """Type into a control's field; return what is said beside it once it is answered, "" for nothing."""
        row = self.bench.locator(f"[data-name='{name}']")
        entry = row.locator("input[type=text]")
        said = row.locator(".tb-problem")
        before = said.inner_text()
        entry.fill(text)
        entry.press("Enter")
        for _ in range(1200):
            # A message quotes what was typed; a value that is taken is shown in the control's own unit.
            now = str(said.inner_text())
            if (now and now != before) or (not now and entry.input_value() != text):
                return now
            self.page.wait_for_timeout(50)
        raise AssertionError(f"nothing answered {text!r}")

    def by_mouse(self, index: int, px: float) -> State:
        """Drag a slider; return what is shown then."""
        before = self.state()
        box = self.sliders().nth(index).bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.mouse.move(x + px, y, steps=8)
        self.page.mouse.up()
        return self.await_change(before)

    def pick(self, kind: str) -> str:
        """Click on the first feature of a kind that can be seen in the 3-D view; return its key."""
        for look in ("above", "corner", "below", "front"):
            self.inside("pair.folded.look(a);", look)
            spot = self.inside(
                """const v = pair.folded, r = v.canvas.getBoundingClientRect(), d = v.data;
                const camera = v.table.camera;
                const { lists, plugs } = v.index();
                for (const [i, g] of d.groups.entries()) {
                    if (g.kind !== a || !lists[i].length) continue;
                    // Middles of its triangles, or of the plug over its air: one that is not hidden will do.
                    const soup = plugs[i] ?? lists[i].slice(0, 60).flatMap((t) =>
                        [0, 1, 2].flatMap((k) => [...d.positions.slice(3 * d.triangles[3 * t + k]).slice(0, 3)]));
                    for (let o = 0; o < soup.length; o += 9) {
                        const m = [0, 1, 2].map((k) => (soup[o + k] + soup[o + 3 + k] + soup[o + 6 + k]) / 3);
                        const p = camera.position.clone().set(...m).project(camera);
                        const [x, y] = [((p.x + 1) / 2) * r.width, ((1 - p.y) / 2) * r.height];
                        if (v.at(x, y)?.name === g.name) return [g.name, r.left + x, r.top + y];
                    }
                }
                return null;""",
                kind,
            )
            if spot:
                name, x, y = spot
                self.page.mouse.click(x, y)
                self.page.wait_for_timeout(200)
                return str(name)
        raise AssertionError(f"no {kind} can be seen")

    def marked_in_flat(self) -> list[str]:
        """Return the keys that the flat pattern marks."""
        return list(self.bench.locator(".tb-marked").evaluate_all("l => l.map((e) => e.dataset.name)"))

    def serious(self, axe: str) -> list[str]:
        """Return what axe-core finds serious or critical on the workbench, the notebook around it left out."""
        self.page.evaluate(axe)
        found = self.bench.evaluate("async (e) => (await axe.run(e, {resultTypes: ['violations']})).violations")
        bad = [v for v in found if v["impact"] in ("serious", "critical")]
        return [f"{v['id']}: {n['html'][:200]}: {n['failureSummary']}" for v in bad for n in v["nodes"]]

    def small(self) -> list[str]:
        """Return the controls whose target is smaller than 24 px (WCAG 2.2, 2.5.8), a label's box included."""
        return list(
            self.bench.evaluate(
                """e => [...e.querySelectorAll("button, select, input, [tabindex='0']")].filter((c) => {
                    const boxes = [c, ...(c.labels ?? [])].map((b) => b.getBoundingClientRect()).filter((r) => r.width);
                    return boxes.length && !boxes.some((r) => r.width >= 24 && r.height >= 24);
                }).map((c) => c.outerHTML.slice(0, 150))"""
            )
        )

    def fits(self, theme: str, where: str, folder: Path | None = None) -> None:
        """Check at each width that the part fills its view, nothing is cut off, and the theme is the page's."""
        for width in WIDTHS:
            self.page.set_viewport_size({"width": width, "height": 1000})
            self.page.wait_for_function(
                "([e, w]) => e.getBoundingClientRect().width <= w && e.querySelector('.tb-canvas').clientWidth > 0",
                arg=[self.bench.element_handle(), width],
            )
            self.page.wait_for_timeout(700)
            said = f"{where}, {theme}, {width} px"
            assert self.inside("return pair.element.dataset.theme;") == theme, said
            assert self.inside(TIGHT) < 1.15, said
            assert self.filled() > 0.005, said
            assert self.bench.evaluate("e => e.scrollWidth - e.clientWidth") <= 1, said
            assert self.bench.evaluate(CUT) == [], said
            if folder is not None:
                self.page.screenshot(path=folder / f"{where}_{theme}_{width}.png")

    def press(self, name: str) -> None:
        """Press a button of the workbench."""
        self.bench.get_by_role("button", name=name, exact=True).click()

    def await_text(self, text: str, seconds: float = 120) -> None:
        """Wait until a message says so."""
        from playwright.sync_api import TimeoutError as TooLate

        notes = self.bench.locator(".tinbook-note")
        try:
            notes.filter(has_text=text).first.wait_for(timeout=seconds * 1000)
        except TooLate as late:
            raise AssertionError(f"{text!r} was not said, but {notes.all_inner_texts()}") from late

    def write(self, folder: Path) -> list[Path]:
        """Press the write button and return the files; what stood in `out` goes first."""
        for old in (p for p in folder.rglob("out/**/*") if p.is_file()):
            old.unlink()
        self.press("Write all files")
        self.await_text("written:", 600)
        return sorted(p for p in folder.rglob("out/**/*") if p.is_file())
