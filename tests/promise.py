"""What every family promises: any values of its stated ranges are made, or what is said names a parameter and a value that helps."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import Any

import tinbook as tb
from familylists import ranges
from tinbook.errors import BadValue, UnknownName
from tinbook.fields import Beyond
from tinbook.making.made import Made
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.rules.parameter import parameter


def promised(family: Callable[..., Any], values: Mapping[str, Any], shop: tb.Shop) -> str:
    """Return how a family kept its promise: "made", "refused, then ...", "stopped, then ..."; else fail."""
    known = set(inspect.signature(family).parameters)
    told, now = [], dict(values)
    for _ in range(10):
        try:
            thing = family(**now)
        except BadValue as wrong:
            if wrong.field == f"{family.__name__} sheet" and "shop.sheet_by_key" in wrong.valid:
                return ", then ".join([*told, "unknown"])
            told.append("refused")
            now = _taken(family, now, wrong, known)
            continue
        said = stopped(thing, shop)
        if said is None:
            return ", then ".join([*told, "made"])
        if isinstance(said, UnknownName):
            # The shop has no such sheet, tool or roll: the parameter's own name, and what there is.
            assert set(said.field.replace("'", " ").split()) & known, said
            assert said.known
            return ", then ".join([*told, "unknown"])
        assert "stopped" not in told, (values, now, said)  # what a finding names can be made at once
        told.append("stopped")
        if said.code != "parameter.nearest":
            return ", then ".join([*told, "nothing helps"])
        now = {**now, **_read(family, said, known)}
    raise AssertionError(f"refusals lead in circles: {values}")


def stopped(thing: Any, shop: tb.Shop) -> Any:
    """Return None where everything can be made; else the finding that names a parameter, or the name that is unknown."""
    whole = thing if isinstance(thing, tuple) else (thing,)
    parts = {id(m.thing): m.thing for m in thing.members}.values() if isinstance(thing, Assembly) else whole
    for part in parts:
        if not isinstance(part, Part):
            continue
        try:
            made = tb.make(part, shop)
        except UnknownName as wrong:
            return wrong
        found = tb.check(made, shop, kind="live")
        if not found.stops:
            assert made.flat is not None
            assert made.panels
            continue
        assert all(f.where and f.remedy for f in found.stops), found.stops
        if isinstance(thing, Assembly):
            assert thing.provenance is not None
            (said,) = parameter(thing.provenance, shop, part.sheet, _stops, found.stops)
        else:
            assert part.provenance is not None
            (said,) = parameter(part.provenance, shop, part.sheet, _stops, found.stops)
        return said
    return None


def _stops(made: Made) -> bool:
    return bool(tb.check(made, kind="live").stops)


def _taken(family: Callable[..., Any], values: dict[str, Any], wrong: BadValue, known: set[str]) -> dict[str, Any]:
    """Return the values with those that a refusal names, which must be its family's, in their ranges and in its text."""
    own, _, name = wrong.field.partition(" ")
    assert own == family.__name__, wrong
    assert name in known, wrong
    assert isinstance(wrong, Beyond), wrong
    better = {path[0]: v for path, v in wrong.better.items()}
    assert all(len(path) == 1 for path in wrong.better)
    assert name in better
    for key, v in better.items():
        assert key in known
        assert (f"{v:.10g}" if isinstance(v, int | float) else repr(v)) in wrong.valid, wrong
        if key in ranges(family):
            assert ranges(family)[key].low <= v <= ranges(family)[key].high, wrong
    new = {**values, **better}
    assert new != values, wrong
    return new


def _read(family: Callable[..., Any], said: Any, known: set[str]) -> dict[str, Any]:
    """Return what a finding names, read from its words as a person would."""
    named = [w.split() for w in said.where.split(" and ")]
    read = {}
    for (own, name), text in zip(named, said.remedy.split(", "), strict=True):
        assert own == family.__name__, said
        assert name in known, said
        assert text.startswith(f"{name} "), said
        word = text.removeprefix(f"{name} ")
        if word.startswith("'"):
            read[name] = word.strip("'")
        else:
            number = float(word.split()[0])
            read[name] = int(number) if number == int(number) else number
    return read
