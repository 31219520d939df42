"""Lazy packages: the public names of a package stand once, in its `__init__.pyi`, and load on first use.

Type checkers and editors read the same file, so there is no second table to keep in step. `import tinbook`
loads this module alone, which is why it imports next to nothing.
"""

from __future__ import annotations

import sys
from importlib import import_module

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

_homes: dict[str, dict[str, str]] = {}


def homes(package: str) -> dict[str, str]:
    """Return the public names of a package and the module that defines each, as its `__init__.pyi` lists them."""
    if package not in _homes:
        with open(str(sys.modules[package].__file__) + "i", encoding="utf-8") as file:
            lines = [line.split() for line in file if line.startswith("from ")]
        _homes[package] = {name: home for _, home, _, name, *_ in lines}
    return _homes[package]


def doors(package: str) -> tuple[Callable[[str], object], Callable[[], list[str]]]:
    """Return `__getattr__` and `__dir__` for a package whose `__init__.pyi` lists its public names.

    A name whose home is the package itself is a module of it.
    """

    def get(name: str) -> object:
        known = homes(package)
        if name == "__all__":
            return sorted(known)
        if name not in known:
            raise AttributeError(f"module {package!r} has no attribute {name!r}; it has: {', '.join(sorted(known))}")
        home = known[name]
        value = import_module(f"{home}.{name}") if home == package else getattr(import_module(home), name)
        setattr(sys.modules[package], name, value)
        return value

    def names() -> list[str]:
        return sorted({*vars(sys.modules[package]), *homes(package)})

    return get, names
