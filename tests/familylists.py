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
    tb.families.folded_strip,
    tb.families.folded_box,
    tb.families.flanged_disc,
    tb.families.tunnel,
    tb.families.dash_frame,
    tb.families.tank_strap,
    tb.families.strap_fork,
    tb.families.tank_cradle,
    tb.families.hinged_lid,
    tb.families.strut_bracket,
    tb.families.reinforcement_plate,
    tb.families.floor_brace,
)
"""Parts of sheet: refuse by name, or give a part."""

PLATES: tuple[Callable[..., Any], ...] = (
    tb.families.gusset,
    tb.families.temporary_brace,
    tb.families.rail_slot_template,
)
WELDED: tuple[Callable[..., Any], ...] = (
    tb.families.winch_cradle,
    tb.families.recovery_plate,
    tb.families.body_mount,
    tb.families.front_joiner,
)
"""Heavy plate, alone and as weldments."""

FITTED: tuple[Callable[..., Any], ...] = (tb.families.strapped_tank, tb.families.lid_on_struts)
"""Assemblies of sheet and bought items."""

ROUND_AN_OPENING: tuple[Callable[..., Any], ...] = (
    tb.families.bolting,
    tb.families.lid_opening,
    tb.families.tunnel_lid,
    tb.families.gasket,
    tb.families.dash_bay,
    tb.families.fascia,
    tb.floor_pan,
    tb.families.floor_pan_pair,
    tb.families.screwed,
)
"""Take another thing first: a pattern, a bay, an opening; searched together with it."""

NOT_KINDS: dict[str, str] = {
    "coupon_blanks": "test strips by sheet and tool, searched in tests/reference/test_coupons.py",
    "strap_and_bolt": "its strap is searched as tank_strap, bolt and pin are held to it in test_assembled.py",
    "covered": "a pattern's screws on parts that are searched, by hand in test_assembled.py",
    "braced": "places a brace that is searched, by hand in test_assembled.py",
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
