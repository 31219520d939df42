"""What lies in a release: every file of the job, written into a folder of its own and proved there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from tinbook.errors import CannotMake
from tinbook.finding import Finding, Findings
from tinbook.job.declared import Item, Job
from tinbook.job.lists import cut_list, mass_list, write_list
from tinbook.job.nested import JobNest
from tinbook.job.purchases import purchase_list
from tinbook.job.releasing.proofs import layouts_judged, unfolded_again
from tinbook.job.sheets.cutfile import write_nest_dxf
from tinbook.job.sheets.paper import write_cut_sheets
from tinbook.making.assembled import Assembled, assemble
from tinbook.making.made import Made
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.part.partfile import part_to_toml
from tinbook.write.assembly import write_parts_list
from tinbook.write.client_page import write_client_page
from tinbook.write.dxf import write_dxf
from tinbook.write.glb import write_glb
from tinbook.write.reread import read_back
from tinbook.write.stamp import Despite
from tinbook.write.step import write_step
from tinbook.write.whole_set import write_files

Progress = Callable[[int, int, str], None]
PAGE: Final = "page.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What was written for a release.

    Parameters
    ----------
    proofs : Findings
        What was proved, fine or stop.
    parts : tuple of (str, str, int, float)
        Number, revision, quantity in all sets, and mass in kg of each part.
    """

    proofs: Findings
    parts: tuple[tuple[str, str, int, float], ...]


def numbered(job: Job, assembly: Assembly) -> Assembly:
    """Return an assembly whose parts, and which itself, carry the job's prefix."""
    members = tuple(
        replace(m, thing=m.thing.renamed(number=job.numbered(m.thing.number))) if isinstance(m.thing, Part) else m
        for m in assembly.members
    )
    return assembly._changed(number=job.numbered(assembly.number), members=members)


def write_contents(
    nested: JobNest,
    folder: Path,
    *,
    flats: bool,
    prices: Mapping[str, str] | None,
    despite: Despite,
    progress: Progress,
) -> Written:
    """Write every file of a nested job into an empty folder, and prove each.

    Raises
    ------
    CannotMake
        A part is stopped, or a file that was read back does not hold what was made.
    """
    job, shop = nested.job, nested.shop
    assembled = [
        assemble(numbered(job, i.thing), shop).on_chosen_machines() for i in job.items if isinstance(i.thing, Assembly)
    ]
    steps = len(nested.parts) + len(assembled) + 3
    proofs: list[Finding] = []
    parts = []
    for n, cut in enumerate(nested.parts):
        progress(n, steps, cut.part.number)
        place = folder / "parts" / cut.part.number
        place.mkdir(parents=True, exist_ok=True)
        if not isinstance(cut.made, Made):
            write_dxf(cut.made, place, quantity=cut.part.quantity * nested.sets)
            continue
        made, count = cut.made, cut.part.quantity * nested.sets
        if made.part.quantity != count:
            made = replace(made, part=made.part.renamed(quantity=count))
        proofs += _part(made, place, despite)
        parts.append((made.part.number, made.part.rev, count, round(made.mass, 6)))
    for n, whole in enumerate(assembled, len(nested.parts)):
        progress(n, steps, whole.assembly.number)
        place = folder / "assemblies" / whole.assembly.number
        place.mkdir(parents=True)
        write_step(whole, place, despite=despite)
        write_glb(whole, place, despite=despite)
        write_parts_list(whole, place, despite=despite)
    progress(steps - 3, steps, "sheets")
    proofs += layouts_judged(nested)
    plans = nested.plans()
    sheets = folder / "sheets"
    sheets.mkdir()
    for plan in plans:
        write_nest_dxf(plan, sheets, job=job.number)
    if plans:
        write_cut_sheets(plans, sheets, job=job.number)
    lists = folder / "lists"
    lists.mkdir()
    for name, rows in (("cut", cut_list(nested)), ("parts", mass_list(nested)), ("buy", purchase_list(nested))):
        write_list(rows, lists / f"{job.number}_{name}.csv")
    progress(steps - 2, steps, "page")
    things: list[Made | Assembled] = [*assembled, *_alone(nested, assembled)]
    if things:
        write_client_page(
            things, folder / PAGE, title=job.title or job.number, flats=flats, prices=prices, despite=despite
        )
    found = Findings(proofs)
    if found.stops:
        raise CannotMake("\n".join(("nothing was released; files read back differ:", *map(str, found.stops))))
    return Written(proofs=found, parts=tuple(parts))


def _part(made: Made, place: Path, despite: Despite) -> Iterator[Finding]:
    files = write_files(made, place, despite=despite)
    (place / f"{made.part.number}_{made.part.rev}.toml").write_text(part_to_toml(made.part), "utf-8", newline="\n")
    yield from read_back(made, files)
    yield unfolded_again(made, files.step, files.cut)


def _alone(nested: JobNest, assembled: list[Assembled]) -> Iterator[Made]:
    """Yield the parts that are wanted by themselves, not only within an assembly."""
    within = {p.number for a in assembled for p in a.assembly.parts}
    for cut in nested.parts:
        if isinstance(cut.made, Made) and (cut.part.number not in within or _wanted(nested.job.items, cut.part.items)):
            yield cut.made


def _wanted(items: tuple[Item, ...], numbers: tuple[str, ...]) -> bool:
    return any(i.number in numbers and isinstance(i.thing, Part) for i in items)
