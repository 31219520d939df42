"""Where the blank carries what beads draw in."""

from __future__ import annotations

import math

import pytest

from tinbook.flatpattern import FormLine
from tinbook.making.draw import footprints
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Loop
from tinbook.shop.shop import Shop

SHOP = Shop.demo()


def ribbed(hand: str) -> Made:
    """Six beads on the base and two on a leg."""
    part = Part("HN-RB", sheet="DC01 1.2", base=Outline.rectangle(700, 300)).fold("right", "up", leg=120)
    part = part.bead([(60, 60), (60, 240)], roll="R18x5").repeated(6, step=100)
    part = part.bead([(60, 30), (240, 30)], roll="R18x5", panel="right").repeated(2, step=(0, 50))
    return make(part.mirrored() if hand == "other" else part, SHOP)


@pytest.mark.parametrize("hand", ["drawn", "other"])
def test_a_footprint_lies_round_the_line_that_the_blank_carries(hand: str) -> None:
    """The line is carried point by point by the form itself; its footprint keeps it in the middle."""
    made = ribbed(hand)
    assert made.flat is not None
    loops = [(p, loop) for p in made.panels for loop in footprints(p)]
    assert len(loops) == len(made.flat.form_lines) == 8
    still = [f.footprint.moved(p.flat) for p in made.panels for f in p.forms if f.footprint is not None]
    for line, (_, loop) in zip(made.flat.form_lines, loops, strict=True):
        assert math.dist(_middle(line), _centre(loop)) < 1e-6
    # Beads draw the base in by some millimetres, so the outer ones would lie off by half of that.
    assert max(math.dist(_centre(a), _centre(b)) for a, (_, b) in zip(still, loops, strict=True)) > 1.0


def _middle(line: FormLine) -> tuple[float, float]:
    a, b = line.edges[0].start, line.edges[-1].end
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _centre(loop: Loop) -> tuple[float, float]:
    x0, y0, x1, y1 = loop.box
    return (x0 + x1) / 2, (y0 + y1) / 2
