"""`make`: resolves a part on a shop's tools; the only place where a bend allowance is applied."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tinbook.errors import OutOfRange, of_kind
from tinbook.finding import Finding, Findings, Refused, caution
from tinbook.flatpattern import Cut, FlatPattern, FoldLine, FormLine, Mark
from tinbook.making import flat as flats
from tinbook.making.bends import Bend
from tinbook.making.containment import check_inside
from tinbook.making.crossing import crossings
from tinbook.making.demands import short_legs
from tinbook.making.fold_bends import bend_of
from tinbook.making.folded import HOLE_BOXES, MIRROR, BendZone, Folded, MadePanel
from tinbook.making.machines import beyond, fails
from tinbook.making.made import Made
from tinbook.making.marks import (
    drill_marks,
    fold_marks,
    label_mark,
    may_nick,
    trim_marks,
)
from tinbook.making.openings import openings
from tinbook.making.openings_by_panel import OpeningsByPanel, split_openings
from tinbook.making.tree import BentFold, PanelNode, lay_out_panels, strip_loop
from tinbook.memo import Memo
from tinbook.part.forms.form import MadeForm, Setting
from tinbook.part.part import Part
from tinbook.plane.chaining import weave
from tinbook.plane.cuts import crossings as lines_over
from tinbook.plane.loops import Array, Edge
from tinbook.shop.cutting import Cutter
from tinbook.shop.material import largest
from tinbook.shop.shop import Shop
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.shop.material import Sheet

NO_BOXES = np.zeros((0, 4))


def make(part: Part, shop: Shop) -> Made:
    """Resolve a part on a shop's tools.

    Parameters
    ----------
    part : Part
        What is wanted.
    shop : Shop
        Whose sheets, tools, rolls, cutters and tables.

    Returns
    -------
    Made
        Complete; where the geometry is impossible it holds no panels and no
        flat, and its findings say why and what would cure it.

    Raises
    ------
    UnknownName
        A sheet, tool, roll pair or fixing that the shop does not have.
    """
    of_kind(part, Part, "make part", "a Part; a family of parts has to be called first: tb.floor_pan(...)")
    of_kind(shop, Shop, "make shop", "a Shop: tb.Shop.demo() or tb.Shop.load(file)")
    sheet = shop.sheet_by_key(part.sheet)
    return _foldable(_resolved(part, shop, sheet))


@dataclass(frozen=True, slots=True)
class Choice:
    """How the machines of a part were chosen.

    Parameters
    ----------
    without : frozenset of str
        Processes that were left out because they do not fold the whole part.
    why : str
        The first reason, "" where none was left out.
    carried : bool
        Whether it was taken over from a part of other sizes.
    """

    without: frozenset[str] = frozenset()
    why: str = ""
    carried: bool = False


CHOICE: Memo[Choice] = Memo("choice of machines")


def make_like(part: Part, before: Made) -> Made:
    """Resolve a part while a slider moves: on the machines chosen for the same folds in other sizes.

    Whether they fold the part at these sizes too takes longer than all else that a slider move shows; it is answered
    once the slider rests, by `choose_machines`. It is answered at once, as by `make`, where the folds differ in anything
    but size, or where a leg, length or force is beyond the machines.

    Parameters
    ----------
    part : Part
        What is wanted.
    before : Made
        Made before, on the same shop.
    """
    choice, shop = CHOICE.known(before), before.shop
    sheet = shop.sheet_by_key(part.sheet)
    if choice is None or sheet != before.sheet or _kinds(part) != _kinds(before.part):
        return make(part, shop)
    made = _resolved(part, shop, sheet, choice.without, choice.why)
    if choice.without and (not made.ok or list(short_legs(made))):
        return make(part, shop)
    if made.ok and beyond(made):
        return make(part, shop)
    CHOICE.put(made, replace(choice, carried=True))
    return made


def choose_machines(made: Made) -> Made:
    """Return a part on the machines that fold the whole of it: the same value where `make_like` carried over the right ones."""
    choice = CHOICE.known(made)
    if choice is None or not choice.carried:
        return made
    found = make(made.part, made.shop) if choice.without else _foldable(made)
    if CHOICE.known(found) != replace(choice, carried=False):
        return found
    CHOICE.put(made, replace(choice, carried=False))
    return made


def _kinds(part: Part) -> list[tuple[object, ...]]:
    """Return what makes folds of other sizes comparable."""
    hems = ((f.hem.kind if f.hem else "") for f in part.folds)
    return [
        (f.name, f.panel, f.edge, f.direction, f.tool, hem, f.curl) for f, hem in zip(part.folds, hems, strict=True)
    ]


def _foldable(first: Made) -> Made:
    """Return the part on the machines that fold the whole of it: a process that cannot is left out (see `making.machines`).

    Where the rest cannot either, the part stays on its first tools.
    """
    made, choice = first, Choice()
    free = {f.name for f in first.part.folds if f.tool is None}
    while made.ok:
        # Another machine must be seen to do it; the first is left only where it cannot.
        failing = fails(made, surely=made is first)
        if not failing:
            CHOICE.put(made, choice)
            return made
        mine = [s for s in made.strips if s.name in failing and s.name in free and s.bend.tool]
        without = choice.without | {s.bend.process for s in mine}
        if not mine or without >= {made.shop.tool(s.bend.tool).process for s in mine} | set(made.shop.process_order):
            break
        why = choice.why or f"on {mine[0].bend.tool} {failing[mine[0].name]} (fold {mine[0].name!r})"
        choice = Choice(without, why)
        made = _resolved(first.part, first.shop, first.sheet, without, why)
        if list(short_legs(made)) and not list(short_legs(first)):
            break
    CHOICE.put(first, Choice())
    return first


def _resolved(part: Part, shop: Shop, sheet: Sheet, without: frozenset[str] = frozenset(), why: str = "") -> Made:
    """Return the part on the tools of each fold, without some processes; `why` names the reason that they are left out."""
    findings: list[Finding] = []
    try:
        return _make(part, shop, sheet, findings, without, why)
    except Refused as refused:
        found = Findings([*findings, refused.finding])
        nothing = Folded(thickness=sheet.thickness, density=sheet.material.density)
        return Made(part=part, shop=shop, sheet=sheet, folded=nothing, flat=None, findings=found)


def _cutter(shop: Shop, sheet: Sheet) -> Cutter:
    """Return the cutter that takes the sheet; refuse a sheet that none of the shop's cutters takes."""
    if not any(c.takes(sheet.material, sheet.nominal) for c in shop.cutters):
        limits = [(c, largest(c.max_thickness, sheet.material)) for c in shop.cutters]
        here = [(c, most) for c, most in limits if most > 0]
        takes = "; ".join(f"{c.title}: {c.min_thickness:g} to {most:g} mm" for c, most in here)
        reach = [v for c, most in here for v in (c.min_thickness, most)]
        what = "no cutter of the shop takes this material in this thickness" + (f" ({takes})" if takes else "")
        remedy = "another sheet, or in the shop file the cutter of a supplier who takes it"
        nearest = min(reach, key=lambda v: abs(v - sheet.nominal), default=None)
        raise Refused("cut.thickness", f"sheet {sheet.key!r}", what, remedy, sheet.nominal, nearest)
    return shop.cutter_for(sheet)


def _make(part: Part, shop: Shop, sheet: Sheet, findings: list[Finding], without: frozenset[str], why: str) -> Made:
    cutter = _cutter(shop, sheet)
    t = sheet.thickness
    same: dict[tuple[object, ...], Bend] = {}
    on = Setting(shop=shop, sheet=sheet, thickness=t, part=part)
    formed = {bend.name: (form.name, bend) for form in part.forms for bend in form.bends(on)}
    listed = (*part.folds, *(bend for _, bend in formed.values()))
    folds = {f.name: bend_of(f, part, shop, sheet, findings, same, without) for f in listed}
    if why:
        findings.append(_elsewhere(shop, folds.values(), why))
    nodes = lay_out_panels(part.base.loop, folds, t)
    try:
        found = openings(part.holes, {n: node.loop for n, node in nodes.items()}, shop.fixings, cutter, t)
    except OutOfRange as wrong:
        raise Refused("hole.no_size", "holes", str(wrong), "give the diameter, or complete the shop's table") from None
    order = [(f.panel, made) for f in part.forms for made in f.made(on)]
    forms: dict[str, list[MadeForm]] = {name: [f for panel, f in order if panel == name] for name, _ in order}
    trimmed = {name for name, own in forms.items() if part.trim and any(f.DRAWS for f in own)}
    # Drilled once the forms have drawn the sheet in.
    found = [(panel, replace(hole, by_hand=True) if panel in trimmed else hole) for panel, hole in found]
    over = split_openings(nodes, found)
    around: dict[str, Array] = {}  # boxes of holes by panel
    for name, node in nodes.items():
        parts = [(p, n) for p, n in over.panel_parts.get(name, []) if p.area > 1e-9]  # else it only frees an edge
        whole = over.panel_holes.get(name, [])
        if whole:
            around[name] = over.hole_boxes(name)
        check_inside(node, whole, around.get(name, NO_BOXES), forms.get(name, []), parts)
    laying = flats.lay_flat(nodes, forms)
    panels = tuple(_panel(node, over, forms.get(name, []), laying) for name, node in nodes.items())
    for p in panels:
        if p.name in around:
            HOLE_BOXES.put(p, around[p.name])
    zones = tuple(_strip(nodes, name, over, laying, shop, sheet) for name in folds)
    zones = tuple(replace(z, formed=formed[z.name][0]) if z.name in formed else z for z in zones)
    folded = Folded(thickness=t, density=sheet.material.density, panels=panels, zones=zones)
    strips = tuple(z for z in zones if not z.formed)
    holes = flats.placed_holes(over, laying)
    by_hand = [h.by_hand for _, h in over.flat]
    lines = tuple(_line(nodes[s.name], s, over, holes, s.allowance / 2) for s in strips)
    sight = tuple(
        f if s.bend.mark_at == s.allowance / 2 else _line(nodes[s.name], s, over, holes, s.bend.mark_at)
        for f, s in zip(lines, strips, strict=True)
    )
    cuts = tuple(c for c, drilled in zip(holes, by_hand, strict=True) if not drilled)
    drills = tuple(c for c, drilled in zip(holes, by_hand, strict=True) if drilled)
    undersize = flats.undersize_holes(over, holes)
    finished = laying.outer
    outer = flats.with_stock(finished, trimmed) if trimmed else finished
    drawings = [f.drawn(p.flat, laying.shifts[p.name]) for p in panels for f in p.forms]
    form_lines = tuple(line for d in drawings for line in d.lines)
    form_bends = [_line(nodes[z.name], z, over, holes, z.allowance / 2) for z in zones if z.formed]
    form_lines += tuple(_bend_line(line) for line in form_bends)
    guides = [mark for d in drawings for mark in d.guides]
    guides += [_bend_mark(line) for line in form_bends]
    cuts += tuple(cut for d in drawings for cut in d.cuts)
    findings.extend(crossings(folded))
    if part.other_hand:
        folded = folded.mirrored()
        lines, sight = tuple(map(_mirrored_line, lines)), tuple(map(_mirrored_line, sight))
        outer, finished = outer.moved(MIRROR).reversed(), finished.moved(MIRROR).reversed()
        cuts, drills = tuple(map(_mirrored_cut, cuts)), tuple(map(_mirrored_cut, drills))
        undersize = tuple(map(_mirrored_cut, undersize))
        form_lines = tuple(replace(b, edges=tuple(map(MIRROR.edge, b.edges))) for b in form_lines)
        guides = [replace(m, edges=tuple(map(MIRROR.edge, m.edges))) for m in guides]
    bored = {c.name for c in undersize}
    marks = drill_marks(tuple(c for c in drills if c.name not in bored))
    marks += _own_marks(folded.panels, [name for name, _ in order])
    if part.marking:
        etches = cutter.etches
        marks = [*fold_marks(sight, etches, may_nick(part)), *guides, *marks]
        if outer is not finished:
            marks += trim_marks(finished, outer)
        if etches:
            grain = sheet.grain == "length"
            marks += label_mark(f"{part.number} {part.rev}", folded.panels[0], (*cuts, *drills), marks, grain)
    flat = FlatPattern(
        name=part.number,
        thickness=t,
        outer=outer,
        cuts=cuts,
        folds=lines,
        marks=tuple(marks),
        drills=drills,
        undersize=undersize,
        form_lines=form_lines,
        trimmed=finished if outer is not finished else None,
        material=sheet.material.key,
        findings=Findings(findings),
    )
    return Made(part=part, shop=shop, sheet=sheet, folded=folded, flat=flat, findings=Findings(findings))


def _bend_line(line: FoldLine) -> FormLine:
    """Return the line of a bend that a form brings, set out by numbers as its mark is drawn."""
    edges = tuple(Edge(a, b) for a, b in line.pieces)
    return FormLine(name=line.name, what="middle of the bend", edges=edges, direction=line.direction)


def _bend_mark(line: FoldLine) -> Mark:
    """Return the mark of a bend that a form brings: where the middle of the bend goes."""
    return Mark(kind="fold", edges=_bend_line(line).edges, label=f"{line.name} {line.direction}", face="up")


def _own_marks(panels: tuple[MadePanel, ...], order: list[str]) -> list[Mark]:
    """Return the marks that forms are, in the part's order: `order` names the panel of one form after another."""
    named = {p.name: (iter(p.forms), p.flat) for p in panels}
    return [m for name in order for m in next(named[name][0]).marks(named[name][1])]


def _elsewhere(shop: Shop, folds: Iterable[BentFold], why: str) -> Finding:
    """Return the finding that says which other machines make the folds, and why."""
    tools = [shop.tool(key) for key in dict.fromkeys(f.bend.tool for f in folds if f.bend.tool)]
    taken = ", ".join(f"{t.key} ({t.who})" for t in tools)
    where = f"machine {tools[0].machine!r}" if tools else "machines"
    what, remedy = f"the blank is drawn to {taken}: {why}", "name a tool in the part to fix it"
    return caution("bend.machine", where, what, remedy, source="geometry")


def _panel(node: PanelNode, over: OpeningsByPanel, forms: list[MadeForm], laying: flats.Laying) -> MadePanel:
    parts = [part for part, _ in over.panel_parts.get(node.name, [])]
    boundary = node.boundary.loop
    if parts:
        lines = {f"fold:{j.name}": f"{j.name}:child" if j.span is not None else j.name for j in node.bends}
        loops = weave(boundary.edges, parts, lines)
        if len(loops) != 1:
            what = "an opening over a fold cuts the panel in two"
            raise Refused("hole.splits", f"panel {node.name!r}", what, "a smaller opening, or two parts")
        boundary = loops[0]
    return MadePanel(
        name=node.name,
        boundary=boundary,
        holes=tuple(over.panel_holes.get(node.name, ())),
        forms=tuple(forms),
        frame=node.frame,
        flat=laying.panels[node.name],
        parent=None if node.bent is None else node.bent.fold.panel,
    )


def _strip(
    nodes: dict[str, PanelNode], name: str, over: OpeningsByPanel, laying: flats.Laying, shop: Shop, sheet: Sheet
) -> BendZone:
    node = nodes[name]
    assert node.bent is not None
    b = node.bent
    frame, _, x0, x1 = nodes[b.fold.panel].strips[name]
    region = strip_loop(b, x0, x1)
    parts = over.strip_parts.get(name, [])
    regions = weave(region.edges, parts, {"parent": name, "child": f"{name}:child"}) if parts else [region]
    return BendZone(
        name=name,
        parent=b.fold.panel,
        child=name,
        regions=tuple(regions),
        holes=tuple(over.strip_holes.get(name, ())),
        angle=b.angle,
        direction=b.fold.direction,
        radius=b.bend.radius,
        setback=b.setback,
        leg=b.leg,
        bend=b.bend,
        begun=_begun(b, shop, sheet),
        frame=frame,
        flat=laying.strips[name],
    )


def _begun(b: BentFold, shop: Shop, sheet: Sheet) -> float | None:
    """Return the inside radius of a fold's first hit where a second presses it down, mm; None for one hit."""
    if not b.bend.tool or len(shop.tool(b.bend.tool).hits(b.angle)) == 1:
        return None
    return max(b.bend.radius, shop.tool(b.bend.tool).radius(sheet.material, sheet.thickness))


def _line(node: PanelNode, strip: BendZone, over: OpeningsByPanel, holes: list[Cut], at: float) -> FoldLine:
    xs = [p[0] for r in strip.regions for p in r.points]
    if node.bent is not None and node.bent.fold.strip is not None:
        # Where the ends are not square the line is as long as the metal under it.
        level = [e.at(s)[0] for r in strip.regions for e in r.edges for s in lines_over(e, (0.0, at), (1.0, 0.0))]
        xs = level or xs
    near = [holes[i] for i in dict.fromkeys(over.over_fold.get(strip.name, ()))]
    return flats.fold_line(node, at, (min(xs), max(xs)), near, strip.flat)


def _mirrored_line(f: FoldLine) -> FoldLine:
    return replace(f, pieces=tuple((MIRROR(a), MIRROR(b)) for a, b in f.pieces))


def _mirrored_cut(c: Cut) -> Cut:
    return replace(c, loop=c.loop.moved(MIRROR).reversed())
