"""A picture of gaps: metal in bands of colour, and what each band means."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
from PIL import Image

from tinbook.fit.surface import Surface
from tinbook.making.preview import raster
from tinbook.making.preview.view import Seen, View, normals
from tinbook.plane.loops import Array, Point
from tinbook.plot import text
from tinbook.space import Frame, Vec, cross, negative, unit
from tinbook.svg import Picture, document, num

BANDS: Final = (-2.0, -1.0, -0.3, 0.3, 1.0, 2.0, 5.0)
"""mm: where one colour ends and the next begins."""
COLOURS: Final = (
    (0x3B, 0x0F, 0x70), (0x7A, 0x4F, 0xB0), (0xB4, 0x98, 0xDA), (0xEC, 0xE8, 0xD2), (0xF2, 0xC5, 0x6D), (0xE0, 0x8A, 0x2E),
    (0xB4, 0x53, 0x0B), (0x6E, 0x26, 0x05),
)  # fmt: skip
"""Violet where metal runs into metal, pale where it lies on, brown where it stands off: told apart by lightness too."""
NONE: Final = (0xC9, 0xCC, 0xCE)
"""Where nothing lies opposite."""
FINE: Final = 700


def view_of(frame: Frame, down: bool) -> View:
    """Return the view square onto a part's base panel, from above or from below, its x to the right."""
    eye = negative(frame.z) if down else frame.z
    return View(frame.x, cross(eye, frame.x), eye)


def corner_of(frame: Frame, down: bool) -> View:
    """Return the view of a part from a corner, above or below its base panel."""
    eye = unit(frame.vector(0.45, -0.6, -0.75 if down else 0.75))
    right: Vec = unit(cross(frame.z, eye))
    return View(right, cross(eye, right), eye)


def gap_svg(
    surface: Surface,
    gaps: Array,
    view: View,
    title: str,
    marks: Sequence[tuple[str, Vec]] = (),
    bands: Sequence[float] = BANDS,
    heads: tuple[str, str] = ("gap, mm", "below 0: in the metal"),
) -> Picture:
    """Return made metal coloured by its gaps.

    Parameters
    ----------
    surface : Surface
        Of metal.
    gaps : array, shape (m,)
        Of its triangles, mm; NaN where nothing lies opposite.
    view : View
        Which way one looks.
    title : str
        Above the legend.
    marks : sequence of (str, (x, y, z))
        Words at places of the body.
    bands : sequence of float
        Where one colour ends and the next begins, mm; at most seven.
    heads : (str, str)
        Above the legend and below it.
    """
    seen = Seen(
        points=view.flat(surface.points),
        triangles=surface.triangles,
        item=np.zeros(len(surface.triangles), np.int64),
        lines=np.zeros((0, 2, 3)),
        kinds=np.zeros(0, np.int64),
    )
    grid = raster.grid_over(seen, FINE)
    which = raster.nearest(seen, grid)
    band = np.where(np.isnan(gaps), len(COLOURS), np.searchsorted(bands, np.nan_to_num(gaps)))
    colours = np.array([*COLOURS, NONE], float)
    light = 0.72 + 0.28 * np.abs(normals(seen.points, seen.triangles)[:, 2])
    pixels = np.where((which >= 0)[:, :, None], colours[band[which]] * light[which][:, :, None], 255.0)
    x0, y0 = grid.low
    wide, high = grid.columns * grid.pitch, grid.rows * grid.pitch
    size = max(wide, high) / 40
    image = (
        f'<g font-family="sans-serif" font-size="{num(size)}" fill="currentColor" stroke="none">\n'
        f'<image x="{num(x0)}" y="{num(-y0 - high)}" width="{num(wide)}" height="{num(high)}" '
        f'preserveAspectRatio="none" href="data:image/png;base64,{_png(pixels[::-1], which[::-1] < 0)}"/>\n'
    )
    body = [image]
    for words, place in marks:
        x, y = view.flat(np.array([place]))[0, :2].tolist()
        body.append(f'<circle cx="{num(x)}" cy="{num(-y)}" r="{num(size / 3)}" fill="none" stroke="currentColor"/>\n')
        body.append(text(x + size / 2, -y - size / 3, words, "start"))
    at = (x0 + wide + size, y0 + high)
    body += _legend(at, size, bool(np.isnan(gaps).any()), bands, heads)
    box = (x0, min(y0, at[1] - 1.5 * size * (len(COLOURS) + 3)), x0 + wide + 13 * size, y0 + high)
    return Picture(document(box, "".join(body) + "</g>\n", title=title, margin=size))


def _legend(at: Point, size: float, some_free: bool, bands: Sequence[float], heads: tuple[str, str]) -> list[str]:
    """Return a box and words for each colour, the largest gap on top."""
    x, y = at
    words = [
        f"over {bands[-1]:g}",
        *(f"{a:g} to {b:g}" for a, b in zip(bands[-2::-1], bands[:0:-1], strict=True)),
        f"under {bands[0]:g}",
    ]
    rows = list(zip(words, COLOURS[: len(bands) + 1][::-1], strict=True))
    if some_free:
        rows.append(("nothing near", NONE))
    out = [text(x, -y + size, heads[0], "start", ' font-weight="bold"')]
    for k, (word, (r, g, b)) in enumerate(rows, 1):
        top = -y + 1.5 * size * k
        low = num(top + 1.1 * size)
        out.append(
            f'<path d="M{num(x)} {num(top)}h{num(1.4 * size)}L{num(x + 1.4 * size)} {low}L{num(x)} {low}Z" '
            f'fill="#{r:02x}{g:02x}{b:02x}" stroke="currentColor" stroke-width="{num(size / 12)}"/>\n'
        )
        out.append(text(x + 2 * size, top + 0.9 * size, word, "start"))
    out.append(text(x, -y + 1.5 * size * (len(rows) + 1) + 0.9 * size, heads[1], "start"))
    return out


def _png(pixels: Array, clear: npt.NDArray[np.bool_]) -> str:
    """Return rows of red, green and blue, 0 to 255, as PNG in base64, clear where a mask says; the same bytes every time."""
    out = io.BytesIO()
    image = Image.fromarray(np.rint(pixels).astype(np.uint8), "RGB")
    few = image.quantize(63, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    # One colour more, which nothing else has: the page shows through it.
    known = (few.getpalette() or [])[: 3 * 63]
    few.putpalette([*known, *[255] * (3 * 64 - len(known))])
    few.paste(63, mask=Image.fromarray(clear))
    few.save(out, "PNG", optimize=True, transparency=63)
    return base64.b64encode(out.getvalue()).decode()
