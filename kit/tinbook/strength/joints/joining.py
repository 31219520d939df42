"""How joints are made, what one of them uses, and what every rule needs: the other sheet, pull added to shear."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from tinbook.calc import bolts, fatigue
from tinbook.calc.rivets import RIVETS
from tinbook.errors import TinbookError
from tinbook.fields import Choice, Flag, Number, check_fields
from tinbook.strength.joints.load import JointLoad, SheetAt
from tinbook.values import dataclass

SMALL: Final = 0.05
"""Part of a joint's shear resistance up to which a pull counts as none (own proposal)."""
VARIABLE: Final = 1.5
"""Load factor on service loads (EN 1990, variable actions)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """How joints are made, and by which factor the load counts.

    Parameters
    ----------
    onto : float or None, optional
        Thickness of what a part is joined to, mm; None for that of the part itself.
    onto_tensile : float or None, optional
        Its tensile strength, MPa; None for that of the part itself.
    side : {"down", "up"}, optional
        On which side of the sheet it lies.
    bolt_class : str, optional
        Property class of bolts.
    throat : float or None, optional
        Of fillets, mm; None for 0.7 of the thinner sheet, at least 3 mm from 4 mm up.
    both : bool, optional
        Whether seams have a fillet on both sides.
    factor : float, optional
        By which service loads count more, at least 1; 1 for test loads of a rule.
    pull_tested : float or None, optional
        Pull at which a plug or spot weld of this kind came off in the shop's own test, N. No code has a formula.
    rivets : str, optional
        Standard of the blind rivets in plain holes that hold a part, such as "ISO 15979"; "" for none.
    cycles : float or None, optional
        How often the load comes and goes, for welded seams; None for no fatigue.
    category : float, optional
        Detail category of the seam's toe, MPa; the lowest of laps by default.
    """

    onto: Annotated[float, Number("mm", above=0, most=200)] | None = None
    onto_tensile: Annotated[float, Number("MPa", least=5, most=5000)] | None = None
    side: Annotated[Literal["down", "up"], Choice(("down", "up"))] = "down"
    bolt_class: Annotated[str, Choice(tuple(bolts.BOLT_CLASSES))] = "8.8"
    throat: Annotated[float, Number("mm", above=0, most=50)] | None = None
    both: Annotated[bool, Flag()] = False
    factor: Annotated[float, Number(least=1, most=10)] = VARIABLE
    pull_tested: Annotated[float, Number("N", above=0)] | None = None
    rivets: Annotated[str, Choice(("", *RIVETS))] = ""
    cycles: Annotated[float, Number(least=1e4)] | None = None
    category: Annotated[float, Number("MPa", least=36, most=160)] = fatigue.TOE

    def __post_init__(self) -> None:
        check_fields(self, "joining")


@dataclass(frozen=True, slots=True, kw_only=True)
class JointUse:
    """What one joint uses of what it bears.

    Parameters
    ----------
    joint : JointLoad
    use : float or None
        Part used, 1 for all; None where it is not proved.
    by : str
        What governs ("tearing of the sheet"), or why it is not proved.
    source, clause : str
        Key of the sources registry and the clause in it.
    fatigue : float or None
        Part used by the load as often as it comes; None where not asked or not proved.
    """

    joint: JointLoad
    use: float | None
    by: str
    source: str
    clause: str
    fatigue: float | None = None

    @property
    def holds(self) -> bool:
        """Whether it is proved and not overloaded."""
        return self.use is not None and self.use <= 1 and (self.fatigue is None or self.fatigue <= 1)


class NotProved(TinbookError):
    """No rule covers the joint; the message says why."""


Ways = list[tuple[float, str]]
"""Part used by each way of failing, and its name."""


def other_sheet(joint: JointLoad, how: Joining) -> SheetAt:
    """Return what a joint is joined to: as stated, else like the first sheet with its rims far away."""
    if joint.second is not None:
        return joint.second
    a = joint.first
    return SheetAt(
        thickness=how.onto or a.thickness,
        yields=a.yields,
        tensile=how.onto_tensile or a.tensile,
        grade=a.grade,
        family=a.family,
        hole=a.hole,
    )


def summed(shear: Ways, pull: Ways) -> Ways:
    """Add a pull to every shear: a straight line between them, on the safe side (own proposal)."""
    return [(a + b, f"{x} and {y}") for a, x in shear for b, y in pull] or shear
