"""A layout of straight, parallel beads of one pair of rolls: drawn at random, varied, or spread evenly."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from tinbook.flatpattern import Direction
from tinbook.part.forms.bead import Bead
from tinbook.part.part import Part
from tinbook.plane.loops import Point
from tinbook.strength.bead_search.zone import Zone, placed
from tinbook.values import dataclass

Line = tuple[int, int, int]
"""A bead in whole mm: v of its centre line, u of its ends."""

MOST: Final = 16
"""Most beads in a layout."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Straight, parallel beads of one pair of rolls.

    Parameters
    ----------
    roll : str
        Key of the rolls; "" with no lines is the panel without beads.
    passes : int
        Of the rolls, to full depth.
    direction : float
        Of the beads from the panel's x, degrees.
    lines : tuple of (int, int, int)
        Of each bead the v of its centre line and the u of its ends, mm: u along the beads, v to their left.
    """

    roll: str = ""
    passes: int = 1
    direction: float = 0.0
    lines: tuple[Line, ...] = ()

    @property
    def count(self) -> int:
        """How many beads."""
        return len(self.lines)

    @property
    def length(self) -> float:
        """Of all centre lines from run-out to run-out, m."""
        return sum(b - a for _, a, b in self.lines) / 1e3

    @property
    def rolled(self) -> float:
        """Length times passes, m: what is run through the rolls."""
        return self.length * self.passes

    @property
    def ends(self) -> tuple[tuple[Point, Point], ...]:
        """Ends of each centre line in the panel's frame, mm."""
        d = self.direction
        return tuple((placed(d, a, v), placed(d, b, v)) for v, a, b in self.lines)

    def onto(self, part: Part, panel: str, side: Direction) -> Part:
        """Return the part with these beads in a panel, replacing those it has."""
        others = tuple(f for f in part.forms if f.panel != panel or type(f) is not Bead)
        part = replace(part, forms=others)
        for ends in self.ends:
            part = part.bead(ends, self.roll, side, panel=panel)
        return part

    def __str__(self) -> str:
        if not self.lines:
            return "no beads"
        lengths = sorted({b - a for _, a, b in self.lines})
        long = f"{lengths[0]}" if len(lengths) == 1 else f"{lengths[0]} to {lengths[-1]}"
        steps = sorted({b[0] - a[0] for a, b in itertools.pairwise(self.lines)})
        apart = "" if not steps else f", {steps[0]}" if len(steps) == 1 else f", {steps[0]} to {steps[-1]}"
        return f"{self.count} x {self.roll} at {self.direction:g}°, {long} mm long{apart}{' mm apart' if steps else ''}"


def even(zone: Zone, count: int, length: float | None = None) -> Layout | None:
    """Return beads spread evenly over the panel, as long as they may be or `length` mm long, or None if they do not fit.

    The step is the panel's width over one more than their number. Ends lie in
    the middle of what is allowed.
    """
    step = (zone.v[1] - zone.v[0]) / (count + 1)
    lines = []
    for k in range(1, count + 1):
        v = round(zone.v[0] + k * step)
        free = zone.stretch(v)
        if free is None:
            return None
        a, b = free
        if length is not None:
            if length > b - a + 1e-9:
                return None
            a = round((a + b - length) / 2)
            b = a + round(length)
        lines.append((v, a, b))
    return Layout(roll=zone.roll.key, passes=zone.roll.passes, direction=zone.direction, lines=tuple(lines))


def _checked(zone: Zone, lines: Sequence[Line]) -> Layout | None:
    ordered = tuple(sorted(lines))
    if not 1 <= len(ordered) <= MOST:
        return None
    if not _roomy(zone, ordered):
        return None
    return Layout(roll=zone.roll.key, passes=zone.roll.passes, direction=zone.direction, lines=ordered)


def _roomy(zone: Zone, lines: Sequence[Line]) -> bool:
    return all(b[0] - a[0] >= zone.pitch - 1e-9 for a, b in itertools.pairwise(lines))


def first_ones(zones: Sequence[Zone], most: float | None = None) -> list[Layout]:
    """Return evenly spread beads in every direction with every pair of rolls: few, some and many.

    Where something is in the way the beads that still fit are taken. `most`
    limits the metres run through the rolls.
    """
    out: list[Layout] = []
    for z in zones:
        fits = [x for x in (even(z, n) or _where_free(z, n) for n in range(1, MOST + 1)) if x is not None]
        fits = [x for x in fits if _roomy(z, x.lines) and (most is None or x.rolled <= most)]
        if fits:
            picked = dict.fromkeys(round(share * (len(fits) - 1)) for share in (1.0, 0.6, 0.3))
            out += [fits[k] for k in picked]
    return out


def _where_free(zone: Zone, count: int) -> Layout | None:
    reach = zone.reach()
    if reach is None:
        return None
    (low, high), n = reach, max(count - 1, 1)
    lines: list[Line] = []
    for v in dict.fromkeys(round(low + (high - low) * k / n) for k in range(count)):
        free = zone.stretch(v)
        if free is not None and (not lines or v - lines[-1][0] >= zone.pitch):
            lines.append((v, *free))
    return _checked(zone, lines)


def trimmed(layout: Layout, zone: Zone, most: float) -> Layout | None:
    """Return a layout with all its beads shortened alike until no more than `most` metres are rolled, or None."""
    over = 1e3 * (layout.rolled - most) / layout.passes
    if over <= 0:
        return layout
    cut = math.ceil(over / layout.count / 2 - 1e-9)
    lines = tuple((v, a + cut, b - cut) for v, a, b in layout.lines)
    return replace(layout, lines=lines) if all(b - a >= zone.shortest for _, a, b in lines) else None


def varied(parent: Layout, zones: Sequence[Zone], rng: random.Random) -> Layout | None:
    """Return a random change of a layout, or None where the result cannot be made.

    Only `rng.random` is drawn from: its numbers are the same in every version of Python.
    """
    mine = next(z for z in zones if (z.roll.key, z.direction) == (parent.roll, parent.direction))
    zone = mine
    middle = mine.middle
    half = max(middle - mine.v[0], 1.0)
    places = [float(v) for v, _, _ in parent.lines]
    short = [_short_of(mine, line) for line in parent.lines]
    what = int(rng.random() * 8)
    if what == 0:  # closer together or wider apart, and every other time all of them to one side
        factor = 0.75 + 0.5 * rng.random()
        aside = (rng.random() - 0.5) * 0.3 * half if rng.random() < 0.5 else 0.0
        own = (places[0] + places[-1]) / 2
        places = [own + aside + factor * (v - own) for v in places]
    elif what == 1:  # closer together in the middle than outside, or the other way round
        power = 0.6 + 0.9 * rng.random()
        places = [middle + half * math.copysign((abs(v - middle) / half) ** power, v - middle) for v in places]
    elif what == 2:  # outer beads shorter, or longer
        by = (rng.random() - 0.35) * 0.3 * (mine.u[1] - mine.u[0])
        short = [
            (a + by * abs(v - middle) / half, b + by * abs(v - middle) / half)
            for v, (a, b) in zip(places, short, strict=True)
        ]
    elif what == 3:  # all shorter or longer
        by = (rng.random() - 0.5) * 0.2 * (mine.u[1] - mine.u[0])
        short = [(a + by, b + by) for a, b in short]
    elif what == 4:  # one more or one less between the same outermost ones
        n = len(places) + (1 if rng.random() < 0.5 else -1)
        if not 1 <= n <= MOST:
            return None
        low, high = (places[0], places[-1]) if len(places) > 1 else (middle - half / 3, middle + half / 3)
        places = [low + (high - low) * k / (n - 1) for k in range(n)] if n > 1 else [(low + high) / 2]
        short = [short[min(k * len(short) // n, len(short) - 1)] for k in range(n)]
    elif what == 5:  # other rolls, same places
        others = [z for z in zones if z.direction == parent.direction and z.roll.key != parent.roll]
        if not others:
            return None
        zone = others[int(rng.random() * len(others))]
    elif what == 6:  # one bead elsewhere, and its mirror image with it, mostly
        k, by = int(rng.random() * len(places)), (rng.random() - 0.5) * mine.pitch
        twin = len(places) - 1 - k if rng.random() < 0.7 else k
        places[k] += by
        if twin != k:
            places[twin] -= by
    else:  # one end shorter or longer, on its mirror images too, mostly
        k, by = int(rng.random() * len(short)), (rng.random() - 0.5) * 0.3 * (mine.u[1] - mine.u[0])
        if rng.random() < 0.7:
            for i in {k, len(short) - 1 - k}:
                short[i] = (short[i][0] + by, short[i][1] + by)
        else:
            a, b = short[k]
            short[k] = (a + by, b) if rng.random() < 0.5 else (a, b + by)
    lines = []
    for v, (left, right) in zip(places, short, strict=True):
        free = zone.stretch(round(v))
        if free is None:
            return None
        a, b = free[0] + max(0, round(left)), free[1] - max(0, round(right))
        if b - a < zone.shortest:
            return None
        lines.append((round(v), a, b))
    return _checked(zone, lines)


def _short_of(zone: Zone, line: Line) -> tuple[float, float]:
    """Return by how much a bead's ends stay short of what is allowed, mm."""
    v, a, b = line
    free = zone.stretch(v)
    assert free is not None, "layouts come from their own zone"
    return float(a - free[0]), float(free[1] - b)
