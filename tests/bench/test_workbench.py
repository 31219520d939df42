"""The workbench without a browser: what it shows, and what becomes of a cell that is run again."""

from __future__ import annotations

import asyncio
import gc
import os
import subprocess
import sys
import textwrap
import weakref
from functools import partial
from pathlib import Path
from typing import Annotated

from bench_hands import Bench, html, slider, until
from bench_samples import tray

from tinbook.bench.viewer import View
from tinbook.bench.workbench import workbench
from tinbook.families.plain import folded_channel, hemmed_dash_edge
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop


def test_it_shows_views_numbers_findings_and_a_name_without_addresses(bench: Bench) -> None:
    b = bench(tray)
    assert repr(b) == "Workbench(tray)"
    assert b._repr_mimebundle_()[0]["text/plain"] == "Workbench(tray)"
    assert b.failure is None
    assert isinstance(b.view, View)
    assert "0x" not in repr(b.view)
    kinds = {kind for _, kind in b.view.groups}
    assert {"panel", "fold", "bead", "hole"} <= kinds
    assert len(b.view.labels) == len(b.view.groups)
    text = html(b)
    assert "A tray for the battery of the Heron." in text
    for number in (f"{b.made.mass:.3f} kg", f"{b.made.flat.size[0]:.1f} × {b.made.flat.size[1]:.1f} mm", "HN-BT rev A"):
        assert number in text
    assert all(f.what in text.replace("&#x27;", "'") for f in b.findings if f.severity != "fine")


def test_a_cell_run_again_closes_what_it_left_once_the_page_drops_it(bench: Bench) -> None:
    a = bench(tray)
    a.box._view_count = 1
    b = bench(tray)
    assert a.view.comm is not None
    a.box._view_count = 0
    assert a.view.comm is None
    assert b.view.comm is not None


def test_two_benches_side_by_side_do_not_close_each_other(bench: Bench) -> None:
    a, b = bench(tray), bench(partial(tray))
    assert a.view.comm is not None
    assert b.view.comm is not None


def test_picks_and_highlights(bench: Bench) -> None:
    b = bench(tray)
    assert b.picked == ""
    b.view.picked = {"name": "hole:drain", "kind": "hole", "label": ""}
    assert b.picked == "hole:drain"
    b.highlight("fold:front")
    assert b.view.highlight == "fold:front"


def test_a_part_without_folds_is_shown(bench: Bench) -> None:
    def plate(width: Annotated[float, Range(50, 200, 1, "mm")] = 80) -> Part:
        return Part("HN-RP", sheet="S355 8.0", base=Outline.rectangle(width, 60)).hole((20, 20), 17, name="pin")

    b = bench(plate)
    assert b.failure is None
    assert "fold" not in {kind for _, kind in b.view.groups}
    assert "80.0 × 60.0 mm" in html(b)
    slider(b, "width").value = 90
    assert "90.0 × 60.0 mm" in html(b)


def test_a_function_without_parameters_is_shown_without_controls(bench: Bench) -> None:
    b = bench(lambda: tray(length=800))
    assert b.failure is None
    assert b.values == {}
    assert b.view.svg


def test_a_moved_slider_leaves_nothing_for_the_garbage_collector(root: Path, tmp_path: Path) -> None:
    """So the collector may come seldom; what a move made goes when the next one is shown.

    In a process of its own: what other tests dropped would be counted with it.
    """
    script = """
        import gc
        from bench_samples import tray
        from tinbook.bench.workbench import workbench
        from tinbook.shop.shop import Shop

        bench = workbench(tray, Shop.demo())
        for length in (700, 705, 710):
            bench.set(length=length)
        gc.collect()
        gc.disable()
        for length in (715, 720, 725):
            bench.set(length=length)
        print(gc.collect(), bench.made.flat.size[0])
    """
    env = dict(os.environ, PYTHONPATH=os.pathsep.join((str(root / "kit"), str(root / "tests" / "bench"))))
    command = [sys.executable, "-c", textwrap.dedent(script)]
    done = subprocess.run(command, capture_output=True, text=True, env=env, cwd=tmp_path, timeout=600)
    assert (done.returncode, done.stdout) == (0, "0 725.0\n"), done.stderr


def test_the_line_over_a_ready_made_part_is_for_its_user(bench: Bench) -> None:
    """Not for a programmer: "Return a dash edge ..."."""
    assert "</b> A dash edge with nut inserts" in html(bench(hemmed_dash_edge))


def test_what_is_stopped_names_the_parameter_once_the_hand_rests(bench: Bench) -> None:
    """Twelve bolts do not go on 60 mm; the search is not done while the slider moves, and its value is good."""

    async def scene() -> None:
        b = bench(folded_channel)
        slider(b, "holes").value = 12
        slider(b, "length").value = 60
        b._flush()
        assert b.failure is None
        assert "can be made" not in "".join(f.what for f in b.findings)
        await until(lambda: "the nearest value that can be made" in html(b))
        assert "folded_channel holes" in html(b) or "folded_channel length" in html(b)
        slider(b, "length").value = 100
        b._flush()
        assert "the nearest value" not in html(b)

    asyncio.run(scene())


def test_the_collectors_threshold_is_as_before_after_every_move(bench: Bench) -> None:
    before = gc.get_threshold()
    seen: list[int] = []

    def design(leg: Annotated[float, Range(20, 80, 1, "mm")] = 40) -> Part:
        seen.append(gc.get_threshold()[0])
        return tray(leg=leg)

    b = bench(design)
    assert gc.get_threshold() == before
    slider(b, "leg").value = 50
    assert gc.get_threshold() == before
    assert min(seen) > before[0]


def test_a_threshold_that_the_design_function_sets_stays(bench: Bench) -> None:
    before = gc.get_threshold()

    def design() -> Part:
        gc.set_threshold(123, *before[1:])
        return tray()

    try:
        bench(design)
        assert gc.get_threshold()[0] == 123
    finally:
        gc.set_threshold(*before)


def test_a_closed_workbench_is_not_kept(bench: Bench, shop: Shop) -> None:
    b = workbench(tray, shop)
    b.close()
    seen = weakref.ref(b)
    del b
    gc.collect()
    assert seen() is None
