"""Shims against every combination there is, loads by hand, and a card for the table with its readings."""

from __future__ import annotations

from itertools import combinations_with_replacement, product

import numpy as np
import pypdf
import pytest

import tinbook as tb
from counts import wanted_in_full
from tinbook.errors import BadValue, CannotMake
from tinbook.read.scans.rigid import fit_targets
from tinbook.space import frame_at

SHOP = tb.Shop.demo()


def every_way(off, stock, within, pieces, tall):
    """The fewest pieces and then the least spread, over every combination of stacks; None where none will do."""
    stacks = [s for k in range(pieces + 1) for s in combinations_with_replacement(stock, k) if sum(s) <= tall + 1e-9]
    best = None
    for chosen in product(stacks, repeat=len(off)):
        after = [d + sum(s) for d, s in zip(off, chosen, strict=True)]
        spread = max(after) - min(after)
        if spread <= within + 1e-9:
            score = sum(map(len, chosen)), round(spread, 9)
            best = score if best is None or score < best else best
    return best


@pytest.mark.parametrize("seed", range(60 if wanted_in_full() else 12))
def test_shims_equal_every_combination(seed):
    """Up to 6 mounts and 5 thicknesses, as many pieces as leave a product that can be counted out."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 7))
    stock = sorted({float(t) for t in rng.choice([0.5, 1, 1.5, 2, 3, 4, 5, 6, 8], 5, replace=False)})
    pieces = {2: 3, 3: 2, 4: 2, 5: 1, 6: 1}[count]
    off = np.round(rng.uniform(-6, 3, count), 1).tolist()
    within, tall = float(rng.choice([0.5, 1.0, 2.0])), float(rng.choice([5.0, 9.0]))
    wanted = every_way(off, stock, within, pieces, tall)
    named = {f"m{k}": v for k, v in enumerate(off)}
    if wanted is None:
        with pytest.raises(CannotMake, match="least spread"):
            tb.fit.level_mounts(named, stock=stock, within=within, pieces=pieces, tall=tall)
        return
    found = tb.fit.level_mounts(named, stock=stock, within=within, pieces=pieces, tall=tall)
    assert (found.pieces, found.spread) == (wanted[0], pytest.approx(wanted[1], abs=1e-8))
    assert all(len(s) <= pieces and sum(s) <= tall + 1e-9 and set(s) <= set(stock) for s in found.stacks.values())
    assert {n: off[k] + sum(found.stacks[n]) for k, n in enumerate(named)} == pytest.approx(found.heights)


def test_a_bolt_leaves_room_for_a_stack_and_each_mount_carries_its_share():
    """Bolt 60 long, 45 clamped, M10: 5 mm of shims leave 10 mm of thread. Loads: centre at a quarter, so 3 to 1."""
    found = tb.fit.level_mounts(
        {"a": 0, "b": -4.8, "c": -4.9, "d": 0}, stock=[5, 10], bolt=(60, 45, 10),
        places={"a": (0, 0), "b": (1000, 0), "c": (1000, 800), "d": (0, 800)}, mass=400, centre=(250, 400),
    )  # fmt: skip
    assert found.stacks == {"a": (), "b": (5.0,), "c": (5.0,), "d": ()}
    weight = 400 * 9.80665
    assert found.loads == pytest.approx({"a": weight * 3 / 8, "b": weight / 8, "c": weight / 8, "d": weight * 3 / 8})
    assert sum(found.loads.values()) == pytest.approx(weight)
    with pytest.raises(CannotMake, match="least spread"):
        tb.fit.level_mounts({"a": 0, "b": -9.8}, stock=[5, 10], bolt=(60, 45, 10))
    lifts = tb.fit.level_mounts(
        {"a": 0, "b": 0, "c": 0},
        stock=[1],
        places={"a": (0, 0), "b": (100, 0), "c": (0, 100)},
        mass=50,
        centre=(300, 0),
    )
    assert lifts.findings.of("table.lifts")
    assert "carries" in lifts._repr_html_()


def plate():
    base = tb.Outline.rectangle(900, 600)
    part = tb.Part("HN-T1", sheet="DC01 1.5", base=base)
    for x, y in ((40, 40), (860, 40), (860, 560), (40, 560), (450, 300)):
        part = part.hole((x, y), 12)
    return tb.make(part, SHOP)


def test_a_card_has_every_hole_from_its_datum_line_and_reads_measurements_back():
    card = tb.fit.table_card(plate(), datum=("1", "2"))
    assert card.places["1"] == pytest.approx((0, 0, 0.75))
    assert card.places["2"] == pytest.approx((820, 0, 0.75))
    assert card.places["3"] == pytest.approx((410, 260, 0.75))
    assert card.diagonals["1", "5"] == pytest.approx(np.hypot(820, 520))
    at = frame_at((300, 100, 50), (0, 1, 0), (-1, 0, 0))
    rng = np.random.default_rng(2)
    measured = {n: np.array(at(*p)) + rng.normal(0, 0.3, 3) for n, p in card.places.items()}
    assert card.compared(measured, accuracy=0.5).findings[0].code == "table.agree"
    measured["4"] = measured["4"] + (6, 0, 0)
    back = card.compared(measured, accuracy=0.5)
    assert back.findings[0].where == "point '4'"
    assert "measured" in card._repr_html_()


def test_a_table_card_is_printed_with_its_datum_line_and_cautions(tmp_path):
    pdf = pypdf.PdfReader(tb.write.write_card(tb.fit.table_card(plate(), datum=("1", "2")), tmp_path))
    assert len(pdf.pages) == 1
    words = pdf.pages[0].extract_text()
    for said in (
        "datum line runs from hole 1 to hole 2",
        "Brace a body",
        "Tack, measure",
        "971.0",
        "410.0",
        "measured",
    ):
        assert said in words, said


def test_an_assembly_has_a_card_too():
    two = tb.Assembly("HN-A1").add("low", plate().part).add("high", plate().part, frame_at((0, 0, 200)))
    card = tb.fit.table_card(tb.assemble(two, SHOP))
    assert len(card.places) == 10
    heights = sorted(round(p[2], 2) for p in card.places.values())
    assert heights == [0.75] * 5 + [200.75] * 5


def test_a_table_reading_with_a_gross_error_is_found_and_good_ones_are_left_alone():
    """500 clean sets and 500 with an error of the smallest size that is found 95 times in 100, in a random coordinate."""
    places = {
        n: np.array(p, float)
        for n, p in zip(
            "ABCDEF",
            ((0, 0, 0), (1500, 0, 80), (1500, 900, 0), (0, 900, 60), (700, 450, 300), (300, 700, 150)),
            strict=True,
        )
    }
    rng = np.random.default_rng(11)
    clean = fit_targets(places, places, accuracy=1.0)
    alarms = found = named = 0
    for _ in range(500):
        read = {n: p + rng.normal(0, 1.0, 3) for n, p in places.items()}
        alarms += fit_targets(read, places, accuracy=1.0).findings[0].code == "table.suspect"
        k, axis = int(rng.integers(6)), int(rng.integers(3))
        name = "ABCDEF"[k]
        read[name] = read[name] + np.eye(3)[axis] * rng.choice([-1, 1]) * clean.hidden[k]
        told = fit_targets(read, places, accuracy=1.0).findings[0]
        found += told.code == "table.suspect"
        named += f"'{name}'" in told.where or name in told.what.partition("so may")[2]
    assert alarms <= 0.075 * 500
    assert found >= 0.925 * 500
    assert named >= 0.90 * 500


@pytest.mark.parametrize(
    "asked",
    [
        {"heights": {"a": 0}}, {"heights": None}, {"heights": {"a": "x", "b": 0}}, {"stock": []}, {"stock": "2 mm"}, {"stock": [0]}, {"stock": [1] * 13},
        {"within": 0}, {"within": None}, {"pieces": -1}, {"pieces": 2.5}, {"pieces": True}, {"tall": -1}, {"bolt": (40, 35, 10)}, {"bolt": 60},
        {"mass": 100}, {"places": {"a": (0, 0)}, "mass": 1, "centre": (0, 0)}, {"places": {"a": (0, 0), "b": (1, 0)}, "mass": 1, "centre": (0, 0)},
        {"places": {"a": (0, 0), "b": (1, 0)}, "mass": -1, "centre": (0, 0)}, {"heights": {"a": float("nan"), "b": 0}},
    ],
)  # fmt: skip
def test_wrong_answers_are_named(asked):
    with pytest.raises(BadValue):
        tb.fit.level_mounts(**{"heights": {"a": 0, "b": 1}, "stock": [1, 2], **asked})


def test_a_part_without_holes_has_no_card():
    bare = tb.make(tb.Part("HN-T2", sheet="DC01 1.5", base=tb.Outline.rectangle(90, 60)), SHOP)
    with pytest.raises(CannotMake, match="round holes"):
        tb.fit.table_card(bare)
    with pytest.raises(BadValue):
        tb.fit.table_card(None)
    with pytest.raises(BadValue, match="datum hole"):
        tb.fit.table_card(plate(), datum=("1", "9"))
