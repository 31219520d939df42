"""The paper template measured on the page: straight from the PDF's drawing commands."""

from __future__ import annotations

import io
import math
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from made_samples import impossible, pan
from pypdf import PdfReader
from pypdf.generic import ContentStream
from write_samples import plain

from tinbook.errors import BadValue, CannotMake
from tinbook.fit.setting_out import scribe_card
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, polygon
from tinbook.shop.shop import Shop
from tinbook.tracing import Drawing, Numbers, Traced
from tinbook.write import template
from tinbook.write.template import BAR, template_bytes, tile_name, write_template

PT = 72 / 25.4


def strokes(data: bytes, page: int) -> list[list[tuple[float, float]]]:
    """All drawn chains of straight lines and curve ends of a page, in mm on the paper."""
    reader = PdfReader(io.BytesIO(data))
    content = ContentStream(reader.pages[page].get_contents(), reader)
    found: list[list[tuple[float, float]]] = []
    for operands, operator in content.operations:
        numbers = [float(v) for v in operands] if operator in (b"m", b"l", b"c") else []
        if operator == b"m":
            found.append([(numbers[0] / PT, numbers[1] / PT)])
        elif operator in (b"l", b"c"):
            found[-1].append((numbers[-2] / PT, numbers[-1] / PT))
    return found


def spans(data: bytes, page: int) -> list[tuple[float, float]]:
    """Width and height of every two-point line of a page, mm."""
    return [(abs(b[0] - a[0]), abs(b[1] - a[1])) for a, b in (s for s in strokes(data, page) if len(s) == 2)]


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_every_tile_has_two_bars_of_100_mm(tmp_path: Path, paper: str) -> None:
    data = write_template(pan(), tmp_path, paper).read_bytes()  # type: ignore[arg-type]
    count = len(PdfReader(io.BytesIO(data)).pages)
    assert count > 4
    for page in range(count):
        found = spans(data, page)
        assert sum(abs(w - BAR) < 0.001 and h < 1e-6 for w, h in found) == 1
        assert sum(abs(h - BAR) < 0.001 and w < 1e-6 for w, h in found) == 1
    assert BAR == 100


def test_a_folders_mark_is_told_off_its_line(tmp_path: Path) -> None:
    """45 degrees on the folder: the nose bar's edge goes r - BA/2 = 1.5 - 0.78 = 0.7 mm beside the line that is drawn."""
    part = Part("HN-TM", sheet="DC01 1.5", base=Outline.rectangle(120, 80)).fold("front", leg=40, angle=45, tool="F1")
    file = write_template(make(part, Shop.demo()), tmp_path)
    text = " ".join(p.extract_text() for p in PdfReader(file).pages)
    assert "front up, mark 0.7 toward front, turned 45" in re.sub(r"\s+", " ", text)


def test_one_tile_is_true_to_size() -> None:
    """A square of 150 with a rounded corner of 40: the drawn chain has those sizes on the paper."""
    edges = (
        Edge((0, 0), (150, 0)),
        Edge((150, 0), (150, 110)),
        Edge((150, 110), (110, 150), math.tan(math.pi / 8)),
        Edge((110, 150), (0, 150)),
        Edge((0, 150), (0, 0)),
    )
    data = template_bytes(Drawing(name="HN-BM", lines=(Traced(kind="cut", edges=edges),)))
    assert len(PdfReader(io.BytesIO(data)).pages) == 1
    outline = max(strokes(data, 0), key=len)
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    assert max(xs) - min(xs) == pytest.approx(150, abs=0.002)
    assert max(ys) - min(ys) == pytest.approx(150, abs=0.002)
    # Ends of the curve pieces lie on the arc: 40 from its centre at (110, 110).
    on_arc = [p for p in outline if p[0] - min(xs) > 110.01 and p[1] - min(ys) > 110.01]
    assert len(on_arc) == 2
    for x, y in on_arc:
        assert math.dist((x - min(xs), y - min(ys)), (110, 110)) == pytest.approx(40, abs=0.002)


def test_tiles_join_without_loss() -> None:
    """One long line over three tiles: the tile's windows overlap by 10 mm and the line is whole."""
    data = template_bytes(Drawing(name="HN-ST", lines=(Traced(kind="cut", edges=(Edge((0, 0), (700, 0)),)),)))
    reader = PdfReader(io.BytesIO(data))
    width = float(reader.pages[0].mediabox.width) / PT
    shown = width - 2 * 12
    count = len(reader.pages)
    assert count == math.ceil((704 - 10) / (shown - 10))
    starts = []
    for page in range(count):
        line = next(s for s in strokes(data, page) if len(s) == 2 and abs(abs(s[1][0] - s[0][0]) - 700) < 0.01)
        starts.append(line[0][0])
    steps = {round(a - b, 3) for a, b in pairwise(starts)}
    assert steps == {round(shown - 10, 3)}


def test_says_tile_part_and_how_to_print() -> None:
    data = template_bytes(Drawing(name="HN-ST", lines=(Traced(kind="cut", edges=(Edge((0, 0), (700, 0)),)),)))
    said = [p.extract_text() for p in PdfReader(io.BytesIO(data)).pages]
    for text, here, others in zip(said, ("A1", "B1", "C1"), (("B1",), ("A1", "C1"), ("B1",)), strict=True):
        assert re.search(rf"{here}(?! goes)", text)
        assert set(re.findall(r"(\w+) goes here", text)) == set(others)
    for text in said:
        assert "must measure 100 mm; print at 100 %" in text
        assert "HN-ST. Template 1:1" in text


def test_empty_tiles_are_left_out() -> None:
    """A large square of thin lines: the tile in its middle shows nothing and is not printed."""
    frame = polygon([(0, 0), (800, 0), (800, 800), (0, 800)]).edges
    full = template_bytes(Drawing(name="HN-TC", lines=(Traced(kind="cut", edges=frame),)))
    pages = PdfReader(io.BytesIO(full)).pages
    shown_w, shown_h = float(pages[0].mediabox.width) / PT - 24, float(pages[0].mediabox.height) / PT - 40
    columns, rows = math.ceil((804 - 10) / (shown_w - 10)), math.ceil((804 - 10) / (shown_h - 10))
    assert len(pages) == columns * rows - (columns - 2) * (rows - 2)


def test_names_of_tiles() -> None:
    assert [tile_name(*t) for t in ((0, 0), (25, 2), (26, 0))] == ["A1", "Z3", "AA1"]


def test_takes_outlines_and_what_draws_itself(tmp_path: Path) -> None:
    class Card:
        def drawing(self) -> Drawing:
            return Drawing(name="HN-FP-L opening", lines=(Traced(kind="scribe", edges=(Edge((0, 0), (50, 0)),)),))

    assert write_template(Card(), tmp_path).name == "HN-FP-L_opening_template_A4.pdf"
    assert write_template(polygon([(0, 0), (50, 0), (0, 50)]), tmp_path, name="lid").name == "lid_template_A4.pdf"
    assert write_template(plain(), tmp_path, "A3").name == "HN-TL_DC01_1.6mm_x1_template_A3.pdf"


def test_a_card_prints_its_numbers(tmp_path: Path) -> None:
    """Rectangle of 900 x 420, lip 20 but none at the tunnel: corner C at 880, 400 from P, both diagonals alike (Pythagoras)."""
    opening = Outline.rectangle(900, 420, names=("tunnel", "front", "sill", "rear"))
    card = scribe_card(opening, {"tunnel": 0}, others=20, name="HN-FP-L cut line")
    pages = PdfReader(io.BytesIO(write_template(card, tmp_path).read_bytes())).pages
    said = re.sub(r"\s+", " ", pages[-1].extract_text())
    assert "numbers for the tape" in said
    assert f"C front/sill {math.hypot(880, 400):.1f} {math.hypot(20, 400):.1f} 880.0 400.0" in said
    assert f"A-C {math.hypot(860, 400):.1f}" in said
    assert f"B-D {math.hypot(860, 400):.1f}" in said
    assert "measured" in said
    assert "P and Q are the ends of edge 'tunnel', 900.0 mm apart" in said
    assert "brake lines" in said
    tiles = " ".join(p.extract_text() for p in pages[:-1])
    assert all(re.search(rf"\b{letter}\b", tiles) for letter in "PQABCD"), "the letters stand at the metal too"


def test_numbers_flow_on() -> None:
    rows = tuple((str(i), f"{i}.5") for i in range(200))
    drawing = Drawing(
        name="card",
        lines=(Traced(kind="cut", edges=(Edge((0, 0), (50, 20)),)),),
        numbers=(Numbers(heads=("no.", "mm"), rows=rows),),
    )
    said = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(template_bytes(drawing))).pages)
    assert all(f"{i}.5" in said for i in range(200))
    assert "continued" in said


def test_refusals_write_nothing(tmp_path: Path) -> None:
    with pytest.raises(CannotMake):
        write_template(impossible(), tmp_path)
    with pytest.raises(BadValue, match="A4 or A3"):
        write_template(plain(), tmp_path, "letter")  # type: ignore[arg-type]
    with pytest.raises(BadValue, match="template name"):
        write_template(polygon([(0, 0), (50, 0), (0, 50)]), tmp_path, name="../lid")
    with pytest.raises(BadValue, match="a flat pattern"):
        write_template("HN-FP-L", tmp_path)
    with pytest.raises(BadValue, match="400 tiles"):
        write_template(polygon([(0, 0), (9e3, 0), (0, 9e3)]), tmp_path, name="lid")
    with pytest.raises(BadValue, match="at least one line"):
        write_template(Drawing(name="lid", lines=()), tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("a", "b", "turn"), [((0, 0), (120, 0), 0), ((0, 0), (0, 90), 90), ((20, 70), (100, 10), -36.87)]
)
def test_the_name_of_a_line_runs_along_it(a: tuple[float, float], b: tuple[float, float], turn: float) -> None:
    """1 mm beside the line, 8 mm from its lower left end; the text's own axes as the PDF sets them."""
    frame = Traced(edges=tuple(polygon([(0, 0), (150, 0), (150, 100), (0, 100)]).edges), kind="cut")
    drawing = Drawing(name="HN-X", lines=(frame, Traced(edges=(Edge(a, b),), kind="fold up", text="along")))
    reader = PdfReader(io.BytesIO(template_bytes(drawing)))
    content = ContentStream(reader.pages[0].get_contents(), reader)
    stack: list[list[float]] = []
    for operands, operator in content.operations:
        if operator in (b"cm", b"Tm"):
            stack.append([float(v) for v in operands])
        if operator == b"Tj" and operands[0] == "along":
            break
    else:
        raise AssertionError("the name is not drawn")
    turns = [math.degrees(math.atan2(m[1], m[0])) for m in stack[-2:]]
    assert sum(turns) == pytest.approx(turn, abs=0.01)


@pytest.mark.parametrize(("length", "times"), [(20, 1), (170, 1), (178, 1), (200, 2), (330, 2), (365, 3)])
def test_a_line_is_named_every_160_mm_but_not_beyond_its_end(length: float, times: int) -> None:
    """At 7 points "lower down" is 14 mm long; the names begin at 8, 168 and 328 mm."""
    seen = Seen()
    line = Traced(edges=(Edge((0, 0), (length, 0)),), kind="fold down", text="lower down")
    template._along(seen, line, lambda p: p, "#000000")  # type: ignore[arg-type]
    assert [x for x, _ in seen.at] == [8 + 160 * i for i in range(times)]


class Seen:
    """A page that only keeps where texts begin."""

    def __init__(self) -> None:
        self.at: list[tuple[float, float]] = []

    def text(self, x: float, y: float, *_: Any, **__: Any) -> None:
        self.at.append((x, y))
