"""What a store remembers of jobs, parts and releases, as values."""

from __future__ import annotations

from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BookedJob:
    """A job in the store.

    Parameters
    ----------
    number, title, due, sets, text
        As booked; `text` is the job's file.
    day : str
        When it was booked.
    state : {"booked", "cancelled"}
        Whether it stands.
    """

    number: str
    title: str
    due: str
    sets: int
    text: str
    day: str
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """From which metal a part was cut.

    Parameters
    ----------
    number : str
        Of the part.
    job : str
        Number of the job.
    plate : str
        Number of the sheet or offcut in the store, or the new sheet.
    count : int
        How many.
    heat, certificate : str
        Of the metal, "" where they are not known.
    """

    number: str
    job: str
    plate: str
    count: int
    heat: str
    certificate: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A release that was sent to somebody.

    Parameters
    ----------
    number, rev : str
        Of the release.
    to, how, day : str
        To whom, by which way, when.
    sha256 : str
        Of the pack: what a copy is compared by.
    """

    number: str
    rev: str
    to: str
    how: str
    day: str
    sha256: str
