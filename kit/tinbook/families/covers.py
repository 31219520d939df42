"""A cover screwed over an opening: lid or panel, gasket, inserts, washers and screws in place, all from one pattern."""

from __future__ import annotations

from typing import Final

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.families.bolt_patterns import Bolting, screwed
from tinbook.families.calls import thickness_of
from tinbook.families.gaskets import fitted_gasket
from tinbook.fields import Number
from tinbook.flatpattern import FlatPattern
from tinbook.part.assembly import Assembly
from tinbook.part.features import Hole
from tinbook.part.part import Part
from tinbook.shop.fixings import Fixings
from tinbook.space import frame_at
from tinbook.units import Length

LIFT: Final = 100.0
"""mm: a cover in the hand, clear of its longest screws."""


def covered(
    made: Assembly,
    seat: str,
    opening: str,
    holes: Bolting,
    cover: Part,
    *,
    gasket: FlatPattern | None = None,
    squeezed: Length = 0.0,
    fixings: Fixings | None = None,
) -> Assembly:
    """Screw a cover over an opening of a part in an assembly, on a gasket if there is one.

    Parameters
    ----------
    made : Assembly
        With the part as a member.
    seat, opening : str
        The member, and the cut-out in its base panel, as "lid opening" of `lid_opening` or "bay 1" of `dash_frame`.
    holes : Bolting
        The pattern that both parts have too.
    cover : Part
        Its base panel is centred at (0, 0), as that of `tunnel_lid` and `fascia`.
    gasket : FlatPattern, optional
        From `gasket`.
    squeezed : length
        Height of the gasket between seat and cover, mm.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    Assembly
        With the cover under its number as a name, "NUMBER gasket", and insert, washer and screw "NUMBER screw 1" and on;
        the cover lifts off with its screws, 100 mm.
    """
    of_kind(made, Assembly, "covered made", "an Assembly with the part as a member")
    of_kind(holes, Bolting, "covered holes", "a pattern, as `bolting` gives one")
    of_kind(cover, Part, "covered cover", "a Part")
    of_kind(gasket, (FlatPattern, type(None)), "covered gasket", "a blank, as `gasket` gives one")
    place = made.member(seat)
    part = place.thing
    if not isinstance(part, Part):
        raise BadValue("covered seat", seat, "a member that is a part")
    cuts = {h.name: h.centre for h in part.holes if isinstance(h, Hole) and h.loop and h.panel == "base"}
    if opening not in cuts:
        raise UnknownName("covered opening", opening, cuts)
    high = Number("mm", least=0).read(squeezed, "covered squeezed")
    most = gasket.thickness if gasket else 0.0
    if high > most or (gasket is not None and high == 0.0):
        raise BadValue(
            "covered squeezed", squeezed, f"more than 0 and at most {most:g} mm" if gasket else "0: no gasket"
        )
    t, lid = _thickness("covered seat", part), _thickness("covered cover", cover)
    face = place.at @ frame_at((*cuts[opening], t))
    if gasket is not None:
        made = made.add(f"{cover.number} gasket", fitted_gasket(gasket, high), face, flexible=True)
    made = made.add(cover.number, cover, face @ frame_at((0.0, 0.0, high)))
    screw = f"{cover.number} screw"
    made = screwed(made, holes, face, seat=t, lid=lid, gap=high, name=screw, fixings=fixings)
    own = [f"{screw} {i}{what}" for i in range(1, len(holes.points) + 1) for what in ("", " washer")]
    return made.sliding(f"{cover.number} lifted off", [cover.number, *own], along=face.z, by=(0.0, LIFT))


def _thickness(field: str, part: Part) -> float:
    return part.drawn_thickness or thickness_of(field, part.sheet)
