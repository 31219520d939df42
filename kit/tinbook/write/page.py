"""Drawing on PDF pages in mm: embedded letters, true arcs, the same bytes every time."""

from __future__ import annotations

import hashlib
import io
import math
from collections.abc import Callable, Iterable, Sequence
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any, Final, Literal
from unicodedata import bidirectional, combining, normalize

from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Point
from tinbook.values import dataclass

Paper = Literal["A4", "A3"]
SIZES: Final[dict[str, tuple[float, float]]] = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}
"""mm, upright (ISO 216)."""

PT: Final = 72 / 25.4
"""Points in a mm."""

PLAIN: Final = "tinbook-plain"
BOLD: Final = "tinbook-bold"

Align = Literal["left", "middle", "right"]


def paper_size(paper: str) -> tuple[float, float]:
    """Return the upright size of a paper in mm, or refuse its name."""
    if not isinstance(paper, str) or paper not in SIZES:
        raise BadValue("paper", paper, " or ".join(SIZES))
    return SIZES[paper]


@cache
def fonts() -> None:
    """Make the two faces known to the PDF library: DejaVu Sans, open licence, Latin, Greek and Cyrillic letters.

    Matplotlib carries them; it comes with the geometry kernel's libraries and is not imported.
    """
    from importlib.util import find_spec
    from pathlib import Path

    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise ImportError("matplotlib, whose folder holds the letters of the papers, is not installed")
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    pdfmetrics.registerFont(TTFont(PLAIN, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(TTFont(BOLD, str(folder / "DejaVuSans-Bold.ttf")))


@cache
def _letters() -> frozenset[str]:
    """Return the characters that both faces have and that stand beside each other from left to right."""
    from reportlab.pdfbase import pdfmetrics

    fonts()
    plain, bold = (frozenset(map(chr, pdfmetrics.getFont(n).face.charToGlyph)) for n in (PLAIN, BOLD))
    from_left = {c for c in plain & bold if bidirectional(c) not in ("R", "AL", "AN") and not combining(c)}
    return frozenset(from_left) | frozenset("\n\t")


@lru_cache(maxsize=4096)
def on_paper(text: str) -> str:
    """Return a text as it is printed: an accent that the faces lack is left out.

    Raises
    ------
    BadValue
        A character without a letter on paper, as of a script that runs from right to left.
    """
    known = _letters()
    text = normalize("NFC", text)
    if known.issuperset(text):
        return text
    plain = {c: "".join(b for b in normalize("NFKD", c) if not combining(b)) for c in set(text) - known}
    lost = sorted(c for c, base in plain.items() if not base or not known.issuperset(base))
    if lost:
        valid = f"Latin, Greek or Cyrillic letters, digits and signs, which the papers' face has; it lacks {', '.join(map(repr, lost[:5]))}"
        raise BadValue("text on paper", text, valid)
    return "".join(plain.get(c, c) for c in text)


@lru_cache(maxsize=256)
def _ink(colour: str) -> Any:
    """Return a colour "#rrggbb" as the library's value: reading it from text each time took a tenth of a paper."""
    from reportlab.lib.colors import HexColor

    return HexColor(colour)


def text_width(text: str, size: float, font: str = PLAIN) -> float:
    """Return the width of a text in mm at a size in points."""
    from reportlab.pdfbase import pdfmetrics

    fonts()
    return float(pdfmetrics.stringWidth(on_paper(text), font, size)) / PT


class Page:
    """A PDF document being drawn page by page, origin at the lower left, all lengths in mm.

    Parameters
    ----------
    width, height : float
        Of the paper.
    title, subject, mark : str
        For the document's properties.
    """

    def __init__(self, width: float, height: float, title: str, subject: str = "", mark: str = "") -> None:
        from reportlab.pdfgen.canvas import Canvas

        fonts()
        self.width, self.height = width, height
        self._stream = io.BytesIO()
        self._ended: list[dict[str, Any]] = []
        # invariant leaves out time and random identifier, but SOURCE_DATE_EPOCH would still set both.
        self.canvas: Any = Canvas(
            self._stream, pagesize=(width * PT, height * PT), invariant=True, pageCompression=1, initialFontName=PLAIN
        )
        self.canvas.setDateFormatter(lambda *_: "D:20000101000000+00'00'")
        self.canvas._doc.signature = hashlib.md5(b"tinbook", usedforsecurity=False)
        self.canvas.setTitle(title)
        self.canvas.setSubject(subject)
        self.canvas.setAuthor("")
        self.canvas.setCreator("tinbook")
        self.canvas.setKeywords(mark)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = 7.5,
        *,
        font: str = PLAIN,
        align: Align = "left",
        turn: float = 0.0,
        colour: str = "#000000",
    ) -> None:
        """Write one line of text with its base line at (x, y)."""
        c = self.canvas
        c.saveState()
        c.setFillColor(_ink(colour))
        c.setFont(font, size)
        c.translate(x * PT, y * PT)
        if turn:
            c.rotate(turn)
        draw = {"left": c.drawString, "middle": c.drawCentredString, "right": c.drawRightString}[align]
        draw(0, 0, on_paper(text))
        c.restoreState()

    def line(
        self, a: Point, b: Point, width: float = 0.18, colour: str = "#000000", dash: Sequence[float] = ()
    ) -> None:
        """Draw a straight line of a width in mm."""
        self.draw([[Edge(a, b)]], width=width, colour=colour, dash=dash)

    def box(
        self,
        x: float,
        y: float,
        w: float,
        h: float,
        *,
        fill: str | None = None,
        width: float = 0.18,
        colour: str = "#000000",
    ) -> None:
        """Draw a rectangle; a width of 0 draws no outline."""
        c = self.canvas
        c.saveState()
        c.setLineWidth(width * PT)
        c.setStrokeColor(_ink(colour))
        if fill:
            c.setFillColor(_ink(fill))
        c.rect(x * PT, y * PT, w * PT, h * PT, stroke=int(width > 0), fill=int(fill is not None))
        c.restoreState()

    def disc(self, x: float, y: float, dia: float, colour: str, width: float = 0.25) -> None:
        """Draw a white disc with a coloured rim."""
        c = self.canvas
        c.saveState()
        c.setLineWidth(width * PT)
        c.setStrokeColor(_ink(colour))
        c.setFillColor("#ffffff")
        c.circle(x * PT, y * PT, dia / 2 * PT, stroke=1, fill=1)
        c.restoreState()

    def draw(
        self,
        lines: Iterable[Iterable[Edge]],
        place: Placing | None = None,
        *,
        width: float = 0.18,
        colour: str = "#000000",
        dash: Sequence[float] = (),
        fill: str | None = None,
        close: bool = False,
    ) -> None:
        """Draw chains of lines and arcs: open, or closed and filled by the even-odd rule if a fill is given."""
        c = self.canvas
        path = c.beginPath()
        for line in lines:
            _trace(path, line, place or Placing())
            if close:
                path.close()
        c.saveState()
        c.setLineJoin(1)
        c.setLineCap(1)
        c.setLineWidth(width * PT)
        c.setStrokeColor(_ink(colour))
        if dash:
            c.setLineCap(0)
            c.setDash([d * PT for d in dash])
        if fill:
            c.setFillColor(_ink(fill))
        c.drawPath(path, stroke=int(width > 0), fill=int(fill is not None), fillMode=0)
        c.restoreState()

    def image(self, png: bytes, at: Point, w: float, h: float) -> None:
        """Draw a PNG image with its lower left corner at a point; what is transparent stays so."""
        from reportlab.lib.utils import ImageReader

        self.canvas.drawImage(ImageReader(io.BytesIO(png)), at[0] * PT, at[1] * PT, w * PT, h * PT, mask="auto")

    def clip(self, x: float, y: float, w: float, h: float) -> None:
        """Clip to a rectangle what is drawn until `unclip`."""
        self.canvas.saveState()
        path = self.canvas.beginPath()
        path.rect(x * PT, y * PT, w * PT, h * PT)
        self.canvas.clipPath(path, stroke=0, fill=0)

    def unclip(self) -> None:
        """End a `clip`."""
        self.canvas.restoreState()

    @property
    def number(self) -> int:
        """Number of the page that is drawn on."""
        return len(self._ended) + 1

    def next(self) -> None:
        """End the page and start another."""
        self._ended.append(dict(self.canvas.__dict__))
        self.canvas._startPage()

    def done(self, last: Callable[[int, int], None] = lambda page, pages: None) -> bytes:
        """End the document and return its bytes.

        Parameters
        ----------
        last : callable
            Draws on each page what depends on how many there are; called with the page's number and their count.
        """
        self._ended.append(dict(self.canvas.__dict__))
        for n, state in enumerate(self._ended, 1):
            self.canvas.__dict__.update(state)
            last(n, len(self._ended))
            self.canvas.showPage()
        self.canvas.save()
        return self._stream.getvalue()


@dataclass(frozen=True, slots=True)
class Placing:
    """From drawing coordinates to the paper: scaled, then shifted.

    Parameters
    ----------
    scale : float
        Paper mm for each mm of the drawing.
    dx, dy : float
        Where the drawing's origin lies on the paper, mm.
    """

    scale: float = 1.0
    dx: float = 0.0
    dy: float = 0.0

    def __call__(self, p: Point) -> Point:
        """Return a point on the paper."""
        return self.dx + self.scale * p[0], self.dy + self.scale * p[1]

    @classmethod
    def centred(cls, scale: float, box: Sequence[float], x: float, y: float, w: float, h: float) -> Placing:
        """Return what puts the middle of a box (xmin, ymin, xmax, ymax) in the middle of an area of the paper."""
        dx, dy = x + (w - scale * (box[0] + box[2])) / 2, y + (h - scale * (box[1] + box[3])) / 2
        return cls(scale, dx, dy)


def chain(points: Sequence[Point]) -> list[Edge]:
    """Return the lines from point to point."""
    return [Edge(a, b) for a, b in pairwise(points)]


def _trace(path: Any, edges: Iterable[Edge], place: Placing) -> None:
    end: Point | None = None
    for e in edges:
        moved = Edge(place(e.start), place(e.end), e.bulge)
        if e.start != end:
            path.moveTo(moved.start[0] * PT, moved.start[1] * PT)
        if moved.is_line:
            path.lineTo(moved.end[0] * PT, moved.end[1] * PT)
        else:
            _arc(path, moved)
        end = e.end


def _arc(path: Any, e: Edge) -> None:
    """Draw an arc as cubic curves of at most 30 degrees: off the circle by less than 1e-7 of its radius."""
    n = max(1, math.ceil(abs(e.sweep) / (math.pi / 6)))
    step = e.sweep / n
    (cx, cy), r = e.centre, e.radius
    k = 4 / 3 * math.tan(step / 4) * r
    a = math.atan2(e.start[1] - cy, e.start[0] - cx)
    for i in range(n):
        a0, a1 = a + i * step, a + (i + 1) * step
        x0, y0 = cx + r * math.cos(a0), cy + r * math.sin(a0)
        x1, y1 = e.end if i == n - 1 else (cx + r * math.cos(a1), cy + r * math.sin(a1))
        numbers = (
            x0 - k * math.sin(a0),
            y0 + k * math.cos(a0),
            x1 + k * math.sin(a1),
            y1 - k * math.cos(a1),
            x1,
            y1,
        )
        path.curveTo(*(v * PT for v in numbers))
