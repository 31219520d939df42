"""The stroke alphabet: complete, smooth to draw, of the right height, and placed as asked."""

from __future__ import annotations

import math
import string

import pytest

from tinbook.errors import BadValue
from tinbook.plane.loops import Edge
from tinbook.strokes import GLYPHS, strokes, text_width

PRINTABLE = [chr(c) for c in range(32, 127)]


def extent(edges: tuple[Edge, ...]) -> tuple[float, float, float, float]:
    points = [e.at(i / 32) for e in edges for i in range(33)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def test_has_all_of_ascii_and_four_signs() -> None:
    assert set(GLYPHS) == {*PRINTABLE, *"Ø°±×"}


@pytest.mark.parametrize("c", sorted(set(GLYPHS) - {" "}))
def test_every_letter_can_be_cut(c: str) -> None:
    edges = strokes(c, 6)
    assert edges
    x0, y0, x1, y1 = extent(edges)
    assert abs(x0) < 0.05
    assert y0 >= -2.05
    assert y1 <= 6.65
    assert x1 < 6
    assert all(e.chord > 0.1 for e in edges)


def test_capitals_and_digits_have_the_asked_height() -> None:
    for c in string.ascii_uppercase + string.digits:
        _, low, _, high = extent(strokes(c, 10))
        # The tail of Q and the pointed foot of J's neighbours hang below by at most a twentieth.
        assert high == pytest.approx(10, abs=0.02), c
        assert -0.6 <= low <= 0.01, c


def test_letters_differ() -> None:
    """No two letters share their strokes, so that I l 1, O 0 and 6 9 can be told apart."""
    shapes = {tuple((e.start, e.end, e.bulge) for e in strokes(c, 6)) for c in GLYPHS}
    assert len(shapes) == len(GLYPHS)


def test_arcs_run_smoothly_into_their_neighbours() -> None:
    """Round letters are tangent-continuous to a degree, so no cutter stutters."""
    for c in "OCGSDUJ0689oabdpqgceu":
        for a, b in zip(strokes(c, 6), strokes(c, 6)[1:], strict=False):
            if a.end == b.start and not (a.is_line or b.is_line):
                (ax, ay), (bx, by) = a.direction(1.0), b.direction(0.0)
                assert abs(math.degrees(math.atan2(ax * by - ay * bx, ax * bx + ay * by))) < 1.0, c


def test_place_turn_and_mirror() -> None:
    base = extent(strokes("HN", 6))
    assert extent(strokes("HN", 6, at=(100, 50))) == pytest.approx(
        [base[0] + 100, base[1] + 50, base[2] + 100, base[3] + 50]
    )
    turned = extent(strokes("HN", 6, turn=90))
    assert turned == pytest.approx([-base[3], base[0], -base[1], base[2]])
    mirrored = extent(strokes("HN", 6, mirror=True))
    assert mirrored == pytest.approx([-base[2], base[1], -base[0], base[3]])
    first, other = strokes("S", 6), strokes("S", 6, mirror=True)
    assert [e.bulge for e in first] == [-e.bulge for e in other]


def test_width_and_lines() -> None:
    assert text_width("HN-FP-L", 6) == pytest.approx(extent(strokes("HN-FP-L", 6))[2])
    assert text_width("HN\nHN-FP", 12) == pytest.approx(2 * text_width("HN-FP", 6))
    assert extent(strokes("H\nH", 6))[1] == pytest.approx(-10)


def test_bad_input() -> None:
    with pytest.raises(BadValue, match="é"):
        strokes("Café", 5)
    for height in (0, -1, math.nan, math.inf):
        with pytest.raises(BadValue, match="height"):
            strokes("A", height)
