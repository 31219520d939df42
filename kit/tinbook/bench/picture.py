"""Everything the workbench shows of one part, worked out without any widget."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tinbook.bench.tables import numbers
from tinbook.finding import Finding, stops, worst_first
from tinbook.make.shape import Shape, shape_of
from tinbook.svg import flat_svg

if TYPE_CHECKING:
    from tinbook.make.made import Made
    from tinbook.part.part import Part
    from tinbook.shop.shop import Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What is shown of one part.

    Parameters
    ----------
    made : Made
        The part on the shop's tools.
    findings : tuple of Finding
        From making and from the live checks, worst first.
    shape : Shape or None
        Folded part as bytes, None when a stop finding left nothing to draw.
    svg : str
        Flat pattern, "" when there is none.
    numbers : list of (name, value)
        For the strip.
    """

    made: Made
    findings: tuple[Finding, ...]
    shape: Shape | None
    svg: str
    numbers: list[tuple[str, str]]


def picture(part: Part, shop: Shop) -> Picture:
    """Make a part and work out what is shown while sliding: triangles, flat pattern, live checks, numbers."""
    from tinbook.check.rules import check
    from tinbook.make.resolve import make

    made = make(part, shop)
    findings = worst_first(check(made, shop, kind="live"))
    if made.flat is None or not made.panels:
        return Picture(made=made, findings=findings, shape=None, svg="", numbers=[])
    return Picture(
        made=made,
        findings=findings,
        shape=shape_of(made),
        svg=flat_svg(made.flat, dims=True, keys=True),
        numbers=numbers(made),
    )


def cause(findings: tuple[Finding, ...]) -> str:
    """Return the first stop finding as one sentence, "" without one."""
    found = stops(findings)
    return f"{found[0].where}: {found[0].what}" if found else ""
