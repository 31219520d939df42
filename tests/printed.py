"""The letters of a PDF, read by a library that knows nothing of how it was written."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import Any

import shapely
from pypdf import PdfReader
from shapely import STRtree
from shapely.geometry import Polygon

from tinbook.write.page import BOLD, PLAIN, fonts


def sizes(pdf: bytes) -> list[float]:
    """Return the size of every piece of text of a document, points."""
    found: list[float] = []

    def see(text: str, cm: list[float], tm: list[float], _font: Any, size: float) -> None:
        if text.strip():
            up = tm[2] * cm[0] + tm[3] * cm[2], tm[2] * cm[1] + tm[3] * cm[3]
            found.append(size * math.hypot(*up))

    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=see)
    return found


@dataclass(frozen=True)
class Piece:
    """A piece of text where it stands on its page, points."""

    page: int
    text: str
    box: Polygon
    inside: bool
    size: float


def pieces(pdf: bytes) -> list[Piece]:
    """Return every piece of text of a document with the box of its letters: from base line to the height of figures."""
    found: list[Piece] = []
    for n, page in enumerate(PdfReader(io.BytesIO(pdf)).pages, 1):
        paper = shapely.box(*(float(v) for v in page.mediabox))

        def see(
            text: str, cm: list[float], tm: list[float], font: Any, size: float, n: int = n, paper: Any = paper
        ) -> None:
            if not text.strip():
                return
            name = BOLD if font and "Bold" in str(font.get("/BaseFont")) else PLAIN
            line, low = text.strip("\n"), 0.0
            a, b, c, d, e, f = _times(tm, cm)
            w = _width(line, name, size)
            corners = [(0, low), (w, low), (w, 0.72 * size), (0, 0.72 * size)]
            box = Polygon([(a * x + c * y + e, b * x + d * y + f) for x, y in corners])
            found.append(Piece(n, line, box, paper.covers(box), size * math.hypot(c, d)))

        page.extract_text(visitor_text=see)
    return found


def faults(every: list[Piece], by: float = 0.3) -> list[tuple[str, str]]:
    """Return texts of one page that stand on each other by more than `by` points, leave the paper, or are under 7 points."""
    found = [(p.text, "leaves the paper") for p in every if not p.inside]
    found += [(p.text, f"{p.size:.1f} points") for p in every if p.size < 7 - 1e-6]
    shrunk = [p.box.buffer(-by / 2) for p in every]
    tree = STRtree(shrunk)
    for i, j in zip(*tree.query(shrunk, predicate="intersects"), strict=True):
        if i < j and every[i].page == every[j].page:
            found.append((every[i].text, every[j].text))
    return found


def _times(m: list[float], n: list[float]) -> tuple[float, ...]:
    a, b, c, d, e, f = m
    return (
        *(a * n[0] + b * n[2], a * n[1] + b * n[3], c * n[0] + d * n[2], c * n[1] + d * n[3]),
        *(e * n[0] + f * n[2] + n[4], e * n[1] + f * n[3] + n[5]),
    )


def _width(text: str, font: str, size: float) -> float:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    fonts()
    return float(stringWidth(text, font, size))


def rows(every: list[Piece]) -> list[list[str]]:
    """Texts that stand on one base line of a page, from left to right."""
    lines: dict[tuple[int, int], list[Piece]] = {}
    for p in every:
        lines.setdefault((p.page, round(p.box.bounds[1])), []).append(p)
    return [[p.text.strip() for p in sorted(line, key=lambda p: p.box.bounds[0])] for line in lines.values()]


def printed_as(value: float) -> tuple[str, ...]:
    """A length to a tenth, either way where it lies between two."""
    return tuple(
        {f"{math.floor(10 * value + s) / 10 + 0.0:.1f}".replace("-0.0", "0.0") for s in (0.5 - 1e-6, 0.5 + 1e-6)}
    )
