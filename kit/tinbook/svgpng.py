"""The kit's own SVG pictures as PNG: what a page shows that does not trust a notebook, a print, or a code host.

It knows what these pictures are made of (paths of lines and arcs, circles, texts, images) and nothing more; anything
else raises BadValue, so that no picture loses a part in silence.
"""

from __future__ import annotations

import base64
import io
import math
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import pairwise
from typing import Final
from xml.etree import ElementTree as ET

from PIL import Image, ImageChops, ImageDraw, ImageFont

from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Point
from tinbook.values import dataclass

WIDE: Final = 1000
"""Pixels of a picture's width."""
TALL: Final = 900
"""Most pixels of its height."""
FINER: Final = 2
"""Times as fine as it is drawn, before neighbouring pixels are averaged."""
COLOURS: Final = 96
"""Of the palette: lines, shades and their softened rims."""
INK: Final = "#222222"
GROUND: Final = "#ffffff"

_NS: Final = "{http://www.w3.org/2000/svg}"
_STYLED: Final = (
    "fill", "stroke", "stroke-width", "stroke-dasharray", "fill-opacity", "stroke-opacity", "font-size", "text-anchor",
    "font-weight",
)  # fmt: skip
_STEP: Final = re.compile(r"([A-Za-df-z])|(-?[\d.]+(?:e-?\d+)?)")


@lru_cache(maxsize=32)
def svg_png(svg: str) -> bytes:
    """Return a picture as PNG on a white ground, the same bytes every time.

    Parameters
    ----------
    svg : str
        A whole document of this kit's.

    Raises
    ------
    BadValue
        An element or a path that such documents do not have.
    """
    root = ET.fromstring(svg)  # noqa: S314 - our own document
    x, y, w, h = (float(v) for v in root.attrib["viewBox"].split())
    scale = min(WIDE / w, TALL / h) * FINER
    size = max(1, round(w * scale / FINER)), max(1, round(h * scale / FINER))
    canvas = _Canvas(Image.new("RGB", (size[0] * FINER, size[1] * FINER), GROUND), scale, (x, y))
    _draw(canvas, root, {"fill": "#000000", "stroke": "none", "stroke-width": "1", "font-size": "16"})
    small = canvas.image.reduce(FINER)
    out = io.BytesIO()
    small.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(out, "PNG")
    return out.getvalue()


def _draw(canvas: _Canvas, element: ET.Element, above: Mapping[str, str]) -> None:
    for child in element:
        style = dict(above)
        style.update((k, child.attrib[k]) for k in _STYLED if k in child.attrib)
        tag = child.tag.removeprefix(_NS)
        if tag == "g":
            _draw(canvas.within(child.get("transform", "")), child, style)
        elif tag == "path":
            canvas.path(list(_runs(child.attrib["d"])), style, float(child.get("opacity", 1)))
        elif tag == "circle":
            cx, cy, r = (float(child.attrib[k]) for k in ("cx", "cy", "r"))
            ring = [(cx + r * math.cos(k * math.tau / 48), cy + r * math.sin(k * math.tau / 48)) for k in range(49)]
            canvas.path([ring], style, float(child.get("opacity", 1)))
        elif tag == "text":
            moved = child.get("transform", "")
            turn, dx, dy = _turned(moved, (float(child.get("x", 0)), float(child.get("y", 0))))
            mx, my = _moved(moved)
            canvas.text((dx + mx, dy + my), child.text or "", style, turn)
        elif tag == "image":
            x, y, w, h = (float(child.attrib[k]) for k in ("x", "y", "width", "height"))
            canvas.paste((x, y), (w, h), base64.b64decode(child.attrib["href"].partition(",")[2]))
        elif tag not in ("title", "style"):
            raise BadValue("picture", tag, "an element that the kit's pictures have: g, path, circle, text or image")


def _moved(transform: str) -> Point:
    """Return how far a transform moves."""
    found = re.search(r"translate\((-?[\d.]+)[ ,]+(-?[\d.]+)\)", transform)
    return (float(found[1]), float(found[2])) if found else (0.0, 0.0)


def _turned(transform: str, at: Point) -> tuple[float, float, float]:
    """Return by how many degrees a transform turns, and where it carries a point; it may name the centre of the turn."""
    found = re.search(r"rotate\((-?[\d.]+)(?:[ ,]+(-?[\d.]+)[ ,]+(-?[\d.]+))?\)", transform)
    if not found:
        return 0.0, *at
    turn, centre = float(found[1]), (float(found[2] or 0.0), float(found[3] or 0.0))
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    x, y = at[0] - centre[0], at[1] - centre[1]
    return turn, centre[0] + c * x - s * y, centre[1] + s * x + c * y


def _runs(data: str) -> Iterator[list[Point]]:
    """Yield the strokes of a path, arcs as chords."""
    run: list[Point] = []
    command, numbers = "", list[float]()
    wanted = {"M": 2, "L": 2, "H": 1, "V": 1, "h": 1, "A": 7, "Z": 0}
    for letter, number in _STEP.findall(data):
        if letter:
            command, numbers = letter, []
            if command not in wanted:
                raise BadValue("picture path", command, "one of " + ", ".join(wanted))
        else:
            numbers.append(float(number))
        if len(numbers) != wanted.get(command):
            continue
        if command == "M":
            if run:
                yield run
            run = [(numbers[0], numbers[1])]
        elif command == "Z":
            run.append(run[0])
        else:
            x, y = run[-1]
            across = {"H": (numbers[0], y), "h": (x + numbers[0], y), "V": (x, numbers[0])} if len(numbers) == 1 else {}
            end = across.get(command) or (numbers[-2], numbers[-1])
            if command == "A":
                run += _arc((x, y), end, numbers)
            run.append(end)
        command, numbers = ("L" if command == "M" else command), []
    if run:
        yield run


def _arc(start: Point, end: Point, numbers: list[float]) -> list[Point]:
    """Return points between the ends of an arc of SVG."""
    radius, large, clockwise = numbers[0], numbers[3] > 0, numbers[4] > 0
    half = min(1.0, math.dist(start, end) / (2 * radius))
    turn = 2 * math.asin(half)
    turn = math.tau - turn if large else turn
    # y runs downward in SVG: its sweep to the positive side is our turn to the left.
    edge = Edge(start, end, math.tan(turn / 4) * (1 if clockwise else -1))
    n = max(2, math.ceil(turn / math.radians(6)))
    return [edge.at(k / n) for k in range(1, n)]


@dataclass(slots=True)
class _Canvas:
    """An image under way: `scale` pixels a unit of the document whose upper left corner is `low`."""

    image: Image.Image
    scale: float
    low: Point

    def within(self, transform: str) -> _Canvas:
        """Return the same image for what stands in a group that is moved and scaled."""
        (dx, dy), scale = _moved(transform), re.search(r"scale\(([\d.e-]+)\)", transform)
        by = float(scale[1]) if scale else 1.0
        return _Canvas(self.image, self.scale * by, ((self.low[0] - dx) / by, (self.low[1] - dy) / by))

    def place(self, p: Point) -> Point:
        """Return the pixel of a point."""
        return (p[0] - self.low[0]) * self.scale, (p[1] - self.low[1]) * self.scale

    def path(self, runs: list[list[Point]], style: Mapping[str, str], opacity: float) -> None:
        """Fill strokes by the even-odd rule and draw them."""
        width = 0.0 if style["stroke"] == "none" else float(style["stroke-width"]) * self.scale
        placed = [[self.place(p) for p in run] for run in runs]
        # Only the picture's part that is touched.
        margin = width + 2
        x0, y0 = (max(0, math.floor(min(p[k] for run in placed for p in run) - margin)) for k in (0, 1))
        x1, y1 = (min(self.image.size[k], math.ceil(max(p[k] for run in placed for p in run) + margin)) for k in (0, 1))
        if x1 <= x0 or y1 <= y0:
            return
        placed = [[(x - x0, y - y0) for x, y in run] for run in placed]
        if style["fill"] != "none":
            mask = Image.new("1", (x1 - x0, y1 - y0))
            for run in placed:
                _flip(mask, run)
            self._lay(style["fill"], mask.convert("L"), (x0, y0), opacity * float(style.get("fill-opacity", 1)))
        if width > 0:
            mask = Image.new("L", (x1 - x0, y1 - y0))
            pen = ImageDraw.Draw(mask)
            dash = [float(v) * self.scale for v in re.findall(r"[\d.]+", style.get("stroke-dasharray", ""))]
            for run in placed:
                for piece in _dashed(run, dash) if dash else [run]:
                    pen.line(piece, fill=255, width=max(1, round(width)), joint="curve")
            self._lay(style["stroke"], mask, (x0, y0), opacity * float(style.get("stroke-opacity", 1)))

    def text(self, at: Point, text: str, style: Mapping[str, str], turn: float) -> None:
        """Write a text, turned about its place by degrees to the right."""
        size = max(1.0, float(style["font-size"]) * self.scale)
        font = ImageFont.load_default(size)
        anchor = {"middle": "ms", "end": "rs"}.get(style.get("text-anchor", "start"), "ls")
        bold = round(size / 22) if style.get("font-weight") == "bold" else 0
        reach = math.ceil(font.getlength(text) + 2 * size)
        mask = Image.new("L", (2 * reach, 2 * reach))
        ImageDraw.Draw(mask).text((reach, reach), text, fill=255, font=font, anchor=anchor, stroke_width=bold)
        if turn:
            mask = mask.rotate(-turn, resample=Image.Resampling.BICUBIC)
        x, y = self.place(at)
        self._lay(style["fill"], mask, (round(x) - reach, round(y) - reach), 1.0)

    def paste(self, at: Point, size: Point, data: bytes) -> None:
        """Lay an image, transparent where it is."""
        x, y = self.place(at)
        wanted = max(1, round(size[0] * self.scale)), max(1, round(size[1] * self.scale))
        seen = Image.open(io.BytesIO(data)).convert("RGBA").resize(wanted, Image.Resampling.BILINEAR)
        self.image.paste(seen, (round(x), round(y)), seen)

    def _lay(self, colour: str, mask: Image.Image, at: tuple[int, int], share: float) -> None:
        if share < 1:
            mask = mask.point([round(v * share) for v in range(256)])
        box = (*at, at[0] + mask.size[0], at[1] + mask.size[1])
        self.image.paste(INK if colour == "currentColor" else colour, box, mask)


def _flip(mask: Image.Image, run: list[Point]) -> None:
    """Turn over the pixels inside a stroke."""
    x0, y0 = (math.floor(min(p[k] for p in run)) - 1 for k in (0, 1))
    x1, y1 = (math.ceil(max(p[k] for p in run)) + 2 for k in (0, 1))
    if len(run) < 3:
        return
    own = Image.new("1", (x1 - x0, y1 - y0))
    ImageDraw.Draw(own).polygon([(x - x0, y - y0) for x, y in run], fill=1)
    box = (x0, y0, x1, y1)
    mask.paste(ImageChops.logical_xor(mask.crop(box), own), box)


def _dashed(run: list[Point], dash: list[float]) -> Iterator[list[Point]]:
    """Yield the drawn pieces of a stroke; lengths drawn and left out follow each other."""
    lengths = dash * (2 if len(dash) % 2 else 1)
    place, left, drawn = 0, lengths[0], True
    piece = [run[0]]
    for a, b in pairwise(run):
        far, done = math.dist(a, b), 0.0
        while far - done > left:
            done += left
            p = a[0] + (b[0] - a[0]) * done / far, a[1] + (b[1] - a[1]) * done / far
            if drawn:
                yield [*piece, p]
            place, drawn, piece = (place + 1) % len(lengths), not drawn, [p]
            left = max(lengths[place], 1e-3)
        left -= far - done
        piece.append(b)
    if drawn and len(piece) > 1:
        yield piece
