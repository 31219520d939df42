"""The wrong thing at a public door: a part that was not made, arguments the wrong way round, a number for a file."""

from __future__ import annotations

import pytest

import tinbook as tb
from tinbook.errors import BadValue, TinbookError

SHOP = tb.Shop.demo()
PART = tb.folded_channel()
MADE = tb.make(PART, SHOP)
OF_MADE = (
    tb.check, tb.finished_sizes, tb.fold_sequence, tb.folded_svg, tb.order_of_work, tb.write_dxf, tb.write_fold_page,
    tb.write_glb, tb.write_sheet, tb.write_step, tb.write_svg, tb.write_template,
)  # fmt: skip
WRITERS = [f for f in OF_MADE if f.__name__.startswith("write_")]


@pytest.mark.parametrize("call", OF_MADE, ids=lambda f: f.__name__)
def test_a_part_that_was_not_made(call, tmp_path):
    with pytest.raises(BadValue, match=r"tb\.make|made part"):
        call(PART, tmp_path) if call in WRITERS else call(PART)


@pytest.mark.parametrize("writer", WRITERS, ids=lambda f: f.__name__)
@pytest.mark.parametrize("path", [None, 5, MADE], ids=["none", "number", "made"])
def test_a_path_that_is_none(writer, path):
    with pytest.raises(BadValue, match="file name"):
        writer(MADE, path)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: tb.make(tb.folded_channel, SHOP), "called first"),
        (lambda: tb.make(MADE, SHOP), "a Part"),
        (lambda: tb.make(PART, "my_shop.toml"), r"Shop\.load"),
        (lambda: tb.make(SHOP, PART), "a Part"),
        (lambda: tb.assemble(PART, SHOP), "an Assembly"),
        (lambda: tb.Shop.load(None), "cannot be read"),
        (lambda: tb.read_dxf(None), "path of a DXF"),
        (lambda: tb.read_folds(None, MADE), "cannot be read"),
        (lambda: tb.read_folds("folds.toml", PART), "made part"),
        (lambda: tb.fold_sequence(MADE, order=5), "each fold once"),
        (lambda: tb.fold_sequence(MADE, order=[1, 2]), "each fold once"),
        (lambda: tb.order_of_work(MADE, folds=5), "each fold once"),
        (lambda: tb.order_of_work(MADE, folds=[1, "left"]), "each fold once"),
        (
            lambda: tb.floor_pan(tb.Outline.rectangle(900, 400), fold="tunnel"),
            "floor_pan fold.*front, right, rear, left",
        ),
        (lambda: tb.Outline.polygon(5), "corners"),
        (lambda: tb.Outline.polygon([(0, 0), (9, 0), (9, 9)], 5), "names"),
        (lambda: tb.Outline.from_edges([(0, 0), (9, 0)]), "outline loop"),
        (lambda: tb.Outline.rectangle(9, 9).renamed("front"), "old name"),
        (lambda: tb.Outline.rectangle(9, 9).edge(["front"]), "front, right"),
    ],
)
def test_what_was_wanted_is_said(call, names):
    with pytest.raises(TinbookError, match=names):
        call()
