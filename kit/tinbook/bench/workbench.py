"""The live workbench: sliders for a design function, the folded part, its flat pattern, the checks."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import ipywidgets as w

from tinbook.bench import tables
from tinbook.bench.controls import Controls
from tinbook.bench.drawers import Drawers, Section, close_all
from tinbook.bench.foldable import Foldable
from tinbook.bench.pace import SLOW, Pace
from tinbook.bench.parameters import BadFunction, Parameter, Value, checked, defaults, name_of, parameters
from tinbook.bench.picture import Picture, cause, picture
from tinbook.bench.trial import Failure, attempt, failure
from tinbook.bench.values import History, as_code, load_values, save_values
from tinbook.bench.viewer import View
from tinbook.errors import BadValue, MissingTool, TinbookError
from tinbook.finding import Findings
from tinbook.shop.shop import Shop
from tinbook.write.names import file_stem

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.making.shape import Shape
    from tinbook.part.part import Part

_newest: dict[str, Workbench] = {}

YOUNG = 50_000
"""New objects before the collector looks through them: a part has some thousands, and every slider move makes a part."""


def workbench(function: Callable[..., Part], shop: Shop, *, folder: str | Path = "out", height: int = 440) -> Workbench:
    """Open a workbench on a design function.

    Parameters
    ----------
    function : callable
        Returns a Part. Each parameter is annotated and becomes a control: `Annotated[float, tb.Range(low, high,
        step, unit)]` and `Annotated[int, tb.Range(low, high)]` sliders, `Literal[...]` a choice, `bool` a switch,
        `str` a text. It starts at its default, or in the middle of its range.
    shop : Shop
        Sheets and tools that the part is made with.
    folder : path
        Where the write buttons put their files; made when the first file is written.
    height : int
        Height of the two views, px.

    Returns
    -------
    Workbench
        Shows itself as the last line of a cell.
    """
    if not isinstance(shop, Shop):
        raise BadValue("shop", type(shop).__name__, "a Shop, as tb.Shop.demo() or tb.Shop.load(file) gives one")
    first, *older = gc.get_threshold()
    if 0 < first < YOUNG:  # 0 is off
        gc.set_threshold(YOUNG, *older)
    made = Workbench(function, shop, folder=Path(folder), height=height)
    # A cell that is run again leaves its old views behind; they go as soon as the page no longer shows them.
    name = getattr(function, "__qualname__", "<lambda>")
    if "<lambda>" not in name:
        place = f"{function.__module__}.{name}"
        if (old := _newest.get(place)) is not None:
            old.retire()
        _newest[place] = made
    return made


class Workbench:
    """Controls of a design function beside what they make; `values`, `part`, `made` and `findings` tell its state.

    Parameters
    ----------
    function, shop, folder, height
        As for `workbench`.
    """

    def __init__(self, function: Callable[..., Part], shop: Shop, *, folder: Path, height: int) -> None:
        self._function, self._shop, self._folder = function, shop, folder
        self._name = name_of(function)
        self._picture: Picture | None = None
        self.failure: Failure | None = None
        self.runs = 0
        self._own_time = 0.0
        self._refresh, self._settle = Pace(self._update), Pace(self._rested, rest=0.4)
        self._foldable = Foldable(self._folds)
        given: tuple[Parameter, ...] = ()
        try:
            given = parameters(function)
        except BadFunction as error:
            self.failure = Failure(what=str(error))
        self._given = given
        self._controls = Controls(given, self._moved)
        self._history = History((defaults(given),))
        self._seen = self._history.now
        self._build(height)
        if self.failure is None:
            self._refresh.now()
            # The first run also loaded libraries; only the function's own time tells how the next will be.
            self._refresh.took = self._own_time
            if self.failure is None:
                self._tell_pace(self._own_time)
                self._settle.ask()
        else:
            self._problem.value = tables.failure_note(self.failure)
            for button in self._buttons.values():
                button.disabled = True

    # -- state -------------------------------------------------------------

    @property
    def values(self) -> dict[str, Value]:
        """Values of the controls."""
        return self._controls.values

    @property
    def made(self) -> Made | None:
        """The last part that could be shown, None before there was one."""
        return self._picture.made if self._picture else None

    @property
    def findings(self) -> tuple[Any, ...]:
        """Findings of the last part, worst first."""
        return self._picture.findings if self._picture else ()

    @property
    def picked(self) -> str:
        """Key of the feature that was picked last ("hole:drain"), "" for none."""
        return str(self.view.picked.get("name", "")) if self.view is not None else ""

    @property
    def code(self) -> str:
        """The call that gives the present part."""
        return as_code(self._name, self.values)

    def set(self, **changes: Value) -> None:
        """Move controls from code; all values are checked first."""
        self._go(checked(self._given, {**self.values, **changes}))

    def highlight(self, feature: str) -> None:
        """Mark a feature in both views by its key, as "fold:tunnel"; "" for none."""
        if self.view is not None:
            self.view.highlight = feature

    # -- what the buttons do -------------------------------------------------

    def undo(self) -> None:
        """Go one step back."""
        self._flush()
        self._walk(self._history.undo())

    def redo(self) -> None:
        """Go one undone step forward."""
        self._flush()
        self._walk(self._history.redo())

    def write(self, kind: Literal["dxf", "step"]) -> Path | None:
        """Write the part's DXF or STEP file into the folder; a stop finding forbids it, also that no order folds the part.

        Returns
        -------
        Path or None
            The file, None when nothing was written; the reason is shown.
        """
        from tinbook.rules.verdict import check
        from tinbook.write.drafts import new_run
        from tinbook.write.dxf import write_dxf
        from tinbook.write.step import write_step

        self._flush()
        new_run()
        try:
            made = self._writable()
            self._folder.mkdir(parents=True, exist_ok=True)
            path = self._folder / f"{file_stem(made)}.{kind}"
            file = write_dxf(made, path) if kind == "dxf" else write_step(made, path)
        except (TinbookError, OSError) as error:
            self._say(f"nothing written: {error}", "stop")
            return None
        state = check(made).state
        self._say(
            f"written: {file}" + ("" if state == "proved" else f"; {state}"), "fine" if state == "proved" else "caution"
        )
        return Path(file)

    def save(self, path: str | Path) -> Path | None:
        """Save the values as a TOML file; returns it, or None with the reason shown."""
        try:
            file = save_values(path, self._name, self.values)
        except (TinbookError, OSError) as error:
            self._say(f"nothing saved: {error}", "stop")
            return None
        self._say(f"saved: {file}")
        return file

    def load(self, path: str | Path) -> bool:
        """Load values from a file; on any mistake nothing changes and the reasons are shown."""
        try:
            found = load_values(path, self._name, self._given)
        except TinbookError as error:
            self._say(str(error), "stop")
            return False
        self._go(found)
        self._say(f"loaded: {path}")
        return True

    def retire(self) -> None:
        """Close all widgets once no page shows them any more."""
        if not self.box._view_count:
            self.close()
        else:
            self.box.observe(lambda change: None if change["new"] else self.close(), names="_view_count")

    def close(self) -> None:
        """Close all widgets."""
        self._refresh.drop()
        self._settle.drop()
        self._foldable.drop()
        self.drawers.drop()
        for widget in (self.box, *self._rows):
            close_all(widget)

    # -- inside --------------------------------------------------------------

    def _build(self, height: int) -> None:
        self.view: Any = None
        try:
            self.view = View(height=height)
            self.view.layout.flex = "1000 1 560px"
            stage = self.view
        except MissingTool as error:
            self._flat = w.HTML(layout=w.Layout(flex="1000 1 400px"))
            stage = w.VBox([w.HTML(tables.plain(str(error), "caution")), self._flat])
        self._problem, self._answer = w.HTML(), w.HTML()
        self._numbers, self._findings = w.HTML(), w.HTML()
        self._file = w.Text(value=f"{self._name}_values.toml", description="values file", layout=w.Layout(width="auto"))
        does: dict[str, Callable[[], object]] = {
            "Undo": self.undo,
            "Redo": self.redo,
            "Write DXF": lambda: self.write("dxf"),
            "Write STEP": lambda: self.write("step"),
            "Copy as code": self._copy,
            "Save values": lambda: self.save(self._file.value),
            "Load values": lambda: self.load(self._file.value),
        }
        self._buttons = {name: w.Button(description=name, layout=w.Layout(width="auto")) for name in does}
        for name, button in self._buttons.items():
            button.on_click(lambda _b, act=does[name]: act())
        self._buttons["Undo"].disabled = self._buttons["Redo"].disabled = True
        wrap = w.Layout(display="flex", flex_flow="row wrap", align_items="flex-start")
        about = (getattr(self._function, "__doc__", None) or "").strip().partition("\n")[0].removeprefix("Return ")
        about = about[:1].upper() + about[1:]
        head = w.HTML(f"<b>{escape(self._name.replace('_', ' '))}</b> {escape(about)}")
        desk = [self._controls.box, stage] if self._given else [stage]
        self.drawers = Drawers({"Strength": self._strength, "Fold order": self._folding})
        rows = [head, w.Box(desk, layout=wrap), self._problem, self._numbers, self._findings, self.drawers.box]
        rows += [w.Box([*self._buttons.values(), self._file], layout=wrap), self._answer]
        self.box = w.VBox(rows if self.failure is None else [head, self._problem])
        self._rows = [*rows, self._controls.box]
        self.box._view_count = 0
        self.box.add_class("tinbook-bench")

    def _strength(self) -> Section:
        from tinbook.bench.strength import StrengthSection

        return StrengthSection(self.view)

    def _folding(self) -> Section:
        from tinbook.bench.folding import FoldingSection

        return FoldingSection()

    def _moved(self) -> None:
        values = self.values
        self._history, self._seen = self._history.parted(self._seen, values), values
        self._refresh.ask()
        self._settle.ask()

    def _update(self) -> None:
        """Answer the latest values: the work done while sliding. Never raises."""
        start = time.perf_counter()
        self._foldable.drop()
        self.runs += 1
        shown = self._try()
        if isinstance(shown, Failure):
            self._fail(shown)
            return
        self.failure, self._picture = None, shown
        self._show(shown)
        self._tell_pace(time.perf_counter() - start)

    def _tell_pace(self, took: float) -> None:
        late = f"{self._name} takes {took:.1f} s: the views follow when the hand rests" if took > SLOW else ""
        _put(self._problem, tables.plain(late, "caution") if late else "")

    def _try(self) -> Picture | Failure:
        start = time.perf_counter()
        part = attempt(self._function, self.values)
        self._own_time = time.perf_counter() - start
        if isinstance(part, Failure):
            return part
        try:
            return picture(part, self._shop, self._first)
        except Exception as error:  # noqa: BLE001 - shown in place; the last good view stays
            return failure(error, error.__traceback__)

    def _first(self, made: Made, shape: Shape) -> None:
        """Show the folded part, while flat pattern, checks and numbers are still worked out."""
        # Colours of an earlier part must not lie on this one.
        self.drawers.turn(made)
        if self.view is not None:
            self.view.show(shape)

    def _show(self, shown: Picture) -> None:
        if shown.shape is None:
            self.drawers.turn(None)
            self._note(f"cannot be made so: {cause(shown.findings)}")
        else:
            if self.view is None:
                self._flat.value = shown.svg
            else:
                self.view.svg = shown.svg
            _put(self._numbers, tables.strip(shown.numbers))
        _put(self._findings, tables.findings_table(shown.findings))

    def _fail(self, found: Failure) -> None:
        self.failure = found
        self.drawers.turn(None)
        _put(self._problem, tables.failure_note(found))
        self._note(f"not up to date: {found}")

    def _note(self, text: str) -> None:
        if self.view is not None:
            self.view.note = text

    def _rested(self) -> None:
        """Do what waits until the sliders rest: remember the step, start the searched rules."""
        self._seen = self.values
        self._history = self._history.step(self._seen)
        self._buttons["Undo"].disabled = len(self._history.done) < 2
        self._buttons["Redo"].disabled = not self._history.undone
        shown = self._picture if self.failure is None else None
        if shown is None:
            return
        self._foldable.ask(shown.made)

    def _folds(self, made: Made, found: Findings) -> None:
        """Show what the searched rules found, if that part still stands here."""
        if self._picture is not None and self._picture.made is made:
            from tinbook.rules.registry import together

            _put(self._findings, tables.findings_table(together(self._picture.findings, found)))

    def _flush(self) -> None:
        for pace in (self._refresh, self._settle):
            if pace.waiting:
                pace.now()

    def _go(self, wanted: Mapping[str, Value]) -> None:
        self._controls.show(wanted)
        self._refresh.now()
        self._settle.now()

    def _walk(self, history: History) -> None:
        self._history = history
        self._go(history.now)

    def _writable(self) -> Made:
        from tinbook.rules.verdict import check

        if self.failure is not None:
            raise BadValue(self._name, str(self.failure), "a design without an error")
        assert self._picture is not None
        made = self._picture.made
        # Every rule, and the order of folds: only the live rules ran while sliding.
        found = check(made, self._shop)
        _put(self._findings, tables.findings_table(found))
        if not found.ok:
            # The fold that hits says more than that there is no order.
            first = next((f for f in found.stops if f.code != "route.order"), found.stops[0])
            more = f"; {len(found.stops) - 1} more in the table" if len(found.stops) > 1 else ""
            raise BadValue("part", made.part.number, f"no stop finding; here: {first}{more}")
        return made

    def _copy(self) -> None:
        code = self.code
        if self.view is not None:
            self.view.send({"copy": code})
        self._answer.value = tables.note(f"copied: <code>{escape(code)}</code>")

    def _say(self, text: str, severity: str = "fine") -> None:
        self._answer.value = tables.plain(text, severity)

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = self.box._repr_mimebundle_(**kwargs)
        return {**bundle, "text/plain": repr(self)} if isinstance(bundle, dict) else bundle

    def __repr__(self) -> str:
        return f"Workbench({self._name})"


def _put(widget: Any, html: str) -> None:
    # Setting an unchanged value sends nothing, but a comparison here keeps the reason visible.
    if widget.value != html:
        widget.value = html
