"""The ways in which a fold can be set up: which punch and die, which way round, in how many pieces."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import shapely

from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.route.outlines import GAP, clamp_shape, die_shape, mirrored, outline_mark, punch_shape, shifted, shoulder
from tinbook.shop.sections import (
    GENERIC_SEGMENTS,
    Punch,
    Section,
    generic_beam,
    generic_block,
    generic_die,
    generic_folder,
    generic_punch,
)
from tinbook.shop.shop import Shop
from tinbook.shop.tools import Tool
from tinbook.shop.tools.air_die import AirDie
from tinbook.shop.tools.hand_folder import HandFolder
from tinbook.shop.tools.machine import Machine
from tinbook.shop.tools.v_block import VBlock
from tinbook.shop.tools.vee import VeeTool

SHORT: Final = 12.0
"""mm: a punch may be shorter than the fold by this much at most, half of it at each end (common practice)."""
BY_HAND: Final = "by hand"
"""Process, and stand-in for a machine's key, of what is formed over a bar on the bench: curls."""
PRESSED: Final = 175.0
"""Degrees: what turns further is pressed flat, what turns less is closed over a bar."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One part of a machine.

    Parameters
    ----------
    name : str
        "punch", "die", "ram", "bed", "clamp", "folding beam", "upper bar", "lower bar".
    shape : Any
        Polygon in its own coordinates.
    frame : {"lower", "upper", "swing"}
        What it moves with: the die, the punch, the leg that swings.
    span : (float, float)
        From where to where it stands along the fold.
    assumed : bool
        Whether the shop did not draw it, and a generic section stands in.

    Attributes
    ----------
    mark : bytes
        The same for the same outline, whichever way it was drawn.
    """

    name: str
    shape: Any
    frame: str
    span: tuple[float, float]
    assumed: bool = False
    mark: bytes = field(init=False, repr=False)

    def __post_init__(self) -> None:
        shapely.prepare(self.shape)
        object.__setattr__(self, "mark", outline_mark(self.shape))


@dataclass(frozen=True, slots=True)
class Setup:
    """One way to form a fold.

    Parameters
    ----------
    tool, machine : str
        Keys.
    process : str
        "air", "bottom", "fold", "press flat", "by hand".
    punch : str
        Key or name of the punch, "" in a folder.
    reversed : bool
        Whether the punch is set the other way round.
    way : int
        0: the fold's parent panel lies at the back (in a folder: is clamped); 1: the leg does.
    spread : str
        "whole" tool, "punch in pieces", "all in pieces", "flush left", "flush right".
    pieces : tuple of float
        Lengths of the punch pieces or fingers, mm; empty for a whole one.
    parts : tuple of Piece
        What stands round the part.
    assumed : bool
        Whether a generic section stands in for one that is not known.
    nose : (float, float)
        Radius and included angle of the punch; 0 in a folder.
    contact : (float, float)
        Centre distance from the middle and radius of the die's shoulders; 0 in a folder.
    """

    tool: str
    machine: str
    process: str
    punch: str = ""
    reversed: bool = False
    way: int = 0
    spread: str = "whole"
    pieces: tuple[float, ...] = ()
    parts: tuple[Piece, ...] = ()
    assumed: bool = False
    nose: tuple[float, float] = (0.0, 0.0)
    contact: tuple[float, float] = (0.0, 0.0)

    @property
    def shape(self) -> tuple[Any, ...]:
        """What stands round the part, as its two sides see it: the same for setups that differ by a half turn."""
        return tuple((p.name, p.frame, p.span, p.mark) for p in self.parts)

    @property
    def setting(self) -> tuple[Any, ...]:
        """What has to be the same for the next fold to need no other tools in the machine."""
        return self.machine, self.tool, self.punch, self.reversed, self.pieces

    @property
    def key(self) -> tuple[Any, ...]:
        """What tells it from the other setups of the same fold."""
        return (*self.setting, self.way, self.spread)


def pick(segments: Sequence[float], most: float) -> tuple[float, ...]:
    """Return the pieces that together come nearest to `most` mm without exceeding it, few large ones first."""
    best: dict[int, tuple[float, ...]] = {0: ()}
    limit = int(most * 10 + 1e-6)
    for s in sorted(segments, reverse=True):
        for total, used in sorted(best.items(), reverse=True):
            new = total + round(s * 10)
            if new <= limit and (new not in best or len(used) + 1 < len(best[new])):
                best[new] = (*used, s)
    return best[max(best)]


def _section(shop: Shop, key: str, generic: Section) -> Section:
    return shop.section(key) if key else generic


def punches_for(shop: Shop, tool: VeeTool, closed: float) -> list[tuple[Punch, Section]]:
    """Return the punches that may serve: the shop's own of that machine, else usual ones, marked as assumed.

    A block's punch must have the block's nose, since it makes the inside radius. `closed`: degrees that it
    must let the sheet turn.
    """
    own = [p for p in shop.punches if p.machine == tool.machine]
    if isinstance(tool, VBlock):
        own = [p for p in own if abs(p.nose - tool.punch_nose) < 1e-6]
    if own:
        return [(p, shop.section(p.section)) for p in own]
    kinds: list[tuple[str, float]] = [("straight", 80.0), ("gooseneck", 80.0)]
    if closed > 100.0:
        kinds = [("acute", 28.0)]
    if isinstance(tool, VBlock):
        kinds = [("straight", min(tool.block_angle - 2.0, 84.0))]
    out = []
    for kind, angle in kinds:
        s = generic_punch(kind, angle)
        out.append(
            (
                Punch(
                    key=s.key,
                    machine=tool.machine,
                    section=s.key,
                    nose=tool.punch_nose,
                    angle=angle,
                    segments=GENERIC_SEGMENTS if isinstance(tool, AirDie) else (),
                    source="common practice",
                ),
                s,
            )
        )
    return out


@dataclass(frozen=True, slots=True)
class Asked:
    """What a setup has to hold: the strip, its span along the fold, radians to turn with springback, inside radius."""

    strip: BendZone
    span: tuple[float, float]
    turn: float
    radius: float


def setups(
    made: Made, asked: Asked, extra: Sequence[tuple[Punch, Section]] = (), *, drawn: bool = False
) -> tuple[list[list[Setup]], str]:
    """Return the setups for one fold in families, and why there is none.

    Parameters
    ----------
    made : Made
        For shop and thickness.
    asked : Asked
        The fold.
    extra : sequence of (Punch, Section)
        Punches to try besides the shop's.
    drawn : bool
        Leave out only what the drawn tools rule out: height and angle of an assumed punch count for nothing.

    Returns
    -------
    families : list of list of Setup
        In a family only the spread of the tools along the fold differs, the narrowest last:
        what the narrowest hits, all the others hit.
    why : str
        "" when there is one.
    """
    key = asked.strip.bend.tool
    if not key:
        # No tool comes near: what the bench holds, and the bar that it is rolled round, give way.
        return [[Setup(tool="", machine=BY_HAND, process=BY_HAND)]], ""
    tool = made.shop.tool(key)
    machine = made.shop.machine(tool.machine)
    if isinstance(tool, HandFolder):
        return [_folder(made, asked, tool, way) for way in (0, 1)], ""
    assert isinstance(tool, VeeTool)
    found: list[list[Setup]] = []
    why = []
    for punch, section in (*punches_for(made.shop, tool, math.degrees(asked.turn)), *extra):
        if punch.nose > asked.radius + 0.02:
            why.append(f"{punch.key} has a nose of {punch.nose:g} mm, larger than the inside radius")
            continue
        guessed = drawn and section.assumed
        if punch.angle > 180.0 - math.degrees(asked.turn) + 1e-6 and not guessed:
            why.append(f"{punch.key} is blunter ({punch.angle:g} degrees) than the bend is closed")
            continue
        if punch.length is not None and punch.length < asked.span[1] - asked.span[0] - SHORT:
            why.append(f"{punch.key} is {punch.length:g} mm long, the fold {asked.span[1] - asked.span[0]:.1f} mm")
            continue
        gap = _open(made.shop, machine, tool, section)
        if gap is not None and gap <= made.thickness and not guessed:
            why.append(f"{punch.key} and {tool.key} together are higher than the machine's daylight")
            continue
        even = shapely.Polygon(section.points).equals(mirrored(shapely.Polygon(section.points)))
        for way in (0, 1):
            found += [
                _pressed(made, asked, machine, tool, punch, section, way, turned)
                for turned in ((False,) if even or not punch.turns_round else (False, True))
            ]
    return found, "" if found else "; ".join(why)


def _open(shop: Shop, machine: Machine, tool: VeeTool, section: Section) -> float | None:
    """Room between punch and die with the ram up, mm."""
    return None if machine.daylight is None else machine.daylight - section.height - die_section(shop, tool).height


def packing(shop: Shop, machine: Machine, tool: VeeTool, section: Section, turn: float) -> float:
    """Return how far the ram's stroke ends above the formed bend, mm: to be packed; 0 where it reaches or nothing is known.

    The punch's tip goes into the die by V/2 tan(a/2) at most, the depth of a sharp bend.
    """
    if machine.daylight is None or machine.stroke is None:
        return 0.0
    formed = section.height + die_section(shop, tool).height - tool.opening / 2 * math.tan(turn / 2)
    return max(machine.daylight - machine.stroke - formed, 0.0)


def die_section(shop: Shop, tool: VeeTool) -> Section:
    """Return the section of a die or block, without its opening."""
    if isinstance(tool, AirDie):
        return _section(shop, tool.section, generic_die(tool.opening, tool.die_angle))
    return _section(shop, tool.section, generic_block(tool.opening, tool.vee_angle))


def _spreads(
    span: tuple[float, float], length: float, segments: Sequence[float], both: bool
) -> list[tuple[str, tuple[float, float], tuple[float, float], tuple[float, ...]]]:
    """Return (name, upper span, lower span, pieces), widest first."""
    middle = (span[0] + span[1]) / 2
    whole = (middle - length / 2, middle + length / 2)
    out: list[tuple[str, tuple[float, float], tuple[float, float], tuple[float, ...]]] = [("whole", whole, whole, ())]
    picked = pick(segments, span[1] - span[0])
    if picked and span[1] - span[0] - sum(picked) <= SHORT:
        half = sum(picked) / 2
        part = (middle - half, middle + half)
        out.append(("punch in pieces", part, whole, picked))
        if both:
            out.append(("all in pieces", part, part, picked))
    elif length > span[1] - span[0]:
        for name, ends in (("flush left", (span[0], span[0] + length)), ("flush right", (span[1] - length, span[1]))):
            out.append((name, ends, ends, ()))
    return out


def _pressed(
    made: Made,
    asked: Asked,
    machine: Machine,
    tool: VeeTool,
    punch: Punch,
    section: Section,
    way: int,
    turned: bool,
) -> list[Setup]:
    shop = made.shop
    below = die_section(shop, tool)
    angle, radius = tool.vee_angle, tool.shoulder_radius
    die = die_shape(below.points, tool.opening, angle, radius)
    ram = _section(shop, machine.ram, generic_beam("ram", 40.0))
    bed = _section(shop, machine.bed, generic_beam("bed", 60.0))
    up = punch_shape(section.points, punch.nose)
    beam = shifted(shapely.Polygon(ram.points), up.bounds[3])
    table = shifted(shapely.Polygon(bed.points), min(z for _, z in below.points))
    if turned:
        up = mirrored(up)
    if way:
        up, beam, die, table = (mirrored(s) for s in (up, beam, die, table))
    length = min(punch.length or math.inf, tool.max_length, machine.length or math.inf)
    if not math.isfinite(length):
        length = asked.span[1] - asked.span[0] + 1000.0
    segments = die_segments(tool)
    middle = sum(asked.span) / 2
    reach = (machine.length or length) / 2
    everywhere = (middle - max(reach, length / 2), middle + max(reach, length / 2))
    out = []
    for name, above, under, pieces in _spreads(asked.span, length, punch.segments, bool(segments)):
        if (
            name == "all in pieces"
            and pick(segments, sum(pieces))
            and sum(pick(segments, sum(pieces))) < sum(pieces) - 1
        ):
            continue
        parts = (
            Piece("die", die, "lower", under, below.assumed),
            Piece("bed", table, "lower", everywhere, bed.assumed or below.assumed),
            Piece("punch", up, "upper", above, section.assumed),
            Piece("ram", beam, "upper", everywhere, ram.assumed or section.assumed),
        )
        out.append(
            Setup(
                tool=tool.key,
                machine=machine.key,
                process=tool.process,
                punch=punch.key,
                reversed=turned,
                way=way,
                spread=name,
                pieces=pieces,
                parts=parts,
                assumed=section.assumed or ram.assumed or bed.assumed or below.assumed,
                nose=(punch.nose, punch.angle),
                contact=shoulder(tool.opening, angle, radius),
            )
        )
    return out


def die_segments(tool: VeeTool) -> tuple[float, ...]:
    """Pieces of a die; a die whose own pieces are not known has the usual ones if it is a supplier's brake's."""
    return tool.segments or (GENERIC_SEGMENTS if isinstance(tool, AirDie) else ())


def _folder(made: Made, asked: Asked, tool: HandFolder, way: int) -> list[Setup]:
    shop, t = made.shop, made.thickness
    drawn = [
        _section(shop, key, generic_folder(kind))
        for key, kind in ((tool.clamp, "clamp"), (tool.bed, "folder bed"), (tool.beam, "folder beam"))
    ]
    # Finer by twice the gap, so that it stays off the sheet also where the leg comes back over it.
    clamp = shifted(clamp_shape(drawn[0].points, max(tool.nose_radius - 2 * GAP, 0.1)), t + GAP)
    bed, beam = (shifted(shapely.Polygon(s.points), -GAP) for s in drawn[1:])
    if way:
        clamp, bed, beam = mirrored(clamp), mirrored(bed), mirrored(beam)
    length = tool.max_length if math.isfinite(tool.max_length) else asked.span[1] - asked.span[0] + 1000.0
    middle = sum(asked.span) / 2
    everywhere = (middle - length / 2, middle + length / 2)
    out = []
    for name, above, _, pieces in _spreads(asked.span, length, tool.fingers, False):
        parts = (
            Piece("clamp", clamp, "lower", above, drawn[0].assumed),
            Piece("folder bed", bed, "lower", everywhere, drawn[1].assumed),
            Piece("folding beam", beam, "swing", everywhere, drawn[2].assumed),
        )
        name = {"punch in pieces": "fingers"}.get(name, name)
        out.append(
            Setup(
                tool=tool.key,
                machine=tool.machine,
                process="fold",
                way=way,
                spread=name,
                pieces=pieces,
                parts=parts,
                assumed=any(s.assumed for s in drawn),
            )
        )
    return out


def flattening(made: Made, asked: Asked, reach: float) -> list[list[Setup]]:
    """Return the setup that presses a hem down between two bars, assumed to be there on any machine.

    A fold that stays open further is closed over a bar by hand: nothing comes down on it.
    """
    tool: Tool = made.shop.tool(asked.strip.bend.tool)
    deep, t = reach + 5.0, made.thickness
    length = asked.span[1] - asked.span[0]
    inside = 2.0 * asked.strip.radius
    under = shapely.box(-deep, -40.0, 8.0, -GAP)
    over = shapely.box(-deep, 2 * t + inside + GAP, 8.0, 2 * t + inside + 60.0)
    middle = sum(asked.span) / 2
    span = (middle - length / 2, middle + length / 2)
    out = []
    for way in (0, 1):
        parts = [Piece("lower bar", under, "lower", span, assumed=True)]
        parts += [Piece("upper bar", over, "closed", span, assumed=True)] if asked.strip.angle >= PRESSED else []
        if way:
            parts = [replace(p, shape=mirrored(p.shape)) for p in parts]
        out.append(
            [
                Setup(
                    tool=tool.key,
                    machine=tool.machine,
                    process="press flat",
                    # A folder closes a hem under its own nose bar, laid flat.
                    punch="" if isinstance(tool, HandFolder) else "flattening bars",
                    way=way,
                    parts=tuple(parts),
                    assumed=True,
                )
            ]
        )
    return out
