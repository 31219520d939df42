"""The cut file: closed contours at finished size, true arcs, each kind of line on its own layer.

R2010 declares millimetres. R12, for old controllers, has no way to declare a
unit, so the file's name must say "mm".
"""

from __future__ import annotations

import math
import os
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadValue, CannotMake
from tinbook.flatpattern import FlatPattern, FoldLine, both_ways
from tinbook.making.made import Made
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.plane.meeting import self_crossing
from tinbook.plane.offset import offset_loop
from tinbook.units import number
from tinbook.write.drafts import draft_of
from tinbook.write.dxf_drawing import (
    NOTES,
    Version,
    add_loop,
    add_stroke,
    add_strokes,
    add_text,
    document_bytes,
    need_unit,
    need_version,
    stroke_key,
)
from tinbook.write.names import Subject, blank_of, label
from tinbook.write.setting_out import to_drill
from tinbook.write.stamp import Despite, Stamp

OUTER: Final = "BLANK_EDGE"
INNER: Final = "BLANK_HOLES"
ETCH: Final = "ETCH_STROKES"
NICKS: Final = "EDGE_NICKS"
FOLD_UP: Final = "FOLD_UP"
FOLD_DOWN: Final = "FOLD_DOWN"
COLOURS: Final = {OUTER: 7, INNER: 4, ETCH: 3, NICKS: 6, FOLD_UP: 5, FOLD_DOWN: 30, NOTES: 8}
"""Layer names (capitals, digits and _ are all that R12 allows) and their colour indexes."""

ETCHED: Final = ("fold", "bead", "text", "drill", "match", "grain", "trim", "form")
"""Kinds of marks that a cutter etches; "formed" shapes are for the reader only."""


def write_dxf(
    thing: Subject,
    path: str | os.PathLike[str],
    version: Version = "R2010",
    *,
    marks: bool = False,
    folds: bool = False,
    kerf: Any = None,
    cutter: str | None = None,
    quantity: int | None = None,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the flat pattern for the cutter.

    Parameters
    ----------
    thing : Made or FlatPattern
        What to cut.
    path : str or path-like
        File name ending in .dxf, or an existing folder: then the name carries part,
        revision, material, thickness and quantity.
    version : {"R2010", "R12"}
        R12 only for controllers that read nothing newer; its file name must carry "mm" as a word.
    marks : bool
        Add marks as open strokes: etched lines if the cutter etches (those for the down face are left
        out, a cutter marks one face), else the nicks in the edge at the ends of folds.
    folds : bool
        Add fold lines, centres of holes to drill and notes for the reader: a file to look at, not the one to cut from.
    kerf : length, optional
        Only for an own machine that does not compensate by itself: contours move into the waste by half of it.
    cutter : str, optional
        Key of the cutter of a made part, else the shop's first for the sheet.
    quantity : int, optional
        For the file name, instead of the part's own.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops it; the file says so.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        Something stops the part and `despite` does not name it, two contours are the same, or a contour is too small
        for the kerf.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    BadValue
        A name, folder or option that cannot be used. Nothing is written then.
    """
    flat = blank_of(thing)
    it = label(thing, quantity)
    need_version(version)
    etches = _cutter_etches(thing, kerf is not None, cutter)
    ending = "_folds" if folds else ""
    if kerf is not None:
        width = number(kerf, "mm", "kerf")
        if width <= 0:
            raise BadValue("kerf", kerf, "a length greater than 0 mm, or nothing")
        flat = with_kerf(flat, width)
        ending += f"_kerf{width:g}"
    if version == "R12":
        ending += "_mm"
    draft = draft_of(thing, path, ".dxf", ending=ending, quantity=quantity, despite=despite, replace=replace)
    need_unit(draft.file, version)
    title = f"{it.name}, {it.material} {it.thickness:.4g} mm, {it.quantity} off"
    data = dxf_bytes(flat, version, marks=marks, etches=etches, folds=folds, title=title, stamp=draft.stamp)
    return draft.write(data)


def dxf_bytes(
    flat: FlatPattern,
    version: Version = "R2010",
    *,
    marks: bool = False,
    etches: bool = True,
    folds: bool = False,
    title: str = "",
    stamp: Stamp | None = None,
) -> bytes:
    """Return a flat pattern as the bytes of a DXF file; see `write_dxf`."""
    _refuse_doubles(flat)
    strokes = strokes_by_layer(flat, etches) if marks else {}

    def draw(doc: Any, space: Any) -> None:
        used = [OUTER, *([INNER] if flat.inner else []), *strokes]
        if folds:
            used += [FOLD_UP, FOLD_DOWN, NOTES]
        for name in used:
            doc.layers.add(name, color=COLOURS[name])
        add_loop(space, flat.outer, OUTER, version)
        for cut in flat.inner:
            add_loop(space, cut.loop, INNER, version)
        for layer, edges in strokes.items():
            add_strokes(space, edges, layer)
        if folds:
            for fold in flat.folds:
                layer = FOLD_UP if fold.direction == "up" else FOLD_DOWN
                for a, b in fold.pieces:
                    add_stroke(space, Edge(a, b), layer)
            below = [m for m in flat.marks if m.face == "down" and m.kind != "fold"]
            seen = ("formed",) if ETCH in strokes else ("formed", "drill")  # the etched layer already has the crosses
            shown = [*below, *(m for m in flat.marks if m.kind in seen and m.face == "up")]
            add_strokes(space, [e for m in shown for e in m.edges], NOTES)
            _notes(space, flat, [title, stamp.words if stamp is not None else ""])

    return document_bytes(draw, flat.outer.box, version, stamp)


def strokes_by_layer(flat: FlatPattern, etches: bool) -> dict[str, list[Edge]]:
    """Return the open strokes of a blank: lines that the cutter etches on the up side, and nicks."""
    strokes: dict[str, list[Edge]] = {}
    for m in flat.marks:
        layer = NICKS if m.kind == "nick" else ETCH
        if layer == NICKS or (etches and m.kind in ETCHED and m.face == "up"):
            strokes.setdefault(layer, []).extend(m.edges)
    return strokes


def _cutter_etches(thing: Subject, kerf: bool, key: str | None) -> bool:
    """Return whether the cutter etches; for a bare flat pattern no cutter is known, so etching is allowed."""
    if not isinstance(thing, Made):
        if key is not None:
            raise BadValue("cutter", key, "nothing: only a made part knows a shop")
        return True
    cutter = thing.shop.cutter(key) if key else thing.shop.cutter_for(thing.sheet)
    if kerf and not cutter.own:
        raise BadValue("kerf", kerf, f"nothing: '{cutter.key}' belongs to {cutter.who}, who compensates the kerf")
    return cutter.etches


def _notes(space: Any, flat: FlatPattern, words: list[str]) -> None:
    x0, y0, x1, y1 = flat.outer.box
    height = max(2.5, max(x1 - x0, y1 - y0) / 120)
    for fold in (f for f in flat.folds if f.pieces):
        (ax, ay), (bx, by) = max(fold.pieces, key=lambda piece: math.dist(*piece))
        if (bx, by) < (ax, ay):
            ax, ay, bx, by = bx, by, ax, ay
        turn = math.degrees(math.atan2(by - ay, bx - ax))
        n = math.dist((ax, ay), (bx, by))
        # One letter height above the line, a little in from its end.
        ux, uy = (bx - ax) / n, (by - ay) / n
        at = ax + ux * height - uy * height * 0.6, ay + uy * height + ux * height * 0.6
        add_text(space, _fold_note(fold), at, height, turn)
    for text, (x, y), _ in to_drill(flat):
        add_text(space, text, (x + height, y + 0.3 * height), 0.7 * height, 0.0)
    lines = [
        *words,
        "Finished size, millimetres, seen from the up side.",
        "Fold lines and notes are to be read, not cut.",
    ]
    for row, line in enumerate(filter(None, lines), 1):
        add_text(space, line, (x0, y0 - row * 2 * height), height, 0.0)


def _fold_note(f: FoldLine) -> str:
    return f"{f.name}: {f.direction}, {both_ways(round(f.angle, 2))}, inside radius {f.radius:.4g}"


def _refuse_doubles(flat: FlatPattern) -> None:
    """Raise CannotMake if a contour is there twice: the cutter would burn it twice."""
    seen: dict[frozenset[tuple[Point, ...]] | tuple[float, ...], str] = {}
    for name, loop in (("outer contour", flat.outer), *((c.name or c.use, c.loop) for c in flat.inner)):
        key: frozenset[tuple[Point, ...]] | tuple[float, ...]
        if loop.is_circle:
            first = loop.edges[0]
            key = tuple(round(v, 3) + 0.0 for v in (*first.centre, first.radius))
        else:
            key = frozenset(stroke_key(e) for e in loop)
        if key in seen:
            x, y = loop.edges[0].start
            raise CannotMake(
                f"{flat.name}: the contours '{seen[key]}' and '{name}' are the same one at ({x:.1f}, {y:.1f}); "
                "nothing was written. Remedy: take one of them out"
            )
        seen[key] = name


def with_kerf(flat: FlatPattern, kerf: float) -> FlatPattern:
    """Return the contours moved into the waste by half the kerf, lines and arcs exact.

    Parameters
    ----------
    flat : FlatPattern
        At finished size.
    kerf : float
        Width of the cut, mm, greater than 0.

    Returns
    -------
    FlatPattern
        Outer contour grown, inner contours shrunk.

    Raises
    ------
    CannotMake
        A notch, corner radius or hole is too small for the kerf; names the contour.
    """
    half = kerf / 2
    outer = _moved(flat.outer, half, "outer contour")
    inner = tuple(
        replace(c, loop=_moved(c.loop.anticlockwise(), -half, f"inner contour {i} '{c.name or c.use}'"))
        for i, c in enumerate(flat.inner, 1)
    )
    n = len(flat.cuts)
    return replace(flat, outer=outer, cuts=inner[:n], undersize=inner[n:])


def _moved(loop: Loop, out: float, what: str) -> Loop:
    named = Loop(tuple(replace(e, name=f"edge {i}") for i, e in enumerate(loop.edges, 1)))
    refusal = (
        f"{what} is too narrow for a kerf of {2 * abs(out):g} mm: the cutter's path would vanish or cross itself; "
        "nothing was written. Remedy: widen it beyond the kerf, or write finished size and let the cutter compensate"
    )
    try:
        moved = offset_loop(named, [out] * len(named))
    except BadValue as error:
        raise CannotMake(refusal) from error
    if moved.area <= 0 or self_crossing(moved) is not None:
        raise CannotMake(refusal)
    return moved
