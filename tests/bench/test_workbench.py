"""The workbench without a browser: what it shows, what it refuses, what it writes."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import ezdxf
import ipywidgets
import pytest
from bench_samples import tray

from tinbook.bench.parameters import BadFunction
from tinbook.bench.viewer import View, library
from tinbook.bench.workbench import Workbench, workbench
from tinbook.errors import BadValue
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop
from tinbook.units import Range

EVIL = "<img src=x onerror=alert(1)>"
Bench = Callable[..., Workbench]


@pytest.fixture(scope="module")
def shop() -> Shop:
    return Shop.demo()


@pytest.fixture
def bench(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    """Open workbenches in an empty folder; they are closed after the test."""
    monkeypatch.chdir(tmp_path)
    opened: list[Workbench] = []

    def open_bench(function: Callable[..., Any], **options: Any) -> Workbench:
        opened.append(workbench(function, shop, **options))
        return opened[-1]

    yield open_bench
    for b in opened:
        b.close()


def html(b: Workbench) -> str:
    """Everything that the workbench shows as HTML."""
    found: list[str] = []

    def walk(widget: Any) -> None:
        if isinstance(widget, ipywidgets.HTML):
            found.append(widget.value)
        for child in getattr(widget, "children", ()):
            walk(child)

    walk(b.box)
    return "\n".join(found)


def button(b: Workbench, name: str) -> Any:
    found: list[Any] = []

    def walk(widget: Any) -> None:
        if isinstance(widget, ipywidgets.Button) and widget.description == name:
            found.append(widget)
        for child in getattr(widget, "children", ()):
            walk(child)

    walk(b.box)
    return found[0]


def slider(b: Workbench, name: str) -> Any:
    return b._controls.by_name[name]


def files() -> list[str]:
    return sorted(p.relative_to(Path()).as_posix() for p in Path().rglob("*") if p.is_file())


# -- what it shows --------------------------------------------------------------------------------


def test_it_shows_views_numbers_findings_and_a_name_without_addresses(bench: Bench) -> None:
    b = bench(tray)
    assert repr(b) == "Workbench(tray)"
    assert b._repr_mimebundle_()["text/plain"] == "Workbench(tray)"
    assert b.failure is None
    assert isinstance(b.view, View)
    assert "0x" not in repr(b.view)
    kinds = {kind for _, kind in b.view.groups}
    assert {"panel", "fold", "bead", "hole"} <= kinds
    assert len(b.view.labels) == len(b.view.groups)
    text = html(b)
    assert "A tray for the battery of the Heron." in text
    assert b.made is not None
    for number in (f"{b.made.mass:.3f} kg", f"{b.made.flat.size[0]:.1f} × {b.made.flat.size[1]:.1f} mm", "HN-BT rev A"):
        assert number in text
    assert all(f.what in text.replace("&#x27;", "'") for f in b.findings if f.severity != "fine")


def test_names_in_space_and_in_the_flat_are_the_same(bench: Bench) -> None:
    import re

    b = bench(tray)
    drawn = {name.replace("&#x27;", "'") for name in re.findall(r'data-name="([^"]*)"', b.view.svg)}
    keys = {key for key, _ in b.view.groups}
    features = {key for key, kind in b.view.groups if kind in ("fold", "bead", "hole")}
    assert drawn == features
    assert drawn <= keys


def test_an_opening_over_a_fold_can_be_picked_in_both_views(bench: Bench) -> None:
    def design() -> Part:
        part = Part("HN-HO", sheet="DC01 1.5", base=Outline.rectangle(300, 120)).fold("front", leg=40)
        return part.hole((60, 3), 20, name="slot for the strap").hole((150, 60), 8, name="plain")

    b = bench(design)
    kinds = {key: kind for key, kind in b.view.groups if key.startswith("hole:")}
    assert kinds == {"hole:slot for the strap": "hole", "hole:plain": "hole"}
    assert all(f'data-name="{key}" data-kind="hole"' in b.view.svg for key in kinds)
    words = {key: text for (key, _), text in zip(b.view.groups, b.view.labels, strict=True)}
    assert words["hole:slot for the strap"].startswith("hole slot for the strap\ndiameter 20 mm")


def test_a_slider_changes_the_view_and_what_did_not_change_is_not_sent(bench: Bench, monkeypatch: Any) -> None:
    b = bench(tray)
    sent: list[set[str]] = []
    monkeypatch.setattr(b.view, "send_state", lambda key=None: sent.append({key} if isinstance(key, str) else set(key)))
    before = (b.view.x, b.view.svg, html(b))
    slider(b, "length").value = 905
    assert b.view.x != before[0]
    assert b.view.svg != before[1]
    assert html(b) != before[2]
    folded, flat = sent  # one message for the folded part, which goes first, one for the rest
    assert {"x", "edges_x", "stamp"} <= folded
    assert flat == {"svg"}
    assert not {"groups", "group_of", "_esm", "library", "highlight", "theme"} & folded


def test_more_beads_send_new_groups(bench: Bench) -> None:
    b = bench(tray)
    before = len(b.view.groups)
    slider(b, "beads").value = 4
    assert len(b.view.groups) == before + 1
    assert ["bead:rib 4", "bead"] in b.view.groups


def test_the_viewers_source_is_held_once_for_all_views(bench: Bench) -> None:
    a, b = bench(tray), bench(partial(tray))
    assert a.view.library is b.view.library is library()
    assert len(a.view._esm) < 2_000 < len(library().source)
    library().close()
    assert len(bench(partial(tray, lip=False)).view.library.source) > 2_000


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


# -- bad input ------------------------------------------------------------------------------------


def test_a_function_without_annotations_says_so_in_place(bench: Bench) -> None:
    def plain(length=900, beads=5):  # type: ignore[no-untyped-def]
        return tray(length, 40, beads)

    b = bench(plain)
    text = html(b)
    assert "length: it has no annotation" in text
    assert "beads: it has no annotation" in text
    assert "tb.Range" in text
    assert files() == []


def test_a_range_upside_down_says_so_in_place(bench: Bench) -> None:
    def upside(length: float) -> Part:
        return tray(length)

    upside.__annotations__["length"] = "Annotated[float, Range(1200, 600, 5, 'mm')]"
    b = bench(upside)
    assert "low smaller than high" in html(b)


def test_a_function_that_raises_keeps_the_last_good_view_and_names_its_line(bench: Bench) -> None:
    def fragile(length: Annotated[float, Range(600, 1200, 5, "mm")] = 900) -> Part:
        if length > 1000:
            raise ValueError(f"too long {EVIL}")
        return tray(length)

    b = bench(fragile)
    good = (b.view.x, b.view.svg, b.made)
    slider(b, "length").value = 1100
    assert (b.view.x, b.view.svg, b.made) == good
    assert b.failure is not None
    assert (b.failure.function, b.failure.source) == ("fragile", 'raise ValueError(f"too long {EVIL}")')
    assert f"fragile, line {b.failure.line}" in html(b)
    assert "&lt;img" in html(b)
    assert "<img" not in html(b)
    assert "too long" in b.view.note
    assert b.write("dxf") is None
    assert "nothing written" in html(b)
    assert files() == []
    slider(b, "length").value = 950
    assert b.failure is None
    assert b.view.note == ""
    assert b.view.x != good[0]
    assert "too long" not in html(b).rpartition("nothing written")[0]


def test_a_function_that_fails_from_the_start_has_no_view_yet(bench: Bench) -> None:
    def broken(length: Annotated[float, Range(600, 1200)] = 900) -> Part:
        return tray(length, leg=0)

    b = bench(broken)
    assert b.failure is not None
    assert b.made is None
    assert b.view.svg == ""
    assert b.write("dxf") is None
    assert b.write("step") is None
    assert files() == []


@pytest.mark.parametrize("thing", [None, 3, "part", [1], {}])
def test_a_function_that_returns_something_else_says_so(bench: Bench, thing: object) -> None:
    b = bench(lambda: thing)
    assert "valid: a Part" in html(b)
    assert b.write("dxf") is None
    assert files() == []


def test_a_function_that_takes_two_seconds_is_shown_and_said(bench: Bench) -> None:
    def slow(length: Annotated[float, Range(600, 1200, 5, "mm")] = 900) -> Part:
        time.sleep(2.0)
        return tray(length)

    b = bench(slow)
    assert b.failure is None
    assert b._refresh.slow
    assert "slow takes 2.0 s: the views follow when the hand rests" in html(b)


def test_a_quick_function_is_not_called_slow_because_libraries_were_loaded(bench: Bench) -> None:
    b = bench(tray)
    assert not b._refresh.slow
    assert "when the hand rests" not in html(b)


def test_markup_in_a_parts_name_or_text_is_refused_or_shown_as_text(bench: Bench) -> None:
    def named(number: str = "HN-X", title: str = EVIL) -> Part:
        return Part(number, sheet="DC01 1.6", base=Outline.rectangle(100, 50), title=title)

    b = bench(named)
    assert b.failure is None
    assert "<img" not in html(b) + b.view.svg + "".join(b.view.labels)
    slider(b, "number").value = EVIL
    assert "part number" in html(b)
    assert "<img" not in html(b)
    assert b.write("dxf") is None
    assert files() == []


def test_a_stop_finding_forbids_writing_and_names_itself(bench: Bench) -> None:
    def narrow(leg: Annotated[float, Range(1, 80, 1, "mm")] = 40) -> Part:
        return Part("HN-N", sheet="DC01 1.6", base=Outline.rectangle(300, 200)).fold("front", leg=leg)

    b = bench(narrow)
    slider(b, "leg").value = 2
    stopped = [f for f in b.findings if f.severity == "stop"]
    assert stopped
    for kind in ("dxf", "step"):
        assert b.write(kind) is None  # type: ignore[arg-type]
    assert stopped[0].what in html(b).replace("&#x27;", "'")
    assert "nothing written" in html(b)
    assert files() == []


def test_what_cannot_be_made_at_all_keeps_the_last_good_view(bench: Bench) -> None:
    def wide(drain: Annotated[float, Range(10, 400, 1, "mm")] = 30) -> Part:
        part = Part("HN-W", sheet="DC01 1.6", base=Outline.rectangle(300, 200)).fold("front", leg=40)
        return part.hole((20, 100), drain, name="drain")

    b = bench(wide)
    assert b.failure is None
    good = b.view.x
    slider(b, "drain").value = 390
    assert b.view.x == good
    assert "cannot be made so" in b.view.note
    assert b.write("dxf") is None
    assert files() == []
    slider(b, "drain").value = 31
    assert b.view.note == ""


@pytest.mark.parametrize("thing", [None, "demo", 3])
def test_a_shop_that_is_none_is_refused(thing: Any) -> None:
    with pytest.raises(BadValue, match=r"shop.*tb\.Shop\.demo"):
        workbench(tray, thing)


def test_values_set_from_code_are_checked_together(bench: Bench) -> None:
    b = bench(tray)
    before = b.values
    with pytest.raises(BadFunction, match="beads"):
        b.set(length=700, beads=99)
    assert b.values == before
    b.set(length=700, beads=1)
    assert b.values == before | {"length": 700.0, "beads": 1}


# -- buttons --------------------------------------------------------------------------------------


def test_the_write_buttons_write_files_that_others_can_read(bench: Bench) -> None:
    b = bench(tray)
    button(b, "Write DXF").click()
    (dxf,) = files()
    assert f"written: {dxf}" in html(b)
    assert dxf.startswith("out/HN-BT_A")
    page = ezdxf.readfile(dxf)
    assert not page.audit().errors
    assert len(page.modelspace().query("CIRCLE")) >= 23  # 22 plug welds and the drain
    button(b, "Write STEP").click()
    (step,) = (f for f in files() if f != dxf)
    assert step.startswith("out/HN-BT_A")
    assert Path(step).read_text(encoding="utf-8").startswith("ISO-10303-21;")


def test_a_folder_that_cannot_be_made_is_said(bench: Bench) -> None:
    Path("out").write_text("a file is in the way", encoding="utf-8")
    b = bench(tray)
    assert b.write("dxf") is None
    assert "nothing written" in html(b)
    assert files() == ["out"]


def test_undo_and_redo_walk_back_and_forth(bench: Bench) -> None:
    b = bench(tray)
    assert button(b, "Undo").disabled
    slider(b, "length").value = 1000
    slider(b, "side").value = "down"
    assert not button(b, "Undo").disabled
    button(b, "Undo").click()
    assert (b.values["side"], b.values["length"]) == ("up", 1000)
    button(b, "Undo").click()
    assert b.values["length"] == 900
    assert "900.0 ×" in html(b)
    assert button(b, "Undo").disabled
    button(b, "Redo").click()
    assert b.values["length"] == 1000
    assert "1000.0 ×" in html(b)
    slider(b, "beads").value = 2
    assert button(b, "Redo").disabled


def test_values_are_copied_as_code_that_gives_the_same_part(bench: Bench, monkeypatch: Any) -> None:
    b = bench(tray)
    b.set(length=745, side="down", lip=False)
    sent: list[Any] = []
    monkeypatch.setattr(b.view, "send", sent.append)
    button(b, "Copy as code").click()
    assert sent == [{"copy": b.code}]
    assert eval(b.code, {"tray": tray}) == tray(745.0, 40.0, 3, "down", False)


def test_values_are_saved_and_loaded(bench: Bench) -> None:
    b = bench(tray)
    b.set(length=745, beads=5)
    button(b, "Save values").click()
    assert files() == ["tray_values.toml"]
    b.set(length=600, beads=0)
    button(b, "Load values").click()
    assert (b.values["length"], b.values["beads"]) == (745.0, 5)
    assert "745.0 ×" in html(b)
    button(b, "Undo").click()
    assert b.values["length"] == 600


def test_a_wrong_values_file_changes_nothing(bench: Bench) -> None:
    b = bench(tray)
    Path("bad.toml").write_text("function='tray'\n[values]\nlength = 5\nside = '<b>'\n", encoding="utf-8")
    before = b.values
    assert b.load("bad.toml") is False
    assert b.values == before
    assert "2 mistake" in html(b)
    assert "&lt;b&gt;" in html(b)
    assert b.load("missing.toml") is False
    assert b.save("no/such/folder.toml") is None
    assert files() == ["bad.toml"]


def test_without_the_built_viewer_the_flat_pattern_and_everything_else_work(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from tinbook.bench import viewer

    library().close()
    monkeypatch.setattr(viewer, "STATIC", tmp_path / "nowhere")
    b = bench(tray)
    assert b.view is None
    assert "TINBOOK_NO_VIEWER" in html(b)
    assert "<svg" in html(b)
    slider(b, "length").value = 1000
    assert "1000.0 ×" in html(b)
    assert b.picked == ""
    b.highlight("hole:drain")
    button(b, "Copy as code").click()
    assert b.write("dxf") is not None


def test_a_saved_notebook_carries_the_viewers_source_once(bench: Bench) -> None:
    import json

    library().close()
    benches = [bench(partial(tray, lip=lip)) for lip in (True, False)]
    state = ipywidgets.Widget.get_manager_state()["state"]
    sources = [w["state"]["source"] for w in state.values() if len(w["state"].get("source", "")) > 100_000]
    assert len(sources) == 1
    ours = {b.view.model_id for b in benches}
    assert all(len(json.dumps(state[model])) < 1_000_000 for model in ours)


def test_labels_tell_sizes_and_do_not_say_a_kind_twice(bench: Bench) -> None:
    def design(dia: Annotated[float, Range(10, 60, 1, "mm")] = 30) -> Part:
        part = Part("HN-L", sheet="DC01 1.6", base=Outline.rectangle(400, 300)).fold("front", leg=40)
        part = part.bead([(60, 150), (340, 150)], roll="R18x5")
        return part.hole((200, 220), dia, name="drain", use="drain")

    b = bench(design)
    texts = dict(zip((key for key, _ in b.view.groups), b.view.labels, strict=True))
    assert texts["hole:drain"] == "hole drain\ndiameter 30 mm, drain"
    assert texts["fold:front"].startswith("fold front, up\nturned 90° / included 90°\ninside radius ")
    assert texts["fold:front"].endswith("400.0 mm long")
    (bead,) = (t for k, t in texts.items() if k.startswith("bead:"))
    assert not bead.startswith("bead bead")
    assert "18 × 5 mm, 280.0 mm long, roll R18x5" in bead
    slider(b, "dia").value = 31
    assert "hole drain\ndiameter 31 mm, drain" in b.view.labels
