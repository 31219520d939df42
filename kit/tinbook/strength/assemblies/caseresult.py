"""One load case of an assembly's answer: stress of its members, use of its joints and links, in words where no number holds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from tinbook.strength.joints.result import percent
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.strength.assemblies.linked import LinkForce
    from tinbook.strength.assemblies.loads import Case
    from tinbook.strength.joints.rules import JointUse
    from tinbook.strength.shell.element import Array

NO_BALANCE: Final = "it bends too far or buckles: no shape in balance is found beside that of linear theory"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseResult:
    """An assembly under one case.

    Parameters
    ----------
    case : Case
    displacement : array (n, 6)
        mm, rad.
    stress : array (n,)
        The larger von Mises stress of both skins, MPa.
    members : tuple of (str, float, float)
        Name, largest stress and part of its yield stress.
    uses : tuple of JointUse
    links : tuple of LinkForce
        What hinges, latches, struts, straps and rubber bear.
    factor : float
        Load factor on joints and links.
    turned : tuple of str
        Members that are not in balance where they stand, in words.
    departs : float
        By how much large displacements change the linear answer, a part of its largest; infinite where no balance is
        found beside it.
    """

    case: Case
    displacement: Array
    stress: Array
    members: tuple[tuple[str, float, float], ...]
    uses: tuple[JointUse, ...]
    links: tuple[LinkForce, ...] = ()
    factor: float = 1.0
    turned: tuple[str, ...] = ()
    departs: float = 0.0

    @property
    def loose(self) -> tuple[str, ...]:
        """What does not hold: items that slide, members out of balance."""
        return (*(x.loose for x in self.links if x.loose), *self.turned)

    def link_use(self, link: LinkForce) -> float | None:
        """Return the part used of what a link is rated for; None where no rating is stated."""
        return None if link.rated is None else self.factor * link.total / link.rated

    @property
    def used(self) -> tuple[tuple[str, float], ...]:
        """Name and part used of every joint that is proved and every link that is rated, worst first."""
        found = [(u.joint.name, u.use) for u in self.uses if u.use is not None]
        found += [(x.name, use) for x in self.links if (use := self.link_use(x)) is not None]
        return tuple(sorted(found, key=lambda x: -x[1]))

    @property
    def deflection(self) -> float:
        """Largest displacement, mm."""
        return float(np.linalg.norm(self.displacement[:, :3], axis=1).max())

    @property
    def worst_member(self) -> tuple[str, float, float]:
        """The member that uses most of its yield stress."""
        return max(self.members, key=lambda m: m[2])

    @property
    def answered(self) -> bool:
        """Whether it has numbers: a state in balance, nothing slides or turns away."""
        return math.isfinite(self.departs) and not self.loose

    @property
    def most(self) -> float:
        """The largest part used: of a member's yield stress, a joint or a rated link."""
        return max(self.worst_member[2], self.used[0][1] if self.used else 0.0)

    @property
    def bends(self) -> str:
        """Largest displacement in words, or why there is none."""
        if self.loose:
            more = f"; and {len(self.loose) - 2} more" if len(self.loose) > 2 else ""
            return f"no number: {'; '.join(self.loose[:2])}{more}"
        if not math.isfinite(self.departs):
            return f"no number: {NO_BALANCE}"
        return f"{'at least ' if self.worst_member[2] > 1 else ''}{self.deflection:.3g} mm"

    @property
    def joints(self) -> str:
        """The worst joint, and how many are not proved, in words."""
        missing = sum(u.use is None for u in self.uses)
        if not self.used:
            return f"none of {missing} proved" if missing else "none"
        rest = f"; {missing} of {len(self.uses)} not proved" if missing else ""
        name, use = self.used[0]
        rule = next((f" by {u.source}, {u.clause}" for u in self.uses if u.joint.name == name), "")
        return f"worst {name} at {percent(use)}{rule}{rest}"

    @property
    def ok(self) -> bool:
        """Whether every member stays elastic and every joint is proved and holds."""
        rated = all((self.link_use(x) or 0.0) <= 1 for x in self.links)
        return self.answered and self.worst_member[2] <= 1 and rated and all(u.holds for u in self.uses)
