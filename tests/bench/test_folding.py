"""Fold steps on a slider and on a page: what they show, the clash, marks, the same bytes, bad input."""

from __future__ import annotations

import asyncio
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bench_hands import EVIL
from bench_samples import big_tray, clamped, deep, tray

import tinbook as tb
from tinbook.bench.folding import EARLIER, Folding, FoldingSection, folding
from tinbook.bench.workbench import Workbench, workbench
from tinbook.errors import BadValue, CannotMake
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.route.steps import FoldPlan
from tinbook.shop.shop import Shop
from tinbook.write.foldpage import SHARES, fold_page, page_count, sequence_of, step_page


@pytest.fixture(scope="module")
def blocked(shop: Shop) -> FoldPlan:
    return fold_sequence(deep(shop))


# -- pages ----------------------------------------------------------------------------------------


def test_a_page_for_each_step_says_what_to_set(box: FoldPlan) -> None:
    assert page_count(box) == len(box.steps) == 4
    for k, step in enumerate(box.steps):
        shown = step_page(box, k)
        said = dict(shown.rows)
        assert shown.title == f"Step {k + 1} of 4: fold {step.fold} up"
        assert f"turned {step.angle_formed:.1f}°" in said["set"]
        assert f"included {180 - step.angle_formed:.1f}°" in said["set"]
        assert step.over is not None
        assert said["overbend"].startswith(f"{step.over[0]:.1f}° to {step.over[1]:.1f}°")
        assert step.sight is not None  # a folder has no gauge
        assert f"the nose bar's edge {step.sight.at:.1f} mm from {step.sight.edge}" in said["line"]
        assert step.tool in said["on"]
        assert step.face_up in said["way up"]
        assert step.at_back in said["gauge"]
        assert said["check"] == step.check
        assert "force" not in said  # a folder is worked by hand
        assert [words for words, _ in shown.pictures] == [
            "laid in",
            "25% of the way",
            "50% of the way",
            "75% of the way",
            "formed",
        ]
        # Each picture names its own angle, from flat to the angle that is set.
        turned = [float(re.search(r"turned ([\d.]+) degrees", svg)[1]) for _, svg in shown.pictures]  # type: ignore[index]
        assert turned == sorted(turned)
        assert turned[0] == 0.0
        assert turned[-1] == pytest.approx(step.angle_formed, abs=0.06)
        assert shown.line.startswith(f"{shown.title}; before: ")
    assert any("re-set" in dict(step_page(box, k, ()).rows)["before"] for k in range(4)) == any(
        s.reset for s in box.steps
    )


def test_a_press_says_its_force(shop: Shop) -> None:
    part = Part("HN-P", sheet="DC01 3.0", base=Outline.rectangle(300, 200)).fold("front", "up", leg=60, tool="V25")
    made = make(part, shop)
    found = fold_sequence(made)
    said = dict(step_page(found, 0, ()).rows)
    step = found.steps[0]
    assert step.force is not None
    assert said["force"].startswith(f"{step.force / 1e3:.0f} kN")


def test_a_blocked_fold_shows_the_clash_and_its_cures(blocked: FoldPlan) -> None:
    assert not blocked.steps
    assert page_count(blocked) == 2
    shown = step_page(blocked, 0)
    assert shown.clash
    assert shown.title == "fold front is blocked"
    b = blocked.blocked[0]
    assert dict(shown.rows)["hits"].startswith(f"{b.body} hits the {b.against} by {b.depth:.1f} mm")
    assert [text for what, text in shown.rows if what == "cure"] == list(b.remedies)
    assert 'class="tb-clash"' in shown.pictures[0][1]


@pytest.mark.parametrize("index", [-1, 4, 99])
def test_no_page_beyond_the_last(box: FoldPlan, index: int) -> None:
    with pytest.raises(BadValue, match=r"step.*1 to 4"):
        step_page(box, index)


def test_what_has_no_order_is_refused(shop: Shop, box: FoldPlan) -> None:
    flat = make(Part("HN-F", sheet="DC01 1.5", base=Outline.rectangle(300, 30)), shop)
    for what, words in ((flat, "a part with folds"), (3, "a made part"), (tb.families.folded_box(), "a made part")):
        with pytest.raises(BadValue, match=words):
            sequence_of(what)  # type: ignore[arg-type]
    with pytest.raises(BadValue, match=r"machine.*none: the sequence has its machines already"):
        sequence_of(box, "folder")
    bad = make(Part("HN-X", sheet="DC01 1.5", base=Outline.rectangle(300, 200)).hole((150, 100), 500), shop)
    with pytest.raises(CannotMake):
        sequence_of(bad)


# -- the slider -----------------------------------------------------------------------------------


def test_the_slider_turns_the_pages(box: FoldPlan) -> None:
    f = folding(box)
    assert repr(f) == f"Folding({repr(box).strip('<>')})"
    assert f._repr_mimebundle_()[0]["text/plain"] == repr(f)
    assert "0x" not in repr(f)
    assert (f.step, f.slider.max) == (1, 4)
    first = f._picture.value, f._text.value
    assert "step 1: fold front up" in first[0]
    f.slider.value = 3
    assert f.step == 3
    assert "Step 3 of 4: fold right up" in f._text.value
    assert f._picture.value != first[0]
    formed = f._picture.value
    f.far.value = SHARES[0]
    assert f._picture.value != formed
    assert "turned 0.0 degrees" in f._picture.value
    f.go(1)
    f.far.value = 1.0
    assert (f._picture.value, f._text.value) == first
    with pytest.raises(BadValue, match="1 to 4"):
        f.go(5)
    assert f.step == 1


def test_the_slider_shows_what_is_blocked(blocked: FoldPlan) -> None:
    f = folding(blocked)
    assert "no order of folds, 2 blocked" in repr(f)
    assert "fold front is blocked" in f._text.value
    assert "tb-clash" in f._picture.value
    assert f.far.layout.display == "none"
    f.slider.value = 2
    assert "fold rear is blocked" in f._text.value


def test_names_are_escaped(shop: Shop) -> None:
    part = Part("HN-U", sheet="DC01 1.5", title=EVIL, base=Outline.rectangle(300, 100)).fold("front", "up", leg=30)
    found = fold_sequence(make(part, shop))
    assert EVIL not in fold_page(found)
    assert "&lt;img" in fold_page(found)


# -- the workbench's drawer -------------------------------------------------------------------------


@pytest.fixture
def bench(shop: Shop) -> Iterator[Callable[..., Workbench]]:
    opened: list[Workbench] = []

    def open_bench(function: Callable[..., Any]) -> Workbench:
        opened.append(workbench(function, shop))
        return opened[-1]

    yield open_bench
    for b in opened:
        b.close()


def drawer(b: Workbench) -> FoldingSection:
    b.drawers.handles["Fold order"].value = True
    section = b.drawers.open["Fold order"]
    assert isinstance(section, FoldingSection)
    return section


def test_the_drawer_searches_when_asked_and_marks_what_is_old(bench: Any) -> None:
    def lid(length: float = 300.0, long: bool = False) -> Part:
        part = Part("HN-LD", sheet="DC01 1.5", base=Outline.rectangle(320.0 if long else 300.0, 200))
        return part.fold("front", "up", leg=30).fold("rear", "up", leg=30)

    def design(long: bool = False) -> Part:
        return lid(long=long)

    b = bench(design)
    s = drawer(b)
    assert s.shown is None
    s.run()
    assert isinstance(s.shown, Folding)
    assert "2 steps" in repr(s.shown)
    assert s.shown.box in s._place.children
    b.set(long=True)
    assert s.stale
    assert EARLIER in s._note.value
    assert "opacity:.5" in s.shown._picture.value
    b.undo()
    assert not s.stale
    assert s._note.value == ""
    assert "opacity:.5" not in s.shown._picture.value
    b.set(long=True)
    old = s.shown
    s.run()
    assert s.shown is not old
    assert not s.stale
    assert s.shown.sequence.made.part == b.made.part


def test_an_order_that_comes_late_is_marked(bench: Any) -> None:
    def lid(long: bool = False) -> Part:
        part = Part("HN-LD", sheet="DC01 1.5", base=Outline.rectangle(320.0 if long else 300.0, 200))
        return part.fold("front", "up", leg=30).fold("rear", "up", leg=30)

    found: list[tuple[bool, str]] = []

    async def main() -> None:
        b = bench(lid)
        s = drawer(b)
        s.run()
        assert s.running
        assert s._run.disabled
        b.set(long=True)
        while s.running:
            await asyncio.sleep(0.01)
        assert not s._run.disabled
        found.append((s.stale, s._note.value))

    asyncio.run(main())
    assert found[0][0]
    assert EARLIER in found[0][1]


def test_cancel_ends_the_search_and_keeps_what_was_shown(bench: Any) -> None:
    def design(flat: bool = True) -> Part:
        return tray(beads=0) if flat else big_tray()

    seen: list[Any] = []

    async def main() -> None:
        b = bench(design)
        s = drawer(b)
        s.cancel()  # nothing to end
        s.run()
        while s.running:
            await asyncio.sleep(0.01)
        first = s.shown
        assert first is not None
        assert s._cancel.disabled
        b.set(flat=False)  # ten folds: thousands of states, seconds
        s.run()
        assert not s._cancel.disabled
        while "states looked at" not in s._word.value:
            await asyncio.sleep(0.01)
        s.cancel()
        assert "ending" in s._word.value
        while s.running:
            await asyncio.sleep(0.01)
        seen.extend((s.shown is first, s._note.value, s._word.value))
        seen.extend((s._run.disabled, s._cancel.disabled))

    asyncio.run(main())
    same, said, word, run, cancel = seen
    assert same
    assert "ended; no order was worked out" in said
    assert EARLIER in said
    assert (word, run, cancel) == ("", False, True)


def test_who_listens_to_a_search_does_not_change_it(box: FoldPlan) -> None:
    heard: list[tuple[float, str]] = []
    found = fold_sequence(replace(box.made), progress=lambda share, word: heard.append((share, word)))
    assert found.moves == box.moves
    assert [share for share, _ in heard] == sorted(share for share, _ in heard)
    assert 0 <= heard[0][0] <= heard[-1][0] <= 1


def test_the_drawer_tells_why_there_is_nothing_to_fold(bench: Any) -> None:
    def plate(wide: bool = False) -> Part:
        return Part("HN-PL", sheet="DC01 1.5", base=Outline.rectangle(300, 250 if wide else 200))

    s = drawer(bench(plate))
    s.run()
    assert "no order: part" in s._note.value
    assert "a part with folds" in s._note.value
    assert s.shown is None
    assert not s._run.disabled


def test_the_drawer_shows_a_clash(bench: Any) -> None:
    def channel(deep: bool = True) -> Part:
        part = Part("HN-U", sheet="DC01 1.5", base=Outline.rectangle(300, 30 if deep else 200))
        return part.fold("front", "up", leg=90).fold("rear", "up", leg=90)

    s = drawer(bench(channel))
    s.run()
    assert s.shown is not None
    assert "tb-clash" in s.shown._picture.value
    assert "cure" in s.shown._text.value


def test_the_workbench_opens_without_either_drawer_being_loaded(root: Path) -> None:
    code = (
        "import sys; sys.path.insert(0, 'tests/bench'); import tinbook as tb; from bench_samples import tray\n"
        "b = tb.workbench(tray, tb.Shop.demo())\n"
        "bad = [m for m in sys.modules if m.startswith(('tinbook.strength.shell.linear', 'tinbook.strength.request', "
        "'tinbook.route.', 'tinbook.bench.folding', 'tinbook.bench.strength', 'scipy.sparse'))]\n"
        "print(bad)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True, env={"PYTHONPATH": "kit"}
    )
    assert done.stdout.strip() == "[]"


# -- the page -------------------------------------------------------------------------------------


def test_a_bead_under_the_clamp_is_the_clash(shop: Shop) -> None:
    """The clamp lies flat on the base; the bead R18x5 under it stands 5 mm up."""
    found = fold_sequence(make(clamped(), shop))
    said = dict(step_page(found, 0).rows)
    assert said["hits"].startswith("bead rib 1 hits the clamp by 5.0 mm")
