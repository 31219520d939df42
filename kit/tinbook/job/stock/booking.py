"""What a job takes from the stock and leaves in it, as values."""

from __future__ import annotations

from typing import Annotated

from tinbook.fields import Count, Text, Word, check_fields
from tinbook.job.stock.values import NEW, Offcut, StockSheet
from tinbook.part.names import NUMBER
from tinbook.values import dataclass

_LINE = Text(empty=True, most=200)


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """One sheet or offcut that a job cuts up.

    Parameters
    ----------
    key : str
        Its number in the store, or what begins with "new": bought for the job and cut at once.
    parts : tuple of (str, int)
        Numbers and counts of the parts that are cut from it.
    leaves : tuple of Offcut
        What is kept of it, without a number yet.
    heat, certificate : str
        Of a new sheet; a plate of the store has its own.
    """

    key: Annotated[str, Text()]
    parts: tuple[tuple[str, int], ...] = ()
    leaves: tuple[Offcut, ...] = ()
    heat: Annotated[str, _LINE] = ""
    certificate: Annotated[str, _LINE] = ""

    def __post_init__(self) -> None:
        check_fields(self, f"plate '{self.key}'")

    @property
    def new(self) -> bool:
        """Whether it is bought for the job."""
        return self.key.startswith(f"{NEW} ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """All that a job takes and leaves, to be booked at once or not at all.

    Parameters
    ----------
    number, title, due, sets
        Of the job.
    text : str
        The job's file.
    takes : tuple of Take
        One for each sheet and offcut.
    seen : tuple of StockSheet or Offcut
        What the stock's plates looked like when the job was nested.
    """

    number: Annotated[str, NUMBER]
    title: Annotated[str, _LINE] = ""
    due: Annotated[str, _LINE] = ""
    sets: Annotated[int, Count(1, 10_000)] = 1
    text: Annotated[str, Word(r"(?s).*", "text")] = ""
    takes: tuple[Take, ...] = ()
    seen: tuple[StockSheet | Offcut, ...] = ()

    def __post_init__(self) -> None:
        check_fields(self, f"booking '{self.number}'")
