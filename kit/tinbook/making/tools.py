"""Which tool of the shop makes a fold, and how short a leg it takes."""

from __future__ import annotations

from collections.abc import Collection

from tinbook.calc.radii import minimum_radius
from tinbook.errors import OutOfRange
from tinbook.finding import Finding, caution, stop
from tinbook.shop.material import Sheet, largest
from tinbook.shop.shop import Shop
from tinbook.shop.tools import Tool
from tinbook.shop.tools.strokes import HEM_START


def named_tool(
    shop: Shop, sheet: Sheet, key: str, angle: float, length: float | None, field: str, notes: list[Finding]
) -> Tool:
    """Return the tool that the part names, noting what it cannot do."""
    tool = shop.tool(key)
    most = largest(tool.max_thickness, sheet.material)
    if not tool.takes(sheet.material, sheet.nominal):
        takes = f"{tool.min_thickness:g} to {most:g} mm of {sheet.material.key}, the sheet is {sheet.nominal:g} mm"
        what = f"tool '{key}' takes {takes}" if most else f"tool '{key}' does not take {sheet.material.key} at all"
        remedy = f"leave the tool to the shop, or name one of: {_listed(shop, sheet)}"
        limit = most if sheet.nominal > most else tool.min_thickness
        notes.append(stop("bend.thickness", field, what, remedy, sheet.nominal, limit, source=tool.source))
    if length is not None and length > tool.max_length:
        what, remedy = f"the fold is longer than tool '{key}'", "name a longer tool, or split the part"
        notes.append(stop("bend.length", field, what, remedy, length, tool.max_length, source=tool.source))
    if not tool.turns(angle):
        limit = tool.closes
        if limit >= HEM_START:
            notes.append(_closed_by_hand(field, f"tool '{key}'", angle, limit))
        else:
            what = f"tool '{key}' cannot bend the sheet that far"
            remedy = "a tool with a sharper die, or a smaller angle"
            notes.append(stop("bend.angle", field, what, remedy, angle, limit, "deg", tool.source))
    return tool


def _closed_by_hand(field: str, who: str, angle: float, limit: float) -> Finding:
    verb = "turns" if who.startswith("no ") else "does not turn"
    what = f"{who} {verb} the sheet that far; it is started there and closed over a bar"
    remedy = "have a bar of twice the inside radius ready, or use a hem"
    return caution("bend.angle", field, what, remedy, angle, limit, "deg")


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
    fit = [t for t in able if t.turns(angle)]
    if not fit and angle > HEM_START:
        fit = [t for t in able if t.turns(HEM_START)]
        notes += [_closed_by_hand(field, "no tool of the shop", angle, HEM_START)] if fit else []
    if not fit:
        return _strongest(shop, sheet, angle, length, field, notes)

    def shortest(t: Tool) -> float:
        return t.shortest_leg(sheet.thickness, angle, radius or own_radius(t, sheet))

    if radius is not None:
        # The part answers for its radius; the tool is the one that comes nearest.
        ranked = sorted(fit, key=lambda t: (round(abs(own_radius(t, sheet) - radius), 9), order[t.process]))
        floors = [0.0]
    else:
        ranked = sorted(fit, key=lambda t: (order[t.process], t.misfit(sheet.nominal)))
        # A radius that would crack the material only if no other is left.
        floors = [sheet.material.floor_radius * sheet.thickness, 0.0]
    for least in floors:
        for t in ranked:
            if own_radius(t, sheet) >= least - 1e-9 and (leg is None or shortest(t) <= leg + 1e-9):
                return t
    return min(fit, key=lambda t: (shortest(t), order[t.process]))


def _strongest(
    shop: Shop, sheet: Sheet, angle: float, length: float | None, field: str, notes: list[Finding]
) -> Tool | None:
    best = max(shop.tools, key=lambda t: _reach(t, sheet, angle, length), default=None)
    long = f", {length:g} mm long" if length is not None else ""
    what = f"no tool of {shop.name} turns {sheet.key} by {angle:g} degrees{long}"
    remedy = "choose a thinner sheet or a smaller angle, split the part, or add a tool or supplier to the shop"
    limit, source = (largest(best.max_thickness, sheet.material), best.source) if best else (None, "own data")
    notes.append(stop("bend.tool", field, what, remedy, sheet.nominal, limit, source=source))
    return best


def _reach(tool: Tool, sheet: Sheet, angle: float, length: float | None) -> tuple[bool, bool, float]:
    longest = length is None or length <= tool.max_length
    return tool.turns(angle), longest, largest(tool.max_thickness, sheet.material)


def own_radius(tool: Tool | None, sheet: Sheet) -> float:
    """Inside radius that a tool gives a sheet, mm; without a tool the smallest of the material's table."""
    if tool is not None:
        return tool.radius(sheet.material, sheet.thickness)
    try:
        return minimum_radius(sheet.material.min_radius, sheet.thickness) or sheet.thickness
    except OutOfRange:
        return sheet.thickness
