"""What the kernel sends to the two views, and what it does not send again."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated, Any

import ipywidgets
import numpy as np
import pytest
from bench_hands import Bench, button, html, slider
from bench_samples import tray

from tinbook.bench.viewer import View, library
from tinbook.fields import Range
from tinbook.making.shape import Shape, shape_of
from tinbook.part.outline import Outline
from tinbook.part.part import Part


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


def test_the_folded_part_arrives_bit_by_bit(bench: Bench) -> None:
    b = bench(tray)
    shape, v = shape_of(b.made), b.view
    for columns, points in (((v.x, v.y, v.z), shape.positions), ((v.edges_x, v.edges_y, v.edges_z), shape.edges)):
        together = np.stack([np.frombuffer(c, "<f4") for c in columns], axis=1)
        assert together.tobytes() == points
    assert np.frombuffer(v.triangles, "<u2").astype("<u4").tobytes() == shape.triangles
    assert (v.group_of, v.groups, v.labels) == (shape.group_of, shape.groups, shape.labels)


@pytest.mark.parametrize(("count", "size"), [(3, 2), (65_536, 2), (65_537, 4)])
def test_points_are_numbered_by_16_bits_while_those_reach(count: int, size: int) -> None:
    points = np.zeros((count, 3), "<f4").tobytes()
    last = np.array([0, 1, count - 1], "<u4")
    view = View()
    view.show(
        Shape(positions=points, triangles=last.tobytes(), group_of=b"", edges=b"", groups=[], labels=[]),
    )
    assert np.frombuffer(view.triangles, f"<u{size}").tolist() == last.tolist()
    view.close()


def test_a_slider_across_the_part_sends_one_coordinate(bench: Bench, monkeypatch: Any) -> None:
    def plate(length: Annotated[float, Range(600, 1200, 5, "mm")] = 900) -> Part:
        return Part("HN-PL", sheet="DC01 1.6", base=Outline.rectangle(length, 200))

    b = bench(plate)
    sent: list[set[str]] = []
    monkeypatch.setattr(b.view, "send_state", lambda key=None: sent.append({key} if isinstance(key, str) else set(key)))
    slider(b, "length").value = 905
    assert sent[0] == {"x", "edges_x", "labels", "stamp"}


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


def test_a_saved_notebook_carries_the_viewers_source_once(bench: Bench) -> None:
    import json

    ipywidgets.Widget.close_all()  # what another test left open shares the viewer's source
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
    assert b.write() is not None
