"""Pictures and slider data of fold steps: what they show is what the search verified."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET

import pytest
import shapely
from inmachine import DEMO, brake_with, channel, made_of, strip

from tinbook.errors import BadValue
from tinbook.making.resolve import make
from tinbook.route.fold_order import fold_sequence
from tinbook.route.picture import clash_svg, scene, step_svg
from tinbook.route.steps import FoldPlan
from zoo import scroll_too_far

NS = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def sequence() -> FoldPlan:
    return fold_sequence(made_of(channel(60, 30)))


@pytest.fixture(scope="module")
def blocked() -> FoldPlan:
    return fold_sequence(made_of(channel(40, 60), brake_with()))


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_step_shows_machine_and_part_without_overlap(sequence: FoldPlan, share: float) -> None:
    for n, move in enumerate(sequence.moves):
        seen = scene(sequence.planner, move, share)
        assert {name for name, _ in seen["tools"]} == {"die", "bed", "punch", "ram"}
        assert {f"panel {p.name}" for p in sequence.made.panels} <= {name for name, _ in seen["part"]}
        for _, metal in seen["part"]:
            assert all(shapely.intersection(metal, tool).area < 1e-3 for _, tool in seen["tools"])
        # The punch touches the sheet within the gap that the search leaves.
        metal = shapely.union_all([m for _, m in seen["part"]])
        assert shapely.buffer(metal, 1e-4).geom_type == "Polygon"  # bend and legs join
        assert metal.distance(dict(seen["tools"])["punch"]) == pytest.approx(0.05, abs=0.03)
        assert metal.distance(dict(seen["tools"])["die"]) == pytest.approx(0.05, abs=0.03)
        root = ET.fromstring(step_svg(sequence, n, share))
        titles = [t.text for t in root.iter(f"{NS}title")]
        assert titles.count("contact") == 3
        assert "punch" in titles
        assert "overlap" not in titles


def test_the_punch_comes_down_as_the_fold_turns(sequence: FoldPlan) -> None:
    seen = [scene(sequence.planner, sequence.moves[1], share) for share in (0, 0.25, 0.5, 0.75, 1)]
    assert seen[0]["angle"] == 0
    assert seen[-1]["angle"] == pytest.approx(90 / 0.99, abs=1e-3)
    heights = [dict(f["tools"])["punch"].bounds[1] for f in seen]
    assert heights == sorted(heights, reverse=True)  # the punch comes down


def test_a_blocked_fold_shows_the_overlap(blocked: FoldPlan) -> None:
    root = ET.fromstring(clash_svg(blocked))
    assert [t.text for t in root.iter(f"{NS}title")].count("overlap") == 1
    seen = scene(blocked.planner, blocked.blocked[0].trial, 1.0)
    assert seen["clash"].area > 1.0


def test_a_curl_shows_its_bar_and_where_it_meets_its_panel() -> None:
    """A scroll turned too far runs into its own panel: no tool, a bar of 16 mm, and red where the two overlap."""
    turned = fold_sequence(make(scroll_too_far(), DEMO))
    b = turned.blocked[0]
    seen = scene(turned.planner, b.trial, 1.0, ("panel right", "panel base"))
    (bar,) = [shape for name, shape in seen["tools"]]
    assert bar.area == pytest.approx(math.pi * 8**2, rel=0.03)
    assert all(shapely.intersection(metal, bar).area < 1e-3 for _, metal in seen["part"])
    assert seen["clash"].area > 0.5
    titles = [t.text for t in ET.fromstring(clash_svg(turned)).iter(f"{NS}title")]
    assert "overlap" in titles
    assert "bar" in titles


def test_a_folder_step_swings_its_beam() -> None:
    sequence = fold_sequence(made_of(strip(80).fold("near", "up", leg=30, tool="F1")))
    ends = [dict(scene(sequence.planner, sequence.moves[0], s)["tools"])["folding beam"].centroid for s in (0.0, 1.0)]
    way = 1.0 if not sequence.moves[0].setup.leg_back else -1.0
    assert ends[0].y < -20  # under the leg
    assert way * ends[1].x > 0
    assert ends[1].y > 0  # upright beside it
    assert step_svg(sequence, 0, 0.3).startswith("<svg")


def test_the_same_bytes_twice(sequence: FoldPlan) -> None:
    again = fold_sequence(made_of(channel(60, 30)))
    assert step_svg(sequence, 0, 0.4) == step_svg(again, 0, 0.4)


def test_bad_steps(sequence: FoldPlan, blocked: FoldPlan) -> None:
    for call in (
        lambda: step_svg(sequence, 2),
        lambda: step_svg(sequence, 0, 1.2),
        lambda: step_svg(sequence, -1),
        lambda: step_svg(blocked, 0),
        lambda: clash_svg(sequence),
        lambda: clash_svg(blocked, 9),
    ):
        with pytest.raises(BadValue):
            call()
