"""A table of test strips; every impossible row is reported with its line."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from tinbook.calc import bending
from tinbook.errors import BadFile, BadValue, Mistake, UnknownName
from tinbook.making.tools import own_radius
from tinbook.part.forms.beadshape import BeadProfile
from tinbook.read.rows import read_text
from tinbook.shop.coupons import GRAIN
from tinbook.shop.shop import Shop
from tinbook.units import angle as degrees
from tinbook.units import length as millimetres
from tinbook.values import dataclass

NEEDED: Final = ("sheet", "tool", "length")
BENT: Final = ("leg_a", "leg_b", "angle")
OPTIONAL: Final = (
    "plus_minus",
    "angle_plus_minus",
    "thickness",
    "radius",
    "radius_plus_minus",
    "after",
    "beads",
    "grain",
)
CALIPER: Final = 0.05
"""mm: 95 % half width of one caliper reading, where no column says."""

PROTRACTOR: Final = 0.5
"""Degrees: the same of the angle."""

GAUGE: Final = 0.2
"""mm: the same of a radius gauge."""


LONGEST: Final = 3000.0
"""mm: no test strip is longer."""

LIMITS: Final = {
    "plus_minus": (0.0, 5.0),
    "radius_plus_minus": (0.0, 5.0),
    "angle_plus_minus": (0.0, 10.0),
    "angle": (0.0, 180.0),
    "thickness": (0.0, 50.0),
    "radius": (0.0, 500.0),
    "beads": (0.0, 100.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One row: mm and degrees; nan where the row has none."""

    line: int
    sheet: str
    tool: str
    length: float
    leg_a: float = math.nan
    leg_b: float = math.nan
    angle: float = math.nan
    plus_minus: float = CALIPER
    angle_plus_minus: float = PROTRACTOR
    thickness: float = math.nan
    radius: float = math.nan
    radius_plus_minus: float = GAUGE
    after: float = math.nan
    beads: float = 1.0
    grain: str = "unknown"

    @property
    def deduction(self) -> float:
        """Sum of the outside legs less the strip's length."""
        return self.leg_a + self.leg_b - self.length


def read_strips(path: str | Path, scale: float, mistakes: list[Mistake]) -> list[Strip]:
    """Return the rows of the table that can be read; `scale` is mm per unit of bare lengths."""
    lines = read_text(path).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    kept = [(n, raw) for n, raw in enumerate(lines, 1) if raw.strip() and not raw.lstrip().startswith("#")]
    columns = (*NEEDED, *BENT, *OPTIONAL)
    if not kept:
        raise BadFile(str(path), [Mistake("file", f"holds no rows; the first must read {','.join((*NEEDED, *BENT))}")])
    mark = next((d for d in (";", "\t") if d in kept[0][1]), ",")
    header = [c.strip().lower() for c in next(csv.reader(io.StringIO(kept[0][1]), delimiter=mark))]
    where = f"line {kept[0][0]}"
    bad = [Mistake(where, f"column {c} is missing; valid: {', '.join(columns)}") for c in NEEDED if c not in header]
    bad += [Mistake(where, f"column {c} stands twice") for c in columns if header.count(c) > 1]
    bad += [
        Mistake(where, f"unknown column {c!r}; valid: {', '.join(columns)}") for c in header if c and c not in columns
    ]
    if bad:
        raise BadFile(str(path), bad)
    strips = []
    for n, raw in kept[1:]:
        cells = [c.strip() for c in next(csv.reader(io.StringIO(raw), delimiter=mark))]
        if len(cells) != len(header):
            mistakes.append(Mistake(f"line {n}", f"holds {len(cells)} cells; valid: {len(header)}, as the first row"))
            continue
        row = {c: v for c, v in zip(header, cells, strict=True) if v}
        if "" in row:
            mistakes.append(Mistake(f"line {n}", f"{row['']!r} stands in a column that has no name in {where}"))
            continue
        found = _strip(n, row, scale, mistakes)
        if found is not None:
            strips.append(found)
    if not strips and not mistakes:
        mistakes.append(Mistake("file", "holds column names but no strips"))
    return strips


def _strip(line: int, row: Mapping[str, str], scale: float, mistakes: list[Mistake]) -> Strip | None:
    values: dict[str, Any] = {"line": line}
    before = len(mistakes)
    mistakes += [Mistake(f"line {line}, column {name}", "is empty") for name in NEEDED if name not in row]
    for name, text in row.items():
        at = f"line {line}, column {name}"
        if name in ("sheet", "tool"):
            values[name] = text
            continue
        if name == "grain":
            values[name] = text.lower()
            if values[name] not in GRAIN:
                valid = "'along' or 'across', as the fold runs to the rolling direction, or 'unknown'"
                mistakes.append(Mistake(at, f"{text!r}; valid: {valid}"))
            continue
        try:
            if name in ("angle", "angle_plus_minus"):
                values[name] = degrees(text, name)
            elif name == "beads":
                values[name] = float(int(text))
            else:
                bare = text.replace(".", "").lstrip("+-").isdigit()
                values[name] = millimetres(text, name) * (scale if bare else 1.0)
        except (ValueError, OverflowError) as wrong:
            valid = wrong.valid if isinstance(wrong, BadValue) else "a whole number"
            mistakes.append(Mistake(at, f"{text!r}; valid: {valid}"))
            continue
        low, high = LIMITS.get(name, (0.0, LONGEST))
        if not (low < values[name] <= high or (name.endswith("plus_minus") and values[name] == 0)):
            mistakes.append(Mistake(at, f"{text!r}; valid: greater than {low:g}, at most {high:g}"))
    return Strip(**values) if len(mistakes) == before else None


def impossible(s: Strip, shop: Shop, tools: set[str], rolls: set[str]) -> str:
    """Return why a row is impossible, "" if it is possible."""
    try:
        sheet = shop.sheet_by_key(s.sheet)
    except UnknownName as wrong:
        return str(wrong)
    if s.tool not in tools | rolls:
        return f"tool: {s.tool!r} is not usable; valid: one of: {', '.join([*sorted(tools), *sorted(rolls)])}"
    if s.tool in rolls:
        if math.isnan(s.after):
            return f"{s.tool} is a roll pair, so `after` is needed: the strip's width once it is beaded"
        most = s.beads * full_draw(shop, s)
        if s.after > s.length + 3 * s.plus_minus:
            return f"after beading {s.after:g} mm, wider than the strip of {s.length:g} mm; a bead draws in"
        if s.length - s.after > 1.1 * most + 3 * s.plus_minus:
            return (
                f"drawn in by {s.length - s.after:g} mm; {s.beads:g} beads of {s.tool} cannot draw more than {most:.2f}"
            )
        return ""
    empty = [c for c in BENT if math.isnan(getattr(s, c))]
    if empty:
        return (
            f"{', '.join(empty)} {'is' if len(empty) == 1 else 'are'} empty; a folded strip needs leg_a, leg_b, angle"
        )
    if not 1.0 <= s.angle <= 170.0:
        return f"angle: {s.angle:g} is not usable; valid: 1 to 170 degrees turned through (0 is flat)"
    t = sheet.thickness if math.isnan(s.thickness) else s.thickness
    if not 0.7 <= t / sheet.nominal <= 1.3:
        return f"thickness: {t:g} mm is not usable; valid: within 30 % of the sheet's nominal {sheet.nominal:g} mm"
    tool = own_radius(shop.tool(s.tool), sheet)
    if not math.isnan(s.radius) and not tool / 3.0 <= s.radius <= 3.0 * tool:
        return f"radius: {s.radius:g} mm is not usable; valid: a third to three times the tool's own {tool:.3g} mm"
    low, high = _deductions(s.angle, t, tool)
    slack = 6.0 * s.plus_minus
    if low - slack <= s.deduction <= high + slack:
        return ""
    mixed = _mixed(s, low - slack, high + slack)
    if mixed:
        return f"mixed units: {mixed}; give all three in one unit, or write the unit into the cell"
    for name, leg in (("leg_a", s.leg_a), ("leg_b", s.leg_b)):
        if leg > s.length:
            return f"{name} of {leg:g} mm is longer than the strip of {s.length:g} mm"
    return (
        f"legs of {s.leg_a:g} and {s.leg_b:g} mm on a strip of {s.length:g} mm mean a deduction of {s.deduction:.2f} mm; "
        f"{t:g} mm sheet turned by {s.angle:g} degrees has {low:.2f} to {high:.2f}: measure the outside legs again"
    )


def _deductions(angle: float, t: float, radius: float) -> tuple[float, float]:
    """Return the possible range of a deduction: K from 0 to 1, the radius from a third to three times the tool's."""
    ends = [bending.bend_deduction(angle, r, k, t) for r in (radius / 3.0, 3.0 * radius) for k in (0.0, 1.0)]
    return min(ends), max(ends)


def _mixed(s: Strip, low: float, high: float) -> str:
    """Return which cells seem to be in another unit."""
    for factor, name in ((25.4, "inches"), (10.0, "centimetres")):
        for fa, fl, what in (
            (factor, 1.0, f"the legs look like {name}"),
            (1.0, factor, f"the length looks like {name}"),
        ):
            if low <= (s.leg_a + s.leg_b) * fa - s.length * fl <= high:
                return what
        if low <= s.leg_a * factor + s.leg_b - s.length <= high:
            return f"leg_a looks like {name}"
        if low <= s.leg_a + s.leg_b * factor - s.length <= high:
            return f"leg_b looks like {name}"
    return ""


def full_draw(shop: Shop, s: Strip) -> float:
    """Return how much one bead would draw in if nothing stretched, mm."""
    roll, sheet = shop.roll(s.tool), shop.sheet_by_key(s.sheet)
    t = sheet.thickness if math.isnan(s.thickness) else s.thickness
    return BeadProfile(width=roll.width, depth=roll.depth, shoulder=roll.shoulder, thickness=t).draw
