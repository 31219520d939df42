"""The scribe card: its numbers found again with a tape, as somebody on the floor would."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon

from tinbook.errors import BadValue
from tinbook.fit.places import SHALLOW
from tinbook.fit.setting_out import scribe_card
from tinbook.part.outline import Outline
from tinbook.plane.loops import Edge
from tinbook.read.points import read_outline


def opening() -> Outline:
    return Outline.rectangle(900, 420, names=("tunnel", "front", "sill", "rear"))


def by_tape(card, place):
    """Where two tapes from P and Q meet, on the left of P-Q: found by the law of cosines."""
    p, q = card.base
    base = math.dist(p, q)
    along = (base**2 + place.from_p**2 - place.from_q**2) / (2 * base)
    off = math.sqrt(max(place.from_p**2 - along**2, 0.0))
    u = (q[0] - p[0]) / base, (q[1] - p[1]) / base
    return p[0] + along * u[0] - off * u[1], p[1] + along * u[1] + off * u[0]


def test_a_rectangle_by_hand():
    card = scribe_card(opening(), {"tunnel": 0}, others="20 mm")
    assert card.baseline == "tunnel"
    assert card.line.box == pytest.approx((20, 0, 880, 400))
    assert [(p.letter, p.name) for p in card.places] == [
        ("A", "rear/tunnel"),
        ("B", "tunnel/front"),
        ("C", "front/sill"),
        ("D", "sill/rear"),
    ]
    c = card.places[2]
    assert (c.along, c.off) == pytest.approx((880, 400))
    assert (c.from_p, c.from_q) == pytest.approx((math.hypot(880, 400), math.hypot(20, 400)))
    assert [(s.name, s.ends, s.lip) for s in card.sides] == [
        ("tunnel", ("A", "B"), 0),
        ("front", ("B", "C"), 20),
        ("sill", ("C", "D"), 20),
        ("rear", ("D", "A"), 20),
    ]
    assert [s.chord for s in card.sides] == pytest.approx([860, 400, 860, 400])
    assert {d.ends: d.length for d in card.diagonals} == pytest.approx(
        {("A", "C"): math.hypot(860, 400), ("B", "D"): math.hypot(860, 400)}
    )
    assert card.findings == ()


@given(
    st.lists(st.floats(150, 400), min_size=4, max_size=10),
    st.floats(0, 25),
    st.tuples(st.floats(-500, 500), st.floats(-500, 500), st.floats(-180, 180)),
)
def test_tapes_from_p_and_q_find_every_place(radii, lip, move):
    n = len(radii)
    corners = [(r * math.cos(math.tau * i / n), r * math.sin(math.tau * i / n)) for i, r in enumerate(radii)]
    o = Outline.polygon(corners).moved(*move)
    try:
        card = scribe_card(o, lip)
    except BadValue:
        assume(False)
    for p in card.places:
        # The tape alone cannot tell the two sides of the baseline apart; the sign of `off` does.
        if p.off > 1.0:
            assert by_tape(card, p) == pytest.approx(p.at, abs=1e-6)
    (ox, oy), (ux, uy) = card.base[0], np.subtract(card.base[1], card.base[0]) / math.dist(*card.base)
    for p in card.places:
        assert (ox + p.along * ux - p.off * uy, oy + p.along * uy + p.off * ux) == pytest.approx(p.at, abs=1e-9)
    # What stays is a lip of that width all round: no point of the line is nearer to the outline.
    ring = Polygon(o.loop.points).exterior
    assert Polygon(card.line.loop.points).exterior.distance(ring) == pytest.approx(lip, abs=1e-9)


@given(st.floats(0.1, 3), st.sampled_from([-1, 1]))
def test_stretch_tells_how_far_a_wrong_tape_moves_a_place(size, sign):
    dp = sign * size
    card = scribe_card(opening(), 20)
    for place in card.places:
        moved = type(place)(
            letter="",
            name="",
            at=(0, 0),
            from_p=place.from_p + dp * 1e-4,
            from_q=place.from_q,
            along=0,
            off=0,
            stretch=0,
        )
        assert math.dist(by_tape(card, moved), place.at) == pytest.approx(abs(dp) * 1e-4 * place.stretch, rel=1e-2)


def test_places_on_the_baseline_are_to_be_measured_along_it():
    card = scribe_card(opening(), {"tunnel": 0, "front": 20, "sill": 20, "rear": 20})
    assert card.places[0].stretch > SHALLOW
    assert card.places[2].stretch < 1.1
    assert card._repr_html_().count("measure along and off") == 2


def test_an_arc_gets_its_middle_and_rises():
    half = math.tan(math.radians(15))  # an arc of 60 degrees: r = chord, rise = r (1 - cos 30)
    o = Outline.from_edges(
        [
            Edge((0, 0), (400, 0), 0, "tunnel"),
            Edge((400, 0), (400, 300), 0, "front"),
            Edge((400, 300), (0, 300), half, "sill"),
            Edge((0, 300), (0, 0), 0, "rear"),
        ]
    )
    card = scribe_card(o, 0)
    sill = card.sides[2]
    assert sill.radius == pytest.approx(400)
    assert sill.rise == pytest.approx(400 * (1 - math.cos(math.pi / 6)))
    assert sill.quarter_rise == pytest.approx(math.sqrt(400**2 - 100**2) - 400 * math.cos(math.pi / 6))
    middle = card.places[-1]
    assert (middle.letter, middle.name) == ("C-D", "sill")
    assert middle.at == pytest.approx((200, 300 + sill.rise))
    assert scribe_card(o, 20).sides[2].radius == pytest.approx(380)


def test_many_corners_have_one_diagonal_across_each():
    o = Outline.polygon([(400 * math.cos(a), 400 * math.sin(a)) for a in np.arange(10) * math.tau / 10])
    card = scribe_card(o, 10)
    assert [d.ends for d in card.diagonals] == [("A", "F"), ("B", "G"), ("C", "H"), ("D", "J"), ("E", "K")]
    assert "P" not in {p.letter for p in card.places}


def test_the_heron(root):
    o = read_outline(root / "notebooks/data/heron_left_floor_opening.csv")
    card = scribe_card(o, {"tunnel": 0}, others="20 mm", name="HN-FP-L cut line")
    assert card.line.edge("sill").radius == pytest.approx(o.edge("sill").radius - 20)
    assert len(card.places) == 6
    assert len(card.diagonals) == 5
    html = card._repr_html_()
    for text in ("P and Q are the ends of edge &#x27;tunnel&#x27;", "brake lines", "square off", "D-E"):
        assert text in html
    drawn = card.drawing().lines
    assert [t.kind for t in drawn] == ["scribe", "mark", *["centre"] * 7]
    assert [t.text for t in drawn[2:]] == ["P", "Q", "A", "B", "C", "D", "E"]
    assert card.drawing().lines[0].edges == card.line.loop.edges


def test_a_folded_edge_keeps_its_clearance():
    """A pan 808.2 long at its tunnel side, folded there with 1.5 mm clearance and lapped by 20 elsewhere.

    Its base is the opening less 1.5 at the fold and 20 more at the laps; the card must give the opening back.
    """
    hole = Outline.rectangle(809.8, 420, names=("tunnel", "front", "sill", "rear"))
    pan = hole.offset({"tunnel": "-1.5 mm"}, others="20 mm")
    card = scribe_card(pan, {"tunnel": "-1.5 mm"}, others="20 mm")
    assert card.line.box == pytest.approx(hole.box)
    assert [round(s.chord, 1) for s in card.sides] == [809.8, 420, 809.8, 420]
    assert card.numbers[1].rows[0][:4] == ("tunnel", "A-B", "809.8", "none, clear by 1.5")
    assert card.findings == ()


def test_a_lip_too_narrow_for_plug_welds_is_named():
    (f,) = scribe_card(opening(), {"front": 15}, others=0).findings
    assert (f.code, f.severity, f.where, f.value, f.limit) == ("scribe.lip", "caution", "edge 'front'", 15, 20)
    assert scribe_card(opening(), 15, weld_edge="7 mm").findings == ()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"lip": "-26 mm"}, "lip of edge 'tunnel'.*0 mm or more, or down to -25 mm for the clearance of a folded edge"),
        ({"lip": "2,5 mm"}, "not a comma"),
        ({"lip": math.nan}, "finite"),
        ({"lip": {"roof": 20}}, "one of: tunnel, front, sill, rear"),
        ({"lip": {"front": 20}}, "not named: tunnel, sill, rear"),
        ({"lip": 20, "others": 5}, "only beside a mapping"),
        ({"lip": 210}, "leave a whole line to cut to .*edge 'front'"),
        ({"baseline": "roof"}, "one of: tunnel"),
        ({"weld_edge": 0}, "weld_edge.*greater than 0"),
    ],
)
def test_what_cannot_be_set_out(options, message):
    with pytest.raises(BadValue, match=message):
        scribe_card(opening(), **options)


def test_baseline_must_be_straight():
    o = Outline.from_edges([Edge((0, 0), (400, 0), 0.4, "a"), Edge((400, 0), (0, 0), 0.9, "b")])
    with pytest.raises(BadValue, match="with a straight edge"):
        scribe_card(o)
    with pytest.raises(BadValue, match="a straight edge"):
        scribe_card(o, baseline="a")
    with pytest.raises(BadValue, match="radius of 25"):
        scribe_card(opening().rounded(25), 30)
