"""Docstrings follow numpydoc, and every equation says where it comes from.

Presence and form are ruff's (rules D); this checks what ruff cannot: that the documented parameters are
real ones, and that sections are known and in order.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from typing import Any

import pytest
from numpydoc.validate import validate

import tinbook

# Of numpydoc's checks: sections unknown or out of order, a parameter that does not exist.
# Not the order of parameters (what belongs together stands in one line, "radius, thickness"), nor a
# description for each (some say all by name and type).
CHECKS = {"GL06", "GL07", "PR02"}

GUARDS = "tinbook.calc.limits"  # holds the checks of arguments, no equations


def modules() -> list[str]:
    return sorted(
        m.name for m in pkgutil.walk_packages(tinbook.__path__, "tinbook.") if not m.name.endswith("__main__")
    )


def public(module: Any) -> Iterator[tuple[str, Any]]:
    """Functions and classes that a module defines for others, and the public methods of those classes."""
    for name, thing in vars(module).items():
        if name.startswith("_") or getattr(thing, "__module__", "") != module.__name__:
            continue
        if inspect.isclass(thing):
            yield name, thing
            for method, body in vars(thing).items():
                if not method.startswith("_") and inspect.isfunction(body):
                    yield f"{name}.{method}", body
        elif inspect.isfunction(thing):
            yield name, thing


@pytest.mark.filterwarnings("ignore:Widget:DeprecationWarning")  # looking at a widget class makes it say so
@pytest.mark.parametrize("name", modules())
def test_documented_parameters_are_the_real_ones(name: str) -> None:
    module = importlib.import_module(name)
    wrong = []
    for what, _ in public(module):
        wrong += [f"{what}: {code} {text}" for code, text in validate(f"{name}.{what}")["errors"] if code in CHECKS]
    assert wrong == []


@pytest.mark.parametrize("name", [name for name in modules() if name.startswith("tinbook.calc.") and name != GUARDS])
def test_every_equation_names_its_source(name: str) -> None:
    module = importlib.import_module(name)
    silent = []
    for what, thing in public(module):
        text = inspect.getdoc(thing) or ""
        equation = inspect.isfunction(thing) and "." not in what and "float" in str(thing.__annotations__.get("return"))
        if equation and not re.search(r"(?m)^References\n-+\n|[Ss]ources?:|\(source|[Ss]ee `", text):
            silent.append(what)
    assert silent == []
