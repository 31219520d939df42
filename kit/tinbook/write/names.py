"""Labels and file names: part, revision, material, thickness, quantity."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, TypeAlias

from tinbook.errors import BadValue, CannotMake, of_kind
from tinbook.flatpattern import FlatPattern
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.making.made import Made
from tinbook.values import dataclass
from tinbook.write.files import checked_name

if TYPE_CHECKING:
    from tinbook.finding import Findings

Subject: TypeAlias = Made | FlatPattern


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What every drawing and file name says.

    Parameters
    ----------
    number, rev, title : str
        Part number, revision ("" if it has none), plain name ("" if it has none).
    material : str
        Key of the material, "" if unknown.
    thickness : float
        As ordered, mm.
    quantity : int
        How many are wanted.
    """

    number: str
    rev: str
    title: str
    material: str
    thickness: float
    quantity: int

    @property
    def name(self) -> str:
        """Part number and revision in words."""
        return f"{self.number} rev {self.rev}" if self.rev else self.number


def label(thing: Subject, quantity: int | None = None) -> Label:
    """Return the label of a part: what its drawings and file names say.

    Parameters
    ----------
    thing : Made or FlatPattern
        A foreign flat pattern has no revision and a quantity of 1; what its name holds beyond
        letters, digits and ". _ -" becomes "-", since nobody here chose it.
    quantity : int, optional
        Instead of the part's own.

    Raises
    ------
    BadValue
        A number, revision or quantity that cannot stand in a file name.
    """
    _of_a_part(thing)
    if isinstance(thing, Made):
        part, sheet = thing.part, thing.sheet
        result = Label(
            number=part.number,
            rev=part.rev,
            title=part.title,
            material=sheet.material.key,
            thickness=sheet.nominal,
            quantity=part.quantity if quantity is None else quantity,
        )
    else:
        result = Label(
            number=plain_name(thing.name),
            rev="",
            title="",
            material=thing.material,
            thickness=thing.thickness,
            quantity=1 if quantity is None else quantity,
        )
    checked_name(result.number)
    for text, field in ((result.rev, "revision"), (result.material, "material")):
        if text and text != "-":
            checked_name(text, field)
    if type(result.quantity) is not int or result.quantity < 1:
        raise BadValue("quantity", result.quantity, "a whole number from 1")
    return result


def letters(i: int, alphabet: str) -> str:
    """Return the name of number i from 0 in a row: A to Z, then AA, AB ... in an alphabet."""
    text = ""
    i += 1
    while i:
        i, rest = divmod(i - 1, len(alphabet))
        text = alphabet[rest] + text
    return text


def plain_name(text: str) -> str:
    """Return a foreign name with everything replaced that a file name cannot hold."""
    return re.sub(r"[^A-Za-z0-9._-]+|\.{2,}", "-", text).strip("-._")[:40].strip("-._") or "part"


def file_stem(thing: Subject | Assembled, quantity: int | None = None) -> str:
    """Return the file name without suffix, such as "HN-FP-L_B_DC01_1.6mm_x2" or "HN-WC_A_assembly"."""
    if isinstance(thing, Assembled):
        of_kind(quantity, type(None), "quantity", "left out: an assembly is written once")
        return f"{thing.assembly.number}_{thing.assembly.rev}_assembly"
    it = label(thing, quantity)
    # A drawing that was read has no thickness.
    thick = "" if math.isnan(it.thickness) else f"{it.thickness:.4g}mm"
    return "_".join(filter(None, (it.number, it.rev, it.material, thick, f"x{it.quantity}")))


def blank_of(thing: Subject) -> FlatPattern:
    """Return the blank, or refuse with the findings that forbid making it.

    Raises
    ------
    CannotMake
        A stop finding, or no flat pattern.
    """
    _of_a_part(thing)
    if isinstance(thing, Made):
        refuse(thing.findings, thing.part.number)
        if thing.flat is None:
            raise CannotMake(f"{thing.part.number}: it has no flat pattern; see its findings")
        return thing.flat
    refuse(thing.findings, thing.name)
    return thing


def _of_a_part(thing: object) -> None:
    of_kind(
        thing, (Made, FlatPattern), "what to write", "a made part, as tb.make(part, shop) gives one, or a flat pattern"
    )


def refuse(findings: Findings, name: str) -> None:
    """Raise CannotMake when a finding stops the part, naming each that does."""
    bad = findings.stops
    if bad:
        raise CannotMake("\n".join([f"{name}: nothing was written", *(f"  {f}" for f in bad)]))


def need_members(made: Assembled) -> None:
    """Refuse what is no assembly, has no members, or has a part that cannot be made."""
    need_assembled(made, "what to write")
    refuse(made.findings, made.assembly.number)
    if not made.assembly.members:
        raise CannotMake(f"{made.assembly.number}: nothing was written: it has no members")
