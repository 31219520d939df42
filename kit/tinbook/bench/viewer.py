"""The view of a folded part and its flat pattern in a notebook.

The viewer's source is large, so a kernel holds it once, in a widget of its own
that every view names; a saved notebook then carries it once too.
"""

from __future__ import annotations

import time
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import ipywidgets
import numpy as np
import traitlets as t

from tinbook.errors import MissingTool
from tinbook.making.shape import Shape

if TYPE_CHECKING:
    from collections.abc import Callable

    from tinbook.bench.film import Film
    from tinbook.strength.report import Field
    from tinbook.write.scene import Scene

STATIC = Path(__file__).parent / "static"

SENDING = 0.00005
"""s that the kernel's sending thread gets for a message."""

NARROW = 1 << 16
"""So many points can be told apart by 16 bits; the page expects those just then."""


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
    """A folded part beside its flat pattern, or an assembly beside its list of parts; picks in one are marked in the other."""

    _esm = t.Unicode("").tag(sync=True)
    library = t.Instance(Library).tag(sync=True, **ipywidgets.widget_serialization)
    # One trait per coordinate: a slider seldom changes all three, and unchanged traits are not sent.
    x = t.Bytes(b"").tag(sync=True)
    y = t.Bytes(b"").tag(sync=True)
    z = t.Bytes(b"").tag(sync=True)
    triangles = t.Bytes(b"").tag(sync=True)
    group_of = t.Bytes(b"").tag(sync=True)
    edges_x = t.Bytes(b"").tag(sync=True)
    edges_y = t.Bytes(b"").tag(sync=True)
    edges_z = t.Bytes(b"").tag(sync=True)
    groups = t.List().tag(sync=True)
    labels = t.List().tag(sync=True)
    field_points = t.Bytes(b"").tag(sync=True)
    field_triangles = t.Bytes(b"").tag(sync=True)
    field_moves = t.Bytes(b"").tag(sync=True)
    field_values = t.Bytes(b"").tag(sync=True)
    field = t.Dict().tag(sync=True)
    bodies = t.Dict().tag(sync=True)
    members = t.List().tag(sync=True)
    rows = t.List().tag(sync=True)
    movements = t.List().tag(sync=True)
    links = t.List().tag(sync=True)
    svg = t.Unicode("").tag(sync=True)
    stamp = t.Int(0).tag(sync=True)
    highlight = t.Unicode("").tag(sync=True)
    picked = t.Dict().tag(sync=True)
    note = t.Unicode("").tag(sync=True)
    theme = t.Enum(["auto", "light", "dark"], "auto").tag(sync=True)
    height = t.Int(440).tag(sync=True)

    def __init__(self, **traits: Any) -> None:
        super().__init__(_esm=bundle("loader.js"), library=library(), **traits)

    def show(self, shape: Shape, note: str = "") -> None:
        """Show a folded part; what did not change is not sent again. Its flat pattern follows as `svg`."""
        with self.hold_sync():
            self.x, self.y, self.z = _columns(shape.positions)
            self.edges_x, self.edges_y, self.edges_z = _columns(shape.edges)
            self.triangles, self.group_of = _narrow(shape.triangles, len(self.x) // 4), shape.group_of
            self.groups, self.labels = shape.groups, shape.labels
            self.bodies, self.members, self.rows, self.links, self.movements = {}, [], [], [], []
            self.note = note
            self.stamp += 1
        # Another thread sends it; yield to it before the flat pattern and checks are computed.
        time.sleep(SENDING)

    def show_scene(self, scene: Scene, note: str = "") -> None:
        """Show an assembly; bodies are sent again only if one of them changed, places alone if only they did."""
        with self.hold_sync():
            self.bodies, self.members, self.rows = scene.bodies, scene.members, scene.rows
            self.movements = scene.movements
            self.links = []
            self.note = note
            self.stamp += 1
        time.sleep(SENDING)

    def colour(self, field: Field | None) -> None:
        """Colour the part by a result field, or by the kinds of its features for None."""
        with self.hold_sync():
            for name, kind in (("points", "<f4"), ("triangles", "<u4"), ("moves", "<f4"), ("values", "<f4")):
                data = b"" if field is None else getattr(field, name).astype(kind).tobytes()
                setattr(self, f"field_{name}", data)
            about = ("title", "unit", "low", "high", "over", "swings")
            self.field = {} if field is None else {name: getattr(field, name) for name in about}

    def __repr__(self) -> str:
        return f"View({len(self.members)} members)" if self.members else f"View({len(self.groups)} groups)"


class FilmView(anywidget.AnyWidget):
    """A step of the fold sequence that plays: the part in the machine; `on_step` is called with -1 or 1 by its buttons."""

    _esm = t.Unicode("").tag(sync=True)
    library = t.Instance(Library).tag(sync=True, **ipywidgets.widget_serialization)
    bodies = t.Dict().tag(sync=True)
    members = t.List().tag(sync=True)
    frames = t.Int(0).tag(sync=True)
    angles = t.List().tag(sync=True)
    words = t.Unicode("").tag(sync=True)
    first = t.Bool(True).tag(sync=True)
    last = t.Bool(True).tag(sync=True)
    stamp = t.Int(0).tag(sync=True)
    theme = t.Enum(["auto", "light", "dark"], "auto").tag(sync=True)
    height = t.Int(440).tag(sync=True)

    def __init__(self, film: Film, on_step: Callable[[int], object], **traits: Any) -> None:
        super().__init__(_esm=bundle("loader.js"), library=library(), **traits)
        self.show(film)
        self.on_msg(lambda _w, content, _b: on_step(1 if content.get("step") == 1 else -1))

    def show(self, film: Film) -> None:
        """Show another step."""
        with self.hold_sync():
            for f in fields(film):
                setattr(self, f.name, getattr(film, f.name))
            self.stamp += 1

    def __repr__(self) -> str:
        return f"FilmView({self.words})"


def _columns(points: bytes) -> list[bytes]:
    """Return the x, y and z of float32 points, each by itself."""
    return [column.tobytes() for column in np.frombuffer(points, "<f4").reshape(-1, 3).T]


def _narrow(indices: bytes, count: int) -> bytes:
    """Return uint32 indices into `count` points as uint16 where those reach."""
    return np.frombuffer(indices, "<u4").astype("<u2").tobytes() if count <= NARROW else indices
