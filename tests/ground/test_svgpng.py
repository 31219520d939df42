"""Pictures as PNG: the same bytes, few of them, the right pixels, and nothing left out in silence."""

from __future__ import annotations

import base64
import io
from html import unescape
from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.shown import picture_html
from tinbook.svg import Picture, document
from tinbook.svgpng import svg_png

RED = (255, 0, 0)


def shown(body: str, box: tuple[float, float, float, float] = (0, 0, 100, 80)) -> Any:
    from PIL import Image

    return Image.open(io.BytesIO(svg_png(document(box, body, title="t")))).convert("RGB")


def at(image: Any, x: float, y: float) -> tuple[int, ...]:
    """Return the pixel at a place of a picture of 100 x 80, y up."""
    scale = image.size[0] / 100
    return tuple(image.getpixel((round(x * scale), round(image.size[1] - y * scale))))


def test_holes_are_left_out_by_the_even_odd_rule() -> None:
    image = shown('<path d="M10 -10L90 -10L90 -70L10 -70ZM40 -30L60 -30L60 -50L40 -50Z" fill="#ff0000"/>')
    assert image.size == (1000, 800)
    assert at(image, 20, 20) == RED
    assert at(image, 50, 40) == (255, 255, 255)
    assert at(image, 5, 40) == (255, 255, 255)


@pytest.mark.parametrize(
    ("flags", "inside", "outside"),
    [("0 0", (50, 65), (50, 15)), ("0 1", (50, 15), (50, 65)), ("1 0", (50, 65), (50, 15))],
)
def test_an_arc_turns_as_svg_says(flags: str, inside: Any, outside: Any) -> None:
    """From the right to the left end of a half circle: sweep 0 runs anticlockwise as one sees it, over the top."""
    image = shown(f'<path d="M80 -40A30 30 0 {flags} 20 -40Z" fill="#ff0000"/>')
    assert at(image, *inside) == RED
    assert at(image, *outside) == (255, 255, 255)


def test_dashes_lie_where_they_are_said_to_lie() -> None:
    image = shown('<path d="M0 -40h100" stroke="#ff0000" stroke-width="4" stroke-dasharray="20 10" fill="none"/>')
    assert [at(image, x, 40) == RED for x in (10, 25, 40, 55, 70, 85)] == [True, False] * 3


def test_a_text_stands_where_it_is_anchored_and_turned() -> None:
    def black(image: Any) -> tuple[float, float, float, float]:
        box = image.convert("L").point(lambda v: 255 * (v < 128)).getbbox()
        return tuple(v / 10 for v in box)

    text = '<text x="50" y="-40" font-size="10" text-anchor="middle"{}>HHHH</text>'
    x0, y0, x1, y1 = black(shown(text.format("")))
    assert (x0 + x1) / 2 == pytest.approx(50, abs=0.5)
    assert y1 == pytest.approx(40, abs=0.3)  # the base line, from above
    assert x1 - x0 > 2 * (y1 - y0)
    x0, y0, x1, y1 = black(shown(text.format(' transform="rotate(-90 50 -40)"')))
    assert x1 == pytest.approx(50, abs=0.3)  # reads upward: its base line is on the right
    assert (y0 + y1) / 2 == pytest.approx(40, abs=0.5)
    # About a place beside it, as a dimension's number is turned: a quarter turn carries what is 10 above it 10 to its left.
    x0, y0, x1, y1 = black(shown(text.format(' transform="rotate(-90 50 -30)"')))
    assert x1 == pytest.approx(40, abs=0.3)
    assert (y0 + y1) / 2 == pytest.approx(50, abs=0.5)


def test_ink_is_dark_and_a_share_of_it_lighter() -> None:
    image = shown('<path d="M10 -10L90 -10L90 -70L10 -70Z" fill="currentColor" fill-opacity="0.5"/>')
    assert at(image, 50, 40) == pytest.approx((144, 144, 144), abs=4)  # half of 0x22 and white


def test_what_no_picture_has_is_refused() -> None:
    with pytest.raises(BadValue, match="ellipse"):
        shown('<ellipse cx="1" cy="1" rx="1" ry="2"/>')
    with pytest.raises(BadValue, match="'C'"):
        shown('<path d="M0 0C1 1 2 2 3 3" fill="none"/>')


def test_whatever_shows_itself_has_both_kinds_and_the_png_is_small_and_the_same() -> None:
    made = tb.make(tb.folded_channel(), tb.Shop.demo())
    things = (made.flat, made.part.base, tb.folded_svg(made), Picture(document((0, 0, 10, 10), "", title="t")))
    for thing in things:
        assert thing is not None
        data, about = thing._repr_png_()
        assert about["alt"] == unescape(thing._repr_svg_().partition("<title>")[2].partition("</title>")[0]) != ""
        assert data.startswith(b"\x89PNG\r\n\x1a\n")
        assert len(data) <= 100_000
        svg_png.cache_clear()
        assert thing._repr_png_()[0] == data


def test_a_converted_notebook_gives_every_picture_its_text() -> None:
    """IPython stores it, and the converter's classic page reads it."""
    import nbformat.v4 as nb
    from IPython.core.formatters import DisplayFormatter
    from nbconvert import HTMLExporter

    data, about = DisplayFormatter().format(tb.folded_svg(tb.make(tb.folded_channel(number="HN-AB"), tb.Shop.demo())))
    assert about["image/png"] == {"alt": "HN-AB rev A, folded, seen from the up side"}
    shown = {"image/png": base64.b64encode(data["image/png"]).decode()}
    cell = nb.new_code_cell("", outputs=[nb.new_output("display_data", data=shown, metadata=about)])
    page, _ = HTMLExporter(template_name="classic").from_notebook_node(nb.new_notebook(cells=[cell]))
    assert 'alt="HN-AB rev A, folded, seen from the up side"' in page


def test_a_picture_in_a_table_says_what_it_shows() -> None:
    text = picture_html(document((0, 0, 10, 10), "", title="a &lt;b&gt;"))
    assert 'alt="a &amp;lt;b&amp;gt;"' in text
    assert base64.b64decode(text.partition("base64,")[2].partition('"')[0]).startswith(b"\x89PNG")
