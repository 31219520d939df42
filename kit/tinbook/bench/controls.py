"""A control for each parameter of a design function."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as w

from tinbook.bench.parameters import Parameter, Value

WIDE = {"description_width": "38%"}


def control(p: Parameter) -> Any:
    """Return the widget of one parameter."""
    common: dict[str, Any] = {
        "description": p.label,
        "tooltip": p.hint,
        "style": WIDE,
        "layout": w.Layout(width="auto", flex="1 1 280px", max_width="420px"),
        "value": p.default,
    }
    if p.kind == "length":
        assert p.range is not None
        r = p.range
        return w.FloatSlider(min=r.low, max=r.high, step=r.step, readout_format=f".{_decimals(r.step)}f", **common)
    if p.kind == "count":
        assert p.range is not None
        r = p.range
        return w.IntSlider(min=int(r.low), max=int(r.high), step=int(r.step), **common)
    if p.kind == "choice":
        return w.Dropdown(options=[(str(c), c) for c in p.choices], **common)
    if p.kind == "switch":
        return w.Checkbox(indent=True, **common)
    # A text is used once it is complete, not after every letter.
    return w.Text(continuous_update=False, **common)


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
        self.by_name: dict[str, Any] = {p.name: control(p) for p in given}
        for widget in self.by_name.values():
            widget.observe(self._value_changed, names="value")
        # One column beside the views; on a narrow page as many columns as fit, above the views.
        flow = w.Layout(display="flex", flex_flow="row wrap", align_content="flex-start", flex="1 0 290px")
        self.box = w.Box(list(self.by_name.values()), layout=flow)

    @property
    def values(self) -> dict[str, Value]:
        """The present values by parameter name."""
        return {name: widget.value for name, widget in self.by_name.items()}

    def show(self, values: Mapping[str, Value]) -> None:
        """Move the controls without calling `changed`."""
        self._quiet = True
        try:
            for name, value in values.items():
                self.by_name[name].value = value
        finally:
            self._quiet = False

    def _value_changed(self, _change: Any) -> None:
        if not self._quiet:
            self._changed()


def _decimals(step: float) -> int:
    text = f"{step:.6f}".rstrip("0")
    return len(text.partition(".")[2])
