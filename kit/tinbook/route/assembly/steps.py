"""Steps of an assembly and the work between them, as values."""

from __future__ import annotations

from dataclasses import dataclass

from tinbook.errors import CannotMake
from tinbook.route.assembly.work import Work
from tinbook.space import Vec


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A member's way into the assembly.

    Parameters
    ----------
    name : str
        Member.
    direction : (float, float, float)
        Along which it is moved in.
    travel : float
        How far it comes from where it is clear of all that is there, mm; 0 for what stays where it is.
    bent : bool
        Whether it is flexible and bent round what is there; `direction` is then the way with the least in it.
    clipped : bool
        Whether it is a gas strut that is clipped on its studs.
    carried : tuple of str
        Members that are welded to it and come with it.
    there : bool
        Whether it was there before.
    """

    name: str
    direction: Vec
    travel: float
    bent: bool = False
    clipped: bool = False
    carried: tuple[str, ...] = ()
    there: bool = False

    def __str__(self) -> str:
        if self.there:
            return f"{self.name}, there already"
        if self.clipped:
            return f"{self.name}, clipped on its studs with the lid held open: it is under pressure"
        if self.bent:
            return f"{self.name}, bent on {_way(self.direction)} (it is flexible: try that it bends so far)"
        who = f"{self.name} with all that is welded to it" if self.carried else self.name
        return f"{who}, moved {_way(self.direction)}" if self.travel else who


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyOrder:
    """The order of assembly, as far as there is one.

    Parameters
    ----------
    steps : tuple of Step
        From the first member to the last; what is welded up on the bench has one step more, which carries it all.
    trapped : tuple of str
        Members that hold each other: none of them is flexible or can be moved along a straight line while the
        others stand. Empty when the order is complete.
    works : tuple of Work
        What is done between the steps; empty where members trap each other.
    """

    steps: tuple[Step, ...]
    trapped: tuple[str, ...] = ()
    works: tuple[Work, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether everything goes together."""
        return not self.trapped

    @property
    def names(self) -> tuple[str, ...]:
        """Members in the order in which they come to their place; what was there before comes first."""
        whole = {s.name: s for s in self.steps if s.carried}
        placed = [n for s in self.steps if s.there for n in (s.name,)]
        for s in self.steps:
            if s.carried or not any(s.name in (w.name, *w.carried) for w in whole.values()):
                placed += [s.name, *s.carried]
        return tuple(dict.fromkeys(placed))

    @property
    def ways(self) -> dict[str, Vec]:
        """Direction in which each member is moved in, of those that are moved."""
        return {s.name: s.direction for s in self.steps if s.travel > 0}

    @property
    def schedule(self) -> tuple[Step | Work, ...]:
        """Steps and what is done between them, in order."""
        found: list[Step | Work] = []
        for i in range(len(self.steps) + 1):
            found += [w for w in self.works if w.after == i]
            found += self.steps[i : i + 1]
        return tuple(found)

    def required(self) -> AssemblyOrder:
        """Return the order, or raise CannotMake with the members that trap each other."""
        if self.trapped:
            raise CannotMake(
                "no order of assembly: these trap each other: "
                + ", ".join(self.trapped)
                + ". Let one of them only touch another instead of standing in its slots, or tack one later."
            )
        return self

    def __str__(self) -> str:
        lines = [f"{i}. {s}" for i, s in enumerate(self.schedule, 1)]
        if self.trapped:
            lines.append("These trap each other: " + ", ".join(self.trapped))
        return "\n".join(lines)


def _way(d: Vec) -> str:
    k = max(range(3), key=lambda i: abs(d[i]))
    if abs(d[k]) > 0.999999:
        return ("along +" if d[k] > 0 else "along -") + "xyz"[k]
    return "along (" + ", ".join(f"{v:.3f}" for v in d) + ")"
