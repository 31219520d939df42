"""Strength of an assembly in the workbench: what holds it, a load in the trade's words, its worst joint and colours on it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import ipywidgets as w

from tinbook.bench import tables
from tinbook.bench.answering import PLAIN, WORDS, Answering, auto, number_box, when
from tinbook.errors import BadValue
from tinbook.space import dot

if TYPE_CHECKING:
    from tinbook.bench.background import Tell
    from tinbook.making.assembled import Assembled
    from tinbook.strength.assemblies.answer import AssemblyStrength

TO_GROUND: Final = "held by what is bolted, welded or hinged to existing things, and by"
NOBODY: Final = "none"
AXES: Final[dict[str, tuple[float, float, float]]] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}
OWN: Final = "own weight"


class WholeStrengthSection(Answering["Assembled"]):
    """Supports, a load and a run of an assembly."""

    def _questions(self) -> list[list[Any]]:
        from tinbook.calc.loads import MOUNTED
        from tinbook.strength.load_rules import ROPES

        self.holds: dict[str, Any] = {}
        self._holds_box = w.HBox()
        hint = "plate: clamped: left; deck: welded: front"
        self.more = w.Text(description="and edges", placeholder=hint, style=WORDS, layout=w.Layout(width="28em"))
        loads = (OWN, "tank", "tank, class M1", *MOUNTED, "cargo", "service", *ROPES)
        self.load = w.Dropdown(options=loads, description="load", style=WORDS, layout=auto())
        self.times = number_box("times its weight", 3.0)
        self.force, self.angle = number_box("in the rope, kN", 20.0), number_box("at, degrees", 0.0)
        self.on, self.fairlead = (
            w.Dropdown(options=[NOBODY], description=what, style=WORDS, layout=auto())
            for what in ("pulls at", "fairlead")
        )
        self.forward, self.up = (
            w.Dropdown(options=list(AXES), value=value, description=what, style=WORDS, layout=auto())
            for what, value in (("forward is", "+y"), ("up is", "+z"))
        )
        ropes = (self.force, self.angle, self.on, self.fairlead)
        self._fields = {OWN: (self.times,), **dict.fromkeys(ROPES, ropes)}
        self._all = (self.times, *ropes)
        self.load.observe(lambda _c: self._loaded(), names="value")
        self._loaded()
        return [
            [w.Label(TO_GROUND), self._holds_box, self.more],
            [self.load, *self._all, self.forward, self.up],
            [],
        ]

    def _offer(self, made: Assembled) -> None:
        first = not self.on.options[1:]
        wanted = tuple(f"{name}: {words}" for name, words in _held_by(made))
        if wanted != tuple(self.holds):
            old = {name: box.value for name, box in self.holds.items()}
            self.holds = {
                name: w.Checkbox(value=old.get(name, False), description=name, indent=False, layout=auto())
                for name in wanted
            }
            self._holds_box.children = tuple(self.holds.values())
        names = (NOBODY, *made.assembly.names)
        for choice, usual in ((self.on, "winch"), (self.fairlead, "fairlead")):
            if choice.options != names:
                chosen = usual if first and usual in names else choice.value
                choice.options = names
                choice.value = chosen if chosen in names else NOBODY
        if first:
            self.load.value = next((x for x in ("winch", "tank") if x in names), OWN)

    def _loaded(self) -> None:
        shown = self._fields.get(self.load.value, ())
        for field in self._all:
            field.layout.display = when(field in shown)

    def _asked(self, made: Assembled) -> Callable[[Tell], AssemblyStrength]:
        edges = [words.strip() for words in self.more.value.split(";") if words.strip()]
        held = [name for name, box in self.holds.items() if box.value] + edges
        forward, up = AXES[self.forward.value], AXES[self.up.value]
        if dot(forward, up):
            raise BadValue("up is", self.up.value, f"a direction square to forward, {self.forward.value}")
        on, fairlead = (None if c.value == NOBODY else c.value for c in (self.on, self.fairlead))
        size, load = self._size(), self._load()

        def work(tell: Tell) -> AssemblyStrength:
            from tinbook.strength.assemblies.request import strength_of_assembly

            given: dict[str, Any] = {"on": on, "fairlead": fairlead, "forward": forward, "up": up, "size": size}
            return strength_of_assembly(made, held or None, load, progress=tell, **given)

        return work

    def _load(self) -> str:
        name = self.load.value
        if name == OWN:
            return f"{OWN} x {self.times.value!r}"
        if name not in self._fields:
            return str(name)
        angle = f" at {self.angle.value!r} deg" if self.angle.value else ""
        return f"{name} {self.force.value!r} kN{angle}"

    def _answers(self, result: AssemblyStrength) -> Any:
        return result.assembly

    def _declared(self, made: Assembled) -> Any:
        return made.assembly

    def _first_colour(self, result: AssemblyStrength) -> str:
        name = f"joints: {result.worst.case.name}"
        return name if name in result.fields else (*result.fields, PLAIN)[0]

    def _html(self, result: AssemblyStrength) -> str:
        head = tables.plain(f"Worst joint: {result.worst_joint}", "fine" if result.ok else "caution")
        picture = f"<div>{result.picture}</div>" if result.answered else ""
        return f"{head}{picture}{result._repr_html_()}"


def _held_by(made: Assembled) -> list[tuple[str, str]]:
    """Return members that are parts, each with the words for holes of its that may hold it."""
    from tinbook.strength.request import HOLES

    uses: dict[Any, set[Any]] = {part: {h.use for p in one.panels for h in p.holes} for part, one in made.made}
    return [
        (m.name, words) for m in made.assembly.members for words, use in HOLES.items() if use in uses.get(m.thing, ())
    ]
