"""Things that a family must be given first: the workbench makes each, and the sizes of these become controls too."""

from __future__ import annotations

import inspect
import typing
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

import tinbook as tb
from tinbook.bench.parameters import Value, name_of
from tinbook.bench.values import as_code

Maker: typing.TypeAlias = Callable[..., Any]


def with_things(function: Maker) -> Maker:
    """Return a design function whose things have controls, as the opening of `floor_pan` or the pattern of `tunnel_lid`.

    Parameters
    ----------
    function : callable
        Its parameters without a default that take an Outline, a pattern of screws or a tunnel are replaced by those
        of `plain_opening`, `bolting` and `tunnel`, under the thing's name and their own: "lid_width". Any other
        function comes back as it is.
    """
    try:
        hints, given = typing.get_type_hints(function, include_extras=True), inspect.signature(function).parameters
    except (TypeError, ValueError, NameError):
        return function  # no such function: `parameters` says why
    makers = {n: maker for n, p in given.items() if p.default is p.empty and (maker := _maker(hints.get(n)))}
    if not makers:
        return function
    inner: dict[str, tuple[str, str]] = {}
    listed: list[inspect.Parameter] = []
    for name, p in given.items():
        if p.kind is p.VAR_KEYWORD:
            continue  # all that another family takes: it keeps its defaults
        if name not in makers:
            listed.append(p.replace(kind=p.KEYWORD_ONLY))
            continue
        del hints[name]
        own = typing.get_type_hints(makers[name], include_extras=True)
        for key, q in inspect.signature(makers[name]).parameters.items():
            both = f"{name}_{key}"
            inner[both], hints[both] = (name, key), own[key]
            listed.append(q.replace(name=both, kind=q.KEYWORD_ONLY))

    def composed(**values: Value) -> Any:
        things, rest = _parted(makers, inner, values)
        return function(**{n: makers[n](**v) for n, v in things.items()}, **rest)

    composed.__name__ = composed.__qualname__ = name_of(function)
    composed.__module__, composed.__doc__, composed.__annotations__ = function.__module__, function.__doc__, hints
    more = {"__signature__": inspect.Signature(listed), "code": partial(_code, function, makers, inner)}
    vars(composed).update(more)
    return composed


def code_of(function: Maker, values: Mapping[str, Value]) -> str:
    """Return the call that gives the same part again, with a call inside it for each thing."""
    code = vars(function).get("code") if inspect.isfunction(function) else None
    return str(code(values)) if isinstance(code, partial) else as_code(name_of(function), values)


def _maker(hint: Any) -> Maker | None:
    make = tb.families
    makers: dict[Any, Maker] = {make.Bolting: make.bolting, tb.Outline: make.plain_opening, tb.Part: make.tunnel}
    return makers.get(hint) if isinstance(hint, type) else None


def _parted(
    makers: Mapping[str, Maker], inner: Mapping[str, tuple[str, str]], values: Mapping[str, Value]
) -> tuple[dict[str, dict[str, Value]], dict[str, Value]]:
    """Return the values of each thing by its maker's parameters, and all others."""
    things: dict[str, dict[str, Value]] = {name: {} for name in makers}
    for both, (name, key) in inner.items():
        if both in values:
            things[name][key] = values[both]
    return things, {k: v for k, v in values.items() if k not in inner}


def _code(
    function: Maker, makers: Mapping[str, Maker], inner: Mapping[str, tuple[str, str]], values: Mapping[str, Value]
) -> str:
    things, rest = _parted(makers, inner, values)
    own = [f"{n}={as_code(name_of(makers[n]), v)}" for n, v in things.items()]
    return f"{name_of(function)}({', '.join([*own, *(f'{k}={v!r}' for k, v in rest.items())])})"
