"""Plots: points stand where the axes say, odd values break the curve, names are escaped."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import pytest

from tinbook.errors import BadValue
from tinbook.plot import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, line_plot


def test_points_stand_on_their_values():
    svg = line_plot({"a": [(0, 0), (10, 50)]}, x="x", y="y")
    dots = [tuple(map(float, m)) for m in re.findall(r'cx="([-.\d]+)" cy="([-.\d]+)"', svg)]
    # The axes run from 0 to 10 and from 0 to 50, so the two points are opposite corners of the frame.
    assert dots[0] == pytest.approx((LEFT, HEIGHT - BOTTOM), abs=0.01)
    assert dots[1] == pytest.approx((WIDTH - RIGHT, TOP), abs=0.01)


def test_a_value_that_is_none_breaks_the_curve():
    svg = line_plot({"a": [(0, 1), (1, math.nan), (2, 3)]}, x="x", y="y")
    assert svg.count("<circle") == 2
    assert re.search(r'd="M[^"L]*M', svg)


def test_names_are_escaped_and_the_text_is_xml():
    svg = line_plot({"<b>&": [(0, 1)]}, x="<x>", y="y&", title="<script>")
    assert "<script>" not in svg
    ET.fromstring(svg)


@pytest.mark.parametrize("curves", [{}, {"a": []}, {"a": [(math.inf, 1)]}, {str(i): [(0, 0)] for i in range(7)}])
def test_nothing_to_draw_is_said(curves):
    with pytest.raises(BadValue):
        line_plot(curves, x="x", y="y")


def test_one_point_and_flat_curves_have_an_axis():
    for curve in ([(3, 7)], [(0, 5), (1, 5)], [(0, 0), (0, 0)]):
        ET.fromstring(line_plot({"a": curve}, x="x", y="y", zero=False))
