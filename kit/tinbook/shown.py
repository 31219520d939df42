"""How the kit's SVG pictures show themselves: beside each a PNG, for a page that does not trust the notebook."""

from __future__ import annotations

import base64
import re
from html import unescape
from typing import Any


class Shown:
    """What shows itself in a notebook as SVG, and beside it as PNG for a page that does not trust the notebook."""

    __slots__ = ()

    def _repr_svg_(self) -> str:
        raise NotImplementedError

    def _repr_png_(self) -> tuple[bytes, dict[str, str]]:
        svg = self._repr_svg_()
        return _png(svg), described(svg)["image/png"]


def picture_html(svg: str) -> str:
    """Return an image element with a picture as PNG, which a page shows whether it trusts the notebook or not."""
    data = base64.b64encode(_png(svg)).decode()
    return f'<img style="max-width:100%" alt="{_title(svg)}" src="data:image/png;base64,{data}"/>'


def _title(svg: str) -> str:
    """Return the title of a picture as it stands in it, "" for none."""
    title = re.search(r"<title>(.*?)</title>", svg)
    return title[1] if title else ""


def described(svg: str) -> dict[str, dict[str, str]]:
    """Return what a notebook stores about a picture, by type: its title as the text that stands for it."""
    return {kind: {"alt": unescape(_title(svg))} for kind in ("image/svg+xml", "image/png")}


def stored(svg: str) -> dict[str, str]:
    """Return a picture as a notebook stores it, by type: SVG, and PNG in base64."""
    return {"image/svg+xml": svg, "image/png": base64.b64encode(_png(svg)).decode()}


def with_still(bundle: Any, svg: str, text: str) -> Any:
    """Return what a widget shows itself as, with the picture and the text that stay where no kernel runs it."""
    if not isinstance(bundle, dict):
        return bundle
    if not svg:
        return {**bundle, "text/plain": text}
    return {**bundle, **stored(svg), "text/plain": text}, described(svg)


def _png(svg: str) -> bytes:
    from tinbook.svgpng import svg_png  # loads Pillow

    return svg_png(svg)
