"""The controls of a design function, and a row of buttons: two widgets whose page side is `controls.js`.

Each control has two traits of its own: `shown_<name>`, the value on show, and `typed_<name>`, what was typed last with
its number. So the page's own throttle merges what belongs to one control, and no message carries another's old value.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import anywidget
import traitlets as t

from tinbook.bench.parameters import Parameter, Value
from tinbook.errors import BadValue

SOURCE = Path(__file__).with_name("controls.js")


@cache
def _source() -> str:
    return SOURCE.read_text(encoding="utf-8")


class Panel(anywidget.AnyWidget):
    """What `controls.js` draws: a form of controls, or a row of buttons."""

    _esm = t.Unicode("").tag(sync=True)
    what = t.Enum(["form", "buttons"]).tag(sync=True)
    items = t.List().tag(sync=True)
    problems = t.Dict().tag(sync=True)
    off = t.List().tag(sync=True)
    out = t.List().tag(sync=True)

    def __init__(self, **traits: Any) -> None:
        super().__init__(_esm=_source(), **traits)

    def __repr__(self) -> str:
        return f"Panel({self.what})"


class Control:
    """One control: reading it gives its value, writing it does what a user does who moves it."""

    def __init__(self, owner: Controls, p: Parameter) -> None:
        self._owner, self.parameter = owner, p

    @property
    def value(self) -> Value:
        """The present value."""
        return self._owner.values[self.parameter.name]

    @value.setter
    def value(self, value: Value) -> None:
        self._owner.take(self.parameter, lambda: self.parameter.checked(value))

    def type(self, text: str) -> None:
        """Do what a user does who types into its field."""
        self._owner.take(self.parameter, lambda: self.parameter.typed(text))

    @property
    def problem(self) -> str:
        """Why the last value was refused, "" when it was not."""
        return str(self._owner.box.problems.get(self.parameter.name, ""))


class Controls:
    """The controls of a design function, in their order.

    Parameters
    ----------
    given : tuple of Parameter
        What to ask.
    changed : callable
        Called without arguments after the user moved one.
    """

    def __init__(self, given: tuple[Parameter, ...], changed: Callable[[], None]) -> None:
        self._changed = changed
        self._quiet = False
        self.values: dict[str, Value] = {p.name: p.default for p in given}
        self.by_name = {p.name: Control(self, p) for p in given}
        own = {f"shown_{p.name}": t.Any(on_show(p, p.default)).tag(sync=True) for p in given}
        own |= {f"typed_{p.name}": t.List().tag(sync=True) for p in given}
        self.box = type("Panel", (Panel,), own)(what="form", items=[item(p) for p in given])
        # Beside the views; on a narrow page above them.
        self.box.layout.flex, self.box.layout.min_width = "1 1 390px", "0"
        for p in given:
            self.box.observe(lambda c, p=p: self._moved(p, c["new"]), names=f"shown_{p.name}")
            self.box.observe(lambda c, p=p: self._typed(p, c["new"]), names=f"typed_{p.name}")

    def show(self, values: Mapping[str, Value]) -> None:
        """Move the controls without calling `changed`."""
        self.values.update(values)
        with self.box.hold_sync():
            for name, value in values.items():
                self._show(self.by_name[name].parameter, value)
            self.box.problems = {}

    def take(self, p: Parameter, read: Callable[[], Value]) -> None:
        """Take a value that the user gave, or say beside the control why it cannot be used; then nothing changes."""
        try:
            value = read()
        except BadValue as error:
            self.box.problems = {**self.box.problems, p.name: str(error)}
            return
        if p.name in self.box.problems:
            self.box.problems = {k: v for k, v in self.box.problems.items() if k != p.name}
        changed = value != self.values[p.name]
        self.values[p.name] = value
        self._show(p, value)
        if changed:
            self._changed()

    def _show(self, p: Parameter, value: Value) -> None:
        self._quiet = True
        try:
            setattr(self.box, f"shown_{p.name}", on_show(p, value))
        finally:
            self._quiet = False

    def _moved(self, p: Parameter, shown: Any) -> None:
        if self._quiet:
            return
        if p.choices and isinstance(shown, int) and 0 <= shown < len(p.choices):
            shown = p.choices[shown]
        self.take(p, lambda: p.checked(shown))

    def _typed(self, p: Parameter, typed: list[Any]) -> None:
        if typed:
            self.take(p, lambda: p.typed(str(typed[0])))


def on_show(p: Parameter, value: Value) -> Any:
    """Return a value as the page shows it: a number, True or False, the place among the choices, or text."""
    if p.kind == "choice":
        return p.choices.index(value)
    return p.shown(value) if p.kind == "text" else value


def item(p: Parameter) -> dict[str, Any]:
    """Return what the page must know of a control."""
    found: dict[str, Any] = {"name": p.name, "label": p.label, "kind": p.kind, "hint": p.hint, "group": p.group}
    if p.range is not None:
        found |= {"low": p.range.low, "high": p.range.high, "step": p.range.step, "unit": p.unit}
    if p.kind == "choice":
        found["choices"] = [str(c) or "the usual one" for c in p.choices]
    return found


class Press:
    """One button of a row."""

    def __init__(self, row: Buttons, name: str) -> None:
        self._row, self._name = row, name

    def click(self) -> None:
        """Do what a press does."""
        self._row.press(self._name)

    @property
    def disabled(self) -> bool:
        """Whether it takes no press."""
        return self._name in self._row.box.off

    @disabled.setter
    def disabled(self, value: bool) -> None:
        self._row.box.off = [n for n in self._row.box.off if n != self._name] + ([self._name] if value else [])

    @property
    def value(self) -> bool:
        """Whether what it opens is open."""
        return self._name in self._row.box.out

    @value.setter
    def value(self, value: bool) -> None:
        if value != self.value:
            self.click()


class Buttons:
    """A row of buttons.

    Parameters
    ----------
    actions : mapping
        Label to what a press does; for a button that opens something it gets True or False.
    hints : mapping, optional
        Label to a sentence about it.
    opening : bool
        Whether each opens and closes something below it.
    """

    def __init__(
        self,
        actions: Mapping[str, Callable[..., object]],
        *,
        hints: Mapping[str, str] | None = None,
        opening: bool = False,
    ) -> None:
        self._actions, self._opening = dict(actions), opening
        about = hints or {}
        items = [{"name": name, "hint": about.get(name, ""), "opens": opening} for name in actions]
        self.box = Panel(what="buttons", items=items)
        self.box.on_msg(lambda _w, content, _b: self.press(str(content.get("press", ""))))
        self.by_name = {name: Press(self, name) for name in actions}

    def press(self, name: str) -> None:
        """Do what a press of a button does; none for a name that is not there, or is off."""
        if name not in self._actions or name in self.box.off:
            return
        if not self._opening:
            self._actions[name]()
            return
        out = name not in self.box.out
        self.box.out = [n for n in self.box.out if n != name] + ([name] if out else [])
        self._actions[name](out)
