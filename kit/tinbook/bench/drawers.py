"""Sections of the workbench that are closed, and not even built, until the user opens them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol

import ipywidgets as w

from tinbook.bench.controls import Buttons

if TYPE_CHECKING:
    from tinbook.making.assembled import Assembled
    from tinbook.making.made import Made


def close_all(widget: Any) -> None:
    """Close a widget with everything in it."""
    for child in getattr(widget, "children", ()):
        close_all(child)
    for part in (widget.layout, getattr(widget, "style", None)):
        if part is not None:
            part.close()
    widget.close()


class Section(Protocol):
    """The content of a drawer."""

    box: Any

    def set_part(self, made: Any) -> None:
        """Take the part or assembly that is shown now, None when there is none."""

    def drop(self) -> None:
        """Cancel work that is running."""


class Drawers:
    """Closed sections, one below the other.

    Parameters
    ----------
    builders : mapping
        Title to what builds the section when it is opened for the first time.
    """

    def __init__(self, builders: Mapping[str, Callable[[], Section]]) -> None:
        self._builders = dict(builders)
        self._made: Made | Assembled | None = None
        self.open: dict[str, Section] = {}
        row = Buttons({name: partial(self._pulled, name) for name in builders}, opening=True)
        self.handles = row.by_name
        self._places = {name: w.VBox(layout=w.Layout(display="none")) for name in builders}
        self.box = w.VBox([row.box, *self._places.values()])

    def set_part(self, made: Made | Assembled | None) -> None:
        """Pass what is shown now to the sections that have been opened."""
        self._made = made
        for section in self.open.values():
            section.set_part(made)

    def section(self, title: str) -> Section:
        """Return a section, built if it was not."""
        if title not in self.open:
            made = self.open[title] = self._builders[title]()
            self._places[title].children = (made.box,)
            made.set_part(self._made)
        return self.open[title]

    def drop(self) -> None:
        """Cancel work that is running in the sections."""
        for section in self.open.values():
            section.drop()

    def _pulled(self, title: str, out: bool) -> None:
        if out:
            self.section(title)
        self._places[title].layout.display = None if out else "none"
