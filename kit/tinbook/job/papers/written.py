"""All papers of a job for the workshop, written into one folder."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tinbook.errors import of_kind
from tinbook.job.jobfile import renumbered
from tinbook.job.nested import JobNest
from tinbook.job.papers.card import write_job_card
from tinbook.job.sheets.paper import write_cut_sheets
from tinbook.making.assembled import Assembled, assemble
from tinbook.making.made import Made
from tinbook.part.assembly import Assembly
from tinbook.write.drafts import together
from tinbook.write.files import ready_folder
from tinbook.write.sheet.pages import write_sheet
from tinbook.write.stamp import Despite
from tinbook.write.weldpage.pages import write_assembly_page


def write_papers(
    nested: JobNest,
    folder: str | os.PathLike[str],
    *,
    parts: bool = True,
    assembled: Sequence[Assembled] | None = None,
    date: str = "",
    despite: Despite = None,
    replace: bool = False,
) -> tuple[Path, ...]:
    """Write the papers of a job in its language and on its paper, all or none.

    Parameters
    ----------
    nested : JobNest
        What `tb.job.nest_job` gives.
    folder : path
        Made if it is not there.
    parts : bool
        Whether each part's fold sheet is among them; a release writes those beside the part's other files, by
        ``write_files(made, place, language=job.language, paper=job.paper)``.
    assembled : sequence of Assembled, optional
        The job's assemblies with its prefix, if they are made already, as `tb.job.kit_of` makes them.
    date : str
        Printed in the title strips.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing although something stops a part; the papers say so.
    replace : bool
        Write over whatever is there; else only earlier drafts give way.

    Returns
    -------
    tuple of Path
        The job card, the cutting sheet, the weld and assembly page of each assembly, and the fold sheets if they are wanted.
    """
    of_kind(nested, JobNest, "nested", "a nested job, as tb.job.nest_job gives it")
    job, place = nested.job, ready_folder(folder)
    whole_ones = assemblies_of(nested) if assembled is None else tuple(assembled)
    on: dict[str, Any] = {"language": job.language, "paper": job.paper, "replace": replace}
    with together():
        files = [write_job_card(nested, place, assembled=whole_ones, date=date, replace=replace)]
        plans = nested.plans()
        if plans:
            files.append(write_cut_sheets(plans, place, job=job.number, title=job.title, **on))
        for whole in whole_ones:
            count = job.wanted(whole.assembly) * nested.sets
            files.append(write_assembly_page(whole, place, quantity=count, date=date, despite=despite, **on))
        for it in nested.parts if parts else ():
            if isinstance(it.made, Made):
                count = it.part.quantity * nested.sets
                files.append(write_sheet(it.made, place, quantity=count, date=date, despite=despite, **on))
    return tuple(files)


def assemblies_of(nested: JobNest) -> tuple[Assembled, ...]:
    """Return the job's assemblies with its prefix, made on the shop's tools."""
    found = [renumbered(i.thing, nested.job) for i in nested.job.items if isinstance(i.thing, Assembly)]
    return tuple(assemble(it, nested.shop).on_chosen_machines() for it in found)
