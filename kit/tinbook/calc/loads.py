"""Load cases by rule: which document asks for what, and who must sign.

The user chooses the rule; nothing here decides that a rule applies to a
vehicle. Accelerations in g (9.80665 m/s²) unless a document fixes its own,
masses kg, forces N. x is the direction of travel, y to the left, z up.
"""

from __future__ import annotations

from typing import Final, Literal, NoReturn

from tinbook.calc.limits import not_negative
from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.values import dataclass

GRAVITY: Final = 9.80665

ENGINEER: Final = (
    "a licensed engineer or the approved signatory of your state or country; local vehicle rules come first"
)
NOBODY: Final = "the maker of the part; no rule asks for a signature"

CAUTIONS: Final = (
    "A screening tool, not a certificate.",
    "Fuel, seat, seat-belt, tow, recovery, steering, brake and roll-over parts: " + ENGINEER + ".",
    "Welds of such parts need a qualified procedure and welder.",
    "No heating, grinding or welding near fuel; zinc fume is poisonous; edges are sharp.",
    "Bend a test coupon before cutting, and measure the sheet's thickness.",
)

Against = Literal["yield", "tensile", "breaking strength", "working load limit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCase:
    """One acceleration or force in one direction.

    Parameters
    ----------
    name : str
        What it stands for.
    direction : (float, float, float)
        Unit vector in which the mass pushes on its mounting.
    value : float
        Multiple of the weight, or a force in N, see `unit`.
    unit : {"g", "N"}
        Unit of `value`.
    against : str
        What the stress or force is held against.
    source : str
        Key of the sources registry; "own proposal" where no document stands behind it.
    signs : str
        Who must sign it off.
    """

    name: str
    direction: tuple[float, float, float]
    value: float
    unit: Literal["g", "N"]
    against: Against
    source: str
    signs: str

    @property
    def own(self) -> bool:
        """Whether it is only this kit's proposal or common practice."""
        return self.source in ("own proposal", "common practice")

    def force(self, mass: float) -> float:
        """Return the force of a mass in N (a case in N does not depend on it)."""
        not_negative("kg", mass=mass)
        return self.value if self.unit == "N" else self.value * mass * GRAVITY

    def __str__(self) -> str:
        label = "own proposal, no document" if self.own else self.source
        return f"{self.name}: {self.value:g} {self.unit} against {self.against} ({label}); signed by {self.signs}"


WAYS: Final[dict[str, tuple[float, float, float]]] = {
    "forward": (1, 0, 0),
    "rearward": (-1, 0, 0),
    "left": (0, 1, 0),
    "right": (0, -1, 0),
    "up": (0, 0, 1),
    "down": (0, 0, -1),
}

_TANKS: Final = {
    "M1": (20.0, 8.0),
    "N1": (20.0, 8.0),
    "M2": (10.0, 5.0),
    "N2": (10.0, 5.0),
    "M3": (6.6, 5.0),
    "N3": (6.6, 5.0),
}
"""Vehicle class: g along and across the direction of travel."""


def tank_cases(vehicle_class: str) -> tuple[LoadCase, ...]:
    """Return the accelerations of a full tank on its mounting by vehicle class.

    Parameters
    ----------
    vehicle_class : str
        M1, N1, M2, N2, M3 or N3 (UNECE classes), or "own proposal" for a liquid tank of a light vehicle.

    Returns
    -------
    tuple of LoadCase
        Each applied alone, tank full.

    Raises
    ------
    UnknownName
        Another class.

    Notes
    -----
    Source: `ISO 12991` table 1, written for gas tanks; no rule gives a figure
    for petrol or diesel tanks, nor for water tanks. The own proposal takes its
    20 g and 8 g and adds 8 g up and 5 g down.
    """
    if vehicle_class == "own proposal":
        values = {"forward": 20.0, "rearward": 20.0, "left": 8.0, "right": 8.0, "up": 8.0, "down": 5.0}
        return tuple(_case(f"full tank {way}", way, g, "yield", "own proposal", ENGINEER) for way, g in values.items())
    if vehicle_class not in _TANKS:
        raise UnknownName("vehicle class", vehicle_class, [*_TANKS, "own proposal"])
    along, across = _TANKS[vehicle_class]
    return tuple(
        _case(f"full tank {way}, class {vehicle_class}", way, g, "tensile", "ISO 12991", ENGINEER)
        for way, g in (("forward", along), ("rearward", along), ("left", across), ("right", across))
    )


MOUNTED: Final = ("battery", "spare wheel")


def mounted_cases(what: str) -> tuple[LoadCase, ...]:
    """Return the accelerations of a heavy item on its mounting: a battery, a spare wheel.

    Parameters
    ----------
    what : {"battery", "spare wheel"}

    Returns
    -------
    tuple of LoadCase
        Those proposed for a full tank: 20 g along, 8 g across and up, 5 g down, each applied alone.

    Raises
    ------
    UnknownName
        Another item.

    Notes
    -----
    Source: `own proposal`. No rule was found that gives a figure for a 12 V battery or a spare wheel; UNECE R100 tests
    traction batteries of classes M1 and N1 with at least 20 g along and 8 g across (from memory).
    """
    if what not in MOUNTED:
        raise UnknownName("mounted item", what, MOUNTED)
    return tuple(
        _case(f"{what} {name}", name, g, "yield", "own proposal", ENGINEER)
        for name, g in (
            ("forward", 20.0),
            ("rearward", 20.0),
            ("left", 8.0),
            ("right", 8.0),
            ("up", 8.0),
            ("down", 5.0),
        )
    )


def refuse_seat(what: str) -> NoReturn:
    """Refuse to state a load for a seat or a belt anchorage on a part.

    Parameters
    ----------
    what : str
        "seat", "belt" or "seat belt anchorage", for the message.

    Raises
    ------
    CannotMake
        Always, with the names of the laws.

    Notes
    -----
    Source: `common practice`. UN R14 is about belt anchorages, UN R17 about seats; `49 CFR 571.207` and 571.210 in the
    United States, ADR 3 and ADR 5 in Australia (names from memory).
    """
    raise CannotMake(
        f"{what}: the kit gives no number for seats and belt anchorages. They are tested, not calculated: UN R17 (seats) "
        "and UN R14 (belt anchorages), 49 CFR 571.207 and 571.210 in the United States, ADR 3 and ADR 5 in Australia. "
        f"Have the floor there designed and tested by {ENGINEER}."
    )


def cargo_cases(against: str = "breaking strength") -> tuple[LoadCase, ...]:
    """Return the accelerations of cargo against its lashings.

    Parameters
    ----------
    against : {"breaking strength", "working load limit"}
        What the lashing is held against.

    Returns
    -------
    tuple of LoadCase
        Forward, rearward, to either side, and up (a part of the weight).

    Raises
    ------
    UnknownName
        Another measure.

    Notes
    -----
    Source: `49 CFR 393.102` (a), (b): 0.8, 0.5, 0.5 g against breaking, 0.435, 0.5, 0.25 g against the
    working load limit; up: 20 % of the weight.
    """
    limits: dict[str, tuple[Against, tuple[float, float, float]]] = {
        "breaking strength": ("breaking strength", (0.8, 0.5, 0.5)),
        "working load limit": ("working load limit", (0.435, 0.5, 0.25)),
    }
    if against not in limits:
        raise UnknownName("against", against, limits)
    held, (ahead, back, side) = limits[against]
    values = {"forward": ahead, "rearward": back, "left": side, "right": side, "up": 0.2}
    return tuple(_case(f"cargo {way}", way, g, held, "49 CFR 393.102", NOBODY) for way, g in values.items())


def recovery_cases() -> tuple[LoadCase, ...]:
    """Refuse to state a recovery load.

    Returns
    -------
    tuple of LoadCase
        Never.

    Raises
    ------
    CannotMake
        Always, with what to do instead.

    Notes
    -----
    Source: `common practice`: points are built for at least twice the gross mass
    and snatch peaks reach three to five times; no document makes that a rule.
    """
    raise CannotMake(
        "recovery load: the kit states none. Snatch recovery can reach several times the vehicle's weight; have the "
        f"point designed and tested by {ENGINEER}. To screen a plate, name a force yourself: 'recovery 30 kN'."
    )


def foot_cases() -> tuple[LoadCase, ...]:
    """Return a person's weight on a floor.

    Returns
    -------
    tuple of LoadCase
        A walkway's point load on 100 x 100 mm, and the same on a heel of 50 x 50 mm; see `foot_patch`.

    Notes
    -----
    Source: `AS 1657` for the first; the heel is `common practice`, and a person who steps in counts 1.5 to 2 times. Hold
    them against lasting bend, not against deflection; thin sheet is not linear under either.
    """
    return (
        _case("foot", "down", 1100.0, "yield", "AS 1657", NOBODY, "N"),
        _case("heel", "down", 1100.0, "yield", "common practice", NOBODY, "N"),
    )


def foot_patch(case: LoadCase) -> float:
    """Return the side of the square on which a foot's load stands, mm.

    Parameters
    ----------
    case : LoadCase
        One of `foot_cases`.

    Returns
    -------
    float
        100 or 50.

    Raises
    ------
    UnknownName
        Another case.

    Notes
    -----
    Source: `AS 1657`; the heel: `common practice`.
    """
    sides = {"foot": 100.0, "heel": 50.0}
    if case.name not in sides:
        raise UnknownName("foot case", case.name, sides)
    return sides[case.name]


def service_cases(safety: float = 1.5) -> tuple[LoadCase, ...]:
    """Return quasi-static accelerations of driving on rough ground, to be held against yield.

    Parameters
    ----------
    safety : float, optional
        Factor on all of them, at least 1.

    Returns
    -------
    tuple of LoadCase
        3 g bump (weight included), 1 g braking, 1 g cornering, times the factor.

    Raises
    ------
    BadValue
        Factor below 1.

    Notes
    -----
    Source: `common practice` of body design (textbooks on vehicle structures give 2 to 3 g for the bump).
    """
    if not safety >= 1:
        raise BadValue("safety", safety, "at least 1")
    values = {
        "down": ("bump", 3.0),
        "forward": ("braking", 1.0),
        "left": ("cornering", 1.0),
        "right": ("cornering", 1.0),
    }
    return tuple(
        _case(f"{name} ({way})", way, g * safety, "yield", "common practice", NOBODY)
        for way, (name, g) in values.items()
    )


def _case(
    name: str, way: str, value: float, against: Against, source: str, signs: str, unit: Literal["g", "N"] = "g"
) -> LoadCase:
    return LoadCase(name=name, direction=WAYS[way], value=value, unit=unit, against=against, source=source, signs=signs)
