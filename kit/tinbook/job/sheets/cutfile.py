"""The cut file of a nested sheet: contours in the order in which they are cut, layers as in the part's own file."""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import Any, Final

from shapely.ops import polylabel

from tinbook.errors import of_kind
from tinbook.job.nesting.cut_order import Contour
from tinbook.job.nesting.micro import interrupted
from tinbook.job.sheets.plan import CutPlan
from tinbook.plane.loops import Edge, Loop
from tinbook.write.drafts import Draft
from tinbook.write.dxf import COLOURS, INNER, OUTER
from tinbook.write.dxf_drawing import (
    NOTES,
    Version,
    add_chain,
    add_loop,
    add_stroke,
    add_strokes,
    add_text,
    document_bytes,
    need_unit,
    need_version,
)
from tinbook.write.files import target
from tinbook.write.names import plain_name
from tinbook.write.stamp import stamp_of_drawing

PARTING: Final = "OFFCUT_EDGE"
LEAD_IN: Final = "LEAD_IN"
SHEET_COLOURS: Final = {**COLOURS, PARTING: 1, LEAD_IN: 2}
"""Layers of a sheet's file and their colour indexes; blanks have those of the part's own file."""


def sheet_name(plan: CutPlan, job: str = "") -> str:
    """Return the file name of a nested sheet without suffix, such as "Q41_laser_DC01_1.5mm_sheet2"."""
    sheet = plan.sheet
    words = (job, plan.cutter.key, sheet.material.key, f"{sheet.nominal:.4g}mm", f"sheet{plan.number}")
    return "_".join(plain_name(word) for word in words if word)


def write_nest_dxf(
    plan: CutPlan,
    path: str | os.PathLike[str],
    version: Version = "R2010",
    *,
    job: str = "",
    marks: bool = True,
    lead_ins: bool = False,
    notes: bool = False,
    replace: bool = False,
) -> Path:
    """Write a nested sheet for the cutter: finished size, contours in the order in which they are cut.

    Parameters
    ----------
    plan : CutPlan
        From `cut_plan`.
    path : str or path-like
        File name ending in .dxf, or an existing folder.
    version : {"R2010", "R12"}
        As for `write_dxf`.
    job : str
        Number of the job, for the file's name.
    marks : bool
        Add lines to etch, and nicks.
    lead_ins : bool
        Add the lines from where it pierces to the contour, on a layer of their own; else the controller sets its own.
    notes : bool
        Add the sheet's edge, the numbers of the cuts and the blanks' names: a file to look at, not the one to cut from.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same sheet gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        A name, folder or option that cannot be used.
    CannotWrite
        The file there is none of this sheet's drafts, or the system refuses.
    """
    of_kind(plan, CutPlan, "plan", "what tb.job.cut_plan gives")
    need_version(version)
    of_kind(job, str, "job", "the job's number, or '' for none")
    name = sheet_name(plan, job)
    ending = ("_notes" if notes else "") + ("_mm" if version == "R12" else "")
    file = target(path, ".dxf", name + ending)
    need_unit(file, version)
    stamp = stamp_of_drawing(name, (plan.layout, [(b.name, b.outer, b.holes) for b in plan.nest.blanks]))
    edges_by_layer: dict[str, list[Edge]] = {}
    for layer, edge in plan.strokes if marks else ():
        edges_by_layer.setdefault(layer, []).append(edge)
    used = [OUTER, *([INNER] if any(c.hole for c in plan.contours) else []), *edges_by_layer]
    used += ([LEAD_IN] if lead_ins else []) + ([PARTING] if plan.parting else []) + ([NOTES] if notes else [])

    def draw(doc: Any, space: Any) -> None:
        for layer in used:
            doc.layers.add(layer, color=SHEET_COLOURS[layer])
        for layer, edges in edges_by_layer.items():  # etched before anything is cut free
            add_strokes(space, edges, layer)
        for contour in plan.contours:
            layer = INNER if contour.hole else OUTER
            lead = math.dist(contour.pierce, contour.entry)
            if contour.joints:
                for chain in interrupted(contour.loop, contour.joints):
                    if lead_ins and lead:
                        add_stroke(space, _lead_in(chain[0], lead), LEAD_IN)
                    add_chain(space, chain, layer, version)
                continue
            if lead_ins and lead:
                add_stroke(space, Edge(contour.pierce, contour.entry), LEAD_IN)
            add_loop(space, begun_at_entry(contour), layer, version)
        for chain in plan.parting:
            add_strokes(space, chain, PARTING)
        if notes:
            _notes(space, plan, name, version)

    data = document_bytes(draw, plan.layout.plate.outline.box, version, stamp)
    return Draft(file=file, stamp=stamp, replace=replace).write(data)


def _lead_in(first: Edge, lead: float) -> Edge:
    """Return the way from the waste, right of an anticlockwise contour, to the beginning of a piece of it."""
    dx, dy = first.direction(0.0)
    x, y = first.start
    return Edge((x + lead * dy, y - lead * dx), first.start)


def begun_at_entry(contour: Contour) -> Loop:
    """Return a contour that begins where the cut meets it: in the middle of one of its edges."""
    edges = list(contour.loop)
    if contour.loop.is_circle:
        return contour.loop
    n = next((n for n, e in enumerate(edges) if e.at(0.5) == contour.entry), None)
    if n is None:
        return contour.loop
    return Loop((edges[n].part(0.5, 1.0), *edges[n + 1 :], *edges[:n], edges[n].part(0.0, 0.5)))


def _notes(space: Any, plan: CutPlan, title: str, version: Version) -> None:
    plate = plan.layout.plate
    x0, y0, x1, _ = plate.outline.box
    high = (x1 - x0) / 150
    add_loop(space, plate.outline, NOTES, version)
    for c in plan.contours:
        add_text(space, str(c.number), (c.pierce[0] + 0.2 * high, c.pierce[1] + 0.2 * high), 0.7 * high)
    blanks = {b.name: b for b in plan.nest.blanks}
    for p in plan.layout.placements:
        at = polylabel(p.place(blanks[p.blank].shape), high)
        name = f"{p.blank} no. {p.copy}" + (" (turned over)" if p.turned_over else "")
        add_text(space, name, (at.x - 0.3 * high * len(name), at.y - high / 2), high)
    lines = (title, f"{plate.name}: {plan.summary()}", "Finished size, millimetres. Notes are to be read, not cut.")
    for row, line in enumerate(filter(None, lines), 1):
        add_text(space, line, (x0, y0 - 2 * row * high), high)
