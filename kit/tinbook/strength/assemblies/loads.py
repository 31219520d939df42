"""Loads on an assembly in words: inertia by rule, ropes at its winch."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, Final, TypeAlias

import numpy as np

from tinbook.calc import loads as rules
from tinbook.calc import vibration
from tinbook.calc.limits import finite
from tinbook.errors import BadValue, UnknownName
from tinbook.space import Vec, plus, unit
from tinbook.strength.assemblies.whole import Whole
from tinbook.strength.load_rules import PULLS, SERVICE, TEST, Axes, load_rule, own_weight, refuse_seats, scaled
from tinbook.strength.loads import GRAVITY
from tinbook.strength.shell.element import Array
from tinbook.values import dataclass

WORDS: Final = (
    "own weight", "own weight x 3", "tank", "tank, class M1", "battery", "spare wheel", "cargo", "service",
    "winch 40 kN at 15 deg", "snatch block 40 kN", "recovery 30 kN",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One load case of an assembly.

    Parameters
    ----------
    name : str
    g : (float, float, float)
        Push that all masses feel, in multiples of gravity, assembly axes.
    pulls : tuple of (str, (float, float, float))
        Forces at members' middles, N.
    against : str
        What the rule holds stress against.
    source : str
    factor : float
        Load factor for joints.
    cautions : tuple of str
        What must be read with its numbers.
    """

    name: str
    g: Vec = (0.0, 0.0, 0.0)
    pulls: tuple[tuple[str, Vec], ...] = ()
    against: str = "yield"
    source: str = "own data"
    factor: float = SERVICE
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        refuse_seats(str(self.name))
        for value in (self.g, *(f for _, f in self.pulls)):
            if len(value) != 3:
                raise BadValue(f"load case '{self.name}'", value, "three finite numbers (x, y, z)")
            finite(**{f"load case '{self.name}' {axis}": v for axis, v in zip("xyz", value, strict=True)})


CaseOrWords: TypeAlias = "str | Case | Iterable[str | Case]"


def cases_of(
    load: CaseOrWords, axes: Axes, on: str | None, fairlead: str | None
) -> tuple[tuple[Case, ...], tuple[str, ...]]:
    """Return the cases that words stand for, and the cautions that go with them."""
    wanted = (load,) if isinstance(load, str | Case) or not isinstance(load, Iterable) else tuple(load)
    found: list[Case] = []
    cautions: list[str] = []
    for x in wanted:
        if isinstance(x, Case):
            found.append(x)
            cautions += x.cautions
        elif isinstance(x, str):
            more, said = _words(x, axes, on, fairlead)
            found += more
            cautions += said
        else:
            raise BadValue("load", x, "words or a Case")
    if not found:
        raise BadValue("load", "none", f"at least one: {', '.join(WORDS)}")
    return tuple(found), tuple(dict.fromkeys(cautions))


def _words(words: str, axes: Axes, on: str | None, fairlead: str | None) -> tuple[list[Case], tuple[str, ...]]:
    refuse_seats(words)
    g = own_weight(words)
    if g is not None:
        return [Case(name=words, g=scaled(axes.up, -g))], ()
    if words.startswith(PULLS):
        return _ropes(words, axes, on, fairlead)
    what, comma, option = (p.strip() for p in words.partition(","))
    if comma and (what != "tank" or not option.startswith("class ")):
        raise UnknownName("load", words, WORDS)
    if what == "tank":
        cases = rules.tank_cases(option.removeprefix("class ").strip() if comma else "own proposal")
    elif what in rules.MOUNTED:
        cases = rules.mounted_cases(what)
    elif what == "cargo":
        cases = rules.cargo_cases()
    elif what == "service":
        cases = rules.service_cases()
    else:
        raise UnknownName("load", words, WORDS)
    made = [
        Case(name=c.name, g=scaled(axes.turned(c.direction), c.value), against=c.against, source=c.source, factor=TEST)
        for c in cases
    ]
    return made, rules.CAUTIONS


def _ropes(words: str, axes: Axes, on: str | None, fairlead: str | None) -> tuple[list[Case], tuple[str, ...]]:
    rule = load_rule(words)
    if on is None:
        raise BadValue("on", None, f"the member that '{rule.name}' pulls at")
    out = []
    for c in rule.cases:
        whole = scaled(axes.turned(c.direction), c.value)
        ahead = scaled(axes.forward, c.value)
        pulls: tuple[tuple[str, Vec], ...] = ((on, whole),)
        if fairlead is not None:
            pulls = ((on, ahead), (fairlead, plus(whole, ahead, -1.0)))
        out.append(Case(name=c.name, pulls=pulls, source=c.source, factor=rule.factor))
    return out, rule.cautions


def forces(whole: Whole, cases: Iterable[Case]) -> Array:
    """Return nodal forces (unknowns, cases), N and N mm."""
    mass = whole.mass
    out = []
    for c in cases:
        f = np.zeros((len(whole.points), 6))
        f[:, :3] = mass[:, None] * np.array(c.g) * GRAVITY
        for name, force in c.pulls:
            body = next((b for b in whole.bodies if b.name == name), None)
            if body is not None:
                f[body.node, :3] += force
                continue
            member = next((m for m in whole.members if m.name == name), None)
            if member is None:
                known = [b.name for b in whole.bodies] + [m.name for m in whole.members]
                raise UnknownName(f"load case '{c.name}': member", name, known)
            share = mass[member.nodes] / mass[member.nodes].sum()
            f[member.nodes, :3] += share[:, None] * np.array(force)
        out.append(f.ravel())
    return np.stack(out, axis=1)


ROAD: Final = (
    "Road vibration by Miles' formula: one resonance, shaken evenly on both sides of it, linear, damping as stated. "
    "Spectrum and damping are the user's; measure them, or take those of a stated test."
)


def shaken(
    frequency: float, spectrum: Sequence[tuple[float, float]], way: Vec = (0.0, 0.0, 1.0), *, quality: float = 15.0
) -> tuple[Case, Case]:
    """Return road vibration as steady accelerations: three times Miles' root mean square, both ways.

    Parameters
    ----------
    frequency : float
        Natural frequency of the assembly whose mode moves that way, Hz.
    spectrum : sequence of (Hz, g²/Hz)
        Acceleration of what it is fixed to; straight lines between on log scales.
    way : (float, float, float), optional
        Direction of the vibration, assembly axes.
    quality : float, optional
        Amplification at resonance.

    Returns
    -------
    (Case, Case)

    Raises
    ------
    BadValue
        A spectrum that is none, or a frequency outside it.
    """
    points = [tuple(map(float, p)) for p in spectrum]
    if len(points) < 2 or not all(len(p) == 2 and all(math.isfinite(v) and v > 0 for v in p) for p in points):
        raise BadValue("spectrum", spectrum, "two points or more (Hz, g²/Hz), all greater than 0")
    f, a = zip(*points, strict=True)
    if list(f) != sorted(set(f)):
        raise BadValue("spectrum", spectrum, "frequencies that rise")
    if not f[0] <= frequency <= f[-1]:
        raise BadValue("frequency", frequency, f"within the spectrum, {f[0]:g} to {f[-1]:g} Hz")
    density = math.exp(float(np.interp(math.log(frequency), np.log(f), np.log(a))))
    g = 3 * vibration.miles(frequency, quality, density)
    d = unit(way)
    name = f"road vibration, 3 x Miles at {frequency:.3g} Hz, {g:.3g} g"
    given: dict[str, Any] = {"source": "Miles 1954", "factor": TEST, "cautions": (ROAD,)}
    return Case(name=name, g=scaled(d, g), **given), Case(name=f"{name}, back", g=scaled(d, -g), **given)
