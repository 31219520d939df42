"""What lies in a release: every file of the job, written into a folder of its own and proved there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Any, Final

from tinbook.errors import CannotMake
from tinbook.executors import sweep
from tinbook.finding import Finding, Findings
from tinbook.job.kits.delivery import delivery_of, kit_labels, packing_list
from tinbook.job.kits.kit import Kit, kit_of
from tinbook.job.kits.note import write_delivery_note
from tinbook.job.kits.paper import write_fitting
from tinbook.job.kits.text import write_fitting_text
from tinbook.job.lists import cut_list, mass_list, write_list
from tinbook.job.nested import JobNest
from tinbook.job.papers.written import write_papers
from tinbook.job.purchases import purchase_list
from tinbook.job.releasing.history import Revisions
from tinbook.job.releasing.paper_proofs import delivery_words, paper_holds, sheet_words
from tinbook.job.releasing.proofs import layouts_judged, unfolded_again
from tinbook.job.sheets.cutfile import write_nest_dxf
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.part.partfile import part_to_toml
from tinbook.progress import Progress
from tinbook.shop.shop import Shop
from tinbook.write.assembly import write_parts_list
from tinbook.write.client_page import write_client_page
from tinbook.write.dxf import write_dxf
from tinbook.write.glb import write_glb
from tinbook.write.labels import write_labels
from tinbook.write.reread import read_back
from tinbook.write.stamp import Despite
from tinbook.write.step import write_step
from tinbook.write.whole_set import write_files

PAGE: Final = "page.html"


def write_contents(
    nested: JobNest,
    folder: Path,
    *,
    rev: str,
    fitting: str,
    flats: bool,
    prices: Mapping[str, str] | None,
    despite: Despite,
    executor: Executor | None,
    progress: Progress,
    revisions: Revisions,
    date: str,
) -> Findings:
    """Write every file of a nested job into an empty folder, and prove each.

    Raises
    ------
    CannotMake
        A part is stopped, or a file that was read back does not hold what was made.
    """
    kit = kit_of(nested)
    steps = len(nested.parts) + len(kit.assembled) + 3
    proofs: list[Finding] = []
    tasks: list[Task] = []
    for cut in nested.parts:
        place, count = folder / "parts" / cut.part.number, cut.part.quantity * nested.sets
        place.mkdir(parents=True, exist_ok=True)
        if not isinstance(cut.made, Made):
            write_dxf(cut.made, place, quantity=count)
            continue
        made = cut.made if cut.made.part.quantity == count else _counted(cut.made, count)
        on: dict[str, Any] = {
            "language": nested.job.language,
            "paper": nested.job.paper,
            "date": date,
            "despite": despite,
        }
        tasks.append((made, place, {**on, "revisions": revisions.get(made.part.number, ())}))
    proofs += chain(*_written(tasks, executor, lambda done, word: progress(done / steps, word)))
    for n, (whole, _) in enumerate(kit.assembled, len(nested.parts)):
        progress(n / steps, whole.assembly.number)
        place = folder / "assemblies" / whole.assembly.number
        place.mkdir(parents=True)
        write_step(whole, place, despite=despite)
        write_glb(whole, place, despite=despite)
        write_parts_list(whole, place, despite=despite)
    progress((steps - 3) / steps, "sheets")
    proofs += layouts_judged(nested)
    sheets = folder / "sheets"
    sheets.mkdir()
    for plan in nested.plans():
        write_nest_dxf(plan, sheets, job=nested.job.number)
    progress((steps - 2) / steps, "papers")
    proofs += _papers(kit, folder, rev, fitting, despite, date)
    progress((steps - 1) / steps, "page")
    if kit.things:
        title = nested.job.title or nested.job.number
        shown: dict[str, Any] = {"title": title, "flats": flats, "prices": prices, "language": nested.job.language}
        write_client_page(_delivered(kit, [made for made, _, _ in tasks]), folder / PAGE, despite=despite, **shown)
    found = Findings(proofs)
    if found.stops:
        raise CannotMake("\n".join(("nothing was released; files read back differ:", *map(str, found.stops))))
    progress(1.0, "")
    return found


Task = tuple[Made, Path, dict[str, Any]]


def _counted(made: Made, count: int) -> Made:
    return replace(made, part=made.part.renamed(quantity=count))


def _delivered(kit: Kit, written: Sequence[Made]) -> list[Assembled | Made]:
    """Return what the customer's page shows: single parts with how many are delivered, as their files have it."""
    known = {(m.part.number, m.part.quantity): m for m in written}
    counts = [(c.made, n * kit.nest.sets) for c, n in kit.alone if isinstance(c.made, Made)]
    singles = [known.get((made.part.number, n)) or _counted(made, n) for made, n in counts]
    return [*(a for a, _ in kit.assembled), *singles]


def _written(
    tasks: Sequence[Task], executor: Executor | None, tell: Callable[[int, str], None]
) -> tuple[tuple[Finding, ...], ...]:
    """Write the files of parts, here or on an executor's workers, which make each part again: a made one does not travel."""
    if executor is None:
        found = []
        for n, (made, place, on) in enumerate(tasks):
            tell(n, made.part.number)
            found.append(_part(made, place, on))
        return tuple(found)
    travelling = [(made.part, made.shop, place, on) for made, place, on in tasks]
    return sweep(_elsewhere, travelling, executor, chunk=1, progress=lambda done, every: tell(done, "parts"))


def _elsewhere(task: tuple[Part, Shop, Path, dict[str, Any]]) -> tuple[Finding, ...]:
    part, shop, place, on = task
    return _part(make(part, shop), place, on)


def _part(made: Made, place: Path, on: dict[str, Any]) -> tuple[Finding, ...]:
    """Write the files of a part and prove each."""
    files = write_files(made, place, **on)
    (place / f"{made.part.number}_{made.part.rev}.toml").write_text(part_to_toml(made.part), "utf-8", newline="\n")
    letters = [letter for letter, _, _ in on["revisions"]]
    return (
        *read_back(made, files),
        unfolded_again(made, files.step, files.cut),
        paper_holds(files.sheet, [*sheet_words(made, on["language"]), *letters]),
    )


def _papers(kit: Kit, folder: Path, rev: str, fitting: str, despite: Despite, date: str) -> Iterator[Finding]:
    """Write the papers and lists of the whole job; hold the text of each paper against the model."""
    nested, papers, lists = kit.nest, folder / "papers", folder / "lists"
    lists.mkdir()
    delivery = delivery_of(kit)
    whole = write_papers(
        nested, papers, parts=False, assembled=[a for a, _ in kit.assembled], date=date, despite=despite
    )
    every = [cut.part.number for cut in nested.parts]
    own = {f"{a.assembly.number}_": [p.number for p in a.assembly.parts] for a, _ in kit.assembled}
    for paper in whole:
        # An assembly's page holds the parts of that assembly; job card and cutting sheets those of the whole job.
        mine = [
            words for stem, words in own.items() if paper.name.startswith(stem) and paper.stem.endswith("assembly_page")
        ]
        yield paper_holds(paper, mine[0] if mine else every)
    write_fitting_text(kit, papers, before=fitting)
    steps = [step.title for it in delivery.procedures for step in it.steps]
    yield paper_holds(
        write_fitting(kit, papers, text=fitting, rev=rev), [it.label for it in delivery.procedures] + steps
    )
    yield paper_holds(write_delivery_note(delivery, papers, rev=rev), delivery_words(delivery))
    labels = kit_labels(delivery)
    yield paper_holds(write_labels(labels, papers, name=f"{nested.job.number}_labels"), [it.number for it in labels])
    rows = {
        "cut": cut_list(nested),
        "parts": mass_list(nested),
        "buy": purchase_list(nested),
        "packing": packing_list(delivery),
    }
    for name, listed in rows.items():
        write_list(listed, lists / f"{nested.job.number}_{name}.csv")
