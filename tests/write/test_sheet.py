"""The fold sheet says what a folder needs, on one page, and nothing lies over anything else."""

from __future__ import annotations

import io
import itertools
import math
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from made_samples import channel, cradle, impossible, pan, sheet_bytes, tunnel
from pypdf import PdfReader
from write_samples import plain

import printed
import tinbook as tb
from familylists import FIRST, LIGHT, PLATES, WELDED
from tinbook.errors import BadValue, CannotMake
from tinbook.families.pan import floor_pan
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.read.points import read_outline
from tinbook.shop.shop import Shop
from tinbook.write.names import blank_of
from tinbook.write.page import Page, Placing
from tinbook.write.setting_out import setting_out
from tinbook.write.sheet import pictures
from tinbook.write.sheet.pages import write_sheet

ALL = [pan, channel, tunnel, cradle]
XHTML = "{http://www.w3.org/1999/xhtml}"


def words(data: bytes, page: int | None = None) -> str:
    """Text of the document as one line with single spaces."""
    reader = PdfReader(io.BytesIO(data))
    texts = [p.extract_text() for i, p in enumerate(reader.pages) if page in (None, i)]
    return re.sub(r"\s+", " ", " ".join(texts))


def test_says_the_facts() -> None:
    said = words(sheet_bytes(pan()))
    for fact in (
        "HN-FP-L",
        "rev B",
        "Floor pan, left",
        "DC01, 1.2 mm",
        "2 off",
        "turned 90 / included 90",
        "turned 30 / included 150",
        "DIN 6935, K 0.349",
        "Quillback Workshop",
        "Fold sheet, page 1 of 4",
        "plug weld",
        "drain",
        "above 90° turned, to the tangent",
        "Blank drawn to the bend numbers of",
        "a licensed engineer must sign them",
        "fold in the order of the steps",
    ):
        assert fact in said, fact


def test_numbers_agree_with_the_blank() -> None:
    """Overall size and fold lines, from the flat pattern's own points."""
    made = channel()
    said = words(sheet_bytes(made))
    flat = made.flat
    assert flat is not None
    ys = [y for e in flat.outer for y in (e.start[1],)]
    assert f"{max(ys) - min(ys):.1f}" in said
    for fold in flat.folds:
        assert f"{fold.pieces[0][0][1] - min(ys):.1f}" in said, fold.name
        assert f"{fold.allowance:.2f}" in said
    # Sum of the outside legs less the deductions is the blank: 20 + 50 + 80 + 50 with three bends.
    deductions = [2 * s.setback - s.allowance for s in made.strips]
    assert max(ys) - min(ys) == pytest.approx(200 - sum(deductions), abs=1e-6)
    assert all(f"{d:.2f}" in said for d in deductions)


def test_mass_by_hand() -> None:
    """200 x 300 blank less 2 holes, 2 mm of steel at 7850 kg/m³: within what the bends change."""
    found = re.search(r"Mass ([\d.]+) kg", words(sheet_bytes(channel())))
    assert found
    by_hand = (189.9 * 300 - 314.16 - (40 * 20 + 314.16)) * 2 * 7850e-9
    assert float(found.group(1)) == pytest.approx(by_hand, abs=0.02)


def overlaps(data: bytes, pdftotext: str) -> list[tuple[str, str]]:
    """Pairs of words that lie over each other, by the places that another program reads; words off the paper fail at once."""
    done = subprocess.run([pdftotext, "-bbox", "-", "-"], input=data, capture_output=True, check=True)
    found = []
    for page in ET.fromstring(done.stdout).iter(f"{XHTML}page"):
        width, height = (float(page.attrib[k]) for k in ("width", "height"))
        boxes = []
        for word in page.iter(f"{XHTML}word"):
            x0, y0, x1, y1 = (float(word.attrib[k]) for k in ("xMin", "yMin", "xMax", "yMax"))
            assert 5 < x0 < x1 < width - 5, word.text
            assert 5 < y0 < y1 < height - 5, word.text
            # The box is the font's, from 0.236 below the base line to 0.928 above: only capitals and digits count.
            if len(word.text or "") > 2 and y1 - y0 > x1 - x0:
                x0, x1 = x0 + 0.18 * (x1 - x0), x1 - 0.2 * (x1 - x0)
            else:
                y0, y1 = y0 + 0.18 * (y1 - y0), y1 - 0.2 * (y1 - y0)
            boxes.append((x0, y0, x1, y1, word.text or ""))
        found += [
            (a[4], b[4])
            for a, b in itertools.combinations(boxes, 2)
            if not (a[2] <= b[0] + 0.15 or b[2] <= a[0] + 0.15 or a[3] <= b[1] + 0.15 or b[3] <= a[1] + 0.15)
        ]
    return found


def test_small_letters_are_seen() -> None:
    page = Page(100, 100, "x")
    page.text(20, 20, "six", 6.0)
    page.text(20, 40, "seven", 7.0, turn=90)
    assert sorted(printed.sizes(page.done())) == pytest.approx([6.0, 7.0])


def test_two_words_on_one_place_are_seen(needs: Callable[[str], str]) -> None:
    page = Page(100, 100, "x")
    page.text(20, 20, "one")
    page.text(22, 20.5, "two")
    page.text(50, 50, "three")
    assert overlaps(page.done(), needs("pdftotext")) == [("two", "one")]


@pytest.mark.parametrize("made", ALL)
def test_nothing_overlaps_or_leaves_the_paper(made: Callable[[], Made], needs: Callable[[str], str]) -> None:
    data = sheet_bytes(made(), despite="nothing in the demo shop folds the cradle")
    assert not overlaps(data, needs("pdftotext"))
    assert min(printed.sizes(data)) >= 7.0 - 1e-3


@pytest.mark.full
@pytest.mark.parametrize("family", [f.__name__ for f in (*FIRST, *LIGHT, *PLATES, *WELDED)])
def test_nothing_overlaps_on_any_sheet_of_a_family(family: str, needs: Callable[[str], str]) -> None:
    found = next(f for f in (*FIRST, *LIGHT, *PLATES, *WELDED) if f.__name__ == family)()
    for part in found.parts if isinstance(found, tb.Assembly) else [found]:
        data = sheet_bytes(make(part, Shop.demo()), despite="only its letters are looked at")
        assert not overlaps(data, needs("pdftotext")), part.number
        assert min(printed.sizes(data)) >= 7.0 - 1e-3, part.number


def test_a_long_part_goes_on_and_says_so() -> None:
    data = sheet_bytes(cradle(), despite="nothing in the demo shop folds it")
    reader = PdfReader(io.BytesIO(data))
    count = len(reader.pages)
    assert count >= 3  # the sheet, what it could not hold, setting out
    for n in range(count):
        more = f", continued on page {n + 2}" if n < count - 1 else ""
        assert f"page {n + 1} of {count}{more}" in words(data, n)
    # Every hole is listed once: forty bolts.
    rows = re.findall(r"[A-Z]{1,2} (\d+) Ø[\d.]+ bolt", words(data))
    assert sum(map(int, rows)) == 40


def test_a_smaller_drawing_rather_than_a_second_page(root: Path) -> None:
    """The main job's pan: seventeen rows of holes, its finished sizes beside the setting out, and no page more than that."""
    opening = read_outline(root / "notebooks" / "data" / "heron_left_floor_opening.csv", tol="0.5 mm")
    part = floor_pan(opening, sheet="DC01 1.5", fold="tunnel", number="HN-FP-L", rev="B")
    data = sheet_bytes(make(part, Shop.demo()))
    said = words(data, 0)
    assert words(data, 1).startswith("Setting out") or "Setting out O is" in words(data, 1)
    assert "A 8 Ø8.0 plug weld" in said
    assert "S 1 Ø5.0 tack screw" in said
    assert "leg tunnel 40.0" in words(data, 1)
    assert len(PdfReader(io.BytesIO(data)).pages) == 5, "with the views and its holes on the folded part"


def test_a_table_that_goes_to_the_next_page_leaves_its_room_to_the_drawing() -> None:
    """A tray with a lip all round: the table of eight folds stands under a blank at 1 : 10, not at 1 : 20 over white paper."""
    tray = tb.Part("TRAY", sheet="DC01 1.5", base=tb.Outline.rectangle(520, 360))
    for edge in ("front", "rear", "left", "right"):
        tray = tray.fold(edge, "up", leg=140, tool="F1").fold(f"{edge}.end", "down", leg=22, tool="F1")
    data = sheet_bytes(make(tray, Shop.demo()))
    assert "scale 1 : 10" in words(data, 0)
    assert "fold 1 " in words(data, 1)


def test_upright_or_lengthwise_by_the_blank() -> None:
    for made, upright in ((pan, False), (tunnel, True)):
        box = PdfReader(io.BytesIO(sheet_bytes(made()))).pages[0].mediabox
        assert (box.height > box.width) == upright
        assert sorted((float(box.width), float(box.height))) == pytest.approx(
            [210 / 25.4 * 72, 297 / 25.4 * 72], abs=0.01
        )


def test_fonts_are_embedded_and_no_date_is_inside() -> None:
    data = sheet_bytes(channel())
    reader = PdfReader(io.BytesIO(data))
    fonts = reader.pages[0]["/Resources"]["/Font"]
    used = [f.get_object() for f in fonts.values()]
    assert used
    for f in used:
        assert "/FontFile2" in f["/FontDescriptor"], f["/BaseFont"]
    assert reader.metadata is not None
    assert "2000" in str(reader.metadata.get("/CreationDate"))
    assert not reader.metadata.get("/Author")


def test_order_can_be_given() -> None:
    said = words(sheet_bytes(channel(), order=("front.end", "rear", "front")))
    assert said.index("1 front.end") < said.index("2 rear") < said.index("3 front ")
    for wrong in (("front",), ("front", "rear", "rear"), ("front", "rear", "lid")):
        with pytest.raises(BadValue, match="each fold once"):
            sheet_bytes(channel(), order=wrong)


def test_findings_to_mind_are_printed() -> None:
    from dataclasses import replace

    from tinbook.finding import Finding, Findings

    it: Made = channel()
    caution = Finding(code="x.y", severity="caution", where="fold 'rear'", what="the radius is small", remedy="warm it")
    said = words(sheet_bytes(replace(it, findings=Findings((caution,)))))
    assert "fold 'rear': the radius is small. Warm it" in said


def test_what_the_rules_caution_of_is_printed() -> None:
    """A hole of 6 mm whose edge ends 5 mm from the edge that is folded: bending pulls it out of round."""
    part = tb.Part("A", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 60)).fold("front", leg=30).hole((60, 8), 6)
    made = make(part, Shop.demo())
    (found,) = tb.check(made).of("fold.hole")
    assert found.severity == "caution"
    assert found.what in words(sheet_bytes(made), 0)


@pytest.mark.parametrize(("family", "pages"), [("tank_cradle", 3), ("dash_frame", 2), ("strap_fork", 2)])
def test_what_is_left_of_the_text_takes_no_page_of_its_own(family: str, pages: int) -> None:
    """One page for the order, one or two to set out a blank of 34 corners, 8 corners, 4 corners; then the views."""
    reader = PdfReader(io.BytesIO(sheet_bytes(make(getattr(tb.families, family)(), Shop.demo()))))
    said = [p.extract_text() for p in reader.pages[1:]]
    assert ["Corner" in text or "Diagonal" in text for text in said[: pages - 1]] == [True] * (pages - 1)
    assert "Hidden lines are left out" in said[pages - 1]
    assert "What changed" in said[-1]
    assert len(said) == pages + (family == "dash_frame"), "35 holes to find on the folded part"


def test_tables_that_go_on_stand_beside_text_that_goes_on() -> None:
    said = words(sheet_bytes(make(tb.families.flanged_disc(), Shop.demo())), 1)
    assert "Step" in said
    assert "How to read it" in said


def test_refusals_write_nothing(tmp_path: Path) -> None:
    with pytest.raises(CannotMake, match="bead"):
        write_sheet(impossible(), tmp_path)
    with pytest.raises(CannotMake, match="bead"):
        sheet_bytes(impossible())
    with pytest.raises(BadValue, match="A4 or A3"):
        write_sheet(channel(), tmp_path, paper="A5")  # type: ignore[arg-type]
    with pytest.raises(BadValue, match="made part"):
        write_sheet(plain(), tmp_path)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())
    assert write_sheet(channel(), tmp_path).name == "HN-WC_A_DC01_2mm_x1.pdf"


class Recorded:
    """Stands in for a page: keeps lines and texts."""

    def __init__(self) -> None:
        self.lines: list[Any] = []
        self.texts: list[Any] = []

    def line(self, a: Any, b: Any, *_: Any) -> None:
        self.lines.append((a, b))

    def text(self, x: float, y: float, text: str, *_: Any, **__: Any) -> None:
        self.texts.append((x, y))


@pytest.mark.parametrize("toward", [0.0, 0.7, 2.5, -1.8])
def test_a_leader_runs_from_its_place_toward_its_name_and_ends_short_of_it(toward: float) -> None:
    """It begins 2 mm off the place, where the place's own mark ends, and stops 1.9 mm before the middle of the name."""
    from tinbook.write.sheet.pictures import _tag

    page, taken = Recorded(), list[Any]()
    for n in range(5):  # the fifth finds four places taken
        _tag(page, f"hole {n}", (50.0, 40.0), 2.0, toward, taken, "#000000")  # type: ignore[arg-type]
        (begin, end), (x, y) = page.lines[-1], page.texts[-1]
        middle = (x, y + 0.8)
        assert math.dist(begin, (50.0, 40.0)) == pytest.approx(2.0)
        assert math.dist(end, middle) == pytest.approx(1.9)
        assert math.dist(begin, end) == pytest.approx(math.dist((50.0, 40.0), middle) - 2.0 - 1.9)
    assert len(set(page.texts)) == 5


@pytest.mark.parametrize(
    ("value", "said"),
    [(0, "0"), (3, "3"), (3.0, "3"), (-2.0, "-2"), (3.14159, "3.14"), (12.345, "12.3"), (99.96, "100"), (123.4, "123"),
     (12345.6, "12346"), (0.12345, "0.123"), (0.01, "0.01"), (1e6, "1000000")],
)  # fmt: skip
def test_a_number_in_a_sentence_has_three_figures_and_no_exponent(value: float, said: str) -> None:
    from tinbook.write.facts import figure

    assert figure(value) == said


def test_the_origins_name_stands_on_no_hole() -> None:
    """A brace at 1 : 10: its bolt hole is 1.5 and 2.5 mm from the origin on paper, where the O stood."""
    made = make(tb.families.temporary_brace(), Shop.demo())
    out = setting_out(blank_of(made))
    page, place = Page(297, 210, "x"), Placing(scale=0.1, dx=50.0, dy=50.0)
    (hole, *_) = pictures._small_holes(out.flat, place)
    bare, clear = (pictures._origin(page, out.datum, place, "O", holes)[-1] for holes in ((), (hole,)))
    assert bare.meets(hole)
    assert not clear.meets(hole)
