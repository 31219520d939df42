"""The live workbench: sliders for a design function, the folded part, its flat pattern, the checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, overload

import tinbook.rules as rules
from tinbook.bench import debounce
from tinbook.bench.collector import seldom
from tinbook.bench.controls import Controls
from tinbook.bench.debounce import Debounced
from tinbook.bench.desk import Desk
from tinbook.bench.files import write_checked
from tinbook.bench.framed import shared_view
from tinbook.bench.given import code_of, with_things
from tinbook.bench.newest import keep_newest
from tinbook.bench.parameters import BadFunction, Parameter, Value, checked, defaults, name_of, parameters, with_edges
from tinbook.bench.picture import Picture, picture, picture_of, still_of
from tinbook.bench.search_job import SearchJob
from tinbook.bench.usercode import Failure, failure_of, run_user_code
from tinbook.bench.values import History, load_values, save_values
from tinbook.errors import BadValue, CannotMake, TinbookError
from tinbook.finding import Findings
from tinbook.making.assembled import Assembled
from tinbook.making.resolve import choose_machines
from tinbook.shop.shop import Shop
from tinbook.shown import with_still

if TYPE_CHECKING:
    from tinbook.bench.job_bench import JobBench
    from tinbook.job.nested import JobNest
    from tinbook.making.made import Made
    from tinbook.part.assembly import Assembly
    from tinbook.part.part import Part
    from tinbook.write.scene import Meetings
    from tinbook.write.whole_set import AssemblyFiles, PartFiles


@overload
def workbench(
    function: Callable[..., Part | Assembly],
    shop: Shop,
    *,
    start: Mapping[str, Value] | None = None,
    folder: str | Path = "out",
    height: int = 440,
) -> Workbench: ...


@overload
def workbench(function: JobNest, *, height: int = 440) -> JobBench: ...


def workbench(
    function: Callable[..., Part | Assembly] | JobNest,
    shop: Shop | None = None,
    *,
    start: Mapping[str, Value] | None = None,
    folder: str | Path = "out",
    height: int = 440,
) -> Workbench | JobBench:
    """Open a workbench on a design function, or on a nested job.

    Parameters
    ----------
    function : callable or JobNest
        What `tb.job.nest_job` gives: then quantities, one item's sliders, sheets to correct by hand and the price are
        shown; its shop is the nest's, and nothing else but `height` is given. Or a function that
        returns a Part or an Assembly. Each parameter is annotated and becomes a control: `Annotated[float, tb.Range(low, high,
        step, unit)]` and `Annotated[int, tb.Range(low, high)]` sliders, `Literal[...]` a choice, `bool` a switch,
        `str` a text. It starts at its default, or in the middle of its range.
    shop : Shop
        Sheets and tools that the part is made with.
    start : mapping, optional
        Values with which the controls start, by parameter, instead of the function's defaults.
    folder : path
        Where the write button puts the files; made when the first file is written.
    height : int
        Height of the two views, px.

    Returns
    -------
    Workbench or JobBench
        Shows itself as the last line of a cell. Its `part` and `made`, of a job its `job`, `nest` and `price`, are what
        later cells go on with.
    """
    if type(function).__name__ in ("JobNest", "Job"):  # their room is not loaded for a slider
        from tinbook.bench.job_bench import job_bench

        return job_bench(function, shop, start, folder, height)
    if not isinstance(shop, Shop):
        raise BadValue("shop", type(shop).__name__, "a Shop, as tb.Shop.demo() or tb.Shop.load(file) gives one")
    made = Workbench(function, shop, start=start or {}, folder=Path(folder), height=height)  # type: ignore[arg-type]
    name = getattr(function, "__qualname__", "<lambda>")
    if "<lambda>" not in name:
        keep_newest(f"{function.__module__}.{name}", made)
    return made


class Workbench:
    """Controls of a design function beside the part they give.

    `values`, `part`, `made` and `findings` are its state: what the cells below it go on with.

    Parameters
    ----------
    function, shop, start, folder, height
        As for `workbench`.
    """

    def __init__(
        self,
        function: Callable[..., Part | Assembly],
        shop: Shop,
        *,
        start: Mapping[str, Value],
        folder: Path,
        height: int,
    ) -> None:
        self._function = function = with_things(function)
        self._shop, self._folder = shop, folder
        self._name = name_of(function)
        self._picture: Picture | None = None
        self.failure: Failure | None = None
        self.runs = 0
        self._own_time = 0.0
        self._refresh, self._settle = Debounced(self._update), Debounced(self._rested, rest=0.4)
        self._search = SearchJob(self._searched)
        given: tuple[Parameter, ...] = ()
        try:
            given = parameters(function, start, shop)
            if any(p.kind == "text" and p.default for p in given):
                given = with_edges(given, run_user_code(function, defaults(given), shop))
        except BadFunction as error:
            self.failure = Failure(what=str(error))
        self._given = given
        self._controls = Controls(given, self._moved)
        self._history = History((defaults(given),))
        self._seen = self._history.now
        about = (getattr(function, "__doc__", None) or "").strip().partition("\n")[0].removeprefix("Return ")
        self._desk = Desk(
            self._name,
            about[:1].upper() + about[1:],
            self._controls,
            self._actions(),
            file=f"{self._name}_values.toml",
            height=height,
        )
        self.box, self.view, self.drawers = self._desk.box, self._desk.view, self._desk.drawers
        self.box.observe(self._looked_at, names="_view_count")
        self._show_history()
        if self.failure is not None:
            self._desk.show_nothing_but(self.failure)
            return
        self._refresh.run()
        # The first run also loaded libraries; only the function's own time tells how the next will be.
        self._refresh.took = self._own_time
        if self.failure is None:
            self._warn_if_slow(self._own_time)
            self._settle.request()

    # -- state -------------------------------------------------------------

    @property
    def values(self) -> dict[str, Value]:
        """Values of the controls."""
        return dict(self._controls.values)

    @property
    def made(self) -> Made | Assembled:
        """The part or assembly of the present values on the shop's tools; raises CannotMake where the function gives none."""
        self._flush()
        if self.failure is not None or self._picture is None:
            raise CannotMake(f"{self._name}: the values on the workbench give no part; {self.failure}")
        return self._picture.made

    @property
    def part(self) -> Part | Assembly:
        """The part or assembly of the present values; raises CannotMake where the function gives none."""
        made = self.made
        return made.assembly if isinstance(made, Assembled) else made.part

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
        return code_of(self._function, self.values)

    def set(self, **changes: Value) -> None:
        """Set controls from code; all values are checked first."""
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

    def write(self) -> PartFiles | AssemblyFiles | None:
        """Write every file of the part or assembly into the folder, as `tb.write_files` does, unless a finding stops it.

        Returns
        -------
        PartFiles, AssemblyFiles or None
            The files, None when nothing was written; the reason is shown.
        """
        try:
            files, state = write_checked(self.made, self._folder, self._desk.show_findings)
        except (TinbookError, OSError) as error:
            self._desk.say(f"nothing written: {error}", "stop")
            return None
        good = state == "proved"
        self._desk.say(f"{'' if good else f'{state}; '}written:\n{files}", "fine" if good else "caution")
        return files

    def save(self, path: str | Path) -> Path | None:
        """Save the values as a TOML file; returns it, or None with the reason shown."""
        try:
            file = save_values(path, self._name, self.values, self._given)
        except (TinbookError, OSError) as error:
            self._desk.say(f"nothing saved: {error}", "stop")
            return None
        self._desk.say(f"saved: {file}")
        return file

    def load(self, path: str | Path) -> bool:
        """Load values from a file; on any mistake nothing changes and the reasons are shown."""
        try:
            found = load_values(path, self._name, self._given)
        except TinbookError as error:
            self._desk.say(str(error), "stop")
            return False
        self._go(found)
        self._desk.say(f"loaded: {path}")
        return True

    def close(self) -> None:
        """Close all widgets."""
        self._refresh.cancel()
        self._settle.cancel()
        self._search.cancel()
        self._desk.close()

    # -- inside --------------------------------------------------------------

    def _actions(self) -> dict[str, Callable[[], object]]:
        return {
            "Undo": self.undo,
            "Redo": self.redo,
            "Write all files": self.write,
            "Copy as code": lambda: self._desk.copy(self.code),
            "Save values": lambda: self.save(self._desk.file.value),
            "Load values": lambda: self.load(self._desk.file.value),
        }

    def _moved(self) -> None:
        values = self.values
        self._history, self._seen = self._history.parted(self._seen, values), values
        self._refresh.request()
        self._settle.request()

    def _update(self) -> None:
        """Show the part of the latest values: the work done while sliding. Never raises."""
        start = debounce.clock()
        self._search.cancel()
        self.runs += 1
        with seldom():
            shown = self._try()
        if isinstance(shown, Failure):
            self.failure = shown
            self._desk.show_failure(shown)
            return
        self.failure, self._picture = None, shown
        self._desk.show(shown)
        self._warn_if_slow(debounce.clock() - start)

    def _warn_if_slow(self, took: float) -> None:
        slow = took > debounce.SLOW
        self._desk.warn(f"{self._name} takes {took:.1f} s: the views follow when the hand rests" if slow else "")

    def _try(self) -> Picture | Failure:
        start = debounce.clock()
        part = run_user_code(self._function, self.values, self._shop)
        self._own_time = debounce.clock() - start
        if isinstance(part, Failure):
            return part
        try:
            before = self._picture.made if self._picture is not None else None
            return picture(part, self._shop, self._desk.show_shape, before)
        except Exception as error:  # noqa: BLE001 - shown in place; the last good view stays
            return failure_of(error, error.__traceback__)

    def _rested(self) -> None:
        """Do what waits until the sliders rest: choose the machines, remember the step, start the searched rules."""
        self._choose_machines()
        self._seen = self.values
        self._history = self._history.step(self._seen)
        self._show_history()
        self._start_search()

    def _start_search(self) -> None:
        if self._picture is not None and self.failure is None:
            self._search.start(self._picture.made)

    def _looked_at(self, change: Mapping[str, Any]) -> None:
        """Search only as long as a page shows the workbench: in a kernel that is shared, others wait for it."""
        if not change["new"]:
            self._search.cancel()
        elif not change["old"]:
            self._start_search()

    def _choose_machines(self) -> None:
        """Show the part on other machines, and say so, where those of the sliders' last rest do not fold it any more."""
        if self._picture is None or self.failure is not None:
            return
        try:
            old = self._picture.made
            made = old.on_chosen_machines() if isinstance(old, Assembled) else choose_machines(old)
            if made is old:
                return
            self._picture = picture_of(made, self._desk.show_shape)
        except Exception as error:  # noqa: BLE001 - shown in place; the last good view stays
            self.failure = failure_of(error, error.__traceback__)
            self._desk.show_failure(self.failure)
            return
        self._desk.show(self._picture)
        parts = [one for _, one in made.made] if isinstance(made, Assembled) else [made]
        tools = ", ".join(dict.fromkeys(s.bend.tool or "a bar" for one in parts for s in one.strips))
        self._desk.say(f"the machines were chosen anew for these values: the blank is drawn to {tools}", "caution")

    def _show_history(self) -> None:
        self._desk.buttons["Undo"].disabled = len(self._history.done) < 2
        self._desk.buttons["Redo"].disabled = not self._history.undone

    def _searched(self, made: Made | Assembled, found: Findings, met: Meetings | None) -> None:
        """Show what the searched rules found, if that part or assembly is still shown."""
        if self._picture is not None and self._picture.made is made:
            if met is not None:
                self._desk.show_meetings(met)
            self._desk.show_findings(rules.registry.together(self._picture.findings, found))

    def _flush(self) -> None:
        self._refresh.run_waiting()
        self._settle.run_waiting()

    def _go(self, wanted: Mapping[str, Value]) -> None:
        self._controls.show(wanted)
        self._refresh.run()
        self._settle.run()

    def _walk(self, history: History) -> None:
        self._history = history
        self._go(history.now)

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        shared = shared_view(self._picture.made if self._picture is not None else None)
        return shared or with_still(self.box._repr_mimebundle_(**kwargs), still_of(self._picture), repr(self))

    def __repr__(self) -> str:
        return f"Workbench({self._name})"
