"""The widgets of a workbench: views, numbers, findings, buttons, messages. It shows what it is given and decides nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING, Any, Final

import ipywidgets as w

from tinbook.bench import tables
from tinbook.bench.controls import Buttons, Controls
from tinbook.bench.drawers import Drawers, Section, close_all
from tinbook.bench.picture import Picture
from tinbook.bench.usercode import Failure
from tinbook.bench.viewer import View
from tinbook.errors import MissingTool
from tinbook.making.assembled import Assembled
from tinbook.write.scene import Meetings, Scene

if TYPE_CHECKING:
    from tinbook.finding import Finding
    from tinbook.making.made import Made
    from tinbook.making.shape import Shape


HINTS: Final = {
    "Write all files": "DXF with marks, fold lines, STEP, fold sheet, template, fold page",
    "Copy as code": "the call that gives this part",
}


class Desk:
    """The widgets of a workbench.

    Parameters
    ----------
    name, about : str
        Name of the design function and the first line of its docstring.
    controls : Controls
        Of its parameters.
    actions : mapping
        Label of a button to what it does, in their order.
    file : str
        First content of the field for the values file.
    height : int
        Height of the two views, px.
    """

    def __init__(
        self,
        name: str,
        about: str,
        controls: Controls,
        actions: Mapping[str, Callable[[], object]],
        *,
        file: str,
        height: int,
    ) -> None:
        self.view: Any = None
        try:
            self.view = View(height=height)
            self.view.layout.flex = "1000 1 560px"
            stage = self.view
        except MissingTool as error:
            self._flat = w.HTML(layout=w.Layout(flex="1000 1 400px"))
            stage = w.VBox([w.HTML(tables.plain(str(error), "caution")), self._flat])
        self.problem, self.answer, self._numbers = (w.HTML() for _ in range(3))
        # A table that is larger than its place is scrolled in its own row, by the keyboard too.
        wide = w.Layout(max_width="100%", min_height="28px", max_height="16em", overflow="auto")
        self._findings = w.HTML(layout=wide, tabbable=True)
        style, layout = {"description_width": "initial"}, w.Layout(width="auto", flex="0 1 360px")
        self.file = w.Text(value=file, description="values file", style=style, layout=layout)
        row = Buttons(actions, hints=HINTS)
        self.buttons = row.by_name
        wrap = w.Layout(display="flex", flex_flow="row wrap", align_items="flex-start")
        self._head = w.HTML(f"<b>{escape(name.replace('_', ' '))}</b> {escape(about)}")
        self.drawers = Drawers({"Strength": self._strength, "Fold order": self._folding})
        self.whole = Drawers({"Strength": self._whole_strength})
        self.whole.box.layout.display = "none"
        self._controls = controls
        self._rows = [
            self._head,
            w.Box([controls.box, stage] if controls.by_name else [stage], layout=wrap),
            self.problem,
            self._numbers,
            self._findings,
            self.drawers.box,
            self.whole.box,
            w.Box([row.box, self.file], layout=wrap),
            self.answer,
        ]
        self.box = w.VBox(self._rows)
        self.box._view_count = 0
        self.box.add_class("tinbook-bench")

    def _strength(self) -> Section:
        from tinbook.bench.strength import StrengthSection

        return StrengthSection(self.view)

    def _whole_strength(self) -> Section:
        from tinbook.bench.whole_strength import WholeStrengthSection

        return WholeStrengthSection(self.view)

    def _folding(self) -> Section:
        from tinbook.bench.folding import FoldingSection

        return FoldingSection()

    def show_shape(self, made: Made | Assembled, shape: Shape | Scene) -> None:
        """Show the folded part or the assembly, while flat pattern, checks and numbers are still worked out."""
        whole = isinstance(made, Assembled)
        for drawers, mine in ((self.drawers, not whole), (self.whole, whole)):
            drawers.box.layout.display = None if mine else "none"
            # Colours of an earlier part must not lie on this one.
            drawers.set_part(made if mine else None)
        if self.view is None:
            return
        if isinstance(shape, Scene):
            self.view.show_scene(shape)
        else:
            self.view.show(shape)

    def show(self, picture: Picture) -> None:
        """Show all else of a part; one without a shape leaves the last good view, marked."""
        if picture.shape is None:
            self._nothing()
            self.mark_view("an earlier part: this one cannot be made, see the findings below")
        else:
            if self.view is None:
                self._flat.value = picture.svg
            else:
                self.view.svg = picture.svg
            self._numbers.value = tables.strip(picture.numbers)
        self.show_findings(picture.findings)

    def show_meetings(self, met: Meetings) -> None:
        """Light what meets what in the assembly on show; its members are drawn apart and put together along their ways."""
        if self.view is None:
            return
        with self.view.hold_sync():
            self.view.links = met.links
            self.view.members = [
                {**m, "away": met.ways[m["name"]], **({"turn": met.turns[m["name"]]} if met.turns else {})}
                for m in self.view.members
            ]

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Show findings as a table."""
        self._findings.value = tables.findings_table(findings)

    def show_failure(self, failure: Failure) -> None:
        """Show an error of the design function; the last good view stays, marked."""
        self._nothing()
        self.problem.value = tables.failure_note(failure)
        self.mark_view("an earlier part: the values give an error, see below")

    def _nothing(self) -> None:
        self.drawers.set_part(None)
        self.whole.set_part(None)

    def show_nothing_but(self, failure: Failure) -> None:
        """Show why there are no controls: the function cannot be used."""
        self.problem.value = tables.failure_note(failure)
        self.box.children = (self._head, self.problem)
        for button in self.buttons.values():
            button.disabled = True

    def warn(self, text: str) -> None:
        """Show a caution above the numbers, none for ""."""
        self.problem.value = tables.plain(text, "caution") if text else ""

    def say(self, text: str, severity: str = "fine") -> None:
        """Answer an action below the buttons."""
        self.answer.value = tables.plain(text, severity)

    def copy(self, code: str) -> None:
        """Put code on the clipboard of the page."""
        if self.view is not None:
            self.view.send({"copy": code})
        self.answer.value = tables.note(f"copied: <code>{escape(code)}</code>")

    def mark_view(self, text: str) -> None:
        """Mark the view as one of an earlier part."""
        if self.view is not None:
            self.view.note = text

    def close(self) -> None:
        """Close all widgets."""
        self.drawers.drop()
        self.whole.drop()
        for widget in (self.box, *self._rows, self._controls.box):
            close_all(widget)
