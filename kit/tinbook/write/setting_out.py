"""Numbers to set a blank out by, and to check it with: corners, sides, diagonals, fold lines, lines of forms, holes.

Every position is measured from one corner that exists on the metal, with an empty
column for the measured value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from tinbook.datum import Datum, datum_of, edge_name
from tinbook.dims import HoleRow, fold_to_edges, hole_rows, mm
from tinbook.flatpattern import FlatPattern, FoldLine
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.making.marks import fold_label, why_no_nick
from tinbook.plane.loops import Edge, Point
from tinbook.route.foldstep import numbered
from tinbook.shop.fixings import pilot_drill
from tinbook.write.flowing import Table
from tinbook.write.names import letters

MOST: Final = 150
"""Rows of one kind that are printed; the rest is named by its number. Hand-drilled holes are all printed."""


SHORTEST: Final = 0.05
"""mm: a shorter side of the outline is not listed, its ends are printed alike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingOut:
    """The datums of a blank.

    Parameters
    ----------
    flat : FlatPattern
        The blank.
    datum : Datum
        Of the blank as it is cut.
    holes : Datum
        Of the holes: the same, or a corner of the trimmed outline where they are drilled after trimming.
    """

    flat: FlatPattern
    datum: Datum
    holes: Datum

    @property
    def trims(self) -> bool:
        """Whether holes are measured from trimmed edges."""
        return self.holes is not self.datum


def setting_out(flat: FlatPattern) -> SettingOut:
    """Return the datums of a blank."""
    datum = datum_of(flat.outer)
    return SettingOut(flat=flat, datum=datum, holes=datum if flat.trimmed is None else datum_of(flat.trimmed))


def tag(i: int) -> str:
    """Return the letter of a row of holes: A to Z, then AA ... (no I and O, they read like figures)."""
    return letters(i, "ABCDEFGHJKLMNPQRSTUVWXYZ")


# --- outline -----------------------------------------------------------------------------------


def corners(it: SettingOut) -> list[tuple[str, Edge]]:
    """Return the outline's edges from the datum on, each with the number of the corner that it starts at."""
    edges = it.flat.outer.edges
    if it.flat.outer.is_full_circle:
        return []
    first = next((i for i, e in enumerate(edges) if math.dist(e.start, it.datum.first) < 1e-6), 0)
    turned = [*edges[first:], *edges[:first]]
    # Sides too short for a tape are merged into one corner.
    return [(str(k + 1), e) for k, e in enumerate(e for e in turned if e.chord >= SHORTEST)]


def corner_table(it: SettingOut) -> Table:
    """Return the table of corners: position, and the side to the next corner."""
    heads = ("Corner", "x", "y", "Side to the next", "Edge", "Measured")
    listed = corners(it)
    rows = []
    for k, (number, e) in enumerate(listed[:MOST]):
        x, y = it.datum.at(e.start)
        after = listed[(k + 1) % len(listed)][0]
        rows.append((number, mm(x), mm(y), f"to {after}: {_side(e)}", edge_name(e.name) or "-", ""))
    if not listed:
        x0, y0, x1, y1 = it.flat.outer.box
        x, y = it.datum.at(((x0 + x1) / 2, (y0 + y1) / 2))
        rows.append(("centre", mm(x), mm(y), f"Ø{mm(x1 - x0)}", "-", ""))
    return Table(heads=heads, rows=tuple(rows), right=(1, 2), by_hand=(5,))


def _side(e: Edge) -> str:
    if e.is_line:
        return mm(e.length)
    rise = abs(e.bulge) * e.chord / 2
    return f"{mm(e.chord)} straight, R {mm(e.radius)}, bows {'out' if e.bulge > 0 else 'in'} {mm(rise)}"


def far_corners(it: SettingOut) -> list[tuple[str, Point]]:
    """Return the four corners nearest to those of the blank's box, anticlockwise, each once."""
    listed = [(number, e.start) for number, e in corners(it)]
    x0, y0, x1, y1 = it.flat.outer.box
    w, h = max(x1 - x0, 1e-9), max(y1 - y0, 1e-9)
    found: dict[str, Point] = {}
    for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)) if listed else ():
        # Ties: the corner farther out along x, so that both diagonals of a symmetric blank are equal.
        number, p = max(listed, key=lambda c: (round(sx * c[1][0] / w + sy * c[1][1] / h, 6), round(sx * c[1][0], 6)))
        found.setdefault(number, p)
    return list(found.items())


def is_far(it: SettingOut, number: str) -> bool:
    """Whether a corner is an end of a diagonal."""
    return any(number == n for n, _ in far_corners(it))


def diagonal_table(it: SettingOut) -> Table:
    """Return the table that shows whether the blank is square: its two longest diagonals, or the sides of three far corners."""
    far = far_corners(it)
    pairs = [(0, 2), (1, 3)] if len(far) == 4 else [(i, j) for i in range(len(far)) for j in range(i + 1, len(far))]
    rows = tuple((f"{far[i][0]} - {far[j][0]}", mm(math.dist(far[i][1], far[j][1])), "") for i, j in pairs)
    return Table(heads=("Diagonal", "mm", "Measured"), rows=rows, right=(1,), by_hand=(2,))


# --- folds and forms ---------------------------------------------------------------------------


def marked(made: Made, flat: FlatPattern, fold: FoldLine) -> str:
    """Return how a fold line is marked on the metal: "etched", "nicks" or "scribe it"."""
    own = [m for m in flat.marks if m.label == fold_label(fold)]
    if fold.direction == "up" and any(m.kind == "fold" for m in own):
        return "etched"
    return "nicks" if any(m.kind == "nick" for m in own) else "scribe it"


def line_to_edge(flat: FlatPattern, fold: FoldLine) -> str:
    """Return the distance from a fold's line to its edge as printed: at the line's start and end where they differ."""
    ends = fold_to_edges(flat, fold)
    if ends is None:
        return "-"
    first, last = mm(ends[0]), mm(ends[1])
    return first if first == last else f"{first} / {last}"


def mark_off(s: BendZone) -> str:
    """Return the offset of a fold's mark from the middle of the bend in words, "" without one."""
    off = s.allowance / 2 - s.bend.mark_at
    return "" if abs(off) < 0.05 else f"mark {mm(abs(off))} toward {s.parent if off > 0 else s.child}, "


def fold_line_table(it: SettingOut, made: Made, strips: Sequence[BendZone]) -> Table:
    """Return both ends of every fold's line, in working order, and how far off it a folder's mark lies."""
    lines = {f.name: f for f in it.flat.folds}
    rows: list[tuple[str, ...]] = []
    for i, s in enumerate(strips, 1):
        f = lines[s.name]
        if not f.pieces:
            continue
        ends = fold_to_edges(it.flat, f) or (None, None)
        labels = (
            f"{numbered('', str(i), f.name).strip()}, {mark_off(s)}{f.direction}",
            f"{i} {marked(made, it.flat, f)}, {mm(f.length)} long",
        )
        for name, p, away in zip(labels, (f.pieces[0][0], f.pieces[-1][1]), ends, strict=True):
            x, y = it.datum.at(p)
            rows.append((name, mm(x), mm(y), "-" if away is None else mm(away), ""))
    heads = ("Fold line, both ends", "x", "y", "To edge", "Measured")
    return Table(heads=heads, rows=tuple(rows), right=(1, 2, 3), by_hand=(4,))


def form_line_table(it: SettingOut) -> Table:
    """Return the points of every line by which a form is made, from end to end."""
    rows: list[tuple[str, ...]] = []
    for line in it.flat.form_lines[:MOST]:
        points = [*(e.start for e in line.edges), line.edges[-1].end]
        for k, p in enumerate(points):
            x, y = it.datum.at(p)
            what = f"{line.what}, {line.direction}" if k == 0 else "end" if k == len(points) - 1 else "on the way"
            rows.append((line.name, what, mm(x), mm(y), ""))
    return Table(heads=("Form", "Point", "x", "y", "Measured"), rows=tuple(rows), right=(2, 3), by_hand=(4,))


# --- holes -------------------------------------------------------------------------------------


def hole_table(it: SettingOut) -> Table | None:
    """Return the table of holes, a row each; None without holes."""
    rows = []
    for i, h in enumerate(hole_rows(it.flat)):
        first, last = (", ".join(map(mm, it.holes.at(p))) for p in (h.first, h.last))
        rows.append(
            (
                tag(i),
                str(h.count),
                _size(h, it.holes),
                h.use,
                *_made(h),
                _pitch(h.pitch) if h.pitch else "-",
                first,
                "-" if h.count == 1 else last if h.pitch else "each: see setting out",
                mm(h.first_from)
                if math.isclose(h.first_from, h.last_from, abs_tol=0.05)
                else f"{mm(h.first_from)} / {mm(h.last_from)}",
            )
        )
    if not rows:
        return None
    heads = ("Hole", "Pieces", "Size", "Use", "Made", "Pilot", "Pitch", "First at x, y", "Last at x, y", "From edge")
    return Table(heads=heads, rows=tuple(rows), right=(1, 6, 7, 8, 9))


def hole_place_table(it: SettingOut) -> Table:
    """Return the place of every hole, those drilled by hand first."""
    rows: list[tuple[str, ...]] = []
    tagged = [(tag(i), h) for i, h in enumerate(hole_rows(it.flat))]
    for name, h in sorted(tagged, key=lambda row: not row[1].drilled):
        for k, p in enumerate(h.centres, 1):
            if not h.drilled and len(rows) >= MOST:
                break
            x, y = it.holes.at(p)
            made, pilot = _made(h)
            how = made if pilot == "-" else f"{made}, pilot {pilot}"
            rows.append((f"{name}{k}" if h.count > 1 else name, _size(h, it.holes), how, mm(x), mm(y), ""))
    heads = ("Hole", "Size", "Made", "x", "y", "Measured")
    return Table(heads=heads, rows=tuple(rows), right=(3, 4), by_hand=(5,))


def to_drill(flat: FlatPattern) -> list[tuple[str, Point, float]]:
    """Return what is drilled by hand: name and drills in words, centre, finished diameter."""
    found = []
    for name, h in ((tag(i), h) for i, h in enumerate(hole_rows(flat))):
        for k, p in enumerate(h.centres if h.drilled and h.dia else (), 1):
            _, pilot = _made(h)
            out = "drill" if h.undersize is None else "drill out to"
            text = f"{name}{k if h.count > 1 else ''} {out} {_size(h)}" + ("" if pilot == "-" else f", pilot {pilot}")
            found.append((text, p, h.dia or 0.0))
    return found


def _size(h: HoleRow, datum: Datum | None = None) -> str:
    """Return the size of a hole, and for a long one its angle to the datum's x."""
    if h.dia:
        return f"Ø{_dia(h.dia)}"
    ux, uy = (1.0, 0.0) if datum is None else datum.along
    turn = round((h.turn - math.degrees(math.atan2(uy, ux))) % 180.0, 1) % 180.0
    angle = "" if h.turn == 0.0 or turn == 0.0 else f" at {turn:g}°"
    return f"{mm(h.size[0])} × {mm(h.size[1])}{angle}"


def _dia(v: float) -> str:
    """Return a diameter as drills are named: a tenth, or a hundredth where it is needed."""
    return mm(v) if math.isclose(v, round(v, 1), abs_tol=0.005) else f"{v:.2f}"


def _made(h: HoleRow) -> tuple[str, str]:
    """Return how a row of holes is made, and its pilot drill."""
    if not h.drilled:
        return "cut", "-"
    if h.undersize is not None:
        return f"cut Ø{_dia(h.undersize)}, drill out", "-"
    pilot = None if h.dia is None else pilot_drill(h.dia)
    return "drilled", "-" if pilot is None else f"Ø{_dia(pilot)}"


def _pitch(pitch: tuple[float, float]) -> str:
    low, high = mm(pitch[0]), mm(pitch[1])
    return low if low == high else f"{low} to {high}"


# --- sentences ---------------------------------------------------------------------------------


def trim_note(it: SettingOut) -> str:
    """Return the sentence on the datum of holes that are measured after trimming."""
    return f"Holes are measured after trimming, from T on the trimmed outline. {it.holes.words('T')}"


def hole_notes(it: SettingOut, etches: bool) -> list[str]:
    """Return the sentences on holes drilled by hand."""
    tagged = [(tag(i), h) for i, h in enumerate(hole_rows(it.flat))]
    drilled = [name for name, h in tagged if h.drilled and h.undersize is None]
    bored = [f"{name} to {_size(h)}" for name, h in tagged if h.undersize is not None]
    sentences = [f"Cut undersize, to be drilled out: {', '.join(bored)}."] if bored else []
    if not drilled:
        return sentences
    where = (
        "the cutter etches a cross at each"
        if etches
        else "the cutter marks nothing there (a pierce would harden the spot and the drill would wander), so set them "
        "out by x and y, or punch through the template's crosses"
    )
    return [*sentences, f"Drilled by hand, not in the cut file: {', '.join(drilled)}; {where}."]


def mark_notes(made: Made, flat: FlatPattern) -> list[str]:
    """Return the sentences on how fold lines are marked, and why some edges have no nick."""
    how: dict[str, list[str]] = {}
    for f in flat.folds:
        how.setdefault(marked(made, flat, f), []).append(f.name)
    sentences = []
    if "nicks" in how:
        sentences.append(f"Nicks of at most 0.5 mm in the edge mark the ends of: {', '.join(how['nicks'])}.")
    if "scribe it" in how:
        sentences.append(
            f"Scribe by the setting-out numbers, the cutter marks nothing: {', '.join(how['scribe it'])}. "
            "Where a row tells a mark off its line, scribe the mark."
        )
    declared = {f.name: f for f in made.part.folds}
    bare: dict[str, list[str]] = {}
    for name in how.get("scribe it", []):
        why = why_no_nick(made.part, declared[name]) if name in declared else ""
        if why:
            bare.setdefault(why, []).append(name)
    sentences += [f"No nicks at {', '.join(names)}: {why}." for why, names in bare.items()]
    down = [f.name for f in flat.folds if f.direction == "down" and marked(made, flat, f) != "etched"]
    if down:
        sentences.append(
            f"These lines belong on the down face, from nick to nick or by their numbers with x running the other way: "
            f"{', '.join(down)}."
        )
    return sentences


def unlisted(it: SettingOut) -> list[str]:
    """Return the sentences on what is too much for the tables."""
    cut = sum(h.count for h in hole_rows(it.flat) if not h.drilled)
    left_out = [
        ("corners", len(corners(it)) - MOST),
        ("lines of forms", len(it.flat.form_lines) - MOST),
        ("cut holes", cut - MOST),
    ]
    return [
        f"{n} more {what} are not listed: take them from the cut file or the template." for what, n in left_out if n > 0
    ]
