"""The result of `make`: the folded part with its declaration, its shop, its flat pattern and the findings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import tinbook.making.preview as previews
import tinbook.making.solid as solids
from tinbook.errors import CannotMake, of_kind
from tinbook.finding import NOTHING, Findings
from tinbook.flatpattern import FlatPattern
from tinbook.making.folded import BendZone, Folded, MadePanel
from tinbook.memo import Remembers
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.making.preview.build import Preview
    from tinbook.part.part import Part
    from tinbook.shop.material import Sheet
    from tinbook.shop.shop import Shop


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made(Remembers):
    """A part resolved on a shop's tools: complete, frozen, ready for every view.

    Parameters
    ----------
    part, shop, sheet
        The declaration, the workshop whose tools make it, and the sheet.
    folded : Folded
        Thickness (measured if the shop gives one, else nominal), panels and bends; no panels when a stop
        finding made it impossible.
    flat : FlatPattern or None
        The blank, None when it could not be resolved.
    findings : Findings
        Of resolving it, worst first.
    """

    part: Part
    shop: Shop
    sheet: Sheet
    folded: Folded
    flat: FlatPattern | None
    findings: Findings = NOTHING

    def __repr__(self) -> str:
        state = "made" if self.ok else "cannot be made"
        return f"<{self.part.number} rev {self.part.rev} of {self.sheet.key}: {len(self.panels)} panels, {state}>"

    @property
    def ok(self) -> bool:
        """Whether nothing forbids making it."""
        return self.flat is not None and not self.findings.stops

    @property
    def thickness(self) -> float:
        """Thickness of the sheet, mm."""
        return self.folded.thickness

    @property
    def panels(self) -> tuple[MadePanel, ...]:
        """The flat panels, the base first."""
        return self.folded.panels

    @property
    def strips(self) -> tuple[BendZone, ...]:
        """The folds, in the part's order; bends that forms bring are in `folded.zones` only."""
        return tuple(z for z in self.folded.zones if not z.formed)

    def panel(self, name: str) -> MadePanel:
        """Return a panel by name."""
        return self.folded.panel(name)

    @property
    def solid(self) -> Any:
        """The folded part as one CadQuery Solid; raises CannotMake with the stop findings."""
        self._need_sound()
        return solids.build.solid(self.folded, name=self.part.number)

    @property
    def shape(self) -> Any:
        """The folded part as one solid of the geometry kernel; raises CannotMake with the stop findings."""
        self._need_sound()
        return solids.build.shape(self.folded, name=self.part.number)

    def _need_sound(self) -> None:
        if self.findings.stops:
            raise CannotMake(f"{self.part.number}: no solid: " + "; ".join(map(str, self.findings.stops)))

    @property
    def preview(self) -> Preview:
        """Triangles of the folded part."""
        return previews.build.preview(self.folded)

    @property
    def mass(self) -> float:
        """Mass in kg, from the net area of panels and bends (forming takes no metal away)."""
        return self.folded.mass


def need_made(thing: object, what: str) -> None:
    """Raise BadValue for anything but a made part; the message says which call gives one."""
    of_kind(thing, Made, what, "a made part, as tb.make(part, shop) gives one")
