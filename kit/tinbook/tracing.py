"""A drawing at true size, to be laid on the metal: what a paper template shows, whoever drew it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tinbook.plane import Edge

Kind = Literal["cut", "scribe", "fold up", "fold down", "mark", "centre"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """Lines of one kind on a template.

    Parameters
    ----------
    kind : str
        "cut", "scribe" (on the body), "fold up", "fold down", "mark" or "centre".
    edges : tuple of Edge
        Lines and arcs at true size, mm.
    text : str
        Written along the first line, "" for nothing.
    """

    kind: Kind
    edges: tuple[Edge, ...]
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What a template shows.

    Parameters
    ----------
    name : str
        For the foot of each tile and the file's name.
    lines : tuple of Traced
        What is drawn; at least one edge.
    """

    name: str
    lines: tuple[Traced, ...]
