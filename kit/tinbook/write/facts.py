"""The content of a fold sheet as tables and sentences, before it is laid out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from tinbook.calc.tolerance_classes import angle_tolerance
from tinbook.finding import Finding
from tinbook.flatpattern import FlatPattern, both_ways
from tinbook.language import ENGLISH, Language
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

_TOWARD: Final = "{fold} {off:.1f} toward {panel}"

LEGS: Final = (
    "Legs are measured to the outside mould line; above 90° turned, to the tangent of the outside of the bend, "
    "unless the table says otherwise."
)


def fold_table(made: Made, flat: FlatPattern, strips: Sequence[BendZone], say: Language = ENGLISH) -> Table:
    """Return the table of folds, one row each in working order."""
    lines = {f.name: f for f in flat.folds}
    wanted = {f.name: f for f in made.part.folds}
    rows = []
    for i, s in enumerate(strips, 1):
        b = s.bend
        spread = f" ±{say.number(b.plus_minus, '.2f')}" if b.plus_minus else ""
        k = "" if b.k is None or "K 0.41" in b.rule else f", K {say.number(b.k, '.3f')}"
        rows.append(
            (
                str(i),
                s.name,
                say(s.direction),
                both_ways(round(s.angle, 1), say=say) + _hem(wanted.get(s.name), s, say),
                say.number(s.radius, ".1f" if s.radius >= 0.05 else ".2f"),
                say.retold(b.tool) or "-",
                b.who or "-",
                say.retold(b.rule) + k,
                f"{say.number(s.allowance, '.2f')}{spread}",
                say.number(2 * s.setback - s.allowance, ".2f"),
                _leg(wanted[s.name].leg, wanted[s.name].to, say) if s.name in wanted else "-",
                setting_out.line_to_edge(flat, lines[s.name], say) if s.name in lines else "-",
            )
        )
    heads = (
        *("No.", "Fold", "Way", "Angle, degrees", "Inside radius", "Tool"),
        *("Folded by", "Bend rule", "Allowance", "Deduction", "Leg", "Line to edge"),
    )
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(4, 8, 9, 10, 11))


def _hem(fold: Fold | None, strip: BendZone, say: Language) -> str:
    """Return the kind of a hem with its clear height, "" for an ordinary fold."""
    if fold is None or fold.hem is None:
        return ""
    if fold.hem.kind == "closed":
        return say("; closed hem")
    return say("; {kind} hem, gap {gap:.2f} mm", kind=say(fold.hem.kind), gap=2 * strip.radius)


def figure(value: float, say: Language = ENGLISH) -> str:
    """Return a number for a sentence: three significant figures, integers without decimals, no exponent."""
    if abs(value) >= 100 or value == round(value):
        return f"{value:.0f}"
    return say.number(value, ".3g" if abs(value) >= 0.01 else ".2f")


def size_table(made: Made, order: Ordered | None = None, say: Language = ENGLISH) -> Table | None:
    """Return the finished sizes to check, each with its own tolerance band and those of the standards."""
    rows = [
        (
            say(size.name),
            say.number(size.nominal),
            f"±{say.number(size.plus_minus, '.2f')}",
            "-" if size.general is None else f"±{say.number(size.general, 'g')}",
            "-" if size.cut is None else f"±{say.number(size.cut, 'g')}",
            "",
        )
        for size in finished_sizes(made, order)
    ]
    if not rows:
        return None
    cutter = made.shop.cutter_for(made.sheet)
    cut = say("ISO 9013 class {n}, cut only", n=cutter.accuracy_class)
    heads = (say("Finished size"), "mm", "± 95 %", "ISO 2768-m", cut, say("Measured"))
    return Table(heads=heads, rows=tuple(rows), right=(1, 2, 3, 4), by_hand=(5,))


def spread_note(strips: Sequence[BendZone], order: Ordered | None = None, say: Language = ENGLISH) -> str:
    """Return the sentence on where the tolerance bands of the finished sizes come from."""
    groups: dict[str, list[str]] = {}
    for s in strips:
        groups.setdefault(s.bend.plus_minus_from or say("nothing known"), []).append(s.name)
    causes = [f"{', '.join(names)}: {say.retold(why)}" for why, names in groups.items()]
    lines = sorted({s.bend.line_error for s in strips})
    values = say(" or ").join(say.number(v, "g") for v in lines)
    place = say("the place of fold lines (±{values} mm, own proposal)", values=values)
    if order is not None and order.lines:
        kinds = sorted({kind for e in order.lines for kind, _, _ in e.terms if kind in SET}, reverse=True)
        words = {"stop": "at the stop", "mark": "by eye on the mark", "finger": "the finger's height"}
        each = say.separator.join(f"±{say.number(SET[k], 'g')} mm {say(words[k])}" for k in kinds)
        place = say("the place of fold lines ({each}, own proposal)", each=each)
        if "stop" in kinds:
            place += say(", the error of what lies against the stop")
    told = say(
        "± of finished sizes (95 %) from the bends ({causes}), {place} and the cut; angles ±{angle:g}° (own proposal).",
        causes="; ".join(causes),
        place=place,
        angle=float(ANGLE),
    )
    leg = min((min(s.leg) for s in strips), default=0.0)
    if leg <= 0.0:
        return told
    general = angle_tolerance(leg).plus_minus
    return f"{told} {say('ISO 2768-m: angles ±{general:.2g}° by the shortest leg, {leg:.0f} mm.', general=general, leg=leg)}"


def sight_note(strips: Sequence[BendZone], say: Language = ENGLISH) -> str:
    """Return the sentence on marks that are offset from the middle of their bend, "" without any."""
    folder, rolled = [], []
    for s in strips:
        off = s.allowance / 2 - s.bend.mark_at
        if abs(off) < 0.05:
            continue
        if s.bend.tool:
            folder.append(say(_TOWARD, fold=s.name, off=abs(off), panel=s.parent if off > 0 else s.child))
        else:
            rolled.append(say(_TOWARD, fold=s.name, off=abs(off), panel=s.parent))
    text = ""
    if folder:
        text = say(
            "Marks for a folder lie where its nose bar's edge goes with the panel held that the fold hangs on, so many mm "
            "off the middle of the bend: {each}. Where the steps hold the other panel they say where it goes.",
            each=say.separator.join(folder),
        )
    if rolled:
        text += (" " if text else "") + say(
            "Marks for curls lie where the rolling begins, so many mm off the middle: {each}.",
            each=say.separator.join(rolled),
        )
    return text


def _leg(leg: tuple[float, float], to: str, say: Language) -> str:
    text = say.number(leg[0]) if math.isclose(*leg) else say("{a:.1f} to {b:.1f}", a=leg[0], b=leg[1])
    return text if to == "outside" else f"{text} {say(to)}"


def form_table(made: Made, say: Language = ENGLISH) -> Table | None:
    """Return the table of forms, equal ones in one row; None without any."""
    found = [(row, p.name) for p in made.panels for f in p.forms if (row := f.row(made.shop)) is not None]
    rows = [
        (
            str(found.count(each)),
            say(row.what),
            row.tool,
            say(row.way),
            panel,
            say.number(row.length) if row.length is not None else "",
            str(row.passes),
            row.who,
        )
        for each in dict.fromkeys(found)
        for row, panel in [each]
    ]
    if not rows:
        return None
    heads = ("Count", "Form", "Tool", "Way", "Panel", "Length", "Passes", "Formed by")
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(0, 5, 6))


def facts(made: Made, flat: FlatPattern, quantity: int, say: Language = ENGLISH) -> list[tuple[str, str]]:
    """Return the short facts of the part as pairs of label and value."""
    sheet, t = made.sheet, made.thickness
    measured = say(", measured {t:.4g} mm", t=t) if not math.isclose(t, sheet.nominal) else ""
    mass = _mass(made.mass, say)
    if quantity > 1:
        mass = say("{each} each, {all} in all", each=mass, all=_mass(made.mass * quantity, say))
    if sheet.measured is None and sheet.tolerance is not None:
        mass = say("{mass} ± {part:.0f} %", mass=mass, part=100 * sheet.tolerance.plus_minus / sheet.nominal)
    cut = say("{m:.2f} m, {n} starts", m=flat.cut_length / 1000, n=flat.pierces)
    cutter = made.shop.cutter_for(sheet)
    w, h = flat.size
    return [
        (say("Material"), f"{sheet.material.key}, {say.number(sheet.nominal, '.4g')} mm{measured}"),
        (say("Quantity"), str(quantity)),
        (say("Blank"), f"{say.number(w)} × {say.number(h)} mm"),
        (say("Mass"), mass),
        (say("Cut by"), f"{cutter.key}, {cutter.who}; {cut}"),
        (say("Rolling direction"), say("along the sheet's length") if sheet.grain == "length" else say("free")),
    ]


def _mass(kg: float, say: Language) -> str:
    if kg < 0.1:
        return f"{say.number(1000 * kg)} g"
    return f"{say.number(kg, '.2f' if kg < 100 else '.0f')} kg"


def drawn_to(strips: Sequence[BendZone], say: Language = ENGLISH) -> str:
    """Return the sentence on whose bend numbers the blank is drawn to."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for s in strips:
        groups.setdefault((say.retold(s.bend.rule), say.retold(s.bend.tool) or say("no tool"), s.bend.who), []).append(
            s.name
        )
    rules = [
        say("{rule} on {tool} ({who}) for {names}", rule=rule, tool=tool, who=who, names=", ".join(names))
        for (rule, tool, who), names in groups.items()
    ]
    return say(
        "Blank drawn to the bend numbers of: {rules}. Folded on another tool the blank changes; the outside legs do not.",
        rules="; ".join(rules),
    )


def notes(
    made: Made,
    it: setting_out.SettingOut,
    strips: Sequence[BendZone],
    order: Ordered | None = None,
    say: Language = ENGLISH,
) -> list[str]:
    """Return the sentences that explain the drawing and the table of folds."""
    cutter = made.shop.cutter_for(made.sheet)
    sentences = [
        say("Seen from the up side. All lengths in mm, finished size: kerf is the cutter's business."),
        it.datum.words(say=say),
    ]
    if it.trims:
        sentences.append(setting_out.trim_note(it, say))
    if strips:
        sentences += [
            say("Fold lines stand in the middle of the bend: full lines fold up, dashed lines down."),
            say(
                "Line to edge: from the fold line, square to it, to the corners of the nearest straight edge along it; two "
                "numbers where it tapers, the first toward the line's first end in the setting-out table."
            ),
            say(LEGS),
            drawn_to(strips, say),
            spread_note(strips, order, say),
        ]
        sight = sight_note(strips, say)
        if sight:
            sentences.append(sight)
    sentences += setting_out.hole_notes(it, cutter.etches, say)
    return sentences


def sentence(f: Finding, where: str, say: Language = ENGLISH) -> str:
    """Return a finding as a sentence, with its place."""
    return f"{say.retold(where)}: {stated(f, say)}"


def stated(f: Finding, say: Language = ENGLISH) -> str:
    """Return what a finding says, its numbers and its remedy."""
    size = ""
    if f.value is not None:
        against = "" if f.limit is None else say(" against {limit}", limit=figure(f.limit, say))
        size = f" ({figure(f.value, say)}{against} {say.retold(f.unit)})"
    remedy = say.retold(f.remedy)
    return f"{say.retold(f.what).rstrip('.')}{size}. {remedy[:1].upper()}{remedy[1:]}".rstrip()


def cautions(made: Made, more: Sequence[str] = (), say: Language = ENGLISH) -> list[str]:
    """Return the cautions of the sheet."""
    sentences = [say(APPROVAL), *more]
    guessed = sorted({b.roll for p in made.panels for b in p.beads if made.shop.roll(b.roll).guessed})
    if guessed:
        sentences.append(
            say(
                "How far beads draw the sheet in is a guess for rolls {rolls}: run a test strip, or trim and drill after "
                "beading.",
                rolls=", ".join(guessed),
            )
        )
    return sentences
