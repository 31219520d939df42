"""Which folds may be marked by nicks in the edge: none whose ends lie on an edge that must stay whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tinbook.part.features import Fold
    from tinbook.part.part import Part


def may_nick(part: Part) -> frozenset[str]:
    """Return the names of the folds whose ends may be nicked."""
    return frozenset(f.name for f in part.folds if not why_no_nick(part, f))


def why_no_nick(part: Part, fold: Fold) -> str:
    """Return why the ends of a fold may not be nicked, "" where they may.

    A nick is a notch. A hem or a curl cracks from it or shows it, and an edge that the part keeps clean is seen
    or carries load (common practice).
    """
    if fold.hem is not None:
        return "hemmed"
    if fold.curl:
        return "curled"
    beside = _beside(part, fold)
    rolled = {(f.panel, f.edge) for f in part.folds if f.hem is not None or f.curl}
    if not rolled.isdisjoint(beside):
        return "its ends run into a hemmed or curled edge"
    if part.clean_all or not set(part.clean).isdisjoint(beside):
        return "its ends lie on edges that are kept clean"
    return ""


def _beside(part: Part, fold: Fold) -> list[tuple[str, str]]:
    """Return the edges that a fold's line ends on: those beside its own edge, and those of its leg beside the fold."""
    loop = part.base.loop if fold.panel == "base" else next(f.shape for f in part.folds if f.name == fold.panel)
    found = [(fold.panel, fold.edge)]
    if loop is not None:
        names = [e.name for e in loop.edges]
        found += [(fold.panel, name) for name in _neighbours(names, fold.edge)]
    else:  # a plain leg has right, end and left, in this order from its fold
        names = ["base", "right", "end", "left"]
        found += [(fold.panel, name) for name in _neighbours(names, fold.edge)]
    own = [e.name for e in fold.shape.edges] if fold.shape is not None else ["base", "right", "end", "left"]
    return found + [(fold.name, name) for name in _neighbours(own, "base")]


def _neighbours(names: list[str], name: str) -> tuple[str, str]:
    k = names.index(name)
    return names[k - 1], names[(k + 1) % len(names)]
