"""Values of a design: their history, as code, and in a file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import tomlkit

from tinbook.bench.parameters import BadFunction, Parameter, Value, checked
from tinbook.errors import BadFile, CannotWrite, Mistake
from tinbook.paths import existing
from tinbook.values import dataclass
from tinbook.write.files import target, write_whole

LONGEST = 200  # steps kept; older ones fall out
LARGEST = 1_000_000  # bytes: far more than any values file has


@dataclass(frozen=True, slots=True)
class History:
    """Steps of a design: those that can be undone (the last is the present), and those that can be redone."""

    done: tuple[dict[str, Value], ...]
    undone: tuple[dict[str, Value], ...] = ()

    @property
    def now(self) -> dict[str, Value]:
        """The present values."""
        return self.done[-1]

    def step(self, values: Mapping[str, Value]) -> History:
        """Return the history with one more step; the same values again are no step."""
        if dict(values) == self.now:
            return self
        return History((*self.done, dict(values))[-LONGEST:])

    def parted(self, before: Mapping[str, Value], values: Mapping[str, Value]) -> History:
        """Return the history with `before` as a step of its own where `values` moves another control than `before` did.

        So two sliders moved in one breath are two steps, and one slider pulled along is one.
        """
        moved = {k for k, v in before.items() if v != self.now.get(k)}
        moving = {k for k, v in values.items() if v != before.get(k)}
        return self.step(before) if moved and not moving <= moved else self

    def undo(self) -> History:
        """Return the history one step back (itself at the beginning)."""
        if len(self.done) < 2:
            return self
        return replace(self, done=self.done[:-1], undone=(self.done[-1], *self.undone))

    def redo(self) -> History:
        """Return the history one undone step forward (itself without one)."""
        if not self.undone:
            return self
        return replace(self, done=(*self.done, self.undone[0]), undone=self.undone[1:])


def as_code(name: str, values: Mapping[str, Value]) -> str:
    """Return the call that gives the same part again."""
    return f"{name}({', '.join(f'{k}={v!r}' for k, v in values.items())})"


def save_values(path: str | Path, name: str, values: Mapping[str, Value], given: tuple[Parameter, ...]) -> Path:
    """Write values as TOML, whole or not at all.

    Parameters
    ----------
    path : path
        Ends in ".toml", in a folder that exists; or such a folder.
    name : str
        Name of the design function.
    values : mapping
        By parameter name.
    given : tuple of Parameter
        Lists and options are written as the text that would be typed.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotWrite
        Something else stands there, such as a shop file.
    """
    page = tomlkit.document()
    page.add(tomlkit.comment("Values of a tinbook workbench; load them with its Load button."))
    page["function"] = name
    as_text = {p.name: p.shown for p in given}
    page["values"] = {k: v if isinstance(v, str | int | float) else as_text[k](v) for k, v in values.items()}
    file = target(path, ".toml", f"{name}_values")
    if file.exists() and not _values_of(file, name):
        raise CannotWrite(f"{file}: nothing was saved; it holds no values of {name!r}; valid: another name or folder")
    write_whole({file: tomlkit.dumps(page)})
    return file


def _values_of(file: Path, name: str) -> bool:
    """Whether a file holds values of a function, and nothing else that would be lost."""
    try:
        page = tomllib.loads(file.read_bytes().decode("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return False
    return page.get("function") == name and set(page) <= {"function", "values"}


def load_values(path: str | Path, name: str, given: tuple[Parameter, ...]) -> dict[str, Value]:
    """Read values written by `save_values`.

    Raises
    ------
    BadFile
        Not such a file, another function's, or values that do not fit; every mistake at once.
    """
    file = existing(path, "a file that the Save button wrote")
    try:
        with file.open("rb") as f:
            data = f.read(LARGEST + 1)
        if len(data) > LARGEST:
            raise BadFile(str(path), [Mistake("file", f"larger than {LARGEST} bytes; a values file has a few lines")])
        page: dict[str, Any] = tomllib.loads(data.decode("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        what = getattr(error, "strerror", None) or str(error)
        raise BadFile(str(path), [Mistake("file", f"{what}; valid: a file that the Save button wrote")]) from None
    mistakes = [Mistake(key, "unknown; valid: function, values") for key in page if key not in ("function", "values")]
    if page.get("function") != name:
        mistakes.append(Mistake("function", f"{page.get('function')!r}; valid: {name!r}, this workbench's function"))
    values = page.get("values", {})
    if not isinstance(values, dict):
        mistakes.append(Mistake("values", f"{values!r}; valid: a table of parameters"))
        values = {}
    result: dict[str, Value] = {}
    try:
        result = checked(given, values)
    except BadFunction as error:
        mistakes += [Mistake("values", reason) for reason in error.reasons]
    if mistakes:
        raise BadFile(str(path), mistakes)
    return result
