"""Fitting instructions as text that one edits: generated steps between marks, and the user's own words around them.

A generated block begins with ``<!-- step KEY #HASH -->`` and ends with ``<!-- end -->``. A new revision replaces the
blocks. What stands outside them stays behind the step that it followed, and a block that was changed by hand stays too,
as the user's own words.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Final

from tinbook.errors import BadFile, BadValue, CannotWrite, Mistake, of_kind
from tinbook.job.kits.kit import Kit
from tinbook.job.kits.steps import FittingStep, Procedure, procedures
from tinbook.language import Language
from tinbook.values import dataclass
from tinbook.write.files import target, write_whole
from tinbook.write.names import plain_name

LARGEST: Final = 1_000_000
"""Characters of a text of instructions."""
_BEGIN: Final = re.compile(r"<!-- step (.{1,200}) #([0-9a-f]{8}) -->")
_END: Final = "<!-- end -->"
_LIKE: Final = re.compile(r"<!--\s*(step\b|end\b)")


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch of the text.

    Parameters
    ----------
    key : str
        Of the generated step, "" for the user's own words.
    body : str
        Its lines.
    mark : str
        Hash of a generated block as it was written.
    """

    key: str
    body: str
    mark: str = ""

    @property
    def changed(self) -> bool:
        """Whether somebody changed a generated block by hand."""
        return bool(self.key) and self.mark != _mark(self.body)


def fitting_text(kit: Kit, before: str = "") -> str:
    """Return the fitting instructions of a kit as text to edit.

    Parameters
    ----------
    kit : Kit
        What `kit_of` gives.
    before : str
        The text of an earlier revision with your own words in it; its generated blocks are replaced and the rest stays.

    Returns
    -------
    str
        Markdown, UTF-8. Write outside the marked blocks; numbers of steps are put in when it is printed.

    Raises
    ------
    BadFile
        An earlier text whose marks are not whole; the message names the line.
    """
    of_kind(kit, Kit, "kit", "what tb.job.kit_of gives")
    old = blocks(before)
    new = list(generated(procedures(kit), kit.nest.job.language))
    return "".join(_written(block) for block in merged(old, new))


def write_fitting_text(kit: Kit, path: str | os.PathLike[str], *, before: str = "") -> Path:
    """Write the fitting instructions of a kit as text to edit, or bring a text that is there up to date.

    Parameters
    ----------
    kit : Kit
        What `kit_of` gives.
    path : str or path-like
        File name ending in .md, or an existing folder. Your own words in a text that is there stay.
    before : str
        Text of an earlier revision, where none is there.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadFile
        The file there has broken marks, or is no text in UTF-8; it is not touched.
    CannotWrite
        The file there is no text of instructions, or the system refuses.
    """
    of_kind(kit, Kit, "kit", "what tb.job.kit_of gives")
    file = target(path, ".md", f"{plain_name(kit.nest.job.number)}_fitting")
    if file.exists():
        before = read_fitting_text(file)
        if not any(b.key for b in blocks(before)):
            raise CannotWrite(
                f"{file}: nothing was written; the file there is no text of fitting instructions; valid: another name"
            )
    write_whole({file: fitting_text(kit, before)})
    return file


def read_fitting_text(file: Path) -> str:
    """Return what stands in a file of instructions; BadFile where it is no text."""
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as wrong:
        raise BadFile(str(file), [Mistake("text", f"cannot be read: {wrong}"[:200])]) from None


def generated(listed: Iterable[Procedure], say: Language) -> Iterator[Block]:
    """Yield the generated blocks of some procedures: a heading with the cautions, then each step."""
    for it in listed:
        title = f": {it.title}" if it.title else ""
        head = [f"# {say('Fitting')} {it.label}{title}", "", *(f"- **{say('Caution')}**: {c}" for c in it.cautions)]
        yield _fresh(f"{it.label.partition(' rev ')[0]}/", head)
        yield from (_fresh(step.key, _lines(step, say)) for step in it.steps)


def _lines(step: FittingStep, say: Language) -> list[str]:
    bag = [say("From bag {n}.", n=step.bag)] if step.bag else []
    return [f"## {step.title}", "", *(f"- {line}" for line in (*step.lines, *bag))]


def _fresh(key: str, lines: Sequence[str]) -> Block:
    body = "\n".join(line.rstrip() for line in lines).rstrip()
    return Block(key, body, _mark(body))


def _mark(body: str) -> str:
    """Return the hash of a block; spaces at the ends of lines, which editors add and take away, do not count."""
    return hashlib.sha256("\n".join(line.rstrip() for line in body.strip().split("\n")).encode()).hexdigest()[:8]


def _written(block: Block) -> str:
    if not block.key:
        return f"{block.body.strip()}\n\n" if block.body.strip() else ""
    return f"<!-- step {block.key} #{block.mark} -->\n{block.body}\n{_END}\n\n"


def blocks(text: str) -> list[Block]:
    """Return the blocks of a text of instructions.

    Raises
    ------
    BadValue
        No text, or too long a one.
    BadFile
        A mark that is broken, doubled, or has no end.
    """
    if not isinstance(text, str) or len(text) > LARGEST:
        raise BadValue("instructions", text if not isinstance(text, str) else f"{len(text)} characters",
                       f"text as tb.job.fitting_text gives it, at most {LARGEST} characters")  # fmt: skip
    found: list[Block] = []
    wrong: list[Mistake] = []
    key, mark, lines, seen = "", "", list[str](), set[str]()
    # Editors of other systems end lines in their own way.
    for n, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        begun, whole = _BEGIN.fullmatch(line.strip()), line.strip()
        if _LIKE.match(whole) and not begun and whole != _END:
            wrong.append(Mistake(f"line {n}", "is no whole mark; valid: as tb.job.fitting_text writes it"))
        elif begun and key:
            wrong.append(Mistake(f"line {n}", f"a step begins before {key!r} has its '{_END}'"))
        elif whole == _END and not key:
            wrong.append(Mistake(f"line {n}", f"'{_END}' without a step before it"))
        elif begun or whole == _END:
            found.append(Block(key, "\n".join(lines).strip(), mark))
            key, mark, lines = (begun[1], begun[2], []) if begun else ("", "", [])
            if key in seen:
                wrong.append(Mistake(f"line {n}", f"step {key!r} stands twice"))
            seen |= {key} - {""}
        else:
            lines.append(line)
    if key:
        wrong.append(Mistake("end", f"step {key!r} has no '{_END}'"))
    if wrong:
        raise BadFile("instructions", wrong)
    found.append(Block("", "\n".join(lines).strip()))
    return [b for b in found if b.key or b.body]


def merged(old: Sequence[Block], new: Sequence[Block]) -> list[Block]:
    """Return the new generated blocks with the user's own words of the old text behind the steps that they followed."""
    still = {b.key for b in new}
    first: list[Block] = []
    behind: dict[str, list[Block]] = {b.key: [] for b in new}
    place = ""
    fresh = {b.key: b.body.strip() for b in new}
    for block in old:
        if block.key in still:
            place = block.key
        if not block.key or (block.changed and block.body != fresh.get(block.key)):
            (behind[place] if place else first).append(Block("", block.body))
    return [*first, *(b for n in new for b in (n, *behind[n.key]))]
