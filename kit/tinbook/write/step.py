"""The folded part or an assembly as STEP (AP214, mm), named with number and revision, the same bytes every time."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import tinbook.making.solid as solids
from tinbook.errors import CannotMake
from tinbook.making.assembled import Assembled, need_made_or_assembled
from tinbook.making.made import Made
from tinbook.write.drafts import draft_of
from tinbook.write.names import label
from tinbook.write.part21 import ordered
from tinbook.write.stamp import Despite

if TYPE_CHECKING:
    from tinbook.making.solid.stepfile import StepItem


def write_step(
    made: Made | Assembled,
    path: str | os.PathLike[str],
    *,
    quantity: int | None = None,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the folded part as one solid, or an assembly: every thing once, placed as often as it stands.

    Parameters
    ----------
    made : Made or Assembled
        The part, or the assembly with a product for each member.
    path : str or path-like
        File name ending in .step, or an existing folder.
    quantity : int, optional
        For the file name, instead of the part's own; an assembly has none.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops it; the file says so.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        Something stops it, or a part of it cannot be made, and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    BadValue
        A name or folder that cannot be used.
    """
    need_made_or_assembled(made, "write_step")
    draft = draft_of(made, path, ".step", quantity=quantity, despite=despite, replace=replace)
    return draft.write(step_text(_items(made), draft.stamp.name, draft.stamp.mark))


def _items(made: Made | Assembled) -> list[StepItem]:
    item = solids.stepfile.StepItem
    if isinstance(made, Made):
        return [item(shape=made.shape, name=label(made).name, colour=made.sheet.material.colour)]
    return [
        item(shape=made.own_shape(m.thing), name=m.label, colour=made.colour(m.name), matrix=m.at.values)
        for m in made.assembly.members
    ]


def step_text(items: Sequence[StepItem], name: str = "", mark: str = "") -> str:
    """Return solids as the text of a STEP file.

    Parameters
    ----------
    items : sequence of StepItem
        One without a matrix is written as a plain part; otherwise they become an assembly.
    name : str
        Product name of the assembly.
    mark : str
        What the header says of the file, plain characters.

    Returns
    -------
    str
        AP214, mm; equal models give equal text in every process.
    """
    if not items:
        raise CannotMake("a STEP file needs at least one solid")
    return ordered(solids.stepfile.text_of(items, name), name or items[0].name, mark)
