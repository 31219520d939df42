"""The text of every kind of picture, in a browser at 100 % and printed: large enough to read, and none over another."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from html import escape
from typing import Any

import pytest
import shapely

import familylists as kinds
import printed
import tinbook as tb
from tinbook.svg import flat_svg
from tinbook.write.assembly import assembled_svg, exploded_svg

pytestmark = pytest.mark.browser

COLUMN = 680
"""px: a narrow column of a notebook, and about the text width of a sheet of A4."""
SCREEN, PAPER = 9.0, 7.0
"""px and points: the least letters (own proposal)."""
SHOP = tb.Shop.demo()

TEXTS = """() => [...document.querySelectorAll("figure")].map((f) => [f.dataset.name, [...f.querySelectorAll("svg text")]
  .map((t) => {
    const [b, m] = [t.getBBox(), t.getScreenCTM()];
    const p = (x, y) => [m.a * x + m.c * y + m.e, m.b * x + m.d * y + m.f];
    const own = [...t.childNodes].filter((n) => n.nodeType === 3).map((n) => n.data).join("");
    const [x, y] = [b.x + b.width, b.y + b.height];
    const high = parseFloat(getComputedStyle(t).fontSize) * Math.hypot(m.a, m.b);
    return [own, high, [p(b.x, b.y), p(x, b.y), p(x, y), p(b.x, y)]];
  })])"""


def of_part(name: str, made: Any, steps: bool) -> Iterator[tuple[str, str]]:
    if made.flat is None:
        return
    yield f"{name}, outline", made.part.base._repr_svg_()
    yield f"{name}, flat", flat_svg(made.flat, dims=True)
    yield f"{name}, live flat", flat_svg(made.flat, dims=True, keys=True)
    yield f"{name}, folded", str(tb.folded_svg(made))
    if steps and made.strips:
        plan = tb.fold_sequence(made)
        for k in range(len(plan.steps)):
            yield f"{name}, step {k + 1}", str(tb.route.step_svg(plan, k))


def of_assembly(name: str, assembly: tb.Assembly) -> Iterator[tuple[str, str]]:
    made = tb.assemble(assembly, SHOP)
    yield f"{name}, assembled", str(assembled_svg(made))
    yield f"{name}, exploded", str(exploded_svg(made, tb.order_of_work(made)))
    for _, one in made.made:
        yield from of_part(f"{name} {one.part.number}", one, steps=False)


def few() -> Iterator[tuple[str, str]]:
    """A wide blank, a square one, one of many edges, steps of a large panel, an assembly."""
    yield from of_part("channel", tb.make(tb.folded_channel(), SHOP), steps=True)
    yield from of_part("disc", tb.make(tb.families.flanged_disc(), SHOP), steps=False)
    big = tb.Part("HN-PT", sheet="DC01 1.5", base=tb.Outline.rectangle(900, 420)).fold("front", "up", leg=40, tool="F1")
    yield from of_part("panel", tb.make(big, SHOP), steps=True)
    yield from of_assembly("joiner", tb.families.front_joiner())


def every() -> Iterator[tuple[str, str]]:
    for family in (*kinds.FIRST, *kinds.LIGHT, *kinds.PLATES, *kinds.WELDED, *kinds.FITTED):
        thing = family()
        if isinstance(thing, tb.Assembly):
            yield from of_assembly(family.__name__, thing)
        else:
            yield from of_part(family.__name__, tb.make(thing, SHOP), steps=True)
    opening = tb.read_outline("notebooks/data/heron_left_floor_opening.csv", tol="0.5 mm")
    yield "opening", opening._repr_svg_()
    yield from of_part("floor_pan", tb.make(tb.floor_pan(opening), SHOP), steps=True)
    yield from of_part("tunnel_lid", tb.make(tb.families.tunnel_lid(tb.families.bolting()), SHOP), steps=True)


@pytest.mark.parametrize("which", [few, pytest.param(every, marks=pytest.mark.full)])
def test_text_can_be_read_and_stands_apart(
    which: Callable[[], Iterator[tuple[str, str]]], fresh_page: Callable[..., Any], root: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(root)
    pictures = list(which())
    page = fresh_page(viewport={"width": 1000, "height": 900})
    figures = "".join(f'<figure data-name="{escape(name)}">{svg}</figure>' for name, svg in pictures)
    style = f"body{{margin:0;font:13px sans-serif}}figure{{margin:0;width:{COLUMN}px;break-inside:avoid}}"
    page.set_content(f"<!doctype html><style>{style}</style>{figures}")
    found = page.evaluate(TEXTS)
    assert len(found) == len(pictures)
    small = [(name, text, high) for name, texts in found for text, high, _ in texts if high < SCREEN]
    assert small == []
    over = []
    for name, texts in found:
        boxes = [shapely.Polygon(corners) for _, _, corners in texts]
        for i, j in zip(*_pairs(len(boxes)), strict=True):
            # A box of a text reaches over its letters' feet and heads, so boxes that only touch are apart.
            if shapely.intersection(boxes[i], boxes[j]).area > 0.12 * min(boxes[i].area, boxes[j].area):
                over.append((name, texts[i][0], texts[j][0]))
    assert over == []
    sizes = printed.sizes(
        page.pdf(format="A4", margin={"left": "15mm", "right": "15mm", "top": "10mm", "bottom": "10mm"})
    )
    assert len(sizes) > len(pictures)
    assert min(sizes) >= PAPER
    print(f"{len(pictures)} pictures, {sum(len(t) for _, t in found)} texts: least on screen "
          f"{min(h for _, t in found for _, h, _ in t):.1f} px, on A4 {min(sizes):.1f} pt")  # fmt: skip


def _pairs(n: int) -> tuple[list[int], list[int]]:
    both = [(i, j) for i in range(n) for j in range(i)]
    return [i for i, _ in both], [j for _, j in both]
