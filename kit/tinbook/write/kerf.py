"""The path of the beam's centre, for an own machine that does not compensate its kerf."""

from __future__ import annotations

from dataclasses import replace

from tinbook.errors import BadValue, CannotMake
from tinbook.flatpattern import FlatPattern
from tinbook.plane.loops import Loop
from tinbook.plane.meeting import self_crossing
from tinbook.plane.offset import offset_loop


def with_kerf(flat: FlatPattern, kerf: float) -> FlatPattern:
    """Return the contours moved into the waste by half the kerf, lines and arcs exact.

    Parameters
    ----------
    flat : FlatPattern
        At finished size.
    kerf : float
        Width of the cut, mm, greater than 0.

    Returns
    -------
    FlatPattern
        Outer contour grown, inner contours shrunk.

    Raises
    ------
    CannotMake
        A notch, corner radius or hole is too small for the kerf; names the contour.
    """
    half = kerf / 2
    outer = _moved(flat.outer, half, "outer contour")
    inner = tuple(
        replace(c, loop=_moved(c.loop.anticlockwise(), -half, f"inner contour {i} '{c.name or c.use}'"))
        for i, c in enumerate(flat.inner, 1)
    )
    n = len(flat.cuts)
    return replace(flat, outer=outer, cuts=inner[:n], undersize=inner[n:])


def _moved(loop: Loop, out: float, what: str) -> Loop:
    named = Loop(tuple(replace(e, name=f"edge {i}") for i, e in enumerate(loop.edges, 1)))
    refusal = (
        f"{what} is too narrow for a kerf of {2 * abs(out):g} mm: the cutter's path would vanish or cross itself; "
        "nothing was written. Remedy: widen it beyond the kerf, or write finished size and let the cutter compensate"
    )
    try:
        moved = offset_loop(named, [out] * len(named))
    except BadValue as error:
        raise CannotMake(refusal) from error
    if moved.area <= 0 or self_crossing(moved) is not None:
        raise CannotMake(refusal)
    return moved
