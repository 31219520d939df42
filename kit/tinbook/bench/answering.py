"""A run beside the sliders: its button, progress and cancel, its answer, colours on what is shown, and the mark of an older one."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, Generic, TypeVar

import ipywidgets as w

from tinbook.bench import tables
from tinbook.bench.background import Ended, Job
from tinbook.bench.usercode import in_words
from tinbook.errors import BadValue

if TYPE_CHECKING:
    from tinbook.bench.background import Tell
    from tinbook.bench.viewer import View

PLAIN: Final = "the part as it is"
EARLIER: Final = "as of the earlier part: the part has changed since; run again for this one"
WORDS: Final = {"description_width": "initial"}

M = TypeVar("M")
"""What is asked about: a made part or assembly."""


class Answering(ABC, Generic[M]):
    """A section that works out an answer about what is shown; `result` is the last, `stale` is True once that has changed.

    Parameters
    ----------
    view : View or None
        What is coloured.
    """

    def __init__(self, view: View | None) -> None:
        self._view = view
        self._made: M | None = None
        self.result: Any = None
        self._job = Job(progress=self._show_progress, done=self._done, failed=self._failed)
        self._run = w.Button(description="Run", button_style="primary", layout=auto())
        self._cancel = w.Button(description="Cancel", disabled=True, layout=auto())
        self._run.on_click(lambda _b: self.run())
        self._cancel.on_click(lambda _b: self.cancel())
        self.bar = w.FloatProgress(min=0.0, max=1.0, layout=w.Layout(width="220px", visibility="hidden"))
        self._word = w.Label()
        self._note, self._answer = w.HTML(), w.HTML()
        self.size = number_box("elements, mm (0: chosen)", 0.0)
        self.colours = w.Dropdown(
            options=[PLAIN], description="colours", style=WORDS, layout=w.Layout(width="22em", display="none")
        )
        self.colours.observe(lambda _c: self._colour(), names="value")
        rows = self._questions()
        wrap = w.Layout(display="flex", flex_flow="row wrap", align_items="center", grid_gap="2px 14px")
        last = [self.size, *rows.pop(), self._run, self._cancel, self.bar, self._word]
        boxes = [w.Box(row, layout=wrap) for row in (*rows, last)]
        self.box = w.VBox([*boxes, self._note, self.colours, self._answer])
        self.box.add_class("tinbook-strength")

    # -- what a section says -------------------------------------------------

    @abstractmethod
    def _questions(self) -> list[list[Any]]:
        """Return rows of widgets; those of the last row stand beside the run button."""

    @abstractmethod
    def _offer(self, made: M) -> None:
        """Update the choices for what is shown now; a choice stays where it still exists."""

    @abstractmethod
    def _asked(self, made: M) -> Callable[[Tell], Any]:
        """Return the work that answers what is chosen; BadValue for a mistake."""

    @abstractmethod
    def _answers(self, result: Any) -> Any:
        """Return the declaration that a result belongs to."""

    @abstractmethod
    def _declared(self, made: M) -> Any:
        """Return the declaration of what is shown."""

    @abstractmethod
    def _html(self, result: Any) -> str:
        """Return an answer as HTML."""

    def _first_colour(self, result: Any) -> str:
        """Return the field that a new answer is coloured by."""
        return str((*result.fields, PLAIN)[0])

    # -- state -------------------------------------------------------------

    @property
    def stale(self) -> bool:
        """Whether the result belongs to something else than what is shown."""
        return self.result is not None and (
            self._made is None or self._declared(self._made) != self._answers(self.result)
        )

    @property
    def running(self) -> bool:
        """Whether a run is going on."""
        return self._job.running

    def set_part(self, made: M | None) -> None:
        """Take what is shown now: update the choices, mark an older result and remove its colours."""
        was = self.stale
        self._made = made
        if made is not None:
            self._offer(made)
        self._run.disabled = self.running or made is None
        if self.stale != was:
            self._show()

    def drop(self) -> None:
        """Cancel a run without any further call."""
        self._job.drop()

    # -- what the buttons do -------------------------------------------------

    def run(self) -> None:
        """Start a run with what is chosen; mistakes are shown in place."""
        made = self._made
        if made is None or self.running:
            return
        try:
            work = self._asked(made)
        except BadValue as error:
            self._say(str(error), "stop")
            return
        self._say("")
        self._busy(True)
        self.bar.value = 0.0
        self._show_progress(0.0, "mesh")
        self._job.start(work)

    def cancel(self) -> None:
        """End the run at its next mesh or load step; nothing is shown of it."""
        if self.running:
            self._job.end()
            self._word.value = "ending at the next step"

    def show(self, name: str) -> None:
        """Colour what is shown by a field of the result, or `PLAIN`."""
        self.colours.value = name

    # -- inside --------------------------------------------------------------

    def _size(self) -> float | None:
        return self.size.value or None

    def _busy(self, on: bool) -> None:
        self._run.disabled, self._cancel.disabled = on or self._made is None, not on
        self.bar.layout.visibility = "visible" if on else "hidden"
        if not on:
            self._word.value = ""

    def _show_progress(self, share: float, word: str) -> None:
        # A lip that opens or closes restarts the load from zero; the bar then stays where it is.
        self.bar.value = max(self.bar.value, share)
        self._word.value = f"{self.bar.value:.0%}, {word}"

    def _done(self, found: Any) -> None:
        self._busy(False)
        self.result = found
        chosen = self.colours.value
        self.colours.options = [PLAIN, *found.fields]
        self.colours.value = chosen if chosen in found.fields else self._first_colour(found)
        self._show()

    def _failed(self, error: BaseException) -> None:
        self._busy(False)
        if isinstance(error, Ended):
            self._say("ended; nothing was worked out", "caution")
        elif isinstance(error, MemoryError):
            self._say("not enough memory for this mesh; take larger elements", "stop")
        else:
            self._say(f"no answer: {in_words(error)}", "stop")

    def _show(self) -> None:
        """Show the result, marked when the part has changed since."""
        if self.result is None:
            return
        table = self._html(self.result)
        old = self.stale
        mark = tables.plain(EARLIER, "caution") if old else ""
        faint = ";opacity:.55" if old else ""
        self._answer.value = f'{mark}<div class="tinbook-answer" style="{tables.PAGE}{faint}">{table}</div>'
        self.colours.layout.display = when(not old and bool(self.result.fields) and self._view is not None)
        self._colour()

    def _colour(self) -> None:
        if self._view is None:
            return
        name = self.colours.value
        fresh = self.result is not None and not self.stale and name in self.result.fields
        self._view.colour(self.result.field(name) if fresh and self.result is not None else None)

    def _say(self, text: str, severity: str = "fine") -> None:
        self._note.value = tables.plain(text, severity) if text else ""


def number_box(label: str, value: float = 0.0) -> Any:
    """Return a field for a number."""
    return w.FloatText(
        value=value,
        description=label,
        style=WORDS,
        layout=w.Layout(width=f"{len(label) * 0.5 + 7:.1f}em"),
        continuous_update=False,
    )


def auto() -> Any:
    """Return a layout as wide as its content."""
    # A layout for each widget: one that is shared hides all its widgets together.
    return w.Layout(width="auto")


def when(shown: bool) -> str | None:
    """Return how a widget is displayed."""
    return None if shown else "none"
