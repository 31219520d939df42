"""The workbench of a job: items with quantities, the sliders of one of them, its sheets, and the price beside them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from html import escape
from typing import Any, Final

import ipywidgets as w

from tinbook.bench import tables
from tinbook.bench.background import Ended, Job, Tell
from tinbook.bench.controls import Controls
from tinbook.bench.debounce import Debounced
from tinbook.bench.drawers import close_all
from tinbook.bench.given import with_things
from tinbook.bench.layouts import Answer, answered, laid, locked_blanks, page_sheets, renested
from tinbook.bench.newest import keep_newest
from tinbook.bench.parameters import BadFunction, Parameter, Value, parameters
from tinbook.bench.sheets import Sheets
from tinbook.bench.usercode import Failure, run_user_code
from tinbook.errors import BadValue, CannotMake, TinbookError, UnknownName, of_kind
from tinbook.fields import Choice, Count, Range
from tinbook.job.corrected import nest_around
from tinbook.job.declared import Item
from tinbook.job.declared import Job as Wanted
from tinbook.job.nested import JobNest
from tinbook.job.nesting.picture import layout_svg
from tinbook.job.pricing.price import Price, price_nest
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.shop.shop import Shop
from tinbook.shown import with_still

REST: Final = 0.4
"""s: how long the sliders must rest before sheets and price follow."""
NONE: Final = "no item"
MOST: Final = 100
EFFORT: Final = 0.5
"""About seconds of processor time for nesting again."""


class Asked(Parameter):
    """A control of the job itself, not of a design function."""

    @property
    def group(self) -> str:
        """Under which heading it stands."""
        return "how many" if self.kind == "count" else "one item's sizes"


class JobBench:
    """A job's items, sheets and price.

    `job`, `nest` and `price` are its state: what the cells below it go on with.

    Parameters
    ----------
    nest : JobNest
        From `tb.job.nest_job`.
    effort : float
        For nesting again, as for `tb.job.nest`.
    height : int
        Of a sheet's picture, px.
    """

    def __init__(self, nest: JobNest, *, effort: float, height: int) -> None:
        self._first, self._effort = nest, effort
        self._answer = answered(nest)
        self._past: list[JobNest] = []
        self._error, self._by_hand = "", False
        self._things = [item.thing for item in nest.job.items]
        self._names = _names(nest.job.items)
        self._refresh = Debounced(self._begin, rest=REST)
        self._work = Job(progress=self._tell, done=self._done, failed=self._failed)
        self._head, self._price, self._state = w.HTML(), w.HTML(), w.HTML()
        self._items = Controls(self._questions(), self._refresh.request)
        self._part: Controls | None = None
        self._part_box = w.VBox()
        self._choice = Controls((self._offer(),), self._choose)
        for form in (self._items, self._choice):
            form.box.layout.flex = "0 0 auto"  # one below the other
        left = w.VBox(
            [self._items.box, self._choice.box, self._part_box], layout=w.Layout(flex="1 1 390px", min_width="0")
        )
        wide = w.Layout(flex="1 1 300px", min_width="0", overflow="auto")
        right = w.VBox([self._price], layout=wide)
        self.sheets = Sheets(self.gesture, height)
        wrap = w.Layout(display="flex", flex_flow="row wrap", align_items="flex-start")
        self._rows = [self._head, w.Box([left, right], layout=wrap), self._state, self.sheets]
        self.box = w.VBox(self._rows)
        self.box._view_count = 0
        self.box.add_class("tinbook-bench")
        self._show()

    # -- state -------------------------------------------------------------

    @property
    def nest(self) -> JobNest:
        """The job of the present values on its sheets, as corrected by hand; CannotMake where they give none."""
        if self._refresh.waiting or self._work.running:
            self._refresh.cancel()
            self._work.drop()
            self._now()
        if self._error:
            raise CannotMake(f"the values on the workbench give no sheets; {self._error}")
        return self._answer.nest

    @property
    def job(self) -> Wanted:
        """The job of the present values."""
        return self.nest.job

    @property
    def price(self) -> Price:
        """Its price; raises BadValue where rates are missing."""
        nest = self.nest
        return self._answer.price if self._answer.price is not None else price_nest(nest)

    def set(self, **values: Value) -> None:
        """Set quantities ("sets", or an item's number) from code; all are checked first."""
        for name, value in values.items():
            if name not in self._items.by_name:
                raise UnknownName("quantity of", name, tuple(self._items.by_name))
            self._items.by_name[name].parameter.checked(value)
        for name, value in values.items():
            self._items.by_name[name].value = value

    def choose(self, number: str) -> None:
        """Choose the item whose sliders are shown, by its number."""
        control = self._choice.by_name["sliders of"]
        control.value = control.parameter.checked(number)

    @property
    def controls(self) -> Controls:
        """Sliders of the chosen item."""
        if self._part is None:
            raise BadValue("controls", NONE, "an item that comes from a family: choose(number) first")
        return self._part

    # -- gestures ------------------------------------------------------------

    def gesture(self, what: Mapping[str, Any]) -> None:
        """Do what a hand did on a sheet; what cannot be is refused in words, and nothing changes."""
        if self._work.running or self._refresh.waiting:
            self.sheets.say("wait: sheets and price are worked out", "stop")
            return
        if self._error:
            self.sheets.say(f"the values give no sheets: {self._error}", "stop")
            return
        do = what.get("do") if isinstance(what, Mapping) else None
        if do == "around":
            self._start(partial(self._around, what.get("sheet")), by_hand=True)
        elif do == "undo":
            self._undo()
        elif do == "lay":
            self._lay(what)

    def _lay(self, what: Mapping[str, Any]) -> None:
        how = what.get("how")
        try:
            if not isinstance(how, Mapping):
                raise BadValue("gesture", how, "what is done with a blank")
            number, blank, copy = what.get("sheet"), str(what.get("blank")), what.get("copy")
            new = laid(self._answer.nest, number, blank, copy, how)  # type: ignore[arg-type]
        except TinbookError as error:
            self.sheets.say(f"not moved: {error}", "stop")
            return
        self._past.append(self._answer.nest)
        self._answer = answered(new)
        self._show()
        kept = "locked there" if how.get("locked", True) else "free again: nesting may move it"
        self.sheets.say(f"{blank} no. {copy} is {kept}")

    def _around(self, sheet: Any, tell: Tell) -> Answer:
        tell(0.0, "the places around what is locked")
        return answered(nest_around(self._answer.nest, sheet, effort=self._effort))

    def _undo(self) -> None:
        if not self._past:
            self.sheets.say("nothing to undo", "stop")
            return
        self._answer = answered(self._past.pop())
        self._show()
        self.sheets.say("undone")

    # -- inside --------------------------------------------------------------

    def _questions(self) -> tuple[Parameter, ...]:
        def count(name: str, start: int) -> Parameter:
            return Asked(name=name, field=Range(1, max(MOST, 4 * start), whole=True), default=start)

        items = zip(self._names, self._first.job.items, strict=True)
        return (count("sets", self._first.sets), *(count(name, item.quantity) for name, item in items))

    def _offer(self) -> Parameter:
        own = [n for n, thing in zip(self._names, self._things, strict=True) if _family(thing) is not None]
        return Asked(name="sliders of", field=Choice((NONE, *own)), default=NONE)

    def _choose(self) -> None:
        name = str(self._choice.values["sliders of"])
        if self._part is not None:
            close_all(self._part.box)
            self._part, self._part_box.children = None, ()
        if name == NONE:
            return
        k = self._names.index(name)
        thing: Any = self._things[k]
        function = _family(thing)
        assert function is not None
        start = {p: v for p, v in thing.provenance.values.items() if isinstance(v, int | float | str | bool)}
        try:
            self._part = Controls(parameters(function, start, self._first.shop), partial(self._moved, k, function))
        except (BadFunction, BadValue) as error:
            self._state.value = tables.plain(str(error), "stop")
            return
        self._part.box.layout.flex = "0 0 auto"
        self._part_box.children = (self._part.box,)

    def _moved(self, k: int, function: Callable[..., Any]) -> None:
        """Take the chosen item's new values; one that gives no part is shown in words and changes nothing."""
        assert self._part is not None
        thing = run_user_code(function, self._part.values, self._first.shop)
        if isinstance(thing, Failure):
            self._refresh.cancel()
            self._work.drop()
            self._refuse(str(thing))
            return
        self._things[k] = thing
        self._refresh.request()

    def _wanted(self) -> tuple[Wanted, int]:
        """Return the job of the present values, and the number of sets."""
        counts = self._items.values
        items = tuple(
            replace(item, thing=thing, quantity=int(counts[name]))
            for name, item, thing in zip(self._names, self._first.job.items, self._things, strict=True)
        )
        return replace(self._first.job, items=items), int(counts["sets"])

    def _begin(self) -> None:
        try:
            job, sets = self._wanted()
        except TinbookError as error:
            self._refuse(str(error))
            return
        self._start(partial(renested, job, self._answer.nest, sets, self._effort))

    def _now(self) -> None:
        """Work out sheets and price of the present values at once."""
        try:
            job, sets = self._wanted()
            answer = renested(job, self._answer.nest, sets, self._effort, lambda _share, _word: None)
        except TinbookError as error:
            self._refuse(str(error))
        else:
            self._done(answer)

    def _start(self, work: Callable[..., Answer], *, by_hand: bool = False) -> None:
        self.sheets.busy, self._by_hand = True, by_hand
        self._work.start(work)

    def _tell(self, _share: float, word: str) -> None:
        older = "" if self._by_hand else "sheets and price are of earlier values: "
        self._state.value = tables.plain(f"{older}working out {word} …", "caution")

    def _done(self, answer: Answer) -> None:
        lost = locked_blanks(self._answer.nest) - locked_blanks(answer.nest)
        before, self._answer = self._answer, answer
        self._past = [*self._past, before.nest] if before.nest.job == answer.nest.job else []
        self._state.value, self._error, self._by_hand = "", "", False
        self._show(before.price)
        if lost:
            names = ", ".join(f"{blank} no. {copy}" for _, blank, copy in sorted(lost))
            self.sheets.say(f"no longer locked, as the blanks of their metal changed: {names}", "stop")
        else:
            self.sheets.say("sheets and price are of these values")

    def _failed(self, error: BaseException) -> None:
        if self._by_hand:  # the values still have their sheets
            self._state.value, self.sheets.busy = "", False
            self.sheets.say(f"not nested: {error}", "stop")
        elif not isinstance(error, Ended):
            self._refuse(str(error))

    def _refuse(self, why: str) -> None:
        """Say why the present values give no sheets; what is shown stays, named as older."""
        self._error, self.sheets.busy = why, False
        self._state.value = tables.plain(f"sheets and price are of earlier values: {why}", "stop")

    def _show(self, before: Price | None = None) -> None:
        nest = self._answer.nest
        job = nest.job
        self._head.value = f"<b>{escape(job.number)}</b> {escape(job.title)}"
        self._price.value = price_html(self._answer, before)
        with self.sheets.hold_sync():
            self.sheets.busy = False
            self.sheets.sheets = page_sheets(nest)

    def close(self) -> None:
        """Close all widgets."""
        self._refresh.cancel()
        self._work.drop()
        for widget in (self.box, *self._rows):
            close_all(widget)

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        still = layout_svg(self._answer.nest.groups[0].nest, 1)._repr_svg_()
        return with_still(self.box._repr_mimebundle_(**kwargs), still, repr(self))

    def __repr__(self) -> str:
        return f"JobBench({self._first.job.number})"


def job_bench(found: Any, shop: Shop | None, start: object, folder: object, height: int) -> JobBench:
    """Open a workbench on a nested job; BadValue for what belongs to a design function."""
    of_kind(found, JobNest, "workbench", "what tb.job.nest_job gives, or a design function")
    if shop is not None and shop != found.shop:
        raise BadValue("workbench shop", shop, "left out: a nested job has its own")
    if start is not None:
        raise BadValue("workbench start", start, "left out: a nested job has its quantities")
    if folder != "out":
        raise BadValue("workbench folder", folder, "left out: tb.job.write_nest_dxf writes a nest's files")
    Count(100, 4000).read(height, "workbench height")
    made = JobBench(found, effort=EFFORT, height=height)
    keep_newest(f"job {found.job.number}", made)
    return made


def price_html(answer: Answer, before: Price | None = None) -> str:
    """Return the price with its stages, and by how much it differs from the one before."""
    price = answer.price
    if price is None:
        return tables.plain(f"no price: {answer.why}", "caution")
    unit = price.currency
    net = f"{price.net} {unit}"
    if before is not None and before.net != price.net:
        net += f" ({price.net - before.net:+} {unit})"
    strip = [("net", net), ("one set, net", f"{price.each} {unit}"), ("with tax", f"{price.gross} {unit}")]
    strip.append(("sheets", str(sum(answer.nest.used().values()))))
    stages = dict.fromkeys(k.stage for k in price.lines)
    rows = "".join(
        f'<tr><td style="text-align:left">{escape(stage)}</td><td style="text-align:right">{price.stage(stage)}</td></tr>'
        for stage in stages
    )
    notes = "".join(tables.plain(f"not in the price: {n}", "caution") for n in price.not_priced)
    head = f"<tr><th style='text-align:left'>cost by stage</th><th style='text-align:right'>{escape(unit)}</th></tr>"
    return f"{tables.strip(strip)}<table style='font-variant-numeric:tabular-nums'>{head}{rows}</table>{notes}"


def _names(items: tuple[Item, ...]) -> list[str]:
    """Return a name for each item: its number, counted where several have it."""
    out: list[str] = []
    for item in items:
        same = sum(n == item.number or n.startswith(f"{item.number} (") for n in out)
        out.append(f"{item.number} ({same + 1})" if same or item.number == "sets" else item.number)
    return out


def _family(thing: Any) -> Callable[..., Any] | None:
    """Return the function whose sliders change a thing; None where it came from none, or from one that returns several."""
    own = thing.provenance if isinstance(thing, Part | Assembly) else None
    if own is None or own.pick is not None or own.family is None:
        return None
    return with_things(own.family)
