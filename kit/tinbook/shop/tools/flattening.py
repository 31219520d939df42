"""Work on the bench: bars that press a hem down, or close a fold, and the bar that a curl is rolled round."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import shapely

from tinbook.shop.tools.machine import Machine
from tinbook.shop.tools.outlines import GAP, mirrored
from tinbook.shop.tools.setups import AtBack, FoldDemand, Setup, ToolBody, centred
from tinbook.shop.tools.strokes import BendStroke

PRESSED: Final = 175.0
"""Degrees: what turns further is pressed flat, what turns less is closed over a bar."""

FLATTEN: Final = BendStroke(
    name="press flat",
    around=False,
    in_throat=False,
    no_gauge="flattening needs none",
    second=True,
    names=(("closed", "press flat"), ("open", "press to its gap"), ("*", "close over a bar")),
)
BY_HAND: Final = BendStroke(
    name="by hand", around=False, no_gauge="the machine has no gauge", by_hand=True, names=(("*", "curl"),)
)


def bench(who: str) -> Machine:
    """Return what stands for a machine where a bar on the bench does: it has no limits that one could state."""
    title = "a bar on the bench"
    return Machine(key=BY_HAND.name, title=title, kind="folder", who=who, own=True, source="common practice")


def over_bar(demand: FoldDemand) -> list[list[Setup]]:
    """Return the setup of a fold that no tool makes: what the bench holds, and the bar, give way to the part."""
    radius = demand.final_radius
    bar = shapely.Point(0.0, demand.thickness + radius).buffer(max(radius - GAP, GAP))
    shown = (ToolBody("bar", bar, "lower", demand.span),)
    return [[Setup(tool="", machine=BY_HAND.name, stroke=BY_HAND, shown=shown)]]


def flattening(demand: FoldDemand, *, tool: str, machine: str, bars: bool) -> list[list[Setup]]:
    """Return the setups that press a hem down between two bars, assumed to be there on any machine.

    A fold that stays open further is closed over a bar by hand: nothing comes down on it.

    Parameters
    ----------
    demand : FoldDemand
        The hem.
    tool, machine : str
        Keys of the tool that began it and of its machine.
    bars : bool
        Whether it takes bars of its own; a folder closes a hem under its own nose bar, laid flat.
    """
    deep, t = demand.leg + 5.0, demand.thickness
    inside = 2.0 * demand.final_radius
    under = shapely.box(-deep, -40.0, 8.0, -GAP)
    over = shapely.box(-deep, 2 * t + inside + GAP, 8.0, 2 * t + inside + 60.0)
    span = centred(demand.middle, demand.length)
    out = []
    sides: tuple[AtBack, ...] = ("parent", "leg")
    for at_back in sides:
        bodies = [ToolBody("lower bar", under, "lower", span, assumed=True)]
        bodies += [ToolBody("upper bar", over, "closed", span, assumed=True)] if demand.angle >= PRESSED else []
        if at_back == "leg":
            bodies = [replace(p, shape=mirrored(p.shape)) for p in bodies]
        setup = Setup(
            tool=tool,
            machine=machine,
            stroke=FLATTEN,
            punch="flattening bars" if bars else "",
            at_back=at_back,
            bodies=tuple(bodies),
            assumed=True,
        )
        out.append([setup])
    return out
