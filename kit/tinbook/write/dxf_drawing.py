"""Drawing into a DXF file: contours with true arcs, strokes, text; the same bytes every time."""

from __future__ import annotations

import io
import logging
import math
import re
import threading
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Loop, Point

if TYPE_CHECKING:
    from tinbook.write.stamp import Stamp

Version = Literal["R2010", "R12"]

NOTES: Final = "READ_ONLY"
"""Layer of everything that is to be read and not cut."""

_SAME: Final = 1e-3
"""mm: strokes that agree to this are one drawn twice."""

# ezdxf's switch for fixed times and identifiers is process-wide.
_FIXED = threading.Lock()


def need_version(version: object) -> None:
    """Refuse what is no version of DXF that the kit writes."""
    if version not in ("R2010", "R12"):
        raise BadValue("version", version, "R2010 or R12")


def need_unit(file: Path, version: Version) -> None:
    """Refuse a name without a unit for a version that states none inside."""
    if version == "R12" and not re.search(r"(?<![A-Za-z0-9.])mm(?![A-Za-z0-9])", file.stem):
        raise BadValue("file name", file.name, f"a name that carries the unit as a word, such as {file.stem}_mm.dxf")


def document_bytes(
    draw: Callable[[Any, Any], None],
    box: tuple[float, float, float, float],
    version: Version,
    stamp: Stamp | None = None,
) -> bytes:
    """Return the bytes of a DXF file, the same every time.

    Parameters
    ----------
    draw : callable
        Called with the document and its model space.
    box : (float, float, float, float)
        Least and largest x and y, mm: xmin, ymin, xmax, ymax.
    version : {"R2010", "R12"}
        R12 states no unit.
    stamp : Stamp, optional
        What the file says of itself.
    """
    import ezdxf

    with _FIXED:
        before = ezdxf.options.write_fixed_meta_data_for_testing
        ezdxf.options.write_fixed_meta_data_for_testing = True
        log = logging.getLogger("ezdxf")
        level = log.level
        log.setLevel(logging.ERROR)  # it warns that R12 states no unit; the file's name does
        try:
            doc = ezdxf.new(version)
            doc.header["$MEASUREMENT"] = 1
            doc.header["$INSUNITS"] = 0 if version == "R12" else 4  # 4: millimetres
            if version != "R12":
                doc.header["$LASTSAVEDBY"] = ""
                if stamp is not None:
                    doc.header.custom_vars.append("tinbook", stamp.mark)
            if stamp is not None and stamp.layer:
                doc.layers.add(stamp.layer, color=1)
            space = doc.modelspace()
            draw(doc, space)
            x0, y0, x1, y1 = (rounded(v) for v in box)
            space.reset_extents((x0, y0, 0.0), (x1, y1, 0.0))
            space.reset_limits((x0, y0), (x1, y1))
            _sort_classes(doc)
            stream = io.StringIO()
            doc.write(stream)
        finally:
            ezdxf.options.write_fixed_meta_data_for_testing = before
            log.setLevel(level)
    # R12 has no properties of a file, only comments (group 999).
    comment = f"999\n{stamp.mark}\n" if stamp is not None and version == "R12" else ""
    return (comment + stream.getvalue()).encode(doc.output_encoding, errors="dxfreplace")


def _sort_classes(doc: Any) -> None:
    """Sort the classes by name: the library adds them from a set, in an order that depends on the hash seed."""
    if doc.dxfversion > "AC1009":
        doc.classes.add_required_classes(doc.dxfversion)
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))


def rounded(v: float) -> float:
    """Round a coordinate to a millionth of a mm, so that the last digits of a sine do not reach the file."""
    return round(v, 6) + 0.0


def add_loop(space: Any, loop: Loop, layer: str, version: Version) -> None:
    """Draw a closed contour, arcs true."""
    where = {"layer": layer}
    if loop.is_circle:
        first = loop.edges[0]
        (x, y), radius = first.centre, first.radius
        space.add_circle((rounded(x), rounded(y)), rounded(radius), dxfattribs=where)
        return
    points = [(rounded(e.start[0]), rounded(e.start[1]), round(e.bulge, 12) + 0.0) for e in loop]
    if version == "R12":
        space.add_polyline2d(points, format="xyb", close=True, dxfattribs=where)
    else:
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=where)


def add_chain(space: Any, edges: Sequence[Edge], layer: str, version: Version) -> None:
    """Draw edges that follow one another as one open polyline, arcs true."""
    points = [(rounded(e.start[0]), rounded(e.start[1]), round(e.bulge, 12) + 0.0) for e in edges]
    points.append((rounded(edges[-1].end[0]), rounded(edges[-1].end[1]), 0.0))
    where = {"layer": layer}
    if version == "R12":
        space.add_polyline2d(points, format="xyb", dxfattribs=where)
    else:
        space.add_lwpolyline(points, format="xyb", dxfattribs=where)


def add_stroke(space: Any, e: Edge, layer: str) -> None:
    """Draw a line or an arc."""
    where = {"layer": layer}
    if e.is_line:
        space.add_line(
            (rounded(e.start[0]), rounded(e.start[1])), (rounded(e.end[0]), rounded(e.end[1])), dxfattribs=where
        )
        return
    e = e if e.bulge > 0 else e.reversed()
    cx, cy = e.centre
    a0 = math.degrees(math.atan2(e.start[1] - cy, e.start[0] - cx))
    a1 = math.degrees(math.atan2(e.end[1] - cy, e.end[0] - cx))
    space.add_arc(
        (rounded(cx), rounded(cy)), rounded(e.radius), round(a0, 9) + 0.0, round(a1, 9) + 0.0, dxfattribs=where
    )


def add_strokes(space: Any, edges: Iterable[Edge], layer: str) -> None:
    """Draw open lines and arcs, each once."""
    seen = set()
    for e in edges:
        key = stroke_key(e)
        if e.length > _SAME and key not in seen:
            seen.add(key)
            add_stroke(space, e, layer)


def stroke_key(e: Edge) -> tuple[Point, ...]:
    """Return what two strokes share that lie on each other, whichever way they run."""
    ends = sorted((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in (e.start, e.end))
    mid = e.at(0.5)
    return (*ends, (round(mid[0], 3) + 0.0, round(mid[1], 3) + 0.0))


def add_text(space: Any, text: str, at: Point, height: float, turn: float = 0.0, layer: str = NOTES) -> None:
    """Write a line of text at its lower left corner."""
    attributes = {"layer": layer, "height": rounded(height), "rotation": round(turn, 6) + 0.0}
    space.add_text(text, dxfattribs={**attributes, "insert": (rounded(at[0]), rounded(at[1]))})
