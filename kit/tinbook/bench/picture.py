"""The content of the workbench for one part, computed without widgets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

import tinbook as tb
import tinbook.rules as rules
from tinbook.bench.tables import assembly_numbers, numbers
from tinbook.finding import Findings
from tinbook.making.assembled import Assembled, assemble, assemble_like
from tinbook.making.resolve import make, make_like
from tinbook.making.shape import Shape, shape_of
from tinbook.part.assembly import Assembly
from tinbook.svg import flat_svg
from tinbook.values import dataclass
from tinbook.write.scene import Scene, scene_of

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.part.part import Part
    from tinbook.shop.shop import Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The content of the workbench for one part or assembly.

    Parameters
    ----------
    made : Made or Assembled
        The part, or the assembly with its parts, on the shop's tools.
    findings : Findings
        From making and from the live checks, worst first.
    shape : Shape, Scene or None
        Folded part or assembly as bytes, None when a stop finding left nothing to draw.
    svg : str
        Flat pattern, "" when there is none.
    numbers : list of (name, value)
        For the strip.
    """

    made: Made | Assembled
    findings: Findings
    shape: Shape | Scene | None
    svg: str
    numbers: list[tuple[str, str]]


First: TypeAlias = Callable[["Made | Assembled", "Shape | Scene"], None]
"""Gets the folded shape as soon as it is there, so that it can be on its way while the rest is worked out."""


def picture(
    part: Part | Assembly, shop: Shop, first: First | None = None, before: Made | Assembled | None = None
) -> Picture:
    """Make a part or an assembly and compute what is shown while a slider moves.

    Of a part these are triangles, flat pattern, live rules and numbers; of an assembly its members at their places,
    the live rules of each part, and numbers.

    Parameters
    ----------
    part, shop
        What, and on whose tools.
    first : callable, optional
        See `First`.
    before : Made or Assembled, optional
        What the slider's last place gave: its machines are taken over where the folds are the same but for their
        sizes (`make_like`); `choose_machines` asks again once the slider rests.
    """
    known = before if before is not None and before.shop is shop else None
    if isinstance(part, Assembly):
        return picture_of(assemble_like(part, known) if isinstance(known, Assembled) else assemble(part, shop), first)
    return picture_of(
        make(part, shop) if known is None or isinstance(known, Assembled) else make_like(part, known), first
    )


def picture_of(made: Made | Assembled, first: First | None = None) -> Picture:
    """Compute what is shown of a made part or assembly; see `picture`."""
    if isinstance(made, Assembled):
        return _assembly_picture(made, first)
    shape, svg, strip = None, "", list[tuple[str, str]]()
    if made.flat is not None and made.panels:
        shape = shape_of(made)
        if first is not None:
            first(made, shape)
        svg, strip = flat_svg(made.flat, dims=True, keys=True), numbers(made)
    return Picture(made=made, findings=rules.registry.live(made), shape=shape, svg=svg, numbers=strip)


def _assembly_picture(made: Assembled, first: First | None) -> Picture:
    shape, strip = None, list[tuple[str, str]]()
    if made.ok and made.assembly.members:
        shape = scene_of(made)
        if first is not None:
            first(made, shape)
        strip = assembly_numbers(made)
    own = [replace(f, where=f"{part.number}: {f.where}") for part, one in made.made for f in rules.registry.live(one)]
    return Picture(made=made, findings=Findings(own), shape=shape, svg="", numbers=strip)


def still_of(shown: Picture | None) -> str:
    """Return the SVG that stays in a stored notebook, where no kernel runs the workbench; "" for none."""
    if shown is None or shown.shape is None:
        return ""
    made = shown.made
    return tb.write.assembled_svg(made) if isinstance(made, Assembled) else tb.folded_svg(made)
