"""The live workbench: from a moved slider to bytes for the views, and from a key press to geometry at the GPU.

The part has ten folds, six beads and 60 or 300 holes round its rim. The baseline is what one would write first with
the geometry kernel alone: solids, one cut for the holes, and the kernel's own mesh; it has no beads and no bend radii,
and nothing of it is sent anywhere.
"""

from __future__ import annotations

import asyncio
import itertools
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Annotated, Any

from frame import Case, Job, benchmark

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS / "bench"), str(TESTS / "browser")]
LIMITS = {60: (0.012, 0.060), 300: (0.040, 0.090)}
"""Holes -> wanted medians: kernel callback and key press to GPU, s."""
MOVES = 10
"""Steps of a drag."""


def kernel_only(rim: int) -> Job:
    """Return a job that makes and meshes the same tray with the geometry kernel alone."""
    import cadquery as cq

    lengths = itertools.cycle((900.0, 905.0))
    width, t, leg = 620.0, 1.6, 40.0

    def job() -> object:
        length = next(lengths)
        each = rim // 4
        along = [(i + 0.5) / each for i in range(each)]
        points = [(length * f, y) for f in along for y in (25, width - 25)]
        points += [(x, width * f) for f in along for x in (25, length - 25)]
        base = cq.Workplane().box(length, width, t, centered=False)
        base = base.faces("<Z").workplane(origin=(0, 0, 0), invert=True).pushPoints(points).hole(6)
        for x, y, dx, dy in ((0, 0, length, t), (0, width - t, length, t), (0, 0, t, width), (length - t, 0, t, width)):
            base = base.union(cq.Workplane(origin=(x, y, 0)).box(dx, dy, leg, centered=False))
            base = base.union(cq.Workplane(origin=(x, y, leg - t)).box(max(dx, 18), max(dy, 18), t, centered=False))
        return base.val().tessellate(0.1)

    return job


def callback(rim: int, *, rest: bool = False) -> Job:
    """Return a job that drags a slider of a workbench over MOVES steps, all but the way through the network.

    With `rest` the slider comes to rest at each step, and the machines are chosen anew.
    """
    from bench_samples import big_tray

    from tinbook.bench.debounce import TURNS
    from tinbook.bench.workbench import workbench
    from tinbook.fields import Range
    from tinbook.part.part import Part
    from tinbook.shop.shop import Shop

    def design(length: float = 900) -> Part:
        return big_tray(length, rim=rim)

    # Set as a value: the names in a written annotation would stand in this function only.
    design.__annotations__ = {"length": Annotated[float, Range(600, 1200, 5, "mm")]}
    bench = workbench(design, Shop.demo())
    assert bench.failure is None, bench.failure
    # Up and down the whole range, so that no length comes again soon.
    lengths = itertools.cycle((*range(905, 1201, 5), *range(1195, 599, -5), *range(605, 901, 5)))

    async def drag() -> None:
        slider = bench._controls.by_name["length"]
        for length in itertools.islice(lengths, MOVES):
            slider.value = float(length)
            for _ in range(TURNS):
                await asyncio.sleep(0)
            bench._refresh.run_waiting()  # at once, also where the machine is so busy that moves count as slow

    def job() -> object:
        if not rest:
            asyncio.run(drag())
            return bench.view.stamp
        for length in itertools.islice(lengths, MOVES):
            bench.set(length=float(length))
        return bench.view.stamp

    return job


@benchmark
def workbench_callback() -> Iterator[Case]:
    for rim, (limit, _) in LIMITS.items():
        yield Case(
            name=f"workbench callback, {rim} holes",
            against="kernel's solid and mesh",
            ours=callback(rim),
            base=kernel_only(rim),
            rounds=5,
            seconds=limit,
            calls=MOVES,
        )
        yield Case(
            name=f"workbench at rest, {rim} holes",
            against="kernel's solid and mesh",
            ours=callback(rim, rest=True),
            base=kernel_only(rim),
            rounds=3,
            calls=MOVES,
        )


class Lab:
    """JupyterLab with a workbench, started when first used."""

    def __init__(self, rim: int, stack: ExitStack) -> None:
        self._rim, self._stack, self._page = rim, stack, None
        self._keys = itertools.cycle(("ArrowRight", "ArrowLeft"))

    def _open(self) -> Any:
        from bench_pages import Hand
        from notebook_server import QUIET, open_notebook, run_all, serve, write_notebook
        from playwright.sync_api import sync_playwright

        folder = Path(self._stack.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True)))
        (folder / "home").mkdir()
        samples = (TESTS / "bench" / "bench_samples.py").read_text(encoding="utf-8")
        design = (
            "import tinbook as tb\ndef design(length: Annotated[float, Range(600, 1200, 5, 'mm')] = 900):\n"
            f"    return big_tray(length, rim={self._rim})\ntb.workbench(design, tb.Shop.demo())"
        )
        write_notebook(folder / "b.ipynb", [samples, design])
        address = self._stack.enter_context(serve(folder, folder / "home", "lab"))
        browser = self._stack.enter_context(sync_playwright()).chromium.launch(
            executable_path="/usr/bin/chromium", args=QUIET
        )
        self._stack.callback(browser.close)
        page = browser.new_page(viewport={"width": 1400, "height": 900})
        open_notebook(page, address, "b.ipynb")
        run_all(page)
        page.evaluate(
            """() => {
                const book = window.jupyterapp.shell.currentWidget.content;
                return book.scrollToItem(1, "start");
            }"""
        )
        Hand(page).sliders().first.focus()
        page.wait_for_timeout(1500)
        return page

    def press(self) -> object:
        """Press a key on the slider and wait until its geometry has been given to the GPU."""
        if self._page is None:
            self._page = self._open()
        return self._page.evaluate(
            """(key) => new Promise((done) => {
                addEventListener("tinbook:drawn", (e) => done(e.detail.stamp), { once: true });
                const press = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true });
                document.querySelector(".tinbook-bench .tb-slider").dispatchEvent(press);
            })""",
            next(self._keys),
        )


@benchmark
def key_to_gpu() -> Iterator[Case]:
    for rim, (_, limit) in LIMITS.items():
        with ExitStack() as stack:
            yield Case(
                name=f"key press to GPU in JupyterLab, {rim} holes",
                against="kernel's solid and mesh",
                ours=Lab(rim, stack).press,
                base=kernel_only(rim),
                rounds=7,
                seconds=limit,
            )
