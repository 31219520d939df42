"""Loads by the trade's words: "tank 120 kg", "winch 40 kN at 15 deg": directions and factors of a rule, its cautions with it.

A rule is several cases, each applied alone. Which rule a vehicle must meet is its builder's to say.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Annotated, Any, Final, NoReturn

import numpy as np

from tinbook.calc import loads as rules
from tinbook.calc import lugs, towing
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Text, check_fields
from tinbook.space import Vec, cross, dot, plus, unit
from tinbook.strength.carried import Carried
from tinbook.strength.loads import Acceleration, Load
from tinbook.units import number
from tinbook.values import dataclass

MASSES: Final = ("tank", "battery", "spare wheel", "cargo")
ROPES: Final = ("winch", "snatch block", "recovery")
TOWED: Final = ("tow eye", "coupling")
PULLS: Final = (*ROPES, *TOWED)
SEATS: Final = ("seat ?belt", "seat", "belt", "anchorage", "child restraint")
EXAMPLES: Final = (
    "tank 120 kg", "tank 120 kg, class M1", "battery 25 kg", "spare wheel 22 kg", "cargo 300 kg",
    "winch 40 kN at 15 deg", "snatch block 40 kN at 30 deg", "recovery 30 kN", "tow eye 2500 kg", "coupling 750 kg",
)  # fmt: skip
TEST: Final = 1.0
"""Load factor on loads that a rule states as test loads, or that allow for a crash."""
SERVICE: Final = 1.5
"""Load factor on forces that the user names (EN 1990, variable actions)."""

_WORDS: Final = re.compile(
    rf"(?P<name>{'|'.join((*MASSES, *PULLS))}) +(?P<size>[^,]+?)(?: +at +(?P<angle>[^,]+))?(?P<rest>(?:,[^,]+)*)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRule:
    """A rule's load cases for one thing.

    Parameters
    ----------
    words : str
        As they were given.
    name : str
        "tank", "winch" ...
    mass : float
        kg; 0 for pulls.
    angle : float
        Of the rope, degrees.
    cases : tuple of LoadCase
        Each applied alone; directions are x forward, y left, z up.
    factor : float
        Load factor for joints.
    cautions : tuple of str
    """

    words: str
    name: str
    mass: float
    angle: float
    cases: tuple[rules.LoadCase, ...]
    factor: float
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """Where on a part something is fixed.

    Parameters
    ----------
    at : (float, float, float)
        Centre of its mass, or where its rope pulls; part axes, mm.
    holes : str
        Name or use of the holes that it is fixed to; "" for a whole panel.
    panel : str
    """

    at: Vec
    holes: Annotated[str, Text(empty=True)] = ""
    panel: Annotated[str, Text()] = "base"

    def __post_init__(self) -> None:
        check_fields(self, "mount")
        # The load itself checks the point.
        Carried(newtons=(0.0, 0.0, 0.0), at=self.at, name="mount")


def load_rule(words: str) -> LoadRule:
    """Return the load cases that words stand for.

    Parameters
    ----------
    words : str
        A thing and its size: "tank 120 kg" (full; ", class M1" for a class of ISO 12991), "battery 25 kg",
        "spare wheel 22 kg", "cargo 300 kg", "winch 40 kN at 15 deg" (line pull, angle in the fairlead),
        "snatch block 40 kN at 30 deg" (line pull, angle between the rope's parts), "recovery 30 kN at 20 deg",
        "tow eye 2500 kg" (largest laden mass of the vehicle), "coupling 750 kg" (of the trailer).

    Returns
    -------
    LoadRule

    Raises
    ------
    UnknownName
        Other words.
    BadValue
        A size that is none.
    CannotMake
        Seats and belt anchorages: for them there are tests, by law. Recovery without a force: no rule gives one.
    """
    if not isinstance(words, str):
        raise BadValue("load rule", words, "words such as: " + "; ".join(EXAMPLES))
    refuse_seats(words)
    if words.strip() == "recovery":
        rules.recovery_cases()
    found = _WORDS.fullmatch(words.strip())
    if found is None:
        raise UnknownName("load rule", words, EXAMPLES)
    name = found["name"]
    options = tuple(o.strip() for o in found["rest"].split(",") if o.strip())
    angle = number(found["angle"], "deg", f"angle of '{name}'") if found["angle"] else 0.0
    if name in MASSES:
        if found["angle"]:
            raise BadValue(f"load rule '{words}'", f"at {found['angle']}", "an angle for ropes only")
        return _mass(words, name, _size(found["size"], "kg", name), options)
    if options:
        raise UnknownName(f"load rule '{words}': option", options[0], (f"none: '{name}' has no options",))
    if name in TOWED:
        if found["angle"]:
            raise BadValue(f"load rule '{words}'", f"at {found['angle']}", "no angle: the rule states the directions")
        return _towed(words, name, _size(found["size"], "kg", name))
    return _pull(words, name, _size(found["size"], "N", name), angle)


def own_weight(words: str) -> float | None:
    """Return the factor of "own weight x 3", None of other words."""
    name, times, factor = (part.strip() for part in words.partition(" x "))
    if name != "own weight" or ":" in words:
        return None
    try:
        g = float(factor) if times else 1.0
    except ValueError:
        g = math.nan
    if not math.isfinite(g) or g == 0:
        raise BadValue("load", words, 'a factor that is a number, as in "own weight x 3"')
    return g


def refuse_seats(words: str) -> None:
    """Raise CannotMake with the names of the laws where words ask for a seat or a belt."""
    found = re.search(rf"\b({'|'.join(SEATS)})s?\b", words.lower())
    if found:
        _no_seat(found[1].split(" ")[0])


def refuse_seated(name: str) -> None:
    """Raise CannotMake with the names of the laws where a member of an assembly is a seat; a spring's seat is none."""
    if re.match(
        r"((driver|passenger|front|rear|left|right|bucket|bench|child)('?s)? )*(seat|seat ?belt)s?( |$)", name.lower()
    ):
        _no_seat("seat")


def _no_seat(what: str) -> NoReturn:
    rules.refuse_seat(what)


def _size(text: str, unit_: str, name: str) -> float:
    if not re.search(r"[a-zA-Z]", text):
        raise BadValue(f"load '{name}'", text, f"a number with its unit, as in '{name} 40 kN' or 'tank 120 kg'")
    value = number(text, unit_, f"load '{name}'")
    if not value > 0:
        raise BadValue(f"load '{name}'", text, f"greater than 0 {unit_}")
    return value


def _mass(words: str, name: str, mass: float, options: Sequence[str]) -> LoadRule:
    kind = "own proposal"
    for option in options:
        if name != "tank" or not option.startswith("class "):
            raise UnknownName(f"load rule '{words}': option", option, ("class M1 ... N3, for a tank",))
        kind = option.removeprefix("class ").strip()
    if name == "tank":
        cases = rules.tank_cases(kind)
    elif name == "cargo":
        # The document is about lashings; what a floor carries is the bump.
        cases = (*rules.cargo_cases(), next(c for c in rules.service_cases() if c.direction == rules.WAYS["down"]))
    else:
        cases = rules.mounted_cases(name)
    return LoadRule(words=words, name=name, mass=mass, angle=0.0, cases=cases, factor=TEST, cautions=rules.CAUTIONS)


NOT_RECOVERY: Final = (
    "For towing on the road only: a recovery pull can be several times as much, and comes by shock.",
    "The coupling itself must be approved; this is about what it is bolted to.",
)


def _towed(words: str, name: str, mass: float) -> LoadRule:
    if name == "coupling":
        cases = towing.coupling_forces(mass)
    else:
        force = towing.tow_eye_force(mass)
        given: dict[str, Any] = {"unit": "N", "against": "yield", "source": "EU 1005/2010", "signs": rules.ENGINEER}
        ways = {"pulling": "forward", "pushing": "rearward"}
        cases = tuple(
            rules.LoadCase(name=f"tow eye {way}", direction=rules.WAYS[to], value=force, **given)
            for way, to in ways.items()
        )
    cautions = (*rules.CAUTIONS, *NOT_RECOVERY[: 2 if name == "coupling" else 1])
    return LoadRule(words=words, name=name, mass=0.0, angle=0.0, cases=cases, factor=TEST, cautions=cautions)


def _pull(words: str, name: str, force: float, angle: float) -> LoadRule:
    if not 0 <= angle <= (180 if name == "snatch block" else 90):
        raise BadValue(f"angle of '{name}'", angle, f"0 to {180 if name == 'snatch block' else 90} degrees")
    given: dict[str, Any] = {"unit": "N", "against": "yield", "source": "own data", "signs": rules.ENGINEER}
    if name == "snatch block":
        double = towing.snatch_block_force(force, angle)
        title = f"snatch block's anchor, rope {force:g} N, {angle:g} degrees between its parts"
        cases = [rules.LoadCase(name=title, direction=(1.0, 0.0, 0.0), value=double, **given)]
    else:
        ways = {"straight": (1.0, 0.0, 0.0)}
        if angle:
            c, s = float(np.cos(np.radians(angle))), float(np.sin(np.radians(angle)))
            ways |= {"left": (c, s, 0.0), "right": (c, -s, 0.0), "up": (c, 0.0, s), "down": (c, 0.0, -s)}
        cases = [
            rules.LoadCase(name=f"{name} {way}" + (f", {angle:g} degrees" if way != "straight" else ""),
                           direction=d, value=force, **given)
            for way, d in ways.items()
        ]  # fmt: skip
    cautions = lugs.CAUTIONS if name == "recovery" else (*rules.CAUTIONS, lugs.CAUTIONS[1])
    return LoadRule(
        words=words, name=name, mass=0.0, angle=angle, cases=tuple(cases), factor=SERVICE, cautions=cautions
    )


def on_part(
    rule: LoadRule, case: rules.LoadCase, on: Mount | None, fairlead: Mount | None, axes: Axes
) -> tuple[Load, ...]:
    """Return one case as loads on a part, in part axes."""
    way = axes.turned(case.direction)
    if case.unit == "g":
        g = scaled(way, case.value)
        if on is None:
            return (Acceleration(g=g, riding=rule.mass),)
        push = scaled(way, case.force(rule.mass))
        return Acceleration(g=g), Carried(newtons=push, at=on.at, holes=on.holes, panel=on.panel, name=rule.name)
    if on is None:
        raise BadValue("on", None, f"a Mount: where '{rule.name}' is fixed and where it pulls")
    if fairlead is None or rule.name != "winch":
        pull = scaled(way, case.value)
        return (Carried(newtons=pull, at=on.at, holes=on.holes, panel=on.panel, name=rule.name),)
    ahead = scaled(axes.forward, case.value)
    turned = plus(scaled(way, case.value), ahead, -1.0)
    return (
        Carried(newtons=ahead, at=on.at, holes=on.holes, panel=on.panel, name="drum"),
        Carried(newtons=turned, at=fairlead.at, holes=fairlead.holes, panel=fairlead.panel, name="fairlead"),
    )


def scaled(v: Vec, k: float) -> Vec:
    """Return a vector times a number, without minus zeros."""
    return v[0] * k + 0.0, v[1] * k + 0.0, v[2] * k + 0.0


@dataclass(frozen=True, slots=True)
class Axes:
    """How a part stands in the vehicle: its own directions of travel and up."""

    forward: Vec
    up: Vec

    @classmethod
    def of(cls, forward: Vec, up: Vec) -> Axes:
        """Return checked axes; up need only not be along forward."""
        x, z = unit(forward), unit(up)
        if abs(dot(x, z)) > 0.01:
            raise BadValue("up", up, "a direction square to forward")
        return cls(x, z)

    def turned(self, v: Vec) -> Vec:
        """Return a direction of the vehicle (forward, left, up) in part axes."""
        left = cross(self.up, self.forward)
        return plus(plus(scaled(self.forward, v[0]), left, v[1]), self.up, v[2])


def need_rule(rule: LoadRule | str) -> LoadRule:
    """Return a rule, from its words if need be."""
    if isinstance(rule, str):
        return load_rule(rule)
    of_kind(rule, LoadRule, "load rule", "words such as: " + "; ".join(EXAMPLES))
    return rule
