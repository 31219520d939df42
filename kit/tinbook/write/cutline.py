"""The lines of a card as a DXF file: what to cut from the body, what to drill, and the rest to be read."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Loop
from tinbook.tracing import Drawing, Traced
from tinbook.write.drafts import Draft
from tinbook.write.dxf_drawing import NOTES, Version, add_loop, add_strokes, add_text, document_bytes, need_version
from tinbook.write.files import target
from tinbook.write.stamp import stamp_of_drawing
from tinbook.write.template import Traceable

CUT: Final = "BODY_CUT"
DRILL: Final = "BODY_DRILL"
COLOURS: Final = {CUT: 7, DRILL: 4, NOTES: 8}
"""Layer names and their colour indexes."""
LETTERING: Final = 5.0
"""mm: height of text."""


def write_cut_line(
    card: Any, path: str | os.PathLike[str], version: Version = "R2010", *, replace: bool = False
) -> Path:
    """Write what is to be cut from the body as a DXF file at true size: for a template cut by a machine, or a plotter.

    Parameters
    ----------
    card : HostCut, ScribeCard, Drawing, or anything with a method `drawing`
        Its closed lines go on the layer BODY_CUT, holes to drill on BODY_DRILL, and datums, letters and the arrow on
        READ_ONLY.
    path : str or path-like
        File name ending in .dxf, or an existing folder.
    version : {"R2010", "R12"}
        R12 states no unit.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same card gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        Something without a line to cut to, or a name or folder that cannot be used.
    CannotWrite
        The file there is none of this card's drafts, or the system refuses.
    """
    need_version(version)
    drawing = card.drawing() if isinstance(card, Traceable) else card
    if not isinstance(drawing, Drawing):
        raise BadValue("card", type(card).__name__, "a host cut, a scribe card or another drawing")
    cuts = [line for line in drawing.lines if line.kind in ("cut", "scribe")]
    if not cuts:
        raise BadValue("card", drawing.name, "a drawing with a line to cut to")
    stem = drawing.name.replace(" ", "_")
    stamp = stamp_of_drawing(stem, (*drawing.lines, drawing.notes))
    ending = "_mm" if version == "R12" else ""
    draft = Draft(file=target(path, ".dxf", stem + ending), stamp=stamp, replace=replace)

    def draw(doc: Any, space: Any) -> None:
        drilled = [line for line in drawing.lines if line.kind == "drill"]
        rest = [line for line in drawing.lines if line.kind not in ("cut", "scribe", "drill")]
        for name in (CUT, *([DRILL] if drilled else []), NOTES):
            doc.layers.add(name, color=COLOURS[name])
        for layer, lines in ((CUT, cuts), (DRILL, drilled)):
            for line in lines:
                _closed(space, line.edges, layer, version)
        add_strokes(space, [e for line in rest for e in line.edges], NOTES)
        for line in rest:
            _text(space, line)
        x0, y0, _, _ = drawing.box
        for k, words in enumerate((drawing.name, drawing.view), 1):
            add_text(space, words, (x0, y0 - 2 * k * LETTERING), LETTERING)

    return draft.write(document_bytes(draw, drawing.box, version, stamp))


def _closed(space: Any, edges: tuple[Edge, ...], layer: str, version: Version) -> None:
    if edges[0].start == edges[-1].end:
        add_loop(space, Loop(edges), layer, version)
    else:
        add_strokes(space, edges, layer)


def _text(space: Any, line: Traced) -> None:
    if line.text:
        x, y = line.edges[0].at(0.5)
        add_text(space, line.text, (x + LETTERING / 2, y + LETTERING / 2), LETTERING)
