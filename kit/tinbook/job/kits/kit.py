"""The kit of a nested job: its assemblies and single parts as they are delivered, loose, to whoever fits them."""

from __future__ import annotations

from tinbook.errors import of_kind
from tinbook.flatpattern import FlatPattern
from tinbook.job.cut_parts import CutPart
from tinbook.job.declared import OTHER_HAND
from tinbook.job.jobfile import renumbered
from tinbook.job.nested import JobNest
from tinbook.making.assembled import Assembled, assemble
from tinbook.making.made import Made
from tinbook.memo import Remembers
from tinbook.part.assembly import Assembly
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kit(Remembers):
    """What is delivered for a job.

    Parameters
    ----------
    nest : JobNest
        The job on its sheets: every part is made.
    assembled : tuple of (Assembled, int)
        Each assembly once, and how many of it are in a set.
    alone : tuple of (CutPart, int)
        Parts and flats that are wanted by themselves, and how many of each are in a set.
    """

    nest: JobNest
    assembled: tuple[tuple[Assembled, int], ...]
    alone: tuple[tuple[CutPart, int], ...]

    def __repr__(self) -> str:
        return f"<kit {self.nest.job.number}: {len(self.assembled)} assemblies, {len(self.alone)} single parts>"

    @property
    def things(self) -> tuple[Assembled | Made, ...]:
        """Assemblies, then single parts; flats that are only cut have no shape in space."""
        return (*(a for a, _ in self.assembled), *(c.made for c, _ in self.alone if isinstance(c.made, Made)))


def kit_of(nest: JobNest) -> Kit:
    """Return the kit of a nested job; its assemblies are made on the machines that fold the whole of each part.

    Parameters
    ----------
    nest : JobNest
        What `nest_job` gives.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    job = nest.job
    wholes: dict[Assembly, int] = {}
    singles: dict[str, int] = {}
    for item in job.items:
        if isinstance(item.thing, Assembly):
            wholes[item.thing] = wholes.get(item.thing, 0) + item.quantity
        else:
            hand = OTHER_HAND if item.hand == "other hand" else ""
            name = item.number if isinstance(item.thing, FlatPattern) else f"{item.number}{hand}"
            number = job.numbered(name)
            singles[number] = singles.get(number, 0) + item.quantity
    known = {cut.part.number: cut for cut in nest.parts}
    return Kit(
        nest=nest,
        assembled=tuple((assemble(renumbered(a, job), nest.shop).on_chosen_machines(), n) for a, n in wholes.items()),
        alone=tuple((known[number], n) for number, n in singles.items()),
    )
