"""Test strips: from a table of caliper readings to radius, K and draw factor, each with its band."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

import numpy as np

from tinbook.calc import bending
from tinbook.calc import coupons as fitting
from tinbook.errors import BadFile, Mistake
from tinbook.finding import Finding, Findings, caution
from tinbook.htmltable import html_table
from tinbook.making.tools import own_radius
from tinbook.read.rows import shortened
from tinbook.read.strips import GAUGE, Strip, full_draw, impossible, read_strips
from tinbook.shop.coupons import BendCoupon, DrawCoupon
from tinbook.shop.shop import Shop
from tinbook.units import length as millimetres
from tinbook.values import dataclass

CONTRADICT: Final = 0.4
"""Part of the thickness by which strips alike may differ before one of them must be a wrong reading (own proposal)."""

UNLIKELY: Final = 0.8
"""Part of the thickness that bends of one sheet on one tool do not scatter by (own proposal)."""

LIKE: Final = 2.0
"""Degrees within which strips repeat each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BendGroup:
    """All strips of a sheet on a tool, and what is fitted to them.

    Parameters
    ----------
    strips : tuple of Strip
        In the file's order.
    fit : BendFit
        Its rows count in `strips`.
    thickness, tool_radius : float
        mm; the radius by the tool's rule, for comparison.
    to_halve : int
        How many more strips of the same kind would halve the band of the mean.
    """

    sheet: str
    tool: str
    strips: tuple[Strip, ...]
    fit: fitting.BendFit
    thickness: float
    tool_radius: float
    to_halve: int

    @property
    def deduction(self) -> float:
        """Fitted deduction at the mean angle of the strips that count, mm."""
        f = self.fit
        return bending.bend_deduction(f.angle, f.radius, f.k, self.thickness)

    @property
    def outliers(self) -> tuple[int, ...]:
        """Lines of the file whose strips do not count."""
        return tuple(s.line for i, s in enumerate(self.strips) if i not in self.fit.used)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupons:
    """Fitted test strips; give them to `Shop.with_coupons` or write them with `write_coupons`.

    Parameters
    ----------
    bends, draws : tuple
        Rows for the shop.
    groups : tuple of BendGroup
        The fits behind `bends`, in the same order.
    findings : Findings
        The cautions, worst first.
    source : str
        Name of the file.
    """

    bends: tuple[BendCoupon, ...]
    draws: tuple[DrawCoupon, ...]
    groups: tuple[BendGroup, ...]
    findings: Findings
    source: str

    def __repr__(self) -> str:
        lines = [
            f"{g.sheet} on {g.tool}: radius {c.radius:.2f} ±{c.radius_band:.2f} mm ({c.radius_from}), "
            f"K {c.k:.3f} ±{c.k_band:.3f}; deduction {g.deduction:.2f} ±{g.fit.mean_band:.2f} mm "
            f"at {g.fit.angle:.0f} degrees; {c.strips} strips, {g.to_halve} more halve it"
            for g, c in zip(self.groups, self.bends, strict=True)
        ]
        lines += [
            f"{d.sheet} in {d.roll}: draw {d.draw_factor:.2f} ±{d.band:.2f}, {d.strips} strips" for d in self.draws
        ]
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        heads = ("sheet", "tool", "strips", "inside radius, mm", "K", "deduction, mm", "one bend, mm", "more to halve")
        rows = [
            (
                g.sheet,
                g.tool,
                f"{c.strips} of {len(g.strips)}",
                f"{c.radius:.2f} ±{c.radius_band:.2f} ({c.radius_from})",
                f"{c.k:.3f} ±{c.k_band:.3f}",
                f"{g.deduction:.2f} ±{g.fit.mean_band:.2f} at {g.fit.angle:.0f}°",
                f"±{c.scatter:.2f}",
                str(g.to_halve),
            )
            for g, c in zip(self.groups, self.bends, strict=True)
        ]
        rows += [
            (d.sheet, d.roll, str(d.strips), "", "", f"draw {d.draw_factor:.2f} ±{d.band:.2f}", "", "")
            for d in self.draws
        ]
        return html_table(heads, rows)


def coupons(path: str | Path, shop: Shop | None = None, *, unit: str = "mm") -> Coupons:
    """Fit test strips from a table (CSV).

    Parameters
    ----------
    path : str or Path
        Columns sheet, tool, length (of the flat strip) and, for a folded strip, leg_a, leg_b (outside, above
        90 degrees to the tangent of the bend) and angle (turned through); tool is a die, V block or folder.
        With a roll pair as tool, `after` is the strip's width across its beads once they are rolled, and
        `beads` their number (1). Optional: plus_minus (95 % of one caliper reading, 0.05 mm),
        angle_plus_minus (0.5 degrees), thickness, radius (inside, by gauge), radius_plus_minus (0.2 mm), grain
        ("along" or "across": how the fold ran to the rolling direction; strips that did not crack then prove such
        folds, whatever a table of smallest radii says).
        Lines that start with "#" are passed over; a cell may carry its unit.
    shop : Shop, optional
        Whose sheets, tools and rolls; the demo shop if none is given.
    unit : str
        Unit of bare lengths.

    Returns
    -------
    Coupons

    Raises
    ------
    BadFile
        With every row that cannot be, each with its line: legs longer than the strip, mixed units, unknown
        names, one strip only, repeats that contradict each other.
    """
    shop = Shop.demo() if shop is None else shop
    scale = millimetres(f"1 {unit}", "unit")
    mistakes: list[Mistake] = []
    strips = read_strips(path, scale, mistakes)
    tools, rolls = {t.key for t in shop.tools}, {r.key for r in shop.rolls}
    groups: dict[tuple[str, str], list[Strip]] = {}
    for s in strips:
        what = impossible(s, shop, tools, rolls)
        if what:
            mistakes.append(Mistake(f"line {s.line}", what))
        else:
            groups.setdefault((s.sheet, s.tool), []).append(s)
    if not mistakes:  # else the strip that is missing may be one of the wrong rows
        what = "one strip only of {} on {}; valid: two or more, six are usual: one shows no scatter"
        mistakes += [
            Mistake(f"line {rows[0].line}", what.format(*pair)) for pair, rows in groups.items() if len(rows) < 2
        ]
    if mistakes:
        raise BadFile(str(path), shortened(mistakes))
    bends = [_bend(shop, *pair, tuple(rows), mistakes) for pair, rows in groups.items() if pair[1] in tools]
    draws = [_draw(shop, *pair, tuple(rows)) for pair, rows in groups.items() if pair[1] in rolls]
    if mistakes:
        raise BadFile(str(path), shortened(mistakes))
    return Coupons(
        bends=tuple(_row(g) for g in bends),
        draws=tuple(draws),
        groups=tuple(bends),
        findings=Findings(f for g in bends for f in _findings(g)),
        source=Path(path).name,
    )


# --- fits -------------------------------------------------------------------------------------------


def _bend(shop: Shop, sheet_key: str, tool: str, strips: tuple[Strip, ...], mistakes: list[Mistake]) -> BendGroup:
    sheet = shop.sheet_by_key(sheet_key)
    t = np.array([sheet.thickness if math.isnan(s.thickness) else s.thickness for s in strips])
    angles = np.array([s.angle for s in strips])
    radius = own_radius(shop.tool(tool), sheet)
    k = bending.AIR_BEND_K
    turn = np.array([fitting.angle_slope(s.angle, radius, k, float(ti)) for s, ti in zip(strips, t, strict=True)])
    caliper = np.array([s.plus_minus for s in strips]) / fitting.Z95
    protractor = np.radians([s.angle_plus_minus for s in strips]) / fitting.Z95
    # Three readings make a deduction: both legs and the strip. A caliper of no error would weigh all.
    sigmas = np.maximum(np.sqrt(3.0 * caliper**2 + (turn * protractor) ** 2), 1e-3)
    gauges = [s.radius_plus_minus for s in strips if not math.isnan(s.radius)]
    fit = fitting.fit_bend(
        angles,
        np.array([s.deduction for s in strips]),
        t,
        sigmas,
        tool_radius=radius,
        gauge=np.array([s.radius for s in strips]),
        gauge_sigma=max(max(gauges, default=GAUGE), 1e-3) / fitting.Z95,
    )
    _contradictions(strips, sigmas, fit, t, mistakes)
    what = ""
    if fit.scatter > UNLIKELY * t.mean():
        what = f"scatter by {fit.scatter:.2f} mm about any one radius and K, which no sheet has"
    elif not (0.2 * radius < fit.radius < 5.0 * radius and -0.5 < fit.k < 1.5):
        what = (
            f"together mean a radius of {fit.radius:.2f} mm and K {fit.k:.2f}, which no sheet has "
            f"(the tool's radius is {radius:.2f} mm)"
        )
    if what and not mistakes:
        said = f"the strips of {sheet_key} on {tool} {what}; measure legs and angles again"
        mistakes.append(Mistake(f"line {strips[0].line}", said))
    return BendGroup(
        sheet=sheet_key,
        tool=tool,
        strips=strips,
        fit=fit,
        thickness=float(t[list(fit.used)].mean()),
        tool_radius=radius,
        to_halve=fitting.strips_to_halve(len(fit.used), fit.freedom),
    )


def _contradictions(
    strips: tuple[Strip, ...],
    sigmas: fitting.Array,
    fit: fitting.BendFit,
    t: fitting.Array,
    mistakes: list[Mistake],
) -> None:
    """Report like strips whose deductions differ by more than scatter, where no single one stands out."""
    for n, i in enumerate(fit.used):
        for j in fit.used[:n]:
            a, b = strips[j], strips[i]
            if abs(a.angle - b.angle) > LIKE:
                continue
            apart = abs(fit.residuals[i] - fit.residuals[j])
            if apart > max(CONTRADICT * float(t[i]), 8.0 * float(sigmas[i])):
                what = (
                    f"contradicts line {a.line}: deductions of {b.deduction:.2f} and {a.deduction:.2f} mm from strips "
                    f"alike ({a.sheet} on {a.tool}, {b.angle:g} degrees); measure both again"
                )
                mistakes.append(Mistake(f"line {b.line}", what))
                return


def _row(g: BendGroup) -> BendCoupon:
    used = [g.strips[i].angle for i in g.fit.used]
    # Of mixed strips only those folded across the rolling direction count as proof.
    ways = {g.strips[i].grain for i in g.fit.used}
    grain = ways.pop() if len(ways) == 1 else "unknown" if "unknown" in ways else "across"
    return BendCoupon(
        sheet=g.sheet,
        tool=g.tool,
        thickness=round(g.thickness, 4),
        radius=round(g.fit.radius, 4),
        k=round(g.fit.k, 5),
        radius_band=round(g.fit.radius_band, 4),
        k_band=round(g.fit.k_band, 5),
        one_angle=round(g.fit.one_angle, 4),
        correlation=round(g.fit.correlation, 6),
        scatter=round(g.fit.scatter, 4),
        angle_min=min(used),
        angle_max=max(used),
        strips=len(used),
        radius_from=g.fit.radius_from,
        grain=grain,
    )


def _findings(g: BendGroup) -> list[Finding]:
    where, found = f"{g.sheet} on {g.tool}", []
    for i, s in enumerate(g.strips):
        if i not in g.fit.used:
            line, off = f"{where}, line {s.line}", g.fit.residuals[i]
            what, remedy = "this strip does not fit the others and is left out", "measure it again, or fold another"
            found.append(caution("coupon.outlier", line, what, remedy, off, 0.0, source="own data"))
    if g.fit.radius_from == "tool":
        what = "the strips fix the deduction near their angle only; radius and K share it by the tool's rule"
        remedy = "measure the inside radius with a gauge, or fold strips to 60, 90 and 120 degrees"
        found.append(caution("coupon.one_angle", where, what, remedy, g.fit.radius_band, source="own proposal"))
    elif abs(g.fit.radius - g.tool_radius) > max(fitting.TOOL_RADIUS * g.tool_radius, g.fit.radius_band):
        what = "the inside radius differs from the tool's rule"
        remedy = "check die, nose and set-back in the shop file"
        found.append(caution("coupon.radius", where, what, remedy, g.fit.radius, g.tool_radius, source="own data"))
    if not 0.2 <= g.fit.k <= 0.6:
        what = "K lies outside the usual range of sheet metal; near the strips' angle the blanks are still right"
        remedy = "measure the inside radius, the thickness and the legs again"
        found.append(caution("coupon.k", where, what, remedy, g.fit.k, 0.2 if g.fit.k < 0.2 else 0.6, ""))
    return found


def _draw(shop: Shop, sheet: str, roll: str, strips: tuple[Strip, ...]) -> DrawCoupon:
    factors = np.array([(s.length - s.after) / (s.beads * full_draw(shop, s)) for s in strips])
    caliper = max(s.plus_minus / (s.beads * full_draw(shop, s)) for s in strips) * math.sqrt(2.0)
    n = len(factors)
    spread = fitting.student(n - 1) * float(factors.std(ddof=1)) / math.sqrt(n)
    return DrawCoupon(
        roll=roll,
        sheet=sheet,
        draw_factor=round(float(np.clip(factors.mean(), 0.0, 1.0)), 4),
        band=round(max(spread, caliper / math.sqrt(n)), 4),
        strips=n,
    )
