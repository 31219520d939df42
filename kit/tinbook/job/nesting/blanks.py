"""Blanks from made parts and from the flats of strangers' files."""

from __future__ import annotations

from tinbook.errors import of_kind
from tinbook.flatpattern import FlatPattern
from tinbook.job.nesting.layout import QUARTER_TURNS, Blank
from tinbook.job.nesting.micro import micro_joints
from tinbook.making.made import Made
from tinbook.shop.cutting import JointRule
from tinbook.write.dxf import strokes_by_layer
from tinbook.write.names import blank_of


def blank_for_nesting(
    thing: Made | FlatPattern,
    quantity: int = 1,
    *,
    angles: tuple[float, ...] = QUARTER_TURNS,
    grain: float | None = None,
    turn_over: bool = False,
    priority: int = 0,
    joints: JointRule | None = None,
) -> Blank:
    """Return what is cut of a made part or a flat.

    Parameters
    ----------
    thing : Made or FlatPattern
        Its contours, with the holes that the cutter makes.
    quantity, angles, grain, turn_over, priority
        See `Blank`. A blank with marks is not turned over unless `turn_over` says that they may face down.
    joints : JointRule, optional
        Micro-joints that tie it to its sheet, as `cutter.joints(thickness)` gives them; else none.

    Returns
    -------
    Blank

    Raises
    ------
    CannotMake
        Something stops the part.
    """
    if joints is not None:
        of_kind(joints, JointRule, "joints", "what cutter.joints(thickness) gives, or None")
    flat = blank_of(thing)
    etches = not isinstance(thing, Made) or thing.shop.cutter_for(thing.sheet).etches
    name = f"{thing.part.number} rev {thing.part.rev}" if isinstance(thing, Made) else flat.name
    return Blank(
        name=name,
        outer=flat.outer.anticlockwise(),
        holes=tuple(cut.loop.anticlockwise() for cut in flat.inner),
        quantity=quantity,
        angles=angles,
        grain=grain,
        turn_over=turn_over,
        priority=priority,
        strokes=tuple((layer, e) for layer, edges in strokes_by_layer(flat, etches).items() for e in edges),
        joints=() if joints is None else micro_joints(thing, flat, joints),
    )
