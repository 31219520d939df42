"""Invariant 1: one valid solid or a stop; volumes and flat areas from the pieces alone."""

from __future__ import annotations

import math

import pytest
from hypothesis import event, given, settings

from counts import count
from strategies import SHOP, parts
from tinbook.making.resolve import make


@given(parts())
@settings(max_examples=count(80, 1000))
def test_a_valid_solid_or_a_stop(part):
    made = make(part, SHOP)
    if not made.ok:
        assert made.findings.stops
        event(made.findings.stops[0].code)
        return
    event("made")
    solid = made.solid
    assert solid.ShapeType() == "Solid"
    assert solid.isValid()
    t = made.thickness
    if any(p.risen for p in made.panels):
        return
    volume = 0.0
    for p in made.panels:
        volume += t * (p.boundary.area - math.fsum(h.loop.area for h in p.holes))
    for s in made.folded.zones:
        net = math.fsum(r.area for r in s.regions) - math.fsum(h.loop.area for h in s.holes)
        a = math.radians(s.angle)
        # Pappus: the strip's mid-line is (r + t/2) a long where the flat is `allowance` wide.
        volume += net / s.allowance * a * t * (s.radius + t / 2)
    assert solid.Volume() == pytest.approx(volume, rel=1e-6)


@given(parts(forms=False))
@settings(max_examples=count(80, 1000))
def test_flat_area_is_the_sum_of_its_pieces(part):
    made = make(part, SHOP)
    if made.flat is None:
        return
    pieces = [p.boundary.area - math.fsum(h.loop.area for h in p.holes) for p in made.panels]
    strips = [s.area for s in made.strips]
    drilled = math.fsum(d.loop.area for d in made.flat.drills)
    assert made.flat.area - drilled == pytest.approx(math.fsum(pieces + strips), rel=1e-9)
