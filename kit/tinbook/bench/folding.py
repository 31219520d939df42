"""The order of folds step by step: the part in the machine, what to set, and the clash where there is no order."""

from __future__ import annotations

import time
from html import escape
from typing import TYPE_CHECKING, Any, Final

import anywidget
import ipywidgets as w
import traitlets as t

from tinbook.bench import tables
from tinbook.bench.background import Ended, Job, Tell
from tinbook.bench.controls import Buttons
from tinbook.bench.drawers import close_all
from tinbook.bench.usercode import in_words
from tinbook.errors import MissingTool
from tinbook.finding import Findings
from tinbook.htmltable import FAINT, html_table
from tinbook.shown import with_still
from tinbook.write.foldpage import SHARES, page_count, sequence_of, step_page, summary

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.route.steps import FoldPlan

SECONDS: Final = 60.0
"""s after which the workbench's search is cut short; it says so then."""
READ: Final = 0.2
"""s between two updates of the search's progress."""
EARLIER: Final = "as of the earlier part: the part has changed since; work it out again for this one"
WATCH: Final = "Watch it fold"
WORDS: Final = {"description_width": "6em"}


def folding(what: Made | FoldPlan, *, machine: str | None = None) -> Folding:
    """Show the order of folds with a slider over its steps.

    Parameters
    ----------
    what : Made or FoldPlan
        The part, or the order that `fold_sequence` found for it.
    machine : str, optional
        Key of the one machine that must make all folds.

    Returns
    -------
    Folding
        Shows itself as the last line of a cell.

    Raises
    ------
    BadValue
        A part that cannot be made, or without folds.
    """
    return Folding(sequence_of(what, machine))


class Keys(anywidget.AnyWidget):
    """Keeps the notebook from taking the arrow keys that are meant for the sliders beside it."""

    _esm = t.Unicode(
        """export default { render({ el }) {
          const ours = el.closest(".tinbook-folding");
          const keep = (e) => (e.target.dataset.lmSuppressShortcuts = "true");
          ours?.addEventListener("focusin", keep);
          return () => ours?.removeEventListener("focusin", keep);
        } };"""
    ).tag(sync=True)

    def __repr__(self) -> str:
        return "Keys()"


class Folding:
    """A fold sequence, one page at a time; `step` is the number of the page shown, from 1.

    Parameters
    ----------
    sequence : FoldPlan
        With steps, or with folds that are blocked.
    """

    def __init__(self, sequence: FoldPlan) -> None:
        self.sequence, self._faint = sequence, False
        count = page_count(sequence)
        what = "step" if sequence.steps else "fold"
        wide = w.Layout(width="min(460px, 100%)")
        self.slider = w.IntSlider(value=1, min=1, max=max(count, 1), description=what, style=WORDS, layout=wide)
        self.far = w.SelectionSlider(
            options=[(f"{share:.0%}", share) for share in SHARES],
            value=SHARES[-1],
            description="formed",
            style=WORDS,
            layout=wide,
        )
        self.slider.layout.display = None if count > 1 else "none"
        self.far.layout.display = None if sequence.steps else "none"
        self._head, self._picture, self._text = w.HTML(), w.HTML(), w.HTML()
        self._head.value = f'<div style="{tables.PAGE}"><b>{escape(summary(sequence))}</b></div>'
        found = [f for f in Findings(sequence.findings) if f.severity != "fine"]
        below = [w.HTML(tables.findings_table(found))] if found else []
        sliders = w.Box([self.slider, self.far], layout=w.Layout(display="flex", flex_flow="row wrap"))
        self.film: Any = None
        hint = "the step in space, with the tools; worked out when it is opened"
        self.watch = Buttons({WATCH: self._watched}, hints={WATCH: hint}, opening=True)
        self._screen = w.VBox()
        if not count:
            self.watch.by_name[WATCH].disabled = True
        shown = [self._head, sliders, self._text, self._picture, self.watch.box, self._screen]
        self.box = w.VBox([*shown, *below, Keys()])
        self.box.add_class("tinbook-folding")
        self.slider.observe(lambda _c: self._stepped(), names="value")
        self.far.observe(lambda _c: self._show(), names="value")
        self._show()

    @property
    def step(self) -> int:
        """The number of the page shown, from 1."""
        return int(self.slider.value)

    def go(self, step: int) -> None:
        """Show a step, from 1; raises BadValue for one that does not exist."""
        step_page(self.sequence, step - 1, ())
        self.slider.value = step

    def _watched(self, open_: bool) -> None:
        """Open the step in space, or close it."""
        if open_ and self.film is None:
            from tinbook.bench.film import film_of
            from tinbook.bench.viewer import FilmView

            try:
                self.film = FilmView(film_of(self.sequence, self.step - 1), self._go_on)
            except MissingTool as error:
                self._screen.children = (w.HTML(tables.plain(str(error), "caution")),)
                return
            self._screen.children = (self.film,)
        elif not open_ and self.film is not None:
            self._screen.children = ()
            close_all(self.film)
            self.film = None

    def _go_on(self, by: int) -> None:
        if 1 <= self.step + by <= page_count(self.sequence):
            self.slider.value = self.step + by

    def _stepped(self) -> None:
        self._show()
        if self.film is not None:
            from tinbook.bench.film import film_of

            self.film.show(film_of(self.sequence, self.step - 1))

    def _show(self) -> None:
        if not page_count(self.sequence):
            return
        shown = step_page(self.sequence, self.step - 1, (self.far.value,))
        words, svg = shown.pictures[0]
        page = tables.PAGE + (";opacity:.5" if self._faint else "")
        self._picture.value = (
            f'<figure class="tinbook-step" style="margin:0;{page}" aria-label="{escape(words)}">{svg}</figure>'
        )
        colour = f";color:{tables.INK['stop']}" if shown.clash else ""
        rows = html_table((), (((a, FAINT), b) for a, b in shown.rows))
        self._text.value = (
            f'<div class="tinbook-step-text" style="{page}"><b style="font-size:110%{colour}">'
            f"{escape(shown.title)}</b>{rows}</div>"
        )

    def fade(self, on: bool) -> None:
        """Show the page faint, because it belongs to an earlier part."""
        self._faint = on
        self._show()

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        pages = page_count(self.sequence)
        still = step_page(self.sequence, self.step - 1, (1.0,)).pictures[0][1] if pages else ""
        return with_still(self.box._repr_mimebundle_(**kwargs), still, repr(self))

    def __repr__(self) -> str:
        return f"Folding({summary(self.sequence)})"


class FoldingSection:
    """The order of folds of the part on the workbench, searched at the press of a button."""

    def __init__(self) -> None:
        self._made: Made | None = None
        self.shown: Folding | None = None
        self._job = Job(progress=self._show_progress, done=self._done, failed=self._failed)
        self._run = w.Button(description="Work out the order", button_style="primary", layout=w.Layout(width="auto"))
        self._cancel = w.Button(description="Cancel", disabled=True, layout=w.Layout(width="auto"))
        self._run.on_click(lambda _b: self.run())
        self._cancel.on_click(lambda _b: self.cancel())
        self._word, self._updated = w.Label(), 0.0
        self._note, self._place = w.HTML(), w.VBox()
        self.box = w.VBox([w.HBox([self._run, self._cancel, self._word]), self._note, self._place])

    @property
    def stale(self) -> bool:
        """Whether the order belongs to another part than the one shown."""
        return self.shown is not None and (self._made is None or self._made.part != self.shown.sequence.made.part)

    @property
    def running(self) -> bool:
        """Whether a search is going on."""
        return self._job.running

    def set_part(self, made: Made | None) -> None:
        """Take the part that is shown now; an older order is marked."""
        was = self.stale
        self._made = made
        self._run.disabled = made is None or self.running
        if self.stale != was:
            self._mark()

    def drop(self) -> None:
        """Drop a search that is running."""
        self._job.drop()

    def run(self) -> None:
        """Search for an order of folds of the part shown now."""
        made = self._made
        if made is None or self.running:
            return

        def work(tell: Tell) -> FoldPlan:
            return sequence_of(made, seconds=SECONDS, progress=tell)

        self._busy(True)
        self._note.value = tables.plain("searching; the sliders stay free")
        self._job.start(work)

    def cancel(self) -> None:
        """Cancel the search at its next state; the answer shown before stays."""
        if self.running:
            self._job.end()
            self._word.value = "ending at the next state"

    def _busy(self, on: bool) -> None:
        self._run.disabled, self._cancel.disabled = on or self._made is None, not on
        self._word.value = ""

    def _show_progress(self, _share: float, word: str) -> None:
        # The search visits hundreds of states a second, too fast to read.
        if (now := time.monotonic()) - self._updated > READ and not self._job.ending:
            self._updated, self._word.value = now, word

    def _done(self, found: FoldPlan) -> None:
        self._busy(False)
        old = self.shown
        self.shown = Folding(found)
        self._place.children = (self.shown.box,)
        if old is not None:
            close_all(old.box)
        self._mark()

    def _failed(self, error: BaseException) -> None:
        self._busy(False)
        if isinstance(error, Ended):
            old = tables.plain(EARLIER, "caution") if self.stale else ""
            self._note.value = tables.plain("ended; no order was worked out", "caution") + old
            return
        self._note.value = tables.plain(f"no order: {in_words(error)}", "stop")

    def _mark(self) -> None:
        self._note.value = tables.plain(EARLIER, "caution") if self.stale else ""
        if self.shown is not None:
            self.shown.fade(self.stale)
