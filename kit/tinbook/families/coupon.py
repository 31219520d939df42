"""Test strips to cut and fold: each labelled with its sheet and tool, its blank a round length."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from tinbook.calc.bending import bend_deduction
from tinbook.errors import BadValue, of_kind
from tinbook.families.calls import helper
from tinbook.making.bends import bend_for
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop
from tinbook.units import angle as degrees
from tinbook.units import positive


@helper
def coupon_blanks(
    shop: Shop,
    sheet: Sheet | str,
    tools: str | Sequence[str],
    *,
    angles: Any = (90.0,),
    length: Any = 120.0,
    width: Any = 30.0,
    strips: int = 6,
) -> tuple[Part, ...]:
    """Return test strips for a sheet and some tools, one part for each tool and angle.

    Parameters
    ----------
    shop : Shop
        Its numbers so far place the fold in the middle; what it has wrong the strips will show.
    sheet : Sheet or str
        What they are cut from.
    tools : str or sequence of str
        Keys of dies, V blocks or folders.
    angles : angle or sequence of angles
        To fold to, degrees turned. Strips at three angles (60, 90, 120) tell radius and K apart.
    length, width : length
        Of the flat strip, mm, the fold across its width.
    strips : int
        How many of each, 2 or more.

    Returns
    -------
    tuple of Part
        Each a strip with one fold; its blank is exactly `length` long and carries the tool as a mark.
    """
    of_kind(shop, Shop, "coupon_blanks", "a Shop")
    key: Any = getattr(sheet, "key", sheet)
    real = shop.sheet_by_key(key)
    of_kind(tools, Iterable, "coupon tools", "the key of a tool, or several")
    long, wide = positive(length, "coupon length"), positive(width, "coupon width")
    if isinstance(strips, bool) or not isinstance(strips, int) or strips < 2:
        raise BadValue("coupon strips", strips, "a whole number from 2: one strip shows no scatter")
    turned = [degrees(a, "coupon angle") for a in (angles if isinstance(angles, (list, tuple)) else (angles,))]
    made = []
    for tool in (tools,) if isinstance(tools, str) else tuple(tools):
        for a in turned:
            if not 1.0 <= a <= 170.0:
                raise BadValue("coupon angle", a, "1 to 170 degrees turned through")
            bend = bend_for(shop, real, angle=a, tool=tool, leg=long / 2, length=wide, field="coupon")
            assert bend.k is not None
            leg = (long + bend_deduction(a, bend.radius, bend.k, real.thickness)) / 2
            part = Part(
                _number(key, tool, a),
                sheet=key,
                base=Outline.rectangle(wide, leg, ("fold", "right", "end", "left")),
                title=f"Test strip, {key} on {tool}, {a:g} degrees",
                quantity=strips,
            ).fold("fold", "up", leg=leg, angle=a, tool=tool)
            made.append(
                part.text(f"{tool} {a:g}", (4, leg - 12), height=5).text(f"L {long:g}", (4, leg - 20), height=5)
            )
    return tuple(made)


def _number(sheet: str, tool: str, angle: float) -> str:
    def plain(text: str) -> str:
        return "".join(c if c.isascii() and (c.isalnum() or c in "._") else "-" for c in text).strip("-._") or "X"

    return f"TS-{plain(sheet)}-{plain(tool)}-{angle:g}"[:40]
