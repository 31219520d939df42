"""What stands beside a family takes finite numbers in range: no True for 1, no text, nothing endless."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from typing import Any

import pytest

import tinbook as tb

families = tb.families
LID = families.lid_geometry(450, 25, 180, 7.0, (20, -60))
GASKET = families.gasket(families.bolting())
TUNNEL = tb.make(families.tunnel(), tb.Shop.demo())
CALLS: dict[str, tuple[Callable[..., Any], dict[str, Any]]] = {
    f.__name__: (f, values)
    for f, values in (
        (families.tack_distance, {"distance": 500.0}),
        (families.plastic_tank, {"width": 400.0, "height": 300.0, "corner": 40.0, "length": 600.0}),
        (families.pin_plate, {"pin": 20.0, "thickness": 10.0, "ring": 50.0}),
        (families.strap_eye, {"pin": 12.0, "thickness": 2.0, "overlap": 30.0}),
        (families.pin_places, {"tank_width": 400.0, "liner": 5.0, "below": 20.0, "pin": 10.0, "strap": "DC01 1.5"}),
        (families.cradle_liner, {"tank_width": 400.0, "tank_corner": 60.0, "rise": 160.0}),
        (
            families.centred_lid,
            {"mass": 7.0, "width": 450.0, "lip": 25.0, "strut_at": 180.0, "body": (200.0, -60.0), "hung": 20.0},
        ),
        (families.lid_geometry, {"width": 450.0, "lip": 25.0, "strut_at": 180.0, "mass": 7.0, "body": (200.0, -60.0)}),
        (families.bay_places, {"bay": families.bolting(), "length": 1000.0, "height": 200.0, "panels": 3}),
        (families.lid_findings, {"lid": LID, "strut": families.strut_for(LID, 75), "opening": 75.0}),
        (families.latch_needed, {"lid": LID, "strut": families.strut_for(LID, 75)}),
        (families.strut_for, {"lid": LID, "opening": 75.0}),
        (families.effort_plot, {"lid": LID, "strut": families.strut_for(LID, 75), "opening": 75.0}),
        (families.gasket_findings, {"holes": families.bolting(), "blank": GASKET, "lid": 2.0, "squeezed": 2.6}),
        (families.fitted_gasket, {"blank": GASKET, "squeezed": 2.6}),
        (families.drive_clearance, {"made": TUNNEL, "width": 100.0, "length": 200.0, "height": 90.0, "front": 100.0}),
        (families.keep_out, {"mounted": (), "depth": 60.0}),
        (families.notches_of, {"pan": TUNNEL, "start": 20.0, "length": 200.0, "y": 50.0}),
        (families.coupon_blanks, {"shop": tb.Shop.demo(), "sheet": "DC01 1.5", "tools": ["press-V12"]}),
    )
}
WRONG = (True, False, math.nan, math.inf, "wide", [], 1e300)


def numbers() -> list[tuple[str, str]]:
    found = []
    for name, (function, values) in CALLS.items():
        for p in inspect.signature(function).parameters.values():
            value = values.get(p.name, p.default)
            if isinstance(value, int | float) and not isinstance(value, bool):
                found.append((name, p.name))
    return found


@pytest.mark.parametrize(("name", "parameter"), numbers())
def test_a_number_is_a_number(name: str, parameter: str) -> None:
    function, values = CALLS[name]
    if name != "coupon_blanks":
        function(**values)
    for wrong in WRONG:
        with pytest.raises(tb.errors.TinbookError, match=parameter):
            function(**{**values, parameter: wrong})


def test_sizes_below_nothing_are_refused() -> None:
    for name, parameter in (("plastic_tank", "wall"), ("strap_eye", "thickness"), ("tack_distance", "welds")):
        function, values = CALLS[name]
        with pytest.raises(tb.errors.BadValue, match=parameter):
            function(**{**values, parameter: -5})
