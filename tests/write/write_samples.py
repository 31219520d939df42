"""Blanks and made values written out by hand, so that the writers are tested apart from `make`."""

from __future__ import annotations

import math

from tinbook.flatpattern import Cut, FlatPattern, FoldLine, Mark
from tinbook.plane.loops import Edge, Loop, circle, polygon, slot
from tinbook.strokes import strokes

NOTCHED = Loop(
    (
        Edge((0, 0), (300, 0)),
        Edge((300, 0), (300, 150)),
        Edge((300, 150), (260, 190), math.tan(math.pi / 8)),
        Edge((260, 190), (60, 190)),
        Edge((60, 190), (60, 170)),
        Edge((60, 170), (40, 170), -1.0),
        Edge((40, 170), (40, 190)),
        Edge((40, 190), (0, 190)),
        Edge((0, 190), (0, 0)),
    )
)
"""A 300 x 190 blank with one corner rounded by 40 mm and a notch that ends in a half round of 20 mm."""

NOTCHED_AREA = 300 * 190 - (40**2 - math.pi * 40**2 / 4) - (20 * 20 + math.pi * 10**2 / 2)
"""Closed form, without holes."""


def plain(name: str = "HN-TL") -> FlatPattern:
    """A blank with one fold up, one down, a row of holes, a slot, a square hole and marks."""
    holes = tuple(Cut(loop=circle((30 + 40 * i, 20), 8), name="lip", use="plug weld", dia=8) for i in range(6))
    return FlatPattern(
        name=name,
        thickness=1.6,
        material="DC01",
        outer=NOTCHED,
        cuts=(
            *holes,
            Cut(loop=slot((150, 100), 40, 10, 30), name="cable", use="cut-out"),
            Cut(loop=polygon([(80, 90), (100, 90), (100, 110), (80, 110)]), name="window", use="cut-out"),
        ),
        folds=(
            FoldLine(
                name="front",
                pieces=(((0.0, 40.0), (300.0, 40.0)),),
                angle=90,
                direction="up",
                radius=1.6,
                allowance=3.57,
                k=0.42,
                rule="DIN 6935",
                tool="brake-V12",
            ),
            FoldLine(
                name="lip",
                pieces=(((280.0, 0.0), (280.0, 150.0)),),
                angle=30,
                direction="down",
                radius=2.0,
                allowance=1.4,
                k=0.44,
                rule="typed deduction",
                tool="brake-V12",
            ),
        ),
        marks=(
            Mark(kind="text", edges=strokes("HN-TL B UP", 6, at=(110, 150)), label="HN-TL B"),
            Mark(kind="fold", edges=(Edge((0, 40), (5, 40)), Edge((295, 40), (300, 40))), label="front"),
        ),
    )
