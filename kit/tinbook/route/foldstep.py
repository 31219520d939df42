"""One hit as a line of the shop sheet: how the part lies, what it is set to, what is formed, what to measure."""

from __future__ import annotations

from typing import Final

from tinbook.flatpattern import Direction, both_ways
from tinbook.language import ENGLISH, Language
from tinbook.route.takeout import Way
from tinbook.shop.tools.setups import Setup
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True)
class Sight:
    """Where the operator's line lies in the blank for a fold that is set by eye.

    Parameters
    ----------
    edge : str
        The nearest straight edge parallel to the fold, "" where there is none.
    at : float
        From that edge to the line, mm; NaN without an edge.
    off : float
        From the middle of the bend to the line, mm, positive toward the panel that is held or lies at the back. 0 under
        a punch; at a folder's nose bar the line lies one inside radius out from the held panel's tangent line.
    marked : bool
        Whether the blank's own mark lies there: marks are drawn for the panel held that the fold hangs on.
    """

    edge: str
    at: float
    off: float
    marked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldStep:
    """One hit.

    Parameters
    ----------
    number : int
        From 1.
    fold, action : str
        Name of the fold; "fold", "start the hem", "press flat", "press to its gap", "close over a bar" or "curl" (by hand, over a bar).
    machine, who, tool : str
        On what; machine "by hand" and the bar as tool for a curl.
    setup : Setup
        Punch and pieces that are put in, how they stand, and whether a generic section stood in for an unknown one.
    direction : {"up", "down"}
        Of the fold, seen from the sheet's up side.
    face_up : {"up", "down"}
        Which face of the sheet looks upward in the machine.
    at_back : str
        Panel that lies at the back gauge, or is clamped.
    turn_over, turn_round, reset : bool
        What has to be done before: the part over, the part round on the table, other tools or stops.
    gauged : str
        What lies against the gauge, "" when the part is set to its mark.
    line_now : float or None
        The stop: from what touches the gauge's finger first, in the part's state at this step, to the middle of the
        bend, mm; None without one.
    no_stop : str
        Why there is no stop, "" where there is one.
    proposed : bool
        Whether the stop is only a proposal, to a supplier who sets his own gauge.
    sight : Sight or None
        The operator's line where the part is set by eye; None with a stop, and where a hem is pressed flat.
    line_blank : float
        From the farthest point at the back to the middle of the bend in the blank, mm.
    angle, angle_formed : float
        Degrees turned that shall stay, and to set so that they stay.
    force, rating : float or None
        N; None where no formula covers it or the machine has no stated force.
    length : float
        Length of the bend, mm.
    check : str
        What to check with a rule.
    notes : tuple of str
        Cautions.
    before : tuple of (str, float)
        Degrees of every fold as the step begins.
    out : {"lift", "forward", "endways", ""}
        How it comes out of the machine afterwards; "": by no straight way.
    over : (float, float) or None
        Between how many degrees it may spring back; a screen, None where nothing is reckoned.
    """

    number: int
    fold: str
    action: str
    machine: str
    who: str
    tool: str
    setup: Setup
    direction: Direction
    face_up: Direction
    at_back: str
    turn_over: bool
    turn_round: bool
    reset: bool
    gauged: str
    line_now: float | None
    no_stop: str
    proposed: bool
    sight: Sight | None
    line_blank: float
    angle: float
    angle_formed: float
    force: float | None
    rating: float | None
    length: float
    check: str
    notes: tuple[str, ...]
    before: tuple[tuple[str, float], ...]
    out: Way = "lift"
    over: tuple[float, float] | None = None

    def __repr__(self) -> str:
        before = "".join(f"{word}, " for word in self.befores)
        return f"<step {self.number}: {before}{self.action} {self.fold} {self.direction} by {self.angle:.4g}°, {self.tool} on {self.machine}>"

    @property
    def befores(self) -> tuple[str, ...]:
        """What has to be done before, each in words."""
        done = (("turn over", self.turn_over), ("turn round", self.turn_round), ("re-set", self.reset))
        return tuple(word for word, on in done if on)

    @property
    def set_by(self) -> tuple[str, str, str]:
        """What it is set by, the stop, and the line's place in the blank, as printed."""
        return self.set_by_in(ENGLISH)

    def set_by_in(self, say: Language) -> tuple[str, str, str]:
        """Return `set_by` in a language."""
        if self.line_now is not None:
            return (
                say.retold(self.gauged) + (say(", proposed") if self.proposed else ""),
                say.number(self.line_now),
                say.number(self.line_blank),
            )
        if self.sight is None:
            return "-", "-", "-"
        held = (
            say("{panel} held", panel=self.at_back)
            if self.setup.stroke.clamps
            else say("{panel} behind", panel=self.at_back)
        )
        how = say("by its mark, {held}", held=held) if self.sight.marked else say("not by its mark: {held}", held=held)
        return how, "-", say("{at:.1f} from {edge}", at=self.sight.at, edge=self.sight.edge) if self.sight.edge else "-"

    @property
    def included(self) -> float:
        """Included angle to set, degrees; past half a turn (a curl) there is none that one could measure."""
        return 180.0 - self.angle_formed


def counted(steps: tuple[FoldStep, ...]) -> str:
    """Return how many steps, turn-overs and re-settings, in words."""
    each = {"step": len(steps), "turn-over": sum(s.turn_over for s in steps), "re-setting": sum(s.reset for s in steps)}
    return ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for word, n in each.items())


HEAD: Final = (
    *("Step", "Before it", "What", "Tools", "Up", "Set by", "To line now", "In the blank"),
    *("Force, kN", "Set, degrees", "Check with a rule"),
)


def row_of(s: FoldStep, number: str = "", say: Language = ENGLISH) -> tuple[str, ...]:
    """Return a step's line of the table, as `HEAD` heads it; `number` is the fold's on the sheet."""
    it = s.setup
    pieces = f" {' + '.join(f'{p:g}' for p in it.pieces)}" if it.pieces else ""
    punch = f", {say.retold(it.punch)}{say(', reversed') if it.reversed else ''}" if it.punch else ""
    tooling = f", {say.retold(it.tooling + pieces)}" if it.tooling != "whole" else ""
    force = "-" if s.force is None else f"{s.force / 1e3:.0f}"
    return (
        str(s.number),
        ", ".join(map(say, s.befores)) or "-",
        f"{numbered(say(s.action), number, s.fold, say)}, {say(s.direction)}",
        f"{say.retold(s.tool)}{punch}{tooling}",
        say("up face") if s.face_up == "up" else say("down face"),
        *s.set_by_in(say),
        force if s.rating is None or s.force is None else say("{a} of {b:.0f}", a=force, b=s.rating / 1e3),
        say(
            "{ways}, stays {angle:g}",
            ways=both_ways(round(s.angle_formed, 1), say=say),
            angle=round(s.angle, 1),
        )
        + overbend(s, say),
        say(s.check),
    )


def overbend(s: FoldStep, say: Language = ENGLISH) -> str:
    """Return between how many degrees a fold may spring back, in words; "" where nothing is reckoned."""
    return "" if s.over is None else say(", overbend {low:.1f} to {high:.1f}", low=s.over[0], high=s.over[1])


def told(action: str, fold: str) -> str:
    """Return a hit in words: the action and the fold's name, without the word that would stand twice."""
    first, _, rest = fold.partition(" ")
    return f"{action} {rest if action.rsplit(maxsplit=1)[-1] == first else fold}".strip()


def numbered(action: str, number: str, name: str, say: Language = ENGLISH) -> str:
    """Return a fold's number on the sheet with its own name, which may contain another number."""
    own = any(c.isdigit() for c in name) and name.split(maxsplit=1)[0] in ("fold", "bend", "line")
    if not number:
        return told(action, name)
    if own:
        return say("{action} {number} (drawn as '{name}')", action=action, number=number, name=name)
    return f"{action} {number} {name}".strip()
