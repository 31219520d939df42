"""Front joiners between two rails, and temporary braces that hold a body while its floor is out.

A joiner stands as it is used: x from rail to rail, z up, its web in the plane y = 0.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Annotated, Final, Literal

from tinbook.families.calls import family, plate_of, require_between
from tinbook.fields import Range
from tinbook.part.assembly import Assembly
from tinbook.part.joints import Plate, Process, tab_and_slot
from tinbook.part.laps import half_lap
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge
from tinbook.shop.material import OwnPlate
from tinbook.space import frame_at

ME: Final = "front_joiner"
CAUTIONS: Final = ("A joiner that carries suspension, steering or a towing load needs a licensed engineer's design.",)


@family
def front_joiner(
    span: Annotated[float, Range(300, 900, 5, "mm")] = 640.0,
    height: Annotated[float, Range(70, 140, 1, "mm")] = 90.0,
    plate_width: Annotated[float, Range(90, 160, 1, "mm")] = 110.0,
    ribs: Annotated[int, Range(1, 5)] = 3,
    thickness: Literal[4, 5, 6] = 5,
    grade: Literal["S355", "S235"] = "S235",
    cut: Literal["laser", "waterjet", "plasma"] = "laser",
    sheet: OwnPlate = "",
    number: str = "FRONT-JOINER",
    rev: str = "A",
) -> Assembly:
    """Return a joiner: a web tabbed into two end plates, stiffened by ribs half-lapped across it.

    Parameters
    ----------
    span : float
        From rail to rail, end plates included.
    height : float
        Of the web.
    plate_width : float
        Of the end plates along the rails; four M10 each.
    ribs : int
        Across the web, evenly.
    thickness : {4, 5, 6}
        Of all plates, mm.
    grade : {"S355", "S235"}
        Steel.
    cut : {"laser", "waterjet", "plasma"}
        Decides the play of the joints.
    sheet : Sheet or str, optional
        The shop's own plate, with its thickness ("" for none), instead of `thickness` and `grade`.
    number, rev : str
        Of the assembly; web -1, end plate -2, rib -3.
    """
    require_between(f"{ME} ribs", ribs, 1, min(5, int((span - 40) // 100)), f"100 mm between them on {span:g} mm", "")
    plate, most = plate_of(f"{ME} sheet", sheet, grade, thickness)
    t = plate.thickness
    web, ends, across = _plates(span, height, plate_width, ribs, t, most, cut)
    body = web.part(f"{number}-1", sheet=plate, rev=rev, title="joiner web", mark_height=5, cautions=CAUTIONS)
    end = ends[0].part(f"{number}-2", sheet=plate, rev=rev, title="end plate", mark_height=5, cautions=CAUTIONS)
    tall = height + 40
    corners = [(x, y) for x in (20.0, plate_width - 20) for y in (20.0, tall - 20)]
    for i, corner in enumerate(corners, 1):
        end = end.hole(corner, use="bolt", size="M10", name=f"rail {i}")
    rib = across[0].part(f"{number}-3", sheet=plate, rev=rev, title="rib", mark_height=5, cautions=CAUTIONS)
    made = Assembly(number, rev=rev, title="front joiner", cautions=CAUTIONS).add("web", body, web.at)
    throat = round(max(0.7 * t, 3.0), 1)  # EN 1993-1-8 4.5.2 from 4 mm on
    for i, p in enumerate(across, 1):
        made = made.add(f"rib {i}", rib, p.at).weld(
            "web", f"rib {i}", throat=throat, length=4 * height, note="four corners"
        )
    for name, p in (("end left", ends[0]), ("end right", ends[1])):
        made = made.add(name, end, p.at).weld(
            "web", name, throat=throat, length=height, sides="both", note="tabs from outside"
        )
    return made


def _plates(
    span: float, height: float, wide: float, ribs: int, t: float, most: float, cut: Process
) -> tuple[Plate, tuple[Plate, Plate], list[Plate]]:
    """Return web, end plates and ribs, joined."""
    long = span - 2 * t
    outline = Outline.rectangle(long, height, ("bottom", "right", "top", "left")).moved(-long / 2, 0.0)
    plate = partial(Plate, thickness=t, thickest=most)
    # Sheet in the middle of y, seen from the front.
    web = plate(outline=outline, at=frame_at((0.0, t / 2, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    face = Outline.rectangle(wide, height + 40, ("bottom", "rear", "top", "front"))
    # One part at both ends: the right one is the left one turned about z.
    left = plate(outline=face, at=frame_at((-span / 2 + t, wide / 2, -20.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0)))
    right = replace(left, at=frame_at((span / 2 - t, -wide / 2, -20.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    # The web's ends are run opposite ways; with both wide tabs at the top the end plates come out alike.
    web, left = tab_and_slot(web, "left", left, process=cut, mark="A")
    web, right = tab_and_slot(web, "right", right, process=cut, mark="A", wide_at="end")
    across = []
    cross_section = Outline.rectangle(wide - 20, height, ("bottom", "right", "top", "left")).moved(
        -(wide - 20) / 2, 0.0
    )
    for k in range(ribs):
        x = -long / 2 + (k + 1) * long / (ribs + 1)
        rib = plate(outline=cross_section, at=frame_at((x - t / 2, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
        rib, web = half_lap(rib, web, process=cut, mark="R")
        across.append(rib)
    return web, (left, right), across


@family
def temporary_brace(
    span: Annotated[float, Range(300, 2000, 5, "mm")] = 900.0,
    take_up: Annotated[float, Range(0, 60, 1, "mm")] = 30.0,
    width: Annotated[float, Range(40, 80, 1, "mm")] = 50.0,
    thickness: Literal[4, 5, 6] = 5,
    number: str = "BRACE",
    rev: str = "A",
) -> Part:
    """Return a flat brace that is bolted across an opening before the floor is cut out, slotted at one end.

    Parameters
    ----------
    span : float
        Between the bolts' centres, at the middle of the slot.
    take_up : float
        How far the slot lets the span be set; 0 for a round hole.
    width : float
        mm.
    thickness : {4, 5, 6}
        mm, S235.

    Returns
    -------
    Part
        The slot's end carries the mark "SET".
    """
    r, dia = width / 2, 13.5
    half = span / 2 + take_up / 2

    corners = [(-half, -r), (half, -r), (half, r), (-half, r)]
    names, bulges = ("front", "right", "rear", "left"), (0.0, 1.0, 0.0, 1.0)
    ends = [*corners[1:], corners[0]]
    base = Outline.from_edges([Edge(*each) for each in zip(corners, ends, bulges, names, strict=True)])
    part = Part(number, rev=rev, sheet=f"S235 {thickness:.1f}", base=base, title="temporary brace")
    part = part.hole((-span / 2, 0.0), use="bolt", size="M12", name="fixed")
    if take_up:
        part = part.hole((span / 2, 0.0), dia, length=dia + take_up, use="bolt", size="M12", name="slot")
        return part.text("SET", (span / 2 - take_up / 2 - 50, -4.0), height=8)
    return part.hole((span / 2, 0.0), use="bolt", size="M12", name="far")
