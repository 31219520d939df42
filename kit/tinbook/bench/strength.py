"""Strength in the workbench: supports, loads, a run beside the sliders, colours on the part."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import ipywidgets as w

from tinbook.bench import tables
from tinbook.bench.background import Ended, Job
from tinbook.bench.usercode import in_words
from tinbook.errors import BadValue

if TYPE_CHECKING:
    from tinbook.bench.viewer import View
    from tinbook.making.made import Made
    from tinbook.strength.report import Strength
    from tinbook.strength.request import Choices

PLAIN: Final = "the part as it is"
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
EARLIER: Final = "as of the earlier part: the part has changed since; run again for this one"
FRAME: Final = "x runs along the edge that the panel hangs from, y away from it; it presses on the panel's up side"
WORDS: Final = {"description_width": "initial"}


class StrengthSection:
    """Supports, loads and a run; `result` is the last answer, `stale` is True once the part has changed.

    Parameters
    ----------
    view : View or None
        Where the part is coloured.
    """

    def __init__(self, view: View | None) -> None:
        self._view = view
        self._made: Made | None = None
        self._known: Choices | None = None
        self.result: Strength | None = None
        self._job = Job(progress=self._show_progress, done=self._done, failed=self._failed)
        self._build()

    # -- state -------------------------------------------------------------

    @property
    def stale(self) -> bool:
        """Whether the result belongs to another part than the one shown."""
        return self.result is not None and (self._made is None or self._made.part != self.result.part)

    @property
    def running(self) -> bool:
        """Whether a run is going on."""
        return self._job.running

    def set_part(self, made: Made | None) -> None:
        """Take the part shown now: update the choices, mark an older result and remove its colours."""
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
        """Start a run with the chosen supports and load; mistakes are shown in place."""
        made = self._made
        if made is None or self.running:
            return
        try:
            held, load, size = self._held(made), self._load(), self._size()
        except BadValue as error:
            self._say(str(error), "stop")
            return
        buckling = self.buckling.value

        def work(tell: Callable[[float, str], None]) -> Strength:
            from tinbook.strength.request import strength_of

            return strength_of(made, held, load, size=size, buckling=buckling, progress=tell)

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
        """Colour the part by a field of the result, or `PLAIN`."""
        self.colours.value = name

    # -- inside --------------------------------------------------------------

    def _build(self) -> None:
        from tinbook.strength.request import EDGES

        self.holes: dict[str, Any] = {}
        self._hole_box = w.HBox()
        self.how = w.Dropdown(options=[FREE, *EDGES], value=FREE, description="edges", style=WORDS, layout=_auto())
        self.edges = w.SelectMultiple(rows=4, description="which", style=WORDS, layout=w.Layout(width="15em"))
        self.load = w.Dropdown(description="load", style=WORDS, layout=_auto())
        self.stands = w.Dropdown(description="on panel", tooltip=FRAME, style=WORDS, layout=_auto())
        self.x, self.y = _number("at x, mm"), _number("y, mm")
        self.room = w.Label()
        self.force = _number("force, N", 1100.0)
        self.pressure = _number("pressure, Pa", 1000.0)
        self.times = _number("times its weight", 1.0)
        self.way = w.Dropdown(options=list(WAYS), description="pushed", style=WORDS, layout=_auto())
        self.riding = _number("with a mass on it, kg", 0.0)
        self.size = _number("elements, mm (0: chosen)", 0.0)
        self.buckling = w.Checkbox(description="buckling too", indent=False, layout=_auto())
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
        self.how.observe(lambda c: setattr(self.edges.layout, "display", _when(c["new"] != FREE)), names="value")
        self.edges.layout.display = "none"
        self._run = w.Button(description="Run", button_style="primary", layout=_auto())
        self._cancel = w.Button(description="Cancel", disabled=True, layout=_auto())
        self._run.on_click(lambda _b: self.run())
        self._cancel.on_click(lambda _b: self.cancel())
        self.bar = w.FloatProgress(min=0.0, max=1.0, layout=w.Layout(width="220px", visibility="hidden"))
        self._word = w.Label()
        self._note, self._answer = w.HTML(), w.HTML()
        self.colours = w.Dropdown(
            options=[PLAIN], description="colours", style=WORDS, layout=w.Layout(width="22em", display="none")
        )
        self.colours.observe(lambda _c: self._colour(), names="value")
        self.box = w.VBox(
            [
                w.Box([w.Label("held by"), self._hole_box, self.how, self.edges], layout=wrap),
                w.Box([self.load, self._load_box], layout=wrap),
                w.Box([self.size, self.buckling, self._run, self._cancel, self.bar, self._word], layout=wrap),
                self._note,
                self.colours,
                self._answer,
            ]
        )
        self.box.add_class("tinbook-strength")

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
                    layout=_auto(),
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
            field.layout.display = _when(field in shown)
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

    def _done(self, found: Strength) -> None:
        self._busy(False)
        self.result = found
        chosen = self.colours.value
        self.colours.options = [PLAIN, *found.fields]
        self.colours.value = chosen if chosen in found.fields else (*found.fields, PLAIN)[0]
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
        table = self.result.table(f"{self.result.title}: is it stiff and strong enough?")
        if self.result.joints is not None:
            table += self.result.joints._repr_html_()
        old = self.stale
        mark = tables.plain(EARLIER, "caution") if old else ""
        faint = ";opacity:.55" if old else ""
        self._answer.value = f'{mark}<div class="tinbook-answer" style="{tables.PAGE}{faint}">{table}</div>'
        self.colours.layout.display = _when(not old and bool(self.result.fields) and self._view is not None)
        self._colour()

    def _colour(self) -> None:
        if self._view is None:
            return
        name = self.colours.value
        fresh = self.result is not None and not self.stale and name in self.result.fields
        self._view.colour(self.result.field(name) if fresh and self.result is not None else None)

    def _say(self, text: str, severity: str = "fine") -> None:
        self._note.value = tables.plain(text, severity) if text else ""


def _number(label: str, value: float = 0.0) -> Any:
    return w.FloatText(
        value=value,
        description=label,
        style=WORDS,
        layout=w.Layout(width=f"{len(label) * 0.5 + 7:.1f}em"),
        continuous_update=False,
    )


def _auto() -> Any:
    # A layout for each widget: one that is shared hides all its widgets together.
    return w.Layout(width="auto")


def _when(shown: bool) -> str | None:
    return None if shown else "none"
