"""Numbers to set a blank out by, and to check it with: corners, sides, diagonals, fold lines, lines of forms, holes.

Every position is measured from one corner that exists on the metal, with an empty
column for the measured value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from tinbook.datum import Datum, datum_of, edge_name
from tinbook.dims import HoleRow, fold_to_edges, hole_rows
from tinbook.flatpattern import FlatPattern, FoldLine
from tinbook.language import ENGLISH, Language
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.making.marks import fold_label, why_no_nick
from tinbook.plane.loops import Edge, Point
from tinbook.route.foldstep import numbered
from tinbook.shop.fixings import pilot_drill
from tinbook.values import dataclass
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


def corner_table(it: SettingOut, say: Language = ENGLISH) -> Table:
    """Return the table of corners: position, and the side to the next corner."""
    heads = ("Corner", "x", "y", "Side to the next", "Edge", "Measured")
    listed = corners(it)
    rows = []
    for k, (number, e) in enumerate(listed[:MOST]):
        x, y = it.datum.at(e.start)
        after = listed[(k + 1) % len(listed)][0]
        side = say("to {corner}: {side}", corner=after, side=_side(e, say))
        rows.append((number, say.number(x), say.number(y), side, edge_name(e.name) or "-", ""))
    if not listed:
        x0, y0, x1, y1 = it.flat.outer.box
        x, y = it.datum.at(((x0 + x1) / 2, (y0 + y1) / 2))
        rows.append((say("centre"), say.number(x), say.number(y), f"Ø{say.number(x1 - x0)}", "-", ""))
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(1, 2), by_hand=(5,))


def _side(e: Edge, say: Language) -> str:
    if e.is_line:
        return say.number(e.length)
    rise = abs(e.bulge) * e.chord / 2
    bows = say("bows out") if e.bulge > 0 else say("bows in")
    return say("{a:.1f} straight, R {r:.1f}, {bows} {rise:.1f}", a=e.chord, r=e.radius, bows=bows, rise=rise)


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


def diagonal_table(it: SettingOut, say: Language = ENGLISH) -> Table:
    """Return the table that shows whether the blank is square: its two longest diagonals, or the sides of three far corners."""
    far = far_corners(it)
    pairs = [(0, 2), (1, 3)] if len(far) == 4 else [(i, j) for i in range(len(far)) for j in range(i + 1, len(far))]
    rows = tuple((f"{far[i][0]} - {far[j][0]}", say.number(math.dist(far[i][1], far[j][1])), "") for i, j in pairs)
    return Table(heads=(say("Diagonal"), "mm", say("Measured")), rows=rows, right=(1,), by_hand=(2,))


# --- folds and forms ---------------------------------------------------------------------------


def marked(flat: FlatPattern, fold: FoldLine) -> str:
    """Return how a fold line is marked on the metal: "etched", "nicks" or "scribe it"."""
    own = [m for m in flat.marks if m.label == fold_label(fold)]
    if fold.direction == "up" and any(m.kind == "fold" for m in own):
        return "etched"
    return "nicks" if any(m.kind == "nick" for m in own) else "scribe it"


def line_to_edge(flat: FlatPattern, fold: FoldLine, say: Language = ENGLISH) -> str:
    """Return the distance from a fold's line to its edge as printed: at the line's start and end where they differ."""
    ends = fold_to_edges(flat, fold)
    if ends is None:
        return "-"
    first, last = say.number(ends[0]), say.number(ends[1])
    return first if first == last else f"{first} / {last}"


def mark_off(s: BendZone, say: Language = ENGLISH) -> str:
    """Return the offset of a fold's mark from the middle of the bend in words, "" without one."""
    off = s.allowance / 2 - s.bend.mark_at
    if abs(off) < 0.05:
        return ""
    return say("mark {off:.1f} toward {panel}", off=abs(off), panel=s.parent if off > 0 else s.child) + ", "


def fold_line_table(it: SettingOut, strips: Sequence[BendZone], say: Language = ENGLISH) -> Table:
    """Return both ends of every fold's line, in working order, and how far off it a folder's mark lies."""
    lines = {f.name: f for f in it.flat.folds}
    rows: list[tuple[str, ...]] = []
    for i, s in enumerate(strips, 1):
        f = lines[s.name]
        if not f.pieces:
            continue
        ends = fold_to_edges(it.flat, f) or (None, None)
        labels = (
            f"{numbered('', str(i), f.name).strip()}, {mark_off(s, say)}{say(f.direction)}",
            say("{i} {marked}, {length:.1f} long", i=i, marked=say(marked(it.flat, f)), length=f.length),
        )
        for name, p, away in zip(labels, (f.pieces[0][0], f.pieces[-1][1]), ends, strict=True):
            x, y = it.datum.at(p)
            rows.append((name, say.number(x), say.number(y), "-" if away is None else say.number(away), ""))
    heads = ("Fold line, both ends", "x", "y", "To edge", "Measured")
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(1, 2, 3), by_hand=(4,))


def form_line_table(it: SettingOut, say: Language = ENGLISH) -> Table:
    """Return the points of every line by which a form is made, from end to end."""
    rows: list[tuple[str, ...]] = []
    for line in it.flat.form_lines[:MOST]:
        points = [*(e.start for e in line.edges), line.edges[-1].end]
        for k, p in enumerate(points):
            x, y = it.datum.at(p)
            what = say("end") if k == len(points) - 1 else say("on the way")
            what = f"{say(line.what)}, {say(line.direction)}" if k == 0 else what
            rows.append((line.name, what, say.number(x), say.number(y), ""))
    heads = ("Form", "Point", "x", "y", "Measured")
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(2, 3), by_hand=(4,))


# --- holes -------------------------------------------------------------------------------------


def hole_table(it: SettingOut, say: Language = ENGLISH) -> Table | None:
    """Return the table of holes, a row each; None without holes."""
    rows = []
    for i, h in enumerate(hole_rows(it.flat)):
        first, last = (say.separator.join(map(say.number, it.holes.at(p))) for p in (h.first, h.last))
        even = math.isclose(h.first_from, h.last_from, abs_tol=0.05)
        away = say.number(h.first_from) if even else f"{say.number(h.first_from)} / {say.number(h.last_from)}"
        rows.append(
            (
                tag(i),
                str(h.count),
                _size(h, it.holes, say),
                say(h.use),
                *_made(h, say),
                _pitch(h.pitch, say) if h.pitch else "-",
                first,
                "-" if h.count == 1 else last if h.pitch else say("each: see setting out"),
                away,
            )
        )
    if not rows:
        return None
    heads = ("Hole", "Pieces", "Size", "Use", "Made", "Pilot", "Pitch", "First at x, y", "Last at x, y", "From edge")
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(1, 6, 7, 8, 9))


def hole_place_table(it: SettingOut, say: Language = ENGLISH) -> Table:
    """Return the place of every hole, those drilled by hand first."""
    rows: list[tuple[str, ...]] = []
    tagged = [(tag(i), h) for i, h in enumerate(hole_rows(it.flat))]
    for name, h in sorted(tagged, key=lambda row: not row[1].drilled):
        for k, p in enumerate(h.centres, 1):
            if not h.drilled and len(rows) >= MOST:
                break
            x, y = it.holes.at(p)
            made, pilot = _made(h, say)
            how = made if pilot == "-" else f"{made}{say(', pilot {dia}', dia=pilot)}"
            own = f"{name}{k}" if h.count > 1 else name
            rows.append((own, _size(h, it.holes, say), how, say.number(x), say.number(y), ""))
    heads = ("Hole", "Size", "Made", "x", "y", "Measured")
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(3, 4), by_hand=(5,))


def to_drill(flat: FlatPattern, say: Language = ENGLISH) -> list[tuple[str, Point, float]]:
    """Return what is drilled by hand: name and drills in words, centre, finished diameter."""
    found = []
    for name, h in ((tag(i), h) for i, h in enumerate(hole_rows(flat))):
        for k, p in enumerate(h.centres if h.drilled and h.dia else (), 1):
            _, pilot = _made(h, say)
            out = say("drill") if h.undersize is None else say("drill out to")
            text = f"{name}{k if h.count > 1 else ''} {out} {_size(h, None, say)}"
            text += "" if pilot == "-" else say(", pilot {dia}", dia=pilot)
            found.append((text, p, h.dia or 0.0))
    return found


def _size(h: HoleRow, datum: Datum | None, say: Language) -> str:
    """Return the size of a hole, and for a long one its angle to the datum's x."""
    if h.dia:
        return f"Ø{_dia(h.dia, say)}"
    ux, uy = (1.0, 0.0) if datum is None else datum.along
    turn = round((h.turn - math.degrees(math.atan2(uy, ux))) % 180.0, 1) % 180.0
    angle = "" if h.turn == 0.0 or turn == 0.0 else say(" at {turn:g}°", turn=turn)
    return f"{say.number(h.size[0])} × {say.number(h.size[1])}{angle}"


def _dia(v: float, say: Language) -> str:
    """Return a diameter as drills are named: a tenth, or a hundredth where it is needed."""
    return say.number(v, ".1f" if math.isclose(v, round(v, 1), abs_tol=0.005) else ".2f")


def _made(h: HoleRow, say: Language) -> tuple[str, str]:
    """Return how a row of holes is made, and its pilot drill."""
    if not h.drilled:
        return say("cut"), "-"
    if h.undersize is not None:
        return say("cut Ø{dia}, drill out", dia=_dia(h.undersize, say)), "-"
    pilot = None if h.dia is None else pilot_drill(h.dia)
    return say("drilled"), "-" if pilot is None else f"Ø{_dia(pilot, say)}"


def _pitch(pitch: tuple[float, float], say: Language) -> str:
    low, high = map(say.number, pitch)
    return low if low == high else say("{a:.1f} to {b:.1f}", a=pitch[0], b=pitch[1])


# --- sentences ---------------------------------------------------------------------------------


def trim_note(it: SettingOut, say: Language = ENGLISH) -> str:
    """Return the sentence on the datum of holes that are measured after trimming."""
    return f"{say('Holes are measured after trimming, from T on the trimmed outline.')} {it.holes.words('T', say)}"


def hole_notes(it: SettingOut, etches: bool, say: Language = ENGLISH) -> list[str]:
    """Return the sentences on holes drilled by hand."""
    tagged = [(tag(i), h) for i, h in enumerate(hole_rows(it.flat))]
    drilled = [name for name, h in tagged if h.drilled and h.undersize is None]
    bored = [say("{name} to {size}", name=n, size=_size(h, None, say)) for n, h in tagged if h.undersize is not None]
    each = say.separator.join(bored)
    sentences = [say("Cut undersize, to be drilled out: {each}.", each=each)] if bored else []
    if not drilled:
        return sentences
    where = (
        say("the cutter etches a cross at each")
        if etches
        else say(
            "the cutter marks nothing there (a pierce would harden the spot and the drill would wander), so set them "
            "out by x and y, or punch through the template's crosses"
        )
    )
    by_hand = say("Drilled by hand, not in the cut file: {each}; {where}.", each=", ".join(drilled), where=where)
    return [*sentences, by_hand]


def mark_notes(made: Made, flat: FlatPattern, say: Language = ENGLISH) -> list[str]:
    """Return the sentences on how fold lines are marked, and why some edges have no nick."""
    how: dict[str, list[str]] = {}
    for f in flat.folds:
        how.setdefault(marked(flat, f), []).append(f.name)
    sentences = []
    if "nicks" in how:
        sentences.append(
            say(
                "Nicks of at most {most:g} mm in the edge mark the ends of: {each}.",
                most=0.5,
                each=", ".join(how["nicks"]),
            )
        )
    if "scribe it" in how:
        sentences.append(
            say(
                "Scribe by the setting-out numbers, the cutter marks nothing: {each}. Where a row tells a mark off its "
                "line, scribe the mark.",
                each=", ".join(how["scribe it"]),
            )
        )
    declared = {f.name: f for f in made.part.folds}
    bare: dict[str, list[str]] = {}
    for name in how.get("scribe it", []):
        why = why_no_nick(made.part, declared[name]) if name in declared else ""
        if why:
            bare.setdefault(why, []).append(name)
    sentences += [
        say("No nicks at {names}: {why}.", names=", ".join(names), why=say(why)) for why, names in bare.items()
    ]
    down = [f.name for f in flat.folds if f.direction == "down" and marked(flat, f) != "etched"]
    if down:
        sentences.append(
            say(
                "These lines belong on the down face, from nick to nick or by their numbers with x running the other way: "
                "{each}.",
                each=", ".join(down),
            )
        )
    return sentences


def unlisted(it: SettingOut, say: Language = ENGLISH) -> list[str]:
    """Return the sentences on what is too much for the tables."""
    cut = sum(h.count for h in hole_rows(it.flat) if not h.drilled)
    left_out = [
        ("corners", len(corners(it)) - MOST),
        ("lines of forms", len(it.flat.form_lines) - MOST),
        ("cut holes", cut - MOST),
    ]
    return [
        say("{n} more {what} are not listed: take them from the cut file or the template.", n=n, what=say(what))
        for what, n in left_out
        if n > 0
    ]
