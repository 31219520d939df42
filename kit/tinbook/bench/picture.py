"""The content of the workbench for one part, computed without widgets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tinbook.bench.tables import numbers
from tinbook.finding import Findings
from tinbook.making.resolve import make, make_like
from tinbook.making.shape import Shape, shape_of
from tinbook.svg import flat_svg

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.part.part import Part
    from tinbook.shop.shop import Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The content of the workbench for one part.

    Parameters
    ----------
    made : Made
        The part on the shop's tools.
    findings : Findings
        From making and from the live checks, worst first.
    shape : Shape or None
        Folded part as bytes, None when a stop finding left nothing to draw.
    svg : str
        Flat pattern, "" when there is none.
    numbers : list of (name, value)
        For the strip.
    """

    made: Made
    findings: Findings
    shape: Shape | None
    svg: str
    numbers: list[tuple[str, str]]


def picture(
    part: Part, shop: Shop, first: Callable[[Made, Shape], None] | None = None, before: Made | None = None
) -> Picture:
    """Make a part and compute what is shown while a slider moves: triangles, flat pattern, live rules, numbers.

    Parameters
    ----------
    part, shop
        What, and on whose tools.
    first : callable, optional
        Gets the folded part as soon as it is there, so that it can be on its way while the rest is worked out.
    before : Made, optional
        The part of the slider's last place: its machines are taken over where the folds are the same but for their
        sizes (`make_like`); `choose_machines` asks again once the slider rests.
    """
    made = make(part, shop) if before is None or before.shop is not shop else make_like(part, before)
    return picture_of(made, first)


def picture_of(made: Made, first: Callable[[Made, Shape], None] | None = None) -> Picture:
    """Compute what is shown of a made part; see `picture`."""
    from tinbook.rules.registry import live

    shape, svg, strip = None, "", list[tuple[str, str]]()
    if made.flat is not None and made.panels:
        shape = shape_of(made)
        if first is not None:
            first(made, shape)
        svg, strip = flat_svg(made.flat, dims=True, keys=True), numbers(made)
    return Picture(made=made, findings=live(made), shape=shape, svg=svg, numbers=strip)


def cause(findings: Findings) -> str:
    """Return the first stop finding as one sentence, "" without one."""
    found = findings.stops
    return f"{found[0].where}: {found[0].what}" if found else ""
