"""The content of a fold sheet as tables and sentences, before it is laid out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from tinbook.dims import mm
from tinbook.flatpattern import FlatPattern, both_ways
from tinbook.making.accuracy import ANGLE, SET, Ordered, finished_sizes
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.part.features import Fold
from tinbook.write import setting_out
from tinbook.write.flowing import Table

APPROVAL: Final = (
    "This sheet describes a shape; it certifies nothing. Tanks, tow and recovery points, seats, belts and body mounts "
    "carry loads that can kill: a licensed engineer must sign them, and local vehicle rules come first."
)
"""Printed on every sheet."""

LEGS: Final = (
    "Legs are measured to the outside mould line; above 90° turned, to the tangent of the outside of the bend, "
    "unless the table says otherwise."
)


def fold_table(made: Made, flat: FlatPattern, strips: Sequence[BendZone]) -> Table:
    """Return the table of folds, one row each in working order."""
    lines = {f.name: f for f in flat.folds}
    wanted = {f.name: f for f in made.part.folds}
    rows = []
    for i, s in enumerate(strips, 1):
        b = s.bend
        spread = f" ±{b.plus_minus:.2f}" if b.plus_minus else ""
        rows.append(
            (
                str(i),
                s.name,
                s.direction,
                both_ways(round(s.angle, 1)) + _hem(wanted.get(s.name), s),
                mm(s.radius) if s.radius >= 0.05 else f"{s.radius:.2f}",
                b.tool or "-",
                b.who or "-",
                b.rule + (f", K {b.k:.3f}" if b.k is not None and "K 0.41" not in b.rule else ""),
                f"{s.allowance:.2f}{spread}",
                f"{2 * s.setback - s.allowance:.2f}",
                _leg(wanted[s.name].leg, wanted[s.name].to) if s.name in wanted else "-",
                setting_out.line_to_edge(flat, lines[s.name]) if s.name in lines else "-",
            )
        )
    heads = (
        *("No.", "Fold", "Way", "Angle, degrees", "Inside radius", "Tool"),
        *("Folded by", "Bend rule", "Allowance", "Deduction", "Leg", "Line to edge"),
    )
    return Table(heads=heads, rows=tuple(rows), right=(4, 8, 9, 10, 11))


def _hem(fold: Fold | None, strip: BendZone) -> str:
    """Return the kind of a hem with its clear height, "" for an ordinary fold."""
    if fold is None or fold.hem is None:
        return ""
    return f"; {fold.hem.kind} hem" + ("" if fold.hem.kind == "closed" else f", gap {2 * strip.radius:.2f} mm")


def figure(value: float) -> str:
    """Return a number for a sentence: three significant figures, integers without decimals, no exponent."""
    if abs(value) >= 100 or value == round(value):
        return f"{value:.0f}"
    return f"{value:.3g}" if abs(value) >= 0.01 else f"{value:.2f}"


def size_table(made: Made, order: Ordered | None = None) -> Table | None:
    """Return the finished sizes to check, each with its own tolerance band and those of the standards."""
    rows = [
        (
            size.name,
            mm(size.nominal),
            f"±{size.plus_minus:.2f}",
            "-" if size.general is None else f"±{size.general:g}",
            "-" if size.cut is None else f"±{size.cut:g}",
            "",
        )
        for size in finished_sizes(made, order)
    ]
    if not rows:
        return None
    cutter = made.shop.cutter_for(made.sheet)
    cut = f"ISO 9013 class {cutter.accuracy_class}, cut only"
    heads = ("Finished size", "mm", "± 95 %", "ISO 2768-m", cut, "Measured")
    return Table(heads=heads, rows=tuple(rows), right=(1, 2, 3, 4), by_hand=(5,))


def spread_note(strips: Sequence[BendZone], order: Ordered | None = None) -> str:
    """Return the sentence on where the tolerance bands of the finished sizes come from."""
    groups: dict[str, list[str]] = {}
    for s in strips:
        groups.setdefault(s.bend.plus_minus_from or "nothing known", []).append(s.name)
    causes = [f"{', '.join(names)}: {why}" for why, names in groups.items()]
    lines = sorted({s.bend.line_error for s in strips})
    place = f"the place of fold lines (±{' or '.join(f'{v:g}' for v in lines)} mm, own proposal)"
    if order is not None and order.lines:
        kinds = sorted({kind for e in order.lines for kind, _, _ in e.terms if kind in SET}, reverse=True)
        words = {"stop": "at the stop", "mark": "by eye on the mark", "finger": "the finger's height"}
        place = f"the place of fold lines ({', '.join(f'±{SET[k]:g} mm {words[k]}' for k in kinds)}, own proposal)"
        if "stop" in kinds:
            place += ", the error of what lies against the stop"
    return (
        f"± of finished sizes (95 %) from the bends ({'; '.join(causes)}), {place} and the cut; "
        f"angles ±{ANGLE:g}° (own proposal)."
    )


def sight_note(strips: Sequence[BendZone]) -> str:
    """Return the sentence on marks that are offset from the middle of their bend, "" without any."""
    folder, rolled = [], []
    for s in strips:
        off = s.allowance / 2 - s.bend.mark_at
        if abs(off) < 0.05:
            continue
        if s.bend.tool:
            folder.append(f"{s.name} {mm(abs(off))} toward {s.parent if off > 0 else s.child}")
        else:
            rolled.append(f"{s.name} {mm(abs(off))} toward {s.parent}")
    text = ""
    if folder:
        text = (
            "Marks for a folder lie where its nose bar's edge goes with the panel held that the fold hangs on, so many mm "
            f"off the middle of the bend: {', '.join(folder)}. Where the steps hold the other panel they say where it goes."
        )
    if rolled:
        text += (" " if text else "") + (
            f"Marks for curls lie where the rolling begins, so many mm off the middle: {', '.join(rolled)}."
        )
    return text


def _leg(leg: tuple[float, float], to: str) -> str:
    text = mm(leg[0]) if math.isclose(*leg) else f"{mm(leg[0])} to {mm(leg[1])}"
    return text if to == "outside" else f"{text} {to}"


def form_table(made: Made) -> Table | None:
    """Return the table of forms, equal ones in one row; None without any."""
    found = [(row, p.name) for p in made.panels for f in p.forms if (row := f.row(made.shop)) is not None]
    rows = [
        (
            str(found.count(each)),
            row.what,
            row.tool,
            row.way,
            panel,
            mm(row.length) if row.length is not None else "",
            str(row.passes),
            row.who,
        )
        for each in dict.fromkeys(found)
        for row, panel in [each]
    ]
    if not rows:
        return None
    heads = ("Count", "Form", "Tool", "Way", "Panel", "Length", "Passes", "Formed by")
    return Table(heads=heads, rows=tuple(rows), right=(0, 5, 6))


def facts(made: Made, flat: FlatPattern, quantity: int) -> list[tuple[str, str]]:
    """Return the short facts of the part as pairs of label and value."""
    sheet, t = made.sheet, made.thickness
    measured = f", measured {t:.4g} mm" if not math.isclose(t, sheet.nominal) else ""
    cutter = made.shop.cutter_for(sheet)
    w, h = flat.size
    return [
        ("Material", f"{sheet.material.key}, {sheet.nominal:.4g} mm{measured}"),
        ("Quantity", str(quantity)),
        ("Blank", f"{mm(w)} × {mm(h)} mm"),
        ("Mass", _mass(made.mass) + (f" each, {_mass(made.mass * quantity)} in all" if quantity > 1 else "")),
        ("Cut by", f"{cutter.key}, {cutter.who}; {flat.cut_length / 1000:.2f} m, {flat.pierces} starts"),
        ("Rolling direction", "along the sheet's length" if sheet.grain == "length" else "free"),
    ]


def _mass(kg: float) -> str:
    return f"{1000 * kg:.1f} g" if kg < 0.1 else f"{kg:.2f} kg" if kg < 100 else f"{kg:.0f} kg"


def drawn_to(strips: Sequence[BendZone]) -> str:
    """Return the sentence on whose bend numbers the blank is drawn to."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for s in strips:
        groups.setdefault((s.bend.rule, s.bend.tool or "no tool", s.bend.who), []).append(s.name)
    rules = [f"{rule} on {tool} ({who}) for {', '.join(names)}" for (rule, tool, who), names in groups.items()]
    return (
        f"Blank drawn to the bend numbers of: {'; '.join(rules)}. "
        "Folded on another tool the blank changes; the outside legs do not."
    )


def notes(
    made: Made, it: setting_out.SettingOut, strips: Sequence[BendZone], order: Ordered | None = None
) -> list[str]:
    """Return the sentences that explain the drawing and the table of folds."""
    cutter = made.shop.cutter_for(made.sheet)
    sentences = [
        "Seen from the up side. All lengths in mm, finished size: kerf is the cutter's business.",
        it.datum.words(),
    ]
    if it.trims:
        sentences.append(setting_out.trim_note(it))
    if strips:
        sentences += [
            "Fold lines stand in the middle of the bend: full lines fold up, dashed lines down.",
            (
                "Line to edge: from the fold line, square to it, to the corners of the nearest straight edge along it; two "
                "numbers where it tapers, the first toward the line's first end in the setting-out table."
            ),
            LEGS,
            drawn_to(strips),
            spread_note(strips, order),
        ]
        sight = sight_note(strips)
        if sight:
            sentences.append(sight)
    sentences += setting_out.hole_notes(it, cutter.etches)
    return sentences


def cautions(made: Made, more: Sequence[str] = ()) -> list[str]:
    """Return the cautions of the sheet."""
    sentences = [APPROVAL, *more]
    guessed = sorted({b.roll for p in made.panels for b in p.beads if made.shop.roll(b.roll).guessed})
    if guessed:
        sentences.append(
            f"How far beads draw the sheet in is a guess for rolls {', '.join(guessed)}: "
            "run a test strip, or trim and drill after beading."
        )
    return sentences
