"""Orders that are given, what is formed over a bar, and cures that hold when they are followed."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from inmachine import DEMO, box, brake_with, channel, common, made_of, said, strip
from test_interference import plates

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.route import fold_order
from tinbook.route.fold_order import fold_sequence
from tinbook.route.order import order_of_work
from tinbook.route.picture import step_svg
from tinbook.route.search import SEEN
from tinbook.route.steps import FoldPlan
from tinbook.route.stored_order import StoredHit
from zoo import made_zoo, scroll_too_far


def lipped() -> Part:
    return channel(70, 34).fold("near.end", "up", leg=12, tool="V12").fold("far.end", "up", leg=12, tool="V12")


# --- orders that are given -----------------------------------------------------------------------


def test_a_given_order_is_proved_and_kept() -> None:
    made = made_of(lipped(), brake_with(neck=True))
    order = ("far.end", "near.end", "far", "near")
    got = fold_sequence(made, order=order)
    assert tuple(s.fold for s in got.steps) == order
    assert got.given
    assert "as given" in repr(got)
    assert [len(repr(step)) < 100 for step in got.steps] == [True] * 4
    assert re.search(r"<step 1: fold far.end up by 90°, V12 on brake>", repr(got.steps[0]))
    assert [f.severity for f in got.findings if f.code == "route.order"] == ["fine"]
    assert got.looked <= len(order) + 1, "no search"


def test_a_given_order_that_hits() -> None:
    """With the legs up, the lip's line lies over the web: no die fits under it (as case 16 of the known answers)."""
    got = fold_sequence(made_of(lipped(), brake_with(neck=True)), order=("near", "far", "near.end", "far.end"))
    assert not got.steps
    assert [f.what for f in got.findings if f.code == "route.order"] == ["the given order of folds collides"]
    assert got.blocked
    assert {b.fold for b in got.blocked} <= {"near.end", "far"}


def test_hits_of_a_sequence_are_proved_again_with_the_same_tools() -> None:
    part = channel(60, 50).fold("near.end", "up", leg=10, tool="V12").fold("far.end", "up", leg=10, tool="V12")
    made = made_of(part, brake_with(half=6, ram=6, neck=True))
    found = fold_sequence(made)
    again = fold_sequence(made, order=found.hits)
    assert again.steps == found.steps
    assert again.hits == found.hits
    # The straight bar instead of the neck, where the neck is needed, hits.
    assert found.hits[-1].punch == "neck"
    wrong = (*found.hits[:-1], replace(found.hits[-1], punch="bar", reversed_punch=False))
    assert not fold_sequence(made, order=wrong).steps


def test_a_hem_that_is_only_named_takes_its_two_hits() -> None:
    part = strip(80, sheet="DC01 1.0").fold("near", "up", leg=30).hem("near.end", "closed", "up", leg=10)
    got = fold_sequence(made_of(part), order=("near.end", "near"))
    assert [(s.fold, s.action) for s in got.steps] == [
        ("near.end", "start the hem"),
        ("near.end", "press flat"),
        ("near", "fold"),
    ]


@pytest.mark.parametrize(
    "order",
    [
        ("near",),
        ("near", "far", "far"),
        ("near", "lid"),
        (StoredHit(fold="near", level=2, machine="brake", tool="V12", at_back="base"), "far"),
    ],
)
def test_orders_that_are_none(order: tuple[str | StoredHit, ...]) -> None:
    with pytest.raises(BadValue, match="each fold once: near, far"):
        fold_sequence(made_of(channel(60, 30)), order=order)


def test_hits_are_checked_when_made() -> None:
    with pytest.raises(BadValue, match="level"):
        StoredHit(fold="near", level=3, machine="brake", tool="V12", at_back="base")
    with pytest.raises(BadValue, match="machine"):
        StoredHit(fold="near", level=1, machine="", tool="V12", at_back="base")


# --- over a bar, by hand ---------------------------------------------------------------------------


def test_a_curl_is_formed_over_its_bar_and_not_by_the_brake() -> None:
    """Radius 6: a bar of 12 mm. No force, no springback number, no gauge; it keeps the angle that it is rolled to."""
    sequence = fold_sequence(made_zoo("eye"))
    (curl,) = [s for s in sequence.steps if s.fold == "eye"]
    assert (curl.action, curl.machine, curl.tool, curl.setup.process) == (
        "curl",
        "by hand",
        "a bar of 12 mm",
        "by hand",
    )
    assert (curl.force, curl.gauged, curl.angle_formed, curl.angle) == (None, "", 260, 260)
    assert "12 mm" in curl.check
    # Hand work next to hand work: the place is changed once, from the brake to the bench.
    assert sum(s.reset for s in sequence.steps) == 1
    assert step_svg(sequence, sequence.steps.index(curl), 0.5).startswith("<svg")
    assert "turned 260" in " ".join(" ".join(r) for r in sequence.rows())


def test_the_order_of_work_names_curls_and_hems() -> None:
    what = [s.operation.what for s in order_of_work(made_zoo("eye")).steps if s.operation.kind == "fold"]
    assert "curl eye by hand over a bar of 12 mm, on the bench" in what
    assert all(" by hand" not in w for w in what if w.startswith("fold "))
    hems = {w.split()[1]: w for w in (s.operation.what for s in order_of_work(made_zoo("hems")).steps) if "hem " in w}
    assert "then close it on flat bars" in hems["front"]
    assert "then close it on a strip of 2 mm laid in" in hems["right"]
    assert re.search(r"then close it on a bar of [\d.]+ mm", hems["rear"])
    sequence = fold_sequence(made_zoo("hem on a leg"))
    what = [s.operation.what for s in order_of_work(made_zoo("hem on a leg"), sequence).steps]
    assert any(w.startswith("press to its gap rear.end on a strip of 1.2 mm laid in") for w in what)


def test_a_curl_that_runs_into_its_own_panel() -> None:
    """Radius 8, t 1.5, turned 330: the tail's outer face is at 9.5 (1 - cos 30) = 1.27 over the panel's far face.

    That is within its 1.5, and its 2 mm of tail go on downward: it has met the panel before. Where the tail's
    tip comes down to 1.5: 9.5 - 9.5 cos a + 2 sin a = 1.5 (a past 180), which is at 315 degrees.
    """
    sequence = fold_sequence(make(scroll_too_far(), DEMO))
    assert not sequence.steps
    (b,) = sequence.blocked
    assert (b.body, b.against) == ("right", "panel base")

    def tip(a: float) -> float:
        return 9.5 - 9.5 * math.cos(math.radians(a)) + 2 * math.sin(math.radians(a))

    low, high = 270.0, 330.0
    for _ in range(50):
        low, high = ((low + high) / 2, high) if tip((low + high) / 2) > 1.5 else (low, (low + high) / 2)
    # The search bends the whole strip evenly, so on the way it is a little wider than the bar: it meets a bit later.
    assert b.angle == pytest.approx(low, abs=2.0)
    inside = plates(sequence.made, {"right": 330.0})
    assert common(inside["base"], inside["right"]) > 1.0


def test_what_crosses_itself_when_finished_needs_no_search_for_other_tools(monkeypatch: pytest.MonkeyPatch) -> None:
    """Geometry proves it: few states are opened to say what meets, and no tool that nobody drew is tried."""
    monkeypatch.setattr(fold_order, "ruled_out", lambda *_, **__: pytest.fail("tools were tried"))
    base = tb.Part("X", sheet="DC01 1.5", base=tb.Outline.rectangle(300, 200))
    for edge in ("left", "right"):
        base = base.fold(edge, "up", leg=260, angle=130)
    made = make(base, DEMO)
    assert [f.code for f in made.findings.stops] == ["part.crosses"]
    sequence = fold_sequence(made)
    assert sequence.proven
    assert not sequence.steps
    assert sequence.blocked
    assert sequence.looked <= SEEN


# --- first contact, and cures that are tried --------------------------------------------------------


def test_the_first_contact_is_the_first() -> None:
    """A leg of 58 that comes over a bar 42 back: before the angle that is told nothing overlaps, at it something does."""
    sequence = fold_sequence(made_of(channel(60, 58, "F1")))
    planner = sequence.planner
    for b in sequence.blocked:
        families = planner.families(b.trial.fold, b.trial.level)[0]
        sweep = next(w for family, w in families if any(s is b.trial.setup for s in family))
        piece = next(p for p in b.trial.setup.bodies if p.name == b.against)
        body = next(x for x in planner.blank.bodies if x.name == b.body)
        child = any(x is body for x, _ in planner.blank.bodies_of(b.trial.fold, True))
        shape = sweep.metal.shade(child, body, b.trial.before, piece.span)
        turn, place = sweep.motion.seen(child, piece.frame)
        degrees = [math.degrees(float(a)) for a in sweep.motion.angles]
        at = min(range(len(degrees)), key=lambda k: abs(degrees[k] - b.angle))
        assert sweep.metal.apart(shape, turn[at : at + 1], place[at : at + 1], piece.shape)[0] <= 0.0
        if at:
            assert (sweep.metal.apart(shape, turn[:at], place[:at], piece.shape) > 0.0).all()


def cures(sequence: FoldPlan, word: str) -> list[str]:
    return [c for b in sequence.blocked for c in b.remedies if word in c]


def test_another_machines_tool_cures() -> None:
    """A Z too near for the folder's beam: the cure names a die, and with that die it folds."""
    part = strip(30).fold("near", "up", leg=30, tool="F1").fold("far", "down", leg=30, tool="F1")
    blocked = fold_sequence(made_of(part))
    assert not blocked.steps, said(blocked)
    (cure, *_) = cures(blocked, "instead of F1")
    key = cure.split(" on ")[1].split(" of ")[0]
    assert DEMO.tool(key).machine != "folder"
    cured = strip(30).fold("near", "up", leg=30, tool=key).fold("far", "down", leg=30, tool=key)
    assert fold_sequence(made_of(cured)).steps
    (proposal,) = blocked.proposals
    assert proposal.text == cure
    assert {f.tool for f in proposal.part.folds} == {key}
    assert proposal.part.number == part.number
    again = made_of(proposal.part)
    assert fold_sequence(again).steps
    assert again.flat is not None
    assert again.flat.size != made_of(part).flat.size, "another tool, another blank"  # type: ignore[union-attr]


def test_a_taller_punch_cures_what_hits_the_ram() -> None:
    """Cases 25, 26 of the known answers: a return may stand 60 cos a + ... high under a bar of 60.

    3 mm over that need 3 / cos 45.45 = 4.3 mm more bar: of whole millimetres 65, and a bar of 65 folds it.
    """
    a = math.radians(90 / 0.99) / 2
    leg = 1.5 + 1.92 * (1 - math.cos(a)) - 40 * math.sin(a) + 60 * math.cos(a) + 3.0
    pieces = (10.0, 20.0, 30.0, 50.0, 100.0, 100.0)
    blocked = fold_sequence(made_of(box(220, 200, leg), brake_with(height=60.0, ram=40.0, segments=pieces)))
    assert cures(blocked, "a punch at least 65 mm high")
    assert fold_sequence(made_of(box(220, 200, leg), brake_with(height=65.0, ram=40.0, segments=pieces))).steps


def test_wider_corners_cure_lapped_returns() -> None:
    """Springback turns a lapping return 0.9 degrees past its neighbour's edge: they only just meet."""
    blocked = fold_sequence(made_zoo("tray, lapped corners"))
    (cure, *_) = cures(blocked, "wider (tried)")
    more = float(cure.split("returns ")[1].split(" mm")[0])
    part = made_zoo("tray, lapped corners").part
    folds = tuple(replace(f, corner=replace(f.corner, gap=(f.corner.gap or 0.5) + more)) for f in part.folds)
    assert fold_sequence(make(replace(part, folds=folds, holes=(), forms=()), DEMO)).steps


def test_no_cure_is_promised_where_none_holds() -> None:
    """A closed section encloses whatever tool forms it last: only splitting is left."""
    made = made_zoo("tube")
    for b in fold_sequence(made).blocked:
        assert b.remedies
        assert all("split" in c or "(tried)" in c for c in b.remedies)
