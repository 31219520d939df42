"""A part for each rule of `check` that just breaks it, and one that just does not; limits worked out by hand.

The demo shop's own data that the cases lean on: folder F1 (nose 1.5 mm, shortest leg 8 mm), cutter "laser" for steel
below 2 mm (hole 1 t and 1 mm, slot 1 t and 1 mm) and "plasma" from 2 mm (hole 2 t and 5 mm, slot 2 t and 4 mm, bed
2500 x 1250 mm), rolls R18x5 (shoulder 3 mm, to 1.6 mm of mild steel), roller's throat 610 mm, brake 1000 kN, press 300 kN.
"""

from __future__ import annotations

from dataclasses import replace

from rule_parts import (
    PLUG,
    SHOP,
    Case,
    aluminium,
    angled_bead,
    bead_by_fold,
    bead_by_hole,
    beaded,
    blank,
    bored,
    deep_bead,
    drawn,
    forceless,
    hem,
    hole_by_fold,
    joggled,
    leg,
    lettered,
    long_fold,
    louvred,
    marked,
    measured,
    pair,
    part,
    plain,
    radius,
    relief,
    riveted,
    roll,
    row,
    sized,
    slot_by_edge,
    slotted,
    two_beads,
    wide_die,
)

from tinbook.making.resolve import make

CHART = "air-bend chart"
OWN = "own data"
USUAL = "common practice"
DIN = "DIN 6935"

CASES = (
    # -- folds
    Case(
        "fold.leg", "stop", lambda: leg(7.99, "F1", "DC01 1.5"), lambda: leg(8.0, "F1", "DC01 1.5"), OWN,
        "folder F1's own shortest leg", 8.0, kept_as="fine",
    ),
    Case(
        "fold.leg", "stop", lambda: leg(11.52, "V16", "DC01 2.0"), lambda: leg(11.54, "V16", "DC01 2.0"), CHART,
        "the chart's V16 row: 11.53 mm at 90 degrees", 11.53, kept_as="fine",
    ),
    Case(
        "fold.leg", "stop", lambda: leg(12.96, "V16", "DC01 2.0", 120), lambda: leg(12.98, "V16", "DC01 2.0", 120),
        CHART,
        # to the apex 11.53 cos 45 / cos 60 = 16.3059; r = 0.16 x 16 = 2.56; apex to tangent (2.56 + 2)(tan 60 - 1) = 3.3382
        "V16 at 120 degrees turned, to the tangent: 16.306 - 3.338", 12.9677, kept_as="fine",
    ),
    Case(
        "fold.radius", "caution", lambda: radius(2.99, "left", "S235 3.0"), lambda: radius(3.0, "left", "S235 3.0"), DIN,
        "Rm up to 390, sheet to 3 mm, across the grain: 3 mm", 3.0, kept_as="fine",
    ),
    Case(
        "fold.radius", "caution", lambda: radius(4.99, "front", "S235 3.0"), lambda: radius(5.0, "front", "S235 3.0"), DIN,
        "the same along the grain: next thicker column, 5 mm", 5.0, kept_as="fine",
    ),
    Case(
        "fold.radius", "stop", lambda: radius(1.49, "left", "S235 3.0"), lambda: radius(1.5, "left", "S235 3.0"), DIN,
        "S235 cracks below half its thickness (common practice)", 1.5, kept_as="caution",
    ),
    Case(
        "fold.radius", "caution", lambda: radius(0.79, "front"), lambda: radius(0.8, "front"), "sheet design guide",
        "DC01 is folded flat: max(0.5 t, 0.8 mm) and no floor below it", 0.8, kept_as="fine",
    ),
    Case(
        "fold.radius", "caution", lambda: aluminium(91), lambda: aluminium(90), "ASTM B209",
        "the Aluminum Association's table is for 90 degrees at most; 1.5 t = 4.5 mm there", None, "", kept_as="fine",
    ),
    Case(
        # 2.5 t + r = 3.75 + 1.5 from the outside of the bend to the rim
        "fold.hole", "caution", lambda: hole_by_fold(9.24, "bolt"), lambda: hole_by_fold(9.26, "bolt"), USUAL,
        "2.5 t + r from the outside of the bend", 5.25,
    ),
    Case(
        "fold.hole", "stop", lambda: hole_by_fold(7.74, "bolt"), lambda: hole_by_fold(7.76, "bolt"), USUAL,
        "1.5 t + r where the hole takes a fixing", 3.75, kept_as="caution",
    ),
    Case(
        "fold.hole", "caution", lambda: hole_by_fold(7.74, "cut-out"), lambda: hole_by_fold(9.26, "cut-out"), USUAL,
        "an opening without a fixing only loses its shape", 5.25,
    ),
    Case(
        # tangent line at r + t = 3 from the outside; the rim reaches it at y = 7
        "fold.hole_over", "caution", lambda: hole_by_fold(6.99, "drain"), lambda: hole_by_fold(7.01, "drain"), USUAL,
        "a hole over the tangent line",
    ),
    Case(
        "hem.return", "caution", lambda: hem("open", 5.99), lambda: hem("open", 6.0), USUAL, "4 t", 6.0, kept_as="fine"
    ),
    Case(
        "hem.gap", "caution", lambda: hem("open", 20, gap=1.58), lambda: hem("open", 20, gap=1.6), "EN 10131",
        "1.5 mm ± 0.09", 1.59,
    ),
    Case(
        "hem.material", "stop", lambda: hem("closed", 20, "S235 3.0"), lambda: hem("open", 20, "S235 3.0"), USUAL,
        "plate is not folded flat",
    ),
    Case(
        # 650 t2 / V x 510/450 = 650 x 9 / 16 x 1.13333 = 414.375 N/mm; 1e6 N / 414.375 = 2413.3 mm
        "fold.force", "stop", lambda: long_fold(2414, "V16", "S235 3.0"), lambda: long_fold(2413, "V16", "S235 3.0"),
        CHART, "S235 to 510 MPa on V16, brake of 1000 kN", 1000.0, "kN", kept_as="fine",
    ),
    Case(
        # four times 650 x 9 / 25 x 1.13333 = 1060.8 N/mm; 300e3 N / 1060.8 = 282.8 mm
        "fold.force", "stop", lambda: long_fold(283, "VB25", "S235 3.0"), lambda: long_fold(282, "VB25", "S235 3.0"),
        CHART, "bottoming in a V block takes four times as much (common practice)", 300.0, "kN", kept_as="fine",
    ),
    Case(
        "fold.force", "caution", lambda: forceless(None), lambda: forceless(1e6), OWN, "no force is stated", None, "",
        kept_as="fine",
    ),
    Case(
        "fold.force", "caution", lambda: wide_die(30.3), lambda: wide_die(29.7), CHART,
        "the chart's formula holds for openings of 5 to 20 t", None, "", kept_as="fine",
    ),
    Case(
        "fold.relief_width", "caution", lambda: relief(3.99), lambda: relief(4.0), OWN, "plasma: slot 2 t = 4 mm", 4.0
    ),
    Case(
        "fold.relief_width", "caution", lambda: relief(None), lambda: leg(40, "V16", "DC01 2.0"), OWN,
        "the usual relief is one thickness wide; a fold over the whole edge needs none", 4.0,
    ),
    # -- beads
    Case(
        "bead.thickness", "stop", lambda: beaded(sheet="DC01 2.0"), lambda: beaded(sheet="DC01 1.6"), OWN,
        "rolls R18x5 take 1.6 mm of mild steel", 1.6,
    ),
    Case(
        # w 12, h 4: arc 15.288, strain 27.40 %; w 12, h 3: R 7.5, arc 15 asin 0.8 = 13.909, strain 15.91 % (facts 3.5)
        "bead.stretch", "caution", lambda: beaded(roll(width=12, depth=3, shoulder=1, draw_factor=0.11)),
        lambda: beaded(roll(width=12, depth=3, shoulder=1, draw_factor=0.13)), USUAL,
        "half of DC01's 28 %: 15.91 % (1 - d) = 14 % at d = 0.120", 14.0, "%", kept_as="fine",
    ),
    Case(
        # w 10, h 5: half round, 57.08 %
        "bead.stretch", "stop", lambda: beaded(roll(width=10, depth=5, shoulder=0.5, draw_factor=0.50)),
        lambda: beaded(roll(width=10, depth=5, shoulder=0.5, draw_factor=0.52)), USUAL,
        "all of DC01's 28 %: 57.08 % (1 - d) = 28 % at d = 0.509", 28.0, "%", kept_as="caution",
    ),
    Case(
        "drawnhole.stretch", "caution", lambda: drawn(pilot=35.0), lambda: drawn(pilot=35.2), USUAL,
        "half of DC01's 28 %: 40 / 1.14 = 35.09 mm", 14.0, "%", kept_as="fine",
    ),
    Case(
        "drawnhole.stretch", "stop", lambda: drawn(pilot=25.5), lambda: drawn(pilot=25.8), USUAL,
        "twice DC01's 28 %: 40 / 1.56 = 25.64 mm", 56.0, "%", kept_as="caution",
    ),
    Case("drawnhole.trial", "caution", drawn, lambda: drawn(pilot=33.0), "geometry", "a pilot that nobody proved"),
    Case(
        # half width c 20, height h = opening + 1.5, k = h / c: arc over reach (1 + k²) atan k / k
        "louvre.stretch", "caution", lambda: louvred(opening=7.87), lambda: louvred(opening=7.84), USUAL,
        "half of DC01's 28 %: (1 + k²) atan k / k = 1.14 at k = 0.4677, h = 9.355 mm", 14.0, "%", kept_as="fine",
    ),
    Case(
        "louvre.stretch", "stop", lambda: louvred(opening=12.0), lambda: louvred(opening=11.98), USUAL,
        "all of DC01's 28 %: 1.28 at k = 0.6745, h = 13.489 mm", 28.0, "%", kept_as="caution",
    ),
    Case("louvre.trial", "caution", louvred, lambda: louvred(die="L80"), USUAL, "a hood that no die of the shop makes"),
    Case(
        "joggle.flush", "stop", lambda: joggled(step=1.49), lambda: joggled(step=1.51), "geometry",
        "the mating sheet of 1.5 mm stands proud", 1.5, kept_as="fine",
    ),
    Case(
        "joggle.weld", "caution", lambda: joggled(lap=2 * PLUG.edge - 0.01), lambda: joggled(lap=2 * PLUG.edge + 0.01), USUAL,
        "the weld's least edge distance on either side", 2 * PLUG.edge, kept_as="fine",
    ),
    Case(
        # half width 9 + 3 t 4.5 + r 1.5 beyond the tangent line at y = 3
        "bead.fold", "caution", lambda: bead_by_fold(17.99), lambda: bead_by_fold(18.01), USUAL,
        "3 t + r from the tangent line", 6.0,
    ),
    Case(
        "bead.edge", "caution", lambda: beaded(y=20.99), lambda: beaded(y=21.01), USUAL, "8 t in 1.5 mm, beside 9 mm", 12.0
    ),
    Case(
        "bead.edge", "caution", lambda: beaded(sheet="DC01 0.8", y=18.99), lambda: beaded(sheet="DC01 0.8", y=19.01),
        USUAL, "never less than 10 mm", 10.0,
    ),
    Case(
        # half width 9 + 3 t 4.5 + shoulder 3 + hole's radius 4
        "bead.hole", "caution", lambda: bead_by_hole(120.49), lambda: bead_by_hole(120.51), USUAL, "3 t + shoulder", 7.5
    ),
    Case("bead.pitch", "caution", lambda: two_beads(44.99), lambda: two_beads(45.01), USUAL, "2.5 widths of 18 mm", 45.0),
    Case(
        "bead.throat", "stop", lambda: deep_bead(700), lambda: deep_bead(599), OWN,
        "700 mm from both long edges; 599 mm from one, and 10 mm of stock to trim", 610.0, kept_as="fine",
    ),
    Case(
        # The far side of the path reaches 350 mm; a horn over the near side that is passed between its ends does not count.
        "bead.throat", "stop", lambda: deep_bead(620), lambda: angled_bead(400), OWN,
        "the side with the shorter reach decides", 610.0, kept_as="fine",
    ),
    Case(
        "bead.throat", "stop", lambda: beaded(replace(SHOP, roller=None)), beaded, OWN, "no roller at all", None, "",
        kept_as="fine",
    ),
    Case(
        "bead.draw", "caution", lambda: make(part().bead([(80, 100), (220, 100)], "R18x5"), SHOP),
        lambda: make(part().bead([(80, 100), (220, 100)], "R12x3"), SHOP), "own proposal",
        "R18x5 has no test strip, R12x3 has", None, kept_as="fine",
    ),
    # -- holes
    Case("hole.small", "caution", lambda: plain(1.49), lambda: plain(1.5), OWN, "laser: 1 t", 1.5),
    Case(
        "hole.small", "caution", lambda: plain(4.99, "DC01 2.0"), lambda: plain(5.0, "DC01 2.0"), OWN,
        "plasma: 2 t = 4 mm, at least 5 mm", 5.0,
    ),
    Case(
        "hole.undersize", "caution", lambda: bored(5.99), lambda: bored(6.0), OWN,
        "plasma: 2 t = 6 mm; what it does not cut well is drilled from its centre", 6.0,
    ),
    Case("hole.narrow", "stop", lambda: slotted(1.49), lambda: slotted(1.5), OWN, "laser: 1 t", 1.5),
    Case(
        "hole.edge", "caution", lambda: row(9.99, 8, "plug weld"), lambda: row(10.01, 8, "plug weld"), USUAL,
        "body practice: 10 mm from centre to edge", 10.0, kept_as="fine",
    ),
    Case(
        "hole.edge", "stop", lambda: row(4.74, 8, "plug weld"), lambda: row(4.76, 8, "plug weld"), USUAL,
        "less than half a thickness from rim to edge tears out: 4 + 0.75 mm", 10.0, kept_as="caution",
    ),
    Case(
        "hole.edge", "caution", lambda: row(11.98, 8, "bolt"), lambda: row(12.01, 8, "bolt"), USUAL, "1.5 diameters", 12.0
    ),
    Case(
        "hole.edge", "caution", lambda: row(17.99, 9, "nut insert"), lambda: row(18.01, 9, "nut insert"), "nut insert data",
        "insert M6, hole 9: two holes", 18.0,
    ),
    Case(
        "hole.edge", "caution", lambda: row(21.99, 11, "nut insert"), lambda: row(22.01, 11, "nut insert"), "nut insert data",
        "insert M8, hole 11: two holes", 22.0,
    ),
    Case("hole.edge", "caution", lambda: row(5.48, 8, "cut-out"), lambda: row(5.51, 8, "cut-out"), USUAL, "rim to edge t", 5.5),
    Case("hole.pitch", "caution", lambda: pair(24.99, 8, "plug weld"), lambda: pair(25, 8, "plug weld"), USUAL, "25 mm", 25.0),
    Case(
        "hole.pitch", "caution", lambda: pair(26.99, 9, "nut insert"), lambda: pair(27, 9, "nut insert"), "nut insert data",
        "insert M6: three holes of 9", 27.0,
    ),
    Case(
        "hole.thread", "caution", lambda: sized(8.39, "bolt", "M8"), lambda: sized(8.4, "bolt", "M8"), "ISO 273",
        "fine series for M8: 8.4", 8.4,
    ),
    Case(
        "hole.thread", "caution", lambda: sized(8.94, "nut insert", "M6"), lambda: sized(8.96, "nut insert", "M6"),
        "nut insert data", "insert M6 wants 9", 9.0,
    ),
    Case(
        "hole.thread", "caution", lambda: sized(9.06, "nut insert", "M6"), lambda: sized(9.04, "nut insert", "M6"),
        "nut insert data", "and no larger", 9.0,
    ),
    Case(
        "hole.thread", "caution", lambda: sized(60, "bolt", "M55"), lambda: sized(60, "drain", "M55"), OWN,
        "no table has M55; a drain takes no bolt",
    ),
    Case(
        "hole.table", "caution", lambda: row(30, 16, "plug weld", 60, "S355 5.0"),
        lambda: row(30, 16, "plug weld", 60, "S355 4.0"),
        OWN, "the table of plug welds ends at 4 mm",
    ),
    Case(
        "hole.table", "caution", lambda: row(30, 9.5, "nut insert"), lambda: row(30, 9, "nut insert"), OWN,
        "no insert is set in 9.5 mm",
    ),
    # EN 1993-1-3 table 8.1 for a rivet of 4.8 mm: 1.5 d = 7.2 mm to an edge, 3 d = 14.4 mm to the next.
    Case(
        "hole.edge", "caution", lambda: riveted(7.15), lambda: riveted(7.25), "EN 1993-1-3", "1.5 x 4.8 mm", 7.2,
    ),
    Case(
        "hole.pitch", "caution", lambda: riveted(20.0, 14.35), lambda: riveted(20.0, 14.45), "EN 1993-1-3", "3 x 4.8 mm", 14.4,
    ),
    Case(
        "hole.thread", "caution", lambda: riveted(20.0, dia=5.05), lambda: riveted(20.0, dia=5.0), "ISO 15977",
        "4.8 mm: 4.9 to 5.0", 4.9,
    ),
    Case(
        "hole.table", "caution", lambda: riveted(20.0, dia=7.0, size=None), lambda: riveted(20.0), "ISO 15977",
        "no rivet is for 7 mm",
    ),
    Case("hole.bridge", "caution", lambda: pair(9.49), lambda: pair(9.51), USUAL, "one thickness between rims", 1.5),
    Case("hole.margin", "caution", lambda: slot_by_edge(5.48), lambda: slot_by_edge(5.51), USUAL, "one thickness", 1.5),
    Case("hole.margin", "stop", lambda: slot_by_edge(4.74), lambda: slot_by_edge(4.76), USUAL, "half of it", 1.5, kept_as="caution"),
    # -- papers
    Case(
        "weld.plug", "caution", lambda: row(15, 10, "plug weld", sheet="S235 3.0"),
        lambda: row(15, 11, "plug weld", sheet="S235 3.0"), "EN 1993-1-8",
        "a plug weld counts from thickness + 8 mm", 11.0,
    ),
    Case(
        "weld.plug", "fine", lambda: row(15, 8, "plug weld"), lambda: row(15, 9.5, "plug weld"), "EN 1993-1-8",
        "in thin sheet it is body practice and no alarm", 9.5,
    ),
    Case(
        "part.caution", "caution", lambda: make(replace(part(), cautions=("It carries a seat.",)), SHOP), lambda: make(part(), SHOP),
        USUAL, "the declaration says so", None,
    ),
    Case(
        "part.revision", "stop", lambda: lettered("I"), lambda: lettered("J"), "ASME Y14.35", "I is read as 1", None, "",
    ),
    Case(
        "part.revision", "stop", lambda: lettered("7"), lambda: lettered("-"), "ASME Y14.35", "a number is no letter", None,
        "",
    ),
    Case(
        "part.revision", "stop", lambda: lettered("A", "numbers"), lambda: lettered("12", "numbers"), OWN,
        "the shop counts its revisions", None, "",
    ),
    # -- blank
    Case(
        "blank.sheet", "stop", lambda: blank(3001, 100), lambda: blank(3000, 1500), OWN, "largest sheet 3000 x 1500",
        3000.0, kept_as="fine",
    ),
    Case(
        "blank.sheet", "stop", lambda: blank(1501, 1501), lambda: blank(1500, 1501), OWN, "its short side", 1500.0,
        kept_as="fine",
    ),
    Case(
        "blank.bed", "stop", lambda: blank(2501, 1000, "DC01 2.0"), lambda: blank(2500, 1250, "DC01 2.0"), OWN,
        "the plasma table's bed", 2500.0,
    ),
    Case(
        "blank.bed", "stop", lambda: blank(1260, 1260, "DC01 2.0"), lambda: blank(1250, 1260, "DC01 2.0"), OWN,
        "its short side", 1250.0,
    ),
    # A line may end on the edge of the blank, 0.2 mm past it at most.
    Case("blank.mark", "caution", lambda: marked(-0.3), lambda: marked(-0.15), "geometry", "0.2 mm of grace"),
    Case(
        "blank.thickness", "caution", lambda: measured(1.51), lambda: measured(1.504), "geometry",
        "a micrometer reads hundredths", 1.5,
    ),
    Case(
        "blank.measured", "caution", lambda: measured(1.6), lambda: measured(1.59), "EN 10131",
        "above 1.2 to 1.6 mm, sheets up to 1500 wide", 0.09,
    ),
    Case(
        "blank.formed", "caution", lambda: make(part().etch([(50, 100), (50, 90)], note="rib"), SHOP), lambda: marked(90),
        "geometry", "what only a note tells is not made",
    ),
)  # fmt: skip
"""Every rule that looks at a part; those that need more than a part have tests of their own."""

REFUSED = {
    "bead.curve",
    "bead.shape",
    "drawnhole.die",
    "drawnhole.lip",
    "drawnhole.pilot",
    "joggle.edge",
    "joggle.step",
    "louvre.die",
    "louvre.shape",
}
"""Codes with which `make` refuses a form: tests/part/test_part_bad.py, and the test of each form."""
