"""Every file of a part or an assembly at once: what the workbench's button and a notebook's last cell both write."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import Any, overload

from tinbook.language import ENGLISH, Language
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made, need_made
from tinbook.values import dataclass
from tinbook.write.assembly import write_parts_list
from tinbook.write.drafts import together
from tinbook.write.dxf import write_dxf
from tinbook.write.files import ready_folder
from tinbook.write.foldpage import write_fold_page
from tinbook.write.glb import write_glb
from tinbook.write.page import Paper
from tinbook.write.sheet.pages import write_sheet
from tinbook.write.stamp import Despite
from tinbook.write.step import write_step
from tinbook.write.template import write_template


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFiles:
    """The files of one part; iterating gives their paths in this order.

    Parameters
    ----------
    cut : Path
        DXF for the cutter: contours at finished size, and marks.
    folds : Path
        DXF to look at: fold lines and notes.
    step : Path
        The folded solid.
    sheet : Path
        Fold sheet, PDF.
    template : Path
        Paper template at 100 %, PDF.
    fold_page : Path or None
        The order of folds as a page for a browser; None for a part without folds.
    """

    cut: Path
    folds: Path
    step: Path
    sheet: Path
    template: Path
    fold_page: Path | None

    def __iter__(self) -> Iterator[Path]:
        """Go through the files that were written."""
        every = (self.cut, self.folds, self.step, self.sheet, self.template, self.fold_page)
        return (file for file in every if file is not None)

    def __str__(self) -> str:
        """Return their paths, one a line."""
        return "\n".join(file.as_posix() for file in self)


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyFiles:
    """The files of an assembly; iterating gives their paths in this order.

    Parameters
    ----------
    step, glb : Path
        The whole of it, a product or node for each member.
    parts_list : Path
        CSV.
    parts : tuple of PartFiles
        Those of each different part.
    """

    step: Path
    glb: Path
    parts_list: Path
    parts: tuple[PartFiles, ...]

    def __iter__(self) -> Iterator[Path]:
        """Go through the files that were written."""
        return chain((self.step, self.glb, self.parts_list), *self.parts)

    def __str__(self) -> str:
        """Return their paths, one a line."""
        return "\n".join(file.as_posix() for file in self)


@overload
def write_files(
    made: Made,
    folder: str | os.PathLike[str] = "out",
    *,
    language: Language | str = ENGLISH,
    paper: Paper = "A4",
    date: str = "",
    revisions: Sequence[tuple[str, str, str]] = (),
    despite: Despite = None,
    replace: bool = False,
) -> PartFiles: ...
@overload
def write_files(
    made: Assembled,
    folder: str | os.PathLike[str] = "out",
    *,
    language: Language | str = ENGLISH,
    paper: Paper = "A4",
    date: str = "",
    revisions: Sequence[tuple[str, str, str]] = (),
    despite: Despite = None,
    replace: bool = False,
) -> AssemblyFiles: ...
def write_files(
    made: Made | Assembled,
    folder: str | os.PathLike[str] = "out",
    *,
    language: Language | str = ENGLISH,
    paper: Paper = "A4",
    date: str = "",
    revisions: Sequence[tuple[str, str, str]] = (),
    despite: Despite = None,
    replace: bool = False,
) -> PartFiles | AssemblyFiles:
    """Write every file of a part or an assembly into a folder, all or none.

    Parameters
    ----------
    made : Made or Assembled
        The part or assembly; it is checked by every rule.
    folder : path
        Made if it is not there.
    language, paper
        Of the fold sheet, as for `write_sheet`; template and fold page are in the language too.
    date, revisions
        Of the fold sheet of a part, as for `write_sheet`; an assembly's parts get the date only.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing although something stops the part; the files say so.
    replace : bool
        Write over whatever is there; else only earlier drafts of the same design give way.

    Returns
    -------
    PartFiles or AssemblyFiles
        Cut DXF with marks, DXF with fold lines, STEP, fold sheet, template, and the fold page of a part with folds; of
        an assembly STEP, GLB and list of parts, and the files of each part.

    Raises
    ------
    CannotMake
        Something stops the part and `despite` does not name it.
    CannotWrite
        A file there is none of this design's drafts, or the system refuses.
    BadValue
        A folder or option that cannot be used.
    """
    place = ready_folder(folder)
    how: dict[str, Any] = {"despite": despite, "replace": replace}
    on: dict[str, Any] = {"language": language, "paper": paper, "date": date}
    with together():
        if not isinstance(made, Assembled):
            need_made(made, "write_files")
            return _of_part(made, place, how, {**on, "revisions": revisions})
        return AssemblyFiles(
            step=write_step(made, place, **how),
            glb=write_glb(made, place, **how),
            parts_list=write_parts_list(made, place, **how),
            parts=tuple(_of_part(one, place, how, on) for _, one in made.made),
        )


def _of_part(made: Made, place: Path, how: dict[str, Any], on: dict[str, Any]) -> PartFiles:
    return PartFiles(
        cut=write_dxf(made, place, marks=True, **how),
        folds=write_dxf(made, place, folds=True, **how),
        step=write_step(made, place, **how),
        sheet=write_sheet(made, place, **on, **how),
        template=write_template(made, place, language=on["language"], **how),
        fold_page=write_fold_page(made, place, language=on["language"], replace=how["replace"])
        if made.strips
        else None,
    )
