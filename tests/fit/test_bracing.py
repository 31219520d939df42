"""Braces: lengths by hand, what a framework of bars holds by Maxwell's count, points on a scan, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.read.scans.mesh import Scan

SQUARE = {"A": (0, 0, 0), "B": (800, 0, 0), "C": (800, 600, 0), "D": (0, 600, 0)}
ROUND = [("A", "B"), ("B", "C"), ("C", "D"), ("D", "A")]
X, Y = np.meshgrid(np.arange(-50, 900, 50.0), np.arange(-50, 700, 50.0), indexing="ij")
NUMBER = np.arange(X.size).reshape(X.shape)
A, B, C, D = NUMBER[:-1, :-1], NUMBER[1:, :-1], NUMBER[1:, 1:], NUMBER[:-1, 1:]
FLOOR = Scan(
    name="floor",
    points=np.column_stack((X.ravel(), Y.ravel(), np.zeros(X.size))),
    triangles=np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((A, B, C), (A, C, D))]),
)


def test_lengths_and_slopes_by_hand():
    """A diagonal of 800 by 600 is 1000 and reaches 20 beyond each point; a rise of 600 over 800 is 36.87 degrees."""
    card = tb.fit.brace_card({**SQUARE, "E": (800, 0, 600)}, [("A", "C"), ("A", "E")], lap=20)
    one, other = card.braces
    assert (one.distance, one.cut, one.slope) == pytest.approx((1000, 1040, 0))
    assert (other.distance, other.slope) == pytest.approx((1000, math.degrees(math.atan2(600, 800))))
    assert any("before anything is cut" in n for n in card.notes)


def test_a_square_without_a_diagonal_folds_over():
    """Maxwell: a plane framework of n joints needs 2 n - 3 bars, one in space 3 n - 6; four sides of a square are one short."""
    assert tb.fit.brace_card(SQUARE, ROUND).free == 1
    held = tb.fit.brace_card(SQUARE, [*ROUND, ("A", "C")])
    assert held.free == 0
    assert [f.severity for f in held.findings] == ["fine"]
    doubled = tb.fit.brace_card(SQUARE)  # every two: one more than needed
    assert (len(doubled.braces), doubled.free) == (6, 0)
    raised = {**SQUARE, "C": (800, 600, 300)}
    assert tb.fit.brace_card(raised).free == 0
    assert tb.fit.brace_card(raised, ROUND).free == 3 * 4 - 6 - 4
    # Five bars that all hang on two points still leave a point in space free to swing.
    assert tb.fit.brace_card(raised, [("A", "B"), ("A", "C"), ("B", "C"), ("A", "D"), ("B", "D")]).free == 1


def test_points_are_carried_onto_the_scan_and_far_ones_said():
    card = tb.fit.brace_card({"A": (0, 0, 4), "B": (800, 0, -3), "C": (800, 600, 40)}, scan=FLOOR)
    assert [p[2] for p in card.places.values()] == pytest.approx([0, 0, 0])
    assert [(f.code, f.where, f.value) for f in card.findings.of("brace.point")] == [
        ("brace.point", "point 'C'", pytest.approx(40))
    ]


def test_the_card_is_one_page(tmp_path):
    file = tb.write.write_card(tb.fit.brace_card(SQUARE, name="HN-BR"), tmp_path)
    assert file.name == "HN-BR.pdf"
    assert file.read_bytes()[:4] == b"%PDF"


@pytest.mark.parametrize(
    "asked",
    [
        {"points": None}, {"points": {"A": (0, 0, 0)}}, {"points": {"A": (0, 0), "B": (1, 2, 3)}}, {"points": {"A": "x", "B": (1, 2, 3)}},
        {"points": {**SQUARE, "A": (float("nan"), 0, 0)}}, {"points": {str(k): (100 * k, 0, 0) for k in range(7)}}, {"pairs": []}, {"pairs": 3},
        {"pairs": [("A", "Z")]}, {"pairs": [("A", "A")]}, {"pairs": [("A", "B"), ("B", "A")]}, {"pairs": ["AB"]}, {"lap": -1}, {"lap": "x"},
        {"points": {"A": (0, 0, 0), "B": (3, 0, 0)}}, {"scan": "body.ply"}, {"name": None}, {"name": " "},
        {"scan": Scan(name="cloud", points=FLOOR.points, triangles=FLOOR.triangles[:0])}, {"points": {"A": (0, 0, 1e300), "B": (0, 0, 0)}},
    ],
)  # fmt: skip
def test_wrong_answers_are_named(asked):
    with pytest.raises(BadValue):
        tb.fit.brace_card(**{"points": SQUARE, **asked})
