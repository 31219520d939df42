"""The machines while a slider moves, and once it rests."""

from __future__ import annotations

import asyncio
from typing import Annotated

from bench_hands import Bench, html, slider
from virtual_loop import run

from tinbook.fields import Range
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop


def zed(between: Annotated[float, Range(20, 120, 1, "mm")] = 90) -> Part:
    """Two legs in opposite directions: from the width of the folding beam on the own folder bends them."""
    part = Part("HN-Z", sheet="DC01 1.0", base=Outline.rectangle(200, between, ("near", "right", "far", "left")))
    return part.fold("near", "up", leg=20).fold("far", "down", leg=20)


def test_machines_that_do_not_fold_the_part_any_more_are_changed_at_rest_and_the_page_says_so(bench: Bench) -> None:
    b = bench(zed)
    assert {s.bend.tool for s in b.made.strips} == {"F1"}

    async def scene() -> None:
        slider(b, "between").value = 24
        await asyncio.sleep(0.1)
        moving = b._picture.made
        assert moving.part == zed(24)
        assert {s.bend.tool for s in moving.strips} == {"F1"}
        assert "chosen anew" not in html(b)
        await asyncio.sleep(0.5)
        assert b._picture.made is not moving

    run(scene())
    wanted = make(zed(24), Shop.demo())
    (tool,) = {s.bend.tool for s in b.made.strips}
    assert tool != "F1"
    assert (b.made.flat, b.made.findings) == (wanted.flat, wanted.findings)
    assert f"the blank is drawn to {tool}" in html(b)
    assert "bend.machine" in {f.code for f in b.findings}


def test_values_set_from_code_choose_machines_at_once(bench: Bench) -> None:
    b = bench(zed)
    b.set(between=24)
    assert b.made.flat == make(zed(24), Shop.demo()).flat
    b.undo()
    assert {s.bend.tool for s in b.made.strips} == {"F1"}
