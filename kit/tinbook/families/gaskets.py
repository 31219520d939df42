"""A gasket's blank from the same pattern as lid and seat, and the rules for its squeeze and the pitch of its bolts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Final

from tinbook.calc.beams import beam_deflection
from tinbook.errors import UnknownName
from tinbook.families.bolt_patterns import Bolting
from tinbook.families.calls import Size, family, helper
from tinbook.fields import Range
from tinbook.finding import Finding, fine, stop
from tinbook.flatpattern import Cut, FlatPattern
from tinbook.part.bought import Bought, Piece
from tinbook.plane.loops import circle
from tinbook.rules.rule import family_rule
from tinbook.space import frame_at
from tinbook.values import dataclass

BACK: Final = 1.0
"""mm: how far a gasket stays back from the lid's edge and the opening (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GasketStuff:
    """What a gasket is cut from; numbers of common practice, the maker's own data sheet goes first.

    Parameters
    ----------
    name : str
        Plain name.
    squeeze : (float, float)
        Least and most, as a share of the thickness.
    pressure : float
        On its face at the usual squeeze, MPa.
    density : float
        kg/m³.
    """

    name: str
    squeeze: tuple[float, float]
    pressure: float
    density: float


STUFFS: Final = {
    "EPDM-foam": GasketStuff(name="closed-cell EPDM", squeeze=(0.25, 0.50), pressure=0.05, density=130.0),
    "EPDM": GasketStuff(name="solid EPDM", squeeze=(0.10, 0.25), pressure=0.7, density=1150.0),
    "NBR": GasketStuff(name="solid NBR", squeeze=(0.10, 0.25), pressure=0.8, density=1200.0),
}
"""Common practice: EPDM for water, glycol and weather, NBR for oil and diesel; closed cells for thin, soft lids."""


@family
def gasket(
    holes: Bolting,
    thickness: Annotated[float, Range(1, 12, 0.5, "mm")] = 4.0,
    stuff: str = "EPDM-foam",
    name: str = "GASKET",
) -> FlatPattern:
    """Return the blank of a gasket.

    Parameters
    ----------
    holes : Bolting
        The pattern that lid and seat have too.
    thickness : float
        Free thickness, 1 to 12 mm.
    stuff : str
        Key of `STUFFS`.
    name : str
        Part number.

    Returns
    -------
    FlatPattern
        Its holes are the screws' nominal diameter: rubber is cut without play, so that it seals and stays in place.
    """
    if stuff not in STUFFS:
        raise UnknownName("gasket stuff", stuff, STUFFS)
    cuts = [Cut(loop=holes.frame(BACK), name="opening", use="cut-out")]
    dia = float(holes.size[1:])
    cuts += [Cut(loop=circle(p, dia), name=f"screw {i + 1}", use="bolt", dia=dia) for i, p in enumerate(holes.points)]
    outer = holes.frame(holes.land - BACK)
    return FlatPattern(name=name, thickness=thickness, outer=outer, cuts=tuple(cuts), material=stuff)


@helper
def fitted_gasket(blank: FlatPattern, squeezed: Size) -> Bought:
    """Return the gasket pressed to `squeezed` mm, standing on z = 0, for an assembly."""
    kind = STUFFS[blank.material]
    piece = Piece(outer=blank.outer, holes=tuple(c.loop for c in blank.cuts), height=squeezed, at=frame_at())
    mass = blank.area * blank.thickness * kind.density * 1e-9
    long, wide = blank.size
    return Bought(
        name=f"gasket {blank.name}, {blank.thickness:g} mm {kind.name}",
        pieces=(piece,),
        mass=mass,
        stuff="rubber",
        unit="m2",
        raw=f"{kind.name}, {blank.thickness:g} mm",
        amount=long * wide * 1e-6,
    )


def gasket_push(blank: FlatPattern) -> float:
    """Return what a gasket at its usual squeeze pushes a lid off its seat with, N; common practice, not the maker's word.

    Parameters
    ----------
    blank : FlatPattern
        From `gasket`.
    """
    return STUFFS[blank.material].pressure * blank.area


@family_rule
@helper
def gasket_findings(
    holes: Bolting, blank: FlatPattern, lid: Size, squeezed: Size, youngs: float = 210_000.0
) -> Iterator[Finding]:
    """Check squeeze and bolt pitch of a lid on its gasket.

    Parameters
    ----------
    holes, blank
        The pattern and the gasket.
    lid : float
        Thickness of the lid, mm.
    squeezed : float
        Height of the gasket between seat and lid, mm.
    youngs : float
        Of the lid, MPa.

    Returns
    -------
    Findings
        `gasket.squeeze` and `gasket.pitch`. Between two screws the lid's rim, a strip as wide as the land, is a
        beam clamped at both ends under the gasket's pressure; it may lift by a tenth of the free thickness.
    """
    kind, t = STUFFS[blank.material], blank.thickness
    share, (low, high) = 1 - squeezed / t, kind.squeeze
    good = low - 1e-9 <= share <= high + 1e-9
    nearest = t * (1 - min(max(share, low), high))
    what = f"{kind.name} is squeezed by {share:.0%}; {low:.0%} to {high:.0%} seals and lasts"
    if good:
        yield fine("gasket.squeeze", "squeezed", what, squeezed, nearest)
    else:
        yield stop("gasket.squeeze", "squeezed", what, f"distance sleeves of {nearest:g} mm", squeezed, nearest)
    bends = youngs * holes.land * lid**3 / 12
    lift = beam_deflection(holes.pitch, bends, "clamped", load=kind.pressure * holes.land)
    most = holes.pitch * (0.1 * t / lift) ** 0.25
    what = f"between two screws the lid lifts by {lift:.2f} mm"
    if lift <= 0.1 * t:
        yield fine("gasket.pitch", "pitch", what, holes.pitch, most, source="Roark")
    else:
        remedy = f"screws at most {most:.0f} mm apart, a thicker lid, or a softer gasket"
        yield stop("gasket.pitch", "pitch", what, remedy, holes.pitch, most, source="Roark")
