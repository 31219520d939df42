"""The view of a folded part and its flat pattern in a notebook.

The viewer's source is large, so a kernel holds it once, in a widget of its own
that every view names; a saved notebook then carries it once too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import ipywidgets
import numpy as np
import traitlets as t

from tinbook.bench.labels import key, labels
from tinbook.errors import MissingTool

if TYPE_CHECKING:
    from tinbook.make.made import Made

STATIC = Path(__file__).parent / "static"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A folded part as bytes, ready to be sent.

    Parameters
    ----------
    positions : bytes
        float32, shape (n, 3), mm.
    triangles : bytes
        uint32, shape (m, 3), outward normals.
    group_of : bytes
        uint32, shape (m,): index into `groups`.
    edges : bytes
        float32, shape (k, 2, 3): segments to draw as lines.
    groups : list of (key, kind)
        Features; resent only when they change.
    labels : list of str
        Name and size of each group.
    """

    positions: bytes
    triangles: bytes
    group_of: bytes
    edges: bytes
    groups: list[list[str]]
    labels: list[str]


def shape_of(made: Made) -> Shape:
    """Return the preview of a made part as bytes."""
    p = made.preview
    texts = labels(made)
    keys = [key(kind, name) for name, kind in zip(p.names, p.kinds, strict=True)]
    return Shape(
        positions=np.ascontiguousarray(p.positions, dtype="<f4").tobytes(),
        triangles=np.ascontiguousarray(p.triangles, dtype="<u4").tobytes(),
        group_of=np.ascontiguousarray(p.group, dtype="<u4").tobytes(),
        edges=np.ascontiguousarray(p.lines, dtype="<f4").tobytes(),
        groups=[[k, kind] for k, kind in zip(keys, p.kinds, strict=True)],
        labels=[texts.get(k) or f"{kind} of {name}" for k, kind, name in zip(keys, p.kinds, p.names, strict=True)],
    )


def bundle(name: str) -> str:
    """Return a built file of the viewer.

    Raises
    ------
    MissingTool
        The package was built without the viewer.
    """
    try:
        return (STATIC / name).read_text(encoding="utf-8")
    except FileNotFoundError:
        raise MissingTool(
            "the 3-D view was not built into this installation; install the package again without TINBOOK_NO_VIEWER=1"
        ) from None


class Library(ipywidgets.Widget):
    """Holds the viewer's source, once for all views of a kernel."""

    _model_name = t.Unicode("WidgetModel").tag(sync=True)
    _model_module = t.Unicode("@jupyter-widgets/base").tag(sync=True)
    _model_module_version = t.Unicode("2.0.0").tag(sync=True)
    source = t.Unicode("").tag(sync=True)

    def __repr__(self) -> str:
        return "Library()"


@cache
def _library(_generation: int) -> Library:
    return Library(source=bundle("viewer.js"))


def library() -> Library:
    """Return the kernel's one library, a new one if the last was closed."""
    generation = 0
    while (found := _library(generation)).comm is None:
        generation += 1
    return found


class View(anywidget.AnyWidget):
    """A folded part beside its flat pattern; picks in one are marked in the other."""

    _esm = t.Unicode("").tag(sync=True)
    library = t.Instance(Library).tag(sync=True, **ipywidgets.widget_serialization)
    positions = t.Bytes(b"").tag(sync=True)
    triangles = t.Bytes(b"").tag(sync=True)
    group_of = t.Bytes(b"").tag(sync=True)
    edges = t.Bytes(b"").tag(sync=True)
    groups = t.List().tag(sync=True)
    labels = t.List().tag(sync=True)
    svg = t.Unicode("").tag(sync=True)
    stamp = t.Int(0).tag(sync=True)
    highlight = t.Unicode("").tag(sync=True)
    picked = t.Dict().tag(sync=True)
    note = t.Unicode("").tag(sync=True)
    theme = t.Enum(["auto", "light", "dark"], "auto").tag(sync=True)
    height = t.Int(440).tag(sync=True)

    def __init__(self, **traits: Any) -> None:
        super().__init__(_esm=bundle("loader.js"), library=library(), **traits)

    def show(self, shape: Shape, svg: str, note: str = "") -> None:
        """Show a part; what did not change is not sent again."""
        with self.hold_sync():
            for name in Shape.__slots__:
                setattr(self, name, getattr(shape, name))
            self.svg, self.note = svg, note
            self.stamp += 1

    def __repr__(self) -> str:
        return f"View({len(self.groups)} groups)"
