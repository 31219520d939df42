"""Strength in the workbench: supports, loads, a run beside the sliders, colours on the part."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import ipywidgets as w

from tinbook.bench.answering import WORDS, Answering, auto, number_box, when
from tinbook.errors import BadValue

if TYPE_CHECKING:
    from tinbook.bench.background import Tell
    from tinbook.making.made import Made
    from tinbook.strength.report import Strength
    from tinbook.strength.request import Choices

FREE: Final = "not held"
WAYS: Final[dict[str, tuple[float, float, float]]] = {
    "down (-z)": (0.0, 0.0, -1.0),
    "up (+z)": (0.0, 0.0, 1.0),
    "along +x": (1.0, 0.0, 0.0),
    "along -x": (-1.0, 0.0, 0.0),
    "along +y": (0.0, 1.0, 0.0),
    "along -y": (0.0, -1.0, 0.0),
}
"""The push that a mass feels, in the part's own axes."""
FRAME: Final = "x runs along the edge that the panel hangs from, y away from it; it presses on the panel's up side"


class StrengthSection(Answering["Made"]):
    """Supports, loads and a run of a part."""

    _known: Choices | None = None

    def _questions(self) -> list[list[Any]]:
        from tinbook.strength.request import EDGES

        self.holes: dict[str, Any] = {}
        self._hole_box = w.HBox()
        self.how = w.Dropdown(options=[FREE, *EDGES], value=FREE, description="edges", style=WORDS, layout=auto())
        self.edges = w.SelectMultiple(rows=4, description="which", style=WORDS, layout=w.Layout(width="15em"))
        self.load = w.Dropdown(description="load", style=WORDS, layout=auto())
        self.stands = w.Dropdown(description="on panel", tooltip=FRAME, style=WORDS, layout=auto())
        self.x, self.y = number_box("at x, mm"), number_box("y, mm")
        self.room = w.Label()
        self.force = number_box("force, N", 1100.0)
        self.pressure = number_box("pressure, Pa", 1000.0)
        self.times = number_box("times its weight", 1.0)
        self.way = w.Dropdown(options=list(WAYS), description="pushed", style=WORDS, layout=auto())
        self.riding = number_box("with a mass on it, kg", 0.0)
        self.buckling = w.Checkbox(description="buckling too", indent=False, layout=auto())
        self._fields = {
            "foot": (self.stands, self.x, self.y, self.room, self.force),
            "heel": (self.stands, self.x, self.y, self.room, self.force),
            "even pressure": (self.pressure,),
            "own weight": (self.times, self.way, self.riding),
        }
        wrap = w.Layout(display="flex", flex_flow="row wrap", align_items="center", grid_gap="2px 14px")
        every = dict.fromkeys(f for fields in self._fields.values() for f in fields)
        self._load_box = w.Box(list(every), layout=wrap)
        self.load.observe(self._loaded, names="value")
        self.stands.observe(lambda _c: self._stand(), names="value")
        self.how.observe(lambda c: setattr(self.edges.layout, "display", when(c["new"] != FREE)), names="value")
        self.edges.layout.display = "none"
        return [
            [w.Label("held by"), self._hole_box, self.how, self.edges],
            [self.load, self._load_box],
            [self.buckling],
        ]

    def _asked(self, made: Made) -> Callable[[Tell], Strength]:
        held, load, size, buckling = self._held(made), self._load(), self._size(), self.buckling.value

        def work(tell: Tell) -> Strength:
            from tinbook.strength.request import strength_of

            return strength_of(made, held, load, size=size, buckling=buckling, progress=tell)

        return work

    def _answers(self, result: Strength) -> Any:
        return result.part

    def _declared(self, made: Made) -> Any:
        return made.part

    def _html(self, result: Strength) -> str:
        table = result.table(f"{result.title}: is it stiff and strong enough?")
        return table if result.joints is None else table + result.joints._repr_html_()

    def _offer(self, made: Made) -> None:
        """Update the choices for a part; a choice stays where it still exists."""
        from tinbook.strength.request import strength_choices

        known, before = strength_choices(made), self._known
        if known == before:
            self._tell_room()
            return
        panel, spot = self.stands.value, (self.x.value, self.y.value)
        own = before is not None and self._place(before) not in (None, spot)
        self._known = known
        if before is None or known.holes != before.holes:
            old = {name: box.value for name, box in self.holes.items()}
            self.holes = {
                name: w.Checkbox(
                    value=old.get(name, name in known.held),
                    description=name,
                    indent=False,
                    layout=auto(),
                )
                for name in known.holes
            }
            self._hole_box.children = tuple(self.holes.values())
        if before is None or known.edges != before.edges:
            still = [e for e in self.edges.value if e in known.edges]
            self.edges.options = known.edges
            self.edges.value = tuple(still) or known.outer
        if before is None:
            self.how.value = next((h for h in known.held if h in known.hows), FREE)
        if before is None or known.loads != before.loads:
            chosen = self.load.value
            self.load.options = known.loads
            self.load.value = chosen if chosen in known.loads else known.loads[0]
            self._loaded()
        self._panels()
        if own and self.stands.value == panel:
            self.x.value, self.y.value = spot
            self._tell_room()
        else:
            self._stand()

    def _place(self, known: Choices) -> tuple[float, float] | None:
        return known.places.get(self.load.value, {}).get(self.stands.value)

    def _panels(self) -> None:
        """Offer the panels that have room for the load; the chosen one stays if it still has room."""
        places = self._known.places.get(self.load.value, {}) if self._known is not None else {}
        if places and self.stands.options != tuple(places):
            chosen = self.stands.value
            self.stands.options = tuple(places)
            self.stands.value = chosen if chosen in places else next(iter(places))

    def _stand(self) -> None:
        place = None if self._known is None else self._place(self._known)
        if place is not None:
            self.x.value, self.y.value = place
        self._tell_room()

    def _tell_room(self) -> None:
        panel = next((p for p in self._made.panels if p.name == self.stands.value), None) if self._made else None
        if panel is not None:
            x0, y0, x1, y1 = panel.boundary.box
            self.room.value = f"(x {x0:.4g} to {x1:.4g}, y {y0:.4g} to {y1:.4g} mm)"

    def _loaded(self, _change: Any = None) -> None:
        shown = self._fields.get(self.load.value, ())
        for field in self._load_box.children:
            field.layout.display = when(field in shown)
        self._panels()
        self._stand()

    def _held(self, made: Made) -> list[Any]:
        from tinbook.strength.request import edge_support

        held: list[Any] = [name for name, box in self.holes.items() if box.value]
        if self.how.value != FREE:
            if not self.edges.value:
                raise BadValue("which edges", "none", f"at least one, or edges {FREE!r}")
            held += [edge_support(made, self.how.value, edge) for edge in self.edges.value]
        if not held:
            raise BadValue("held by", "nothing", "holes or edges that hold the part")
        return held

    def _load(self) -> Any:
        from tinbook.strength import loads as ld

        at, panel = (self.x.value, self.y.value), self.stands.value or "base"
        match self.load.value:
            case "foot":
                return ld.Foot(at=at, force=self.force.value, panel=panel)
            case "heel":
                return ld.heel(at, self.force.value, panel)
            case "even pressure":
                return ld.Pressure(pressure=self.pressure.value * 1e-6)
            case _:
                x, y, z = (v * self.times.value + 0.0 for v in WAYS[self.way.value])
                return ld.Acceleration(g=(x, y, z), riding=self.riding.value)
