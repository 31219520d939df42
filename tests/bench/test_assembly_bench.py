"""A workbench on a function that returns an assembly: its sliders, what travels to the page, its files, its meetings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import numpy as np
import pytest
from bench_hands import Bench

import tinbook as tb
from tinbook.write.scene import meetings_of, scene_of

SHOP = tb.Shop.demo()


def pair(
    gap: Annotated[float, tb.Range(-20, 40, 1, "mm")] = 25, width: Annotated[float, tb.Range(1, 90, 1, "mm")] = 60
) -> tb.Assembly:
    """Return two angles of one part number above each other and a shim between them."""
    angle = tb.Part("HN-AG", sheet="DC01 2.0", base=tb.Outline.rectangle(100, width)).fold("front", "up", leg=25)
    made = tb.Assembly("HN-PR").add("low", angle).add("high", angle, tb.part.frame_at((0.0, 0.0, 2.0 + gap)))
    return made.add("shim", tb.part.shim(30, 10, 2), tb.part.frame_at((50.0, 30.0, 2.0)))


def test_an_assembly_gets_sliders_and_sends_only_places_when_only_places_change(bench: Bench) -> None:
    shown = bench(pair)
    assert shown.failure is None
    assert shown.made.assembly.names == ("low", "high", "shim")
    assert [m["name"] for m in shown.view.members] == ["low", "high", "shim"]
    assert len(shown.view.bodies) == 2, "two places of one part share a body"
    sent: list[str] = []
    shown.view.observe(lambda change: sent.append(change["name"]), names=["bodies", "members", "rows"])
    shown.set(gap=30.0)
    assert sent == ["members"]
    assert shown.view.members[1]["at"][:3] == [0.0, 0.0, 32.0]
    shown.set(width=70.0)
    assert "bodies" in sent


def test_a_scene_stands_where_the_mesh_of_the_assembly_stands() -> None:
    made = tb.assemble(pair(gap=30.0), SHOP)
    scene = scene_of(made)
    for m in scene.members:
        own = np.frombuffer(scene.bodies[m["body"]]["positions"], "<f4").reshape(-1, 3)
        o, x, y, z = np.array(m["at"]).reshape(4, 3)
        np.testing.assert_allclose(own @ np.array((x, y, z)) + o, made.mesh(m["name"])[0], atol=1e-4)
    assert [(r["quantity"], r["members"]) for r in scene.rows] == [(2, ["low", "high"]), (1, ["shim"])]


def test_meetings_name_the_clash_with_the_volume_that_both_fill() -> None:
    # The upper angle stands 1 mm in the lower one's sheet of 2 mm: of the base 1 mm of its height is common, of the
    # leg the whole thickness; less what the bend (at most 5 mm of each) takes away.
    met = meetings_of(tb.assemble(pair(gap=-1.0), SHOP))
    clash = next(link for link in met.links if {link["a"], link["b"]} == {"low", "high"})
    assert clash["kind"] == "clash"
    volume = float(clash["text"].split()[0])
    assert 100 * (55 * 1.0 + 20 * 2.0 - 2.0) <= volume <= 100 * (60 * 1.0 + 25 * 2.0)
    assert set(met.ways) == {"low", "high", "shim"}
    assert sorted(met.turns.values()) in ([], [0, 1, 2])
    apart = meetings_of(tb.assemble(pair(gap=30.0), SHOP))
    assert [link for link in apart.links if link["kind"] == "clash"] == []
    assert sorted(apart.turns.values()) == [0, 1, 2]


def test_one_button_writes_every_file_of_an_assembly(bench: Bench, tmp_path: Path) -> None:
    shown = bench(pair, folder=tmp_path)
    files = shown.write()
    assert files is not None
    assert files.step.read_text(encoding="utf-8").startswith("ISO-10303-21")
    assert len(files.parts) == 1, "two places of one part are one part"
    assert sorted(tmp_path.iterdir()) == sorted(files)
    shown.set(gap=-1.0)
    before = {file: file.read_bytes() for file in files}
    assert shown.write() is None
    assert {file: file.read_bytes() for file in files} == before


def test_an_assembly_whose_part_cannot_be_made_leaves_the_last_view_marked(bench: Bench) -> None:
    shown = bench(pair)
    before = shown.view.members
    shown.set(width=1.0)
    assert shown.view.members == before
    assert shown.view.note
    with pytest.raises(tb.errors.CannotMake):
        tb.write_files(shown.made, "out")


@pytest.mark.parametrize("value", [None, 3, "a part"])
def test_anything_else_is_refused_in_words(bench: Bench, value: object) -> None:
    shown = bench(lambda: value)
    assert shown.failure is not None
    assert "a Part, as tb.Part(...) gives one, or an Assembly" in shown.failure.what


def bracketed(
    long: Annotated[float, tb.Range(60, 120, 1, "mm")] = 80, bolts: Annotated[int, tb.Range(1, 2)] = 2
) -> tb.Assembly:
    """Return a strap bolted on a plate that two bolts hold, a winch's block on its end."""
    plate = tb.Part("HN-BP", sheet="DC01 2.0", base=tb.Outline.rectangle(120, 60))
    for k, x in enumerate((20.0, 60.0), 1):
        plate = plate.hole((x, 45), use="bolt", size="M8", name=f"ground {k}").hole(
            (x, 15), use="bolt", size="M8", name=f"strap {k}"
        )
    strap = tb.Part("HN-BS", sheet="DC01 2.0", base=tb.Outline.rectangle(long, 30))
    for k, x in enumerate((15.0, 55.0)[:bolts], 1):
        strap = strap.hole((x, 15), use="bolt", size="M8", name=f"bolt {k}")
    made = tb.Assembly("HN-BA").add("plate", plate).add("strap", strap, tb.part.frame_at((5.0, 0.0, 2.0)))
    return made.add("winch", tb.part.block("winch", (10.0, 10.0, 10.0), mass=0.1), tb.part.frame_at((80.0, 40.0, 40.0)))


def test_the_strength_of_an_assembly_shows_its_worst_joint_and_the_clause(bench: Bench) -> None:
    shown = bench(bracketed)
    drawers = shown._desk.whole
    assert drawers.box.layout.display is None
    assert shown.drawers.box.layout.display == "none"
    drawers.handles["Strength"].value = True
    s = drawers.open["Strength"]
    assert tuple(s.holds) == ("plate: bolts", "strap: bolts")
    assert (s.load.value, s.on.value) == ("winch", "winch")
    s.load.value, s.times.value, s.size.value = "own weight", 50.0, 30.0
    s.run()
    assert "in the air" in s._note.value
    s.holds["plate: bolts"].value = True
    s.run()
    text = s._answer.value
    assert "Worst joint: own weight x 50.0: worst " in text
    assert "EN 1993-1-3" in text
    assert " %" in s.result.worst_joint
    assert text.count("<svg") == 1
    assert s.colours.value == "joints: own weight x 50.0"
    assert shown.view.field["unit"] == "%"
    shown.set(long=90)
    assert s.stale
    assert shown.view.field == {}
    shown.set(bolts=1)
    s.run()
    assert "can move freely" in s._note.value
    s.up.value = "-y"
    s.run()
    assert "square to forward" in s._note.value
