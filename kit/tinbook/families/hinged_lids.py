"""A hinged lid with gas struts: the lid, its strut bracket, the strut that suits, and the effort over the angle."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from tinbook.calc.struts import GRAVITY, GasStrut, Lid, hold_open_mass, lid_balance, lid_sweep
from tinbook.errors import BadValue, OutOfRange
from tinbook.families.calls import family, helper, require_between
from tinbook.fields import Maybe, Number, Range
from tinbook.finding import Finding, caution, fine, stop
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Point
from tinbook.plot import line_plot
from tinbook.rules.rule import family_rule
from tinbook.shop.material import OfSheet
from tinbook.svg import Picture

NOT_NEGATIVE: Final = Number(least=0, most=1e7)
Push = Annotated[float, NOT_NEGATIVE]
STROKES: Final = (60.0, 80.0, 100.0, 120.0, 150.0, 200.0, 250.0, 300.0)
"""mm: usual strokes of gas struts; extended length = 2 stroke + 45 mm (common practice, from memory)."""
ROAD: Final = 3.0
"""How many times its weight a rough road throws a lid up: a guess after the 3 g bump of body design (common practice)."""
SWEPT: Final = 24
"""Angles at which a lid is looked at between shut and open."""
HOTTEST: Final = 60.0
"""Degrees Celsius of a body that stands in the sun (common practice)."""


@family
def hinged_lid(
    length: Annotated[float, Range(200, 1200, 5, "mm")] = 700.0,
    width: Annotated[float, Range(150, 800, 5, "mm")] = 450.0,
    lip: Annotated[float, Range(12, 80, 1, "mm")] = 25.0,
    hinges: Annotated[int, Range(2, 4)] = 2,
    strut_at: Annotated[float, Range(60, 500, 1, "mm")] = 160.0,
    sheet: OfSheet = "DC01 1.0",
    number: str = "LID",
    rev: str = "A",
) -> Part:
    """Return a lid with lips folded down, pairs of hinge holes at its rear, pairs of holes for two strut brackets.

    Parameters
    ----------
    length, width, lip : float
        Along the hinge, across it, height of the lips, outside.
    hinges : int
        Hinges, each with two M6 holes 30 mm apart.
    strut_at : float
        From the rear edge to the strut brackets' holes.

    Returns
    -------
    Part
        Its rear edge carries the hinge; y runs to it.
    """
    require_between("hinged_lid strut_at", strut_at, None, width - 40, "the lid less 40 mm")
    require_between("hinged_lid hinges", hinges, None, 1 + (length - 120) // 60, "60 mm apart between the struts", "")
    part = Part(number, rev=rev, sheet=sheet, base=Outline.rectangle(length, width), title="hinged lid")
    for edge in part.base.names:
        part = part.fold(edge, "down", leg=lip, corner="closed")
    for k in range(hinges):
        x = 60 + (length - 120) * k / (hinges - 1)
        for side in (-1, 1):
            part = part.hole(
                (x + 15 * side, width - 20), use="bolt", size="M6", name=f"hinge {2 * k + (side + 3) // 2}"
            )
    for hand, x in (("left", 30.0), ("right", length - 30.0)):
        for dy in (-15, 15):
            at = (x, width - strut_at + dy)
            part = part.hole(at, use="bolt", size="M6", name=f"{hand} bracket {1 + (dy > 0)}")
    return part


@family
def strut_bracket(
    base: Annotated[float, Range(25, 80, 1, "mm")] = 40.0,
    height: Annotated[float, Range(36, 100, 1, "mm")] = 40.0,
    width: Annotated[float, Range(46, 120, 1, "mm")] = 60.0,
    stud: str = "M8",
    sheet: OfSheet = "DC01 3.0",
    number: str = "STRUT-BRACKET",
    rev: str = "A",
) -> Part:
    """Return an L bracket: two M6 holes 30 mm apart in its base, one for the ball stud in its upright leg.

    Parameters
    ----------
    base, height, width : float
        Outside dimensions.
    stud : str
        Thread of the ball stud.
    """
    part = Part(
        number, rev=rev, sheet=sheet, base=Outline.rectangle(width, base), title="strut bracket", quantity=4
    )  # fmt: skip
    part = part.fold("rear", "up", leg=height, name="upright")
    part = part.hole_grid((width / 2 - 15, 11), (2, 1), (30, 1), use="bolt", size="M6", name="base")
    return part.hole((width / 2, height - 14), panel="upright", use="bolt", size=stud, name="stud")


@helper
def strut_for(lid: Lid, opening: float, *, share: float = 1.25, coldest: float = -10.0) -> GasStrut:
    """Return the gas strut that holds a lid open when it is cold.

    Parameters
    ----------
    lid : Lid
        Mass, centre, joints, handle, number of struts.
    opening : float
        Angle when open, degrees.
    share : float
        Lifting moment over the weight's when open and coldest (common practice 1.2 to 1.4).
    coldest : float
        Degrees Celsius.

    Returns
    -------
    GasStrut
        The shortest usual stroke that reaches from closed to open with 5 mm to spare; force in steps of 50 N.

    Raises
    ------
    BadValue
        No usual strut fits between the joints; names the distances.
    """
    top = [_turned(lid.lid_joint, a) for a in (0.0, opening)]
    closed, opened = (math.dist(p, lid.body_joint) for p in top)
    travel = opened - closed
    fits = [s for s in STROKES if s >= travel + 5 and 2 * s + 45 - s <= closed and 2 * s + 45 >= opened]
    if travel <= 0 or not fits:
        nearest = min(STROKES, key=lambda s: abs(2 * s + 45 - opened))
        raise BadValue(
            "strut_for lid_joint", lid.lid_joint,
            f"joints {closed:.0f} mm apart closed and {opened:.0f} mm open fit no usual strut; "
            f"nearest stroke {nearest:g}: {nearest + 45:g} to {2 * nearest + 45:g} mm",
        )  # fmt: skip
    trial = GasStrut(force=1000.0, extended=2 * fits[0] + 45, stroke=fits[0])
    mass = hold_open_mass(lid, trial, opening, coldest)
    needed = 1000.0 * share * lid.mass / mass if math.isfinite(mass) and mass > 0 else 50.0
    force = 50.0 * math.ceil(needed / 50.0)
    return GasStrut(force=max(force, 50.0), extended=trial.extended, stroke=trial.stroke)


@helper
def effort(lid: Lid, strut: GasStrut, opening: float, temperature: float = 20.0, steps: int = SWEPT) -> list[Point]:
    """Return the hand's force (N, positive lifts) over the angle (degrees); angles the strut cannot follow are left out."""
    found = []
    for k in range(steps + 1):
        angle = opening * k / steps
        try:
            found.append((angle, lid_balance(lid, strut, angle, temperature).hand))
        except OutOfRange:
            continue
    return found


@helper
def effort_plot(
    lid: Lid, strut: GasStrut, opening: float, temperatures: Sequence[float] = (-10.0, 20.0, 40.0)
) -> Picture:
    """Return a plot of the hand's force over the angle at several temperatures."""
    curves = {f"{t:g} °C": effort(lid, strut, opening, t) for t in temperatures}
    return line_plot(curves, x="opened by, degrees", y="force at the handle, N", title="Lifting is positive")


@helper
def latch_needed(
    lid: Lid, strut: GasStrut, *, gasket: Push = 0.0, road: Push = ROAD, hottest: float = HOTTEST
) -> float:
    """Return what a latch at the handle must hold to keep a lid shut, N.

    Parameters
    ----------
    lid, strut : Lid, GasStrut
        The lid and each of its struts.
    gasket : float
        Push of the squeezed gasket on the whole lid, N, at least 0; see `gasket_push`. It acts at half the handle's arm.
    road : float
        How many times its weight throws the lid up when the body drops away under it, at least 0; its weight is
        taken off. 3 is a guess after the 3 g bump of body design (common practice).
    hottest : float
        Degrees Celsius: struts push hardest when hot; 60 for a body that stands in the sun (common practice).

    Returns
    -------
    float
        Opening moment about the hinge over the handle's arm, at least 0. A strut that pulls the lid shut is left out:
        it loses its gas with the years.

    Raises
    ------
    OutOfRange
        The strut cannot be as short as the closed lid wants it, or `hottest` is outside the struts' range.

    Notes
    -----
    Source: `statics` and `ideal gas`.
    """
    arm = math.hypot(*lid.handle)
    pushed = max(lid_balance(lid, strut, 0.0, hottest).strut_moment, 0.0)
    thrown = lid.mass * GRAVITY * (road * abs(lid.centre[0]) - lid.centre[0])
    return max(pushed + gasket * arm / 2 + thrown, 0.0) / arm


@family_rule
@helper
def lid_findings(
    lid: Lid,
    strut: GasStrut,
    opening: float,
    hand: Push = 150.0,
    *,
    latch: Annotated[float | None, Maybe(NOT_NEGATIVE)] = None,
    gasket: Annotated[float | None, Maybe(NOT_NEGATIVE)] = None,
    road: Push = ROAD,
    coldest: float = -10.0,
    hottest: float = HOTTEST,
) -> Iterator[Finding]:
    """Check that a lid stays open in the cold, that a hand can work it, and that it stays shut.

    Parameters
    ----------
    lid, strut : Lid, GasStrut
        The lid and each of its struts.
    opening : float
        Angle when open, degrees.
    hand : float
        Most that a hand shall lift or pull, N (common practice 150).
    latch : float, optional
        What the latches hold at the handle by their maker's word, N; 0 for none.
    gasket : float, optional
        Push of the squeezed gasket on the whole lid, N; 0 for none.
    road, coldest, hottest : float
        As for `latch_needed`; the range of temperature that all three are held to, degrees Celsius.

    Returns
    -------
    Findings
        `lid.stays_open` at the coldest, `lid.effort` over the whole angle, shutting it on its gasket included, and
        `lid.stays_shut` at the hottest. The last is fine only where latch and gasket are stated. A strut that
        cannot follow the lid is `lid.reach` alone.
    """
    try:
        most = hold_open_mass(lid, strut, opening, coldest)
        needed = latch_needed(lid, strut, gasket=gasket or 0.0, road=road, hottest=hottest)
        temperatures = (coldest, min(max(20.0, coldest), hottest), hottest)
        swept = lid_sweep(lid, strut, [opening * k / SWEPT for k in range(SWEPT + 1)], temperatures)
    except OutOfRange as wrong:
        what, remedy = f"its force cannot be calculated ({wrong})", "a strut that reaches from closed to open"
        yield stop("lid.reach", "strut", what, remedy, source="statics")
        return
    stays = most >= lid.mass
    forces = {(t, b.angle): b.hand for t, balances in swept.items() for b in balances}
    for t in temperatures:  # the last bit of shutting squeezes the gasket
        forces[t, 0.0] -= (gasket or 0.0) / 2
    at, worst = max(forces.items(), key=lambda x: abs(x[1]))
    if stays:
        what = f"stays open at {coldest:g} °C"
        yield fine("lid.stays_open", f"{opening:g} degrees", what, lid.mass, most, "kg", "ideal gas")
    else:
        what = f"falls shut at {coldest:g} °C"
        yield stop("lid.stays_open", f"{opening:g} degrees", what, "stronger struts", lid.mass, most, "kg", "ideal gas")
    if abs(worst) <= hand:
        what = f"one hand can work it from {coldest:g} to {hottest:g} °C"
        yield fine("lid.effort", "handle", what, abs(worst), hand, "N", "statics")
    else:
        what = f"hard to {'lift' if worst > 0 else 'pull down'} by hand, {at[1]:g} degrees open at {at[0]:g} °C"
        lift, pull = (
            "stronger struts, or joints further out",
            "weaker struts, joints nearer to the hinge, or a softer gasket",
        )
        yield caution("lid.effort", "handle", what, lift if worst > 0 else pull, abs(worst), hand, "N", "statics")
    loads = f"{_alone(lid, strut, hottest)} at {hottest:g} °C, {road:g} g of road (a guess)"
    yield _stays_shut(latch, gasket, needed, loads)


def _alone(lid: Lid, strut: GasStrut, hottest: float) -> str:
    """Return what the struts do to the closed lid at rest."""
    rest = lid_balance(lid, strut, 0.0, hottest)
    if rest.strut_moment <= 0:
        return "struts that pull it shut and do not count"
    return "struts that open it by themselves" if rest.hand < 0 else "struts that push"


def _stays_shut(latch: float | None, gasket: float | None, needed: float, loads: str) -> Finding:
    """Return whether the stated latch keeps a lid shut; a strut or the lid's own weight never does."""
    loads += ", a gasket that is not stated" if gasket is None else f", a gasket of {gasket:g} N"
    remedy = f"a latch rated for {math.ceil(needed):d} N at the handle"
    remedy += ", and half the push of its gasket on top" if gasket is None else ""
    numbers = (latch or 0.0, needed, "N", "statics")
    if latch is None:
        what = f"no latch is stated, and nothing else keeps it shut: {loads}"
        return caution("lid.stays_shut", "latch", what, remedy, *numbers)
    if latch < needed:
        return stop("lid.stays_shut", "latch", f"the latch gives way and the lid opens: {loads}", remedy, *numbers)
    if gasket is None:
        return caution("lid.stays_shut", "latch", f"the latch may not keep it shut: {loads}", remedy, *numbers)
    return fine("lid.stays_shut", "latch", f"the latch keeps it shut: {loads}", *numbers)


@helper
def centred_lid(
    mass: float, width: float, lip: float, strut_at: float, body: Point, struts: int = 2, hung: float | None = None
) -> Lid:
    """Return a lid for `calc.struts` whose mass lies in the middle of its width and whose handle is its front edge.

    Parameters
    ----------
    mass : float
        Of the lid with all that is on it, kg.
    width, lip, strut_at : float
        As for `hinged_lid`, mm.
    body : (float, float)
        Joint on the body: from the hinge toward the handle, and up, mm.
    struts : int
        How many.
    hung : float, optional
        The strut's joint under the hinge's axis, mm; else as deep as the lip.
    """
    if not mass * GRAVITY > 0:
        raise BadValue("centred_lid mass", mass, "greater than 0 kg")
    return Lid(
        mass=mass, centre=(width / 2, -lip / 4), lid_joint=(strut_at, -(lip if hung is None else hung)), body_joint=body,
        handle=(width, 0.0), struts=struts,
    )  # fmt: skip


def _turned(p: Point, degrees: float) -> Point:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return c * p[0] - s * p[1], s * p[0] + c * p[1]
