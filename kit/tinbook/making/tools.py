"""Which tool of the shop makes a fold, and how short a leg it takes."""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Final

from tinbook.calc.radii import minimum_leg, minimum_radius, recommended_opening
from tinbook.errors import OutOfRange
from tinbook.finding import Finding
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop
from tinbook.shop.tooling import AirDie, HandFolder, Tool, VBlock, largest

HEM_START: Final = 135.0
"""Degrees that a tool must turn to start a hem or a closed fold, which is pressed on from there."""


def shortest_leg(tool: Tool, sheet: Sheet, angle: float, radius: float) -> float:
    """Shortest leg that a tool can fold, mm, measured as legs are: to the apex, above 90 degrees to the tangent.

    Source: air-bend chart for dies and blocks, the shop's own data for a folder. Above 150 degrees turned the
    chart's geometry has no answer and that of 150 is given.
    """
    if isinstance(tool, HandFolder):
        return tool.min_leg
    turned = min(angle, 150.0)
    apex = minimum_leg(min(max(tool.opening, 4.0), 250.0), turned)
    if turned <= 90.0:
        return apex
    return apex - (radius + sheet.thickness) * (math.tan(math.radians(turned) / 2.0) - 1.0)


def turns(tool: Tool, angle: float) -> bool:
    """Whether a tool's own angle lets it turn the sheet by `angle` degrees."""
    if isinstance(tool, HandFolder):
        return angle <= tool.max_angle + 1e-9
    closed = tool.die_angle if isinstance(tool, AirDie) else tool.block_angle
    return 180.0 - angle >= closed - 1e-9


def named_tool(
    shop: Shop, sheet: Sheet, key: str, angle: float, length: float | None, field: str, notes: list[Finding]
) -> Tool:
    """Return the tool that the part names, noting what it cannot do."""
    tool = shop.tool(key)
    most = largest(tool.max_thickness, sheet.material)
    if not tool.takes(sheet.material, sheet.nominal):
        least = tool.min_thickness
        notes.append(
            Finding(
                code="bend.thickness",
                severity="stop",
                where=field,
                what=f"tool '{key}' takes {least:g} to {most:g} mm of {sheet.material.key}, the sheet is {sheet.nominal:g} mm"
                if most
                else f"tool '{key}' does not take {sheet.material.key} at all",
                value=sheet.nominal,
                limit=most if sheet.nominal > most else least,
                unit="mm",
                source=tool.source,
                remedy=f"leave the tool to the shop, or name one of: {_listed(shop, sheet)}",
            )
        )
    if length is not None and length > tool.max_length:
        notes.append(
            Finding(
                code="bend.length",
                severity="stop",
                where=field,
                what=f"the fold is longer than tool '{key}'",
                value=length,
                limit=tool.max_length,
                unit="mm",
                source=tool.source,
                remedy="name a longer tool, or split the part",
            )
        )
    if not turns(tool, angle):
        limit = tool.max_angle if isinstance(tool, HandFolder) else 180.0 - _closed(tool)
        if limit >= HEM_START:
            notes.append(_closed_by_hand(field, f"tool '{key}'", angle, limit))
        else:
            notes.append(
                Finding(
                    code="bend.angle",
                    severity="stop",
                    where=field,
                    what=f"tool '{key}' does not turn the sheet that far",
                    value=angle,
                    limit=limit,
                    unit="deg",
                    source=tool.source,
                    remedy="name a tool with a sharper die, or fold less",
                )
            )
    return tool


def _closed_by_hand(field: str, who: str, angle: float, limit: float) -> Finding:
    verb = "turns" if who.startswith("no ") else "does not turn"
    return Finding(
        code="bend.angle",
        severity="caution",
        where=field,
        what=f"{who} {verb} the sheet that far; it is started there and closed over a bar",
        value=angle,
        limit=limit,
        unit="deg",
        source="common practice",
        remedy="have a bar of twice the inside radius ready, or use a hem",
    )


def _closed(tool: AirDie | VBlock) -> float:
    return tool.die_angle if isinstance(tool, AirDie) else tool.block_angle


def _listed(shop: Shop, sheet: Sheet) -> str:
    return ", ".join(t.key for t in shop.tools if t.takes(sheet.material, sheet.nominal)) or "none takes it"


def choose_tool(
    shop: Shop,
    sheet: Sheet,
    angle: float,
    radius: float | None,
    leg: float | None,
    length: float | None,
    field: str,
    notes: list[Finding],
    without: Collection[str] = (),
) -> Tool | None:
    """Return the tool by points 2 to 5 of the rule in `make.bends.bend_for`, noting what it cannot do."""
    order = {p: n for n, p in enumerate(p for p in shop.process_order if p not in without)}
    able = [
        t
        for t in shop.tools
        if t.process in order and t.takes(sheet.material, sheet.nominal) and (length is None or length <= t.max_length)
    ]
    fit = [t for t in able if turns(t, angle)]
    if not fit and angle > HEM_START:
        fit = [t for t in able if turns(t, HEM_START)]
        notes += [_closed_by_hand(field, "no tool of the shop", angle, HEM_START)] if fit else []
    if not fit:
        return _strongest(shop, sheet, angle, length, field, notes)

    def shortest(t: Tool) -> float:
        return shortest_leg(t, sheet, angle, radius or own_radius(t, sheet))

    def reaching(tools: list[Tool]) -> list[Tool]:
        return [t for t in tools if leg is None or shortest(t) <= leg + 1e-9]

    if radius is not None:
        # The part answers for its radius; the tool is the one that comes nearest.
        if reach := reaching(fit):
            return min(reach, key=lambda t: (round(abs(own_radius(t, sheet) - radius), 9), order[t.process]))
    else:
        floor = sheet.material.floor_radius * sheet.thickness
        for least in (floor, 0.0):  # a radius that would crack the material only if no other is left
            for process in order:
                good = [t for t in fit if t.process == process and own_radius(t, sheet) >= least - 1e-9]
                if good := reaching(good):
                    return min(good, key=lambda t: _nearness(t, sheet))
    return min(fit, key=lambda t: (shortest(t), order[t.process]))


def _nearness(tool: Tool, sheet: Sheet) -> tuple[float, float]:
    if isinstance(tool, HandFolder):
        return 0.0, 0.0
    try:
        best = recommended_opening(sheet.nominal)
    except OutOfRange:
        best = 6.0 * sheet.nominal if sheet.nominal < 0.5 else 12.0 * sheet.nominal
    return round(abs(tool.opening - best), 9), tool.opening


def _strongest(
    shop: Shop, sheet: Sheet, angle: float, length: float | None, field: str, notes: list[Finding]
) -> Tool | None:
    best = max(shop.tools, key=lambda t: _reach(t, sheet, angle, length), default=None)
    long = f", {length:g} mm long" if length is not None else ""
    notes.append(
        Finding(
            code="bend.tool",
            severity="stop",
            where=field,
            what=f"no tool of {shop.name} turns {sheet.key} by {angle:g} degrees{long}",
            value=sheet.nominal,
            limit=largest(best.max_thickness, sheet.material) if best else None,
            unit="mm",
            source=best.source if best else "own data",
            remedy="choose a thinner sheet or a smaller angle, split the part, or add a tool or supplier to the shop",
        )
    )
    return best


def _reach(tool: Tool, sheet: Sheet, angle: float, length: float | None) -> tuple[bool, bool, float]:
    longest = length is None or length <= tool.max_length
    return turns(tool, angle), longest, largest(tool.max_thickness, sheet.material)


def own_radius(tool: Tool | None, sheet: Sheet) -> float:
    """Inside radius that a tool gives a sheet, mm; without a tool the smallest of the material's table."""
    if tool is not None:
        return tool.radius(sheet.material, sheet.thickness)
    try:
        return minimum_radius(sheet.material.min_radius, sheet.thickness) or sheet.thickness
    except OutOfRange:
        return sheet.thickness
