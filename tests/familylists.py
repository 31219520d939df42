"""Every ready-made kind of part, by how it is searched: what is added to the front must be put into one of these."""

from __future__ import annotations

import random
import typing
from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

import tinbook as tb
from tinbook.fields import Range

FIRST: tuple[Callable[..., Any], ...] = (tb.folded_channel, tb.hemmed_dash_edge, tb.bead_rolled_panel)
"""Make anything of any parameters; what cannot be made is a finding."""

LIGHT: tuple[Callable[..., Any], ...] = (
    tb.folded_strip,
    tb.folded_box,
    tb.flanged_disc,
    tb.tunnel,
    tb.dash_frame,
    tb.tank_strap,
    tb.strap_fork,
    tb.tank_cradle,
    tb.hinged_lid,
    tb.strut_bracket,
    tb.reinforcement_plate,
    tb.floor_brace,
)
"""Parts of sheet: refuse by name, or give a part."""

PLATES: tuple[Callable[..., Any], ...] = (tb.gusset, tb.temporary_brace, tb.rail_slot_template)
WELDED: tuple[Callable[..., Any], ...] = (tb.winch_cradle, tb.recovery_plate, tb.body_mount, tb.front_joiner)
"""Heavy plate, alone and as weldments."""

FITTED: tuple[Callable[..., Any], ...] = (tb.strapped_tank, tb.lid_on_struts)
"""Assemblies of sheet and bought items."""

ROUND_AN_OPENING: tuple[Callable[..., Any], ...] = (
    tb.bolting,
    tb.lid_opening,
    tb.tunnel_lid,
    tb.gasket,
    tb.dash_bay,
    tb.fascia,
    tb.floor_pan,
    tb.floor_pan_pair,
    tb.screwed,
)
"""Take another thing first: a pattern, a bay, an opening; searched together with it."""

NOT_KINDS: dict[str, str] = {
    "coupon_blanks": "test strips by sheet and tool, searched in tests/reference/test_coupons.py",
    "cradle_liner": "a rectangle of rubber, by hand in test_light.py",
}


def ranges(family: Callable[..., Any]) -> dict[str, Range]:
    """Return the ranges that a family states."""
    hints = typing.get_type_hints(family, include_extras=True)
    found = {
        n: next((m for m in getattr(h, "__metadata__", ()) if isinstance(m, Range)), None) for n, h in hints.items()
    }
    return {n: r for n, r in found.items() if r is not None}


def values_of(family: Callable[..., Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Any value of every parameter that states a range or choices."""
    hints = typing.get_type_hints(family, include_extras=True)
    found: dict[str, st.SearchStrategy[Any]] = {}
    for name, limits in ranges(family).items():
        whole = typing.get_args(hints[name])[0] is int
        found[name] = st.integers(int(limits.low), int(limits.high)) if whole else st.floats(limits.low, limits.high)
    for name, hint in hints.items():
        if typing.get_origin(hint) is typing.Literal:
            found[name] = st.sampled_from(typing.get_args(hint))
    return st.fixed_dictionaries(found)


def drawn_values(family: Callable[..., Any], rng: random.Random) -> dict[str, Any]:
    """Any value of every parameter that states a range or choices, by a plain generator."""
    hints = typing.get_type_hints(family, include_extras=True)
    found: dict[str, Any] = {}
    for name, limits in ranges(family).items():
        whole = typing.get_args(hints[name])[0] is int
        low, high = limits.low, limits.high
        found[name] = rng.randint(int(low), int(high)) if whole else round(rng.uniform(low, high), 1)
    for name, hint in hints.items():
        if typing.get_origin(hint) is typing.Literal:
            found[name] = rng.choice(typing.get_args(hint))
    return found
