"""The text of each paper, read again by another library, held against the model."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from tinbook.dims import hole_rows
from tinbook.finding import Finding, fine, stop
from tinbook.job.kits.delivery import Delivery
from tinbook.language import Language
from tinbook.making.made import Made
from tinbook.write.page import on_paper

_REMEDY: Final = "nothing was released; report it to the authors with the job's file"
_SAID: Final = 6
"""Words that a finding names."""


def paper_holds(paper: Path, words: Iterable[str]) -> Finding:
    """Read a PDF again and look for what the model says must stand on it.

    Parameters
    ----------
    paper : Path
        A PDF.
    words : iterable of str
        Texts and numbers; where a line or a cell breaks them does not matter.

    Returns
    -------
    Finding
        `proof.paper`.
    """
    from pypdf import PdfReader

    said = _tight("".join(page.extract_text() for page in PdfReader(paper).pages))
    wanted = list(dict.fromkeys(words))
    lost = [word for word in wanted if _tight(on_paper(word)) not in said]
    if not lost:
        return fine("proof.paper", paper.name, f"read again: {len(wanted)} texts and numbers of the model stand on it")
    what = f"does not hold {len(lost)} of {len(wanted)} texts of the model: {'; '.join(lost[:_SAID])}"
    return stop("proof.paper", paper.name, what, _REMEDY)


def _tight(text: str) -> str:
    return re.sub(r"\s+", "", text)


def sheet_words(made: Made, say: Language) -> list[str]:
    """Return what must stand on a part's sheet: names, metal, count, the blank's size, folds, angles and holes."""
    assert made.flat is not None
    part, sheet = made.part, made.sheet
    w, h = made.flat.size
    words = [part.number, say("rev {rev}", rev=part.rev), say("{n} off", n=part.quantity)]
    words += [f"{sheet.material.key} {say.number(sheet.nominal, '.4g')} mm", f"{say.number(w)} × {say.number(h)} mm"]
    for s in made.strips:
        words += [s.name, say.number(s.angle, ".1f" if s.angle % 1 else ".0f")]
    words += [say.number(row.dia, ".4g") for row in hole_rows(made.flat) if row.dia]
    return words


def delivery_words(delivery: Delivery) -> list[str]:
    """Return what must stand on a delivery note: each parcel with its size and mass, each part and each item."""
    say = delivery.kit.nest.job.language
    words = [cut.part.number for cut in delivery.kit.nest.parts]
    words += [say.retold(thing.name) for bag in delivery.bags for thing, _ in bag.items]
    for parcel in delivery.parcels:
        words += [" × ".join(say.number(v, ".0f") for v in parcel.size), say.number(parcel.mass)]
    return words
