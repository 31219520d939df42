"""An assembly as files and pictures: STEP with names and colours, GLB, exploded picture, list of parts."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

import numpy as np

from tinbook.errors import CannotMake, of_kind
from tinbook.htmltable import html_table
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.part.bought import Bought
from tinbook.part.part import Part
from tinbook.plane.loops import Array
from tinbook.route.assembly.steps import AssemblyOrder
from tinbook.space import Vec
from tinbook.svg import Picture, document, num
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.folded import patches_svg, picture_box, picture_point, pooled_patches
from tinbook.write.glb import GlbItem, glb_bytes
from tinbook.write.names import refuse
from tinbook.write.stamp import Despite, stamp_of_assembly
from tinbook.write.step import Colour, StepItem, step_text

HEADS = ("item", "quantity", "number or size", "rev", "title or standard", "material", "thickness mm", "mass each kg")


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsRow:
    """One line of a list of parts.

    Parameters
    ----------
    item : int
        Its number in the exploded picture.
    quantity : int
        How many.
    number, rev, title : str
        Of a part; of a bought item its name, "" and its standard.
    material : str
        Sheet's material, "bought", or "existing".
    thickness : float or None
        Of a part's sheet, mm.
    mass : float
        Each, kg.
    members : tuple of str
        Names of the places where it stands.
    """

    item: int
    quantity: int
    number: str
    rev: str
    title: str
    material: str
    thickness: float | None
    mass: float
    members: tuple[str, ...]

    @property
    def cells(self) -> tuple[str, ...]:
        """What a table shows."""
        thick = "" if self.thickness is None else f"{self.thickness:g}"
        # A washer weighs less than a gram.
        mass = "" if self.material == "existing" else f"{self.mass:.{3 if self.mass >= 0.01 else 4}f}"
        return (str(self.item), str(self.quantity), self.number, self.rev, self.title, self.material, thick, mass)


class PartsList(tuple[PartsRow, ...]):
    """The list of parts; shows itself as a table."""

    __slots__ = ()

    @property
    def mass(self) -> float:
        """Mass of everything made and bought, kg."""
        return sum(r.quantity * r.mass for r in self)

    def __repr__(self) -> str:
        return "\n".join("  ".join(c for c in r.cells if c) for r in self)

    def _repr_html_(self) -> str:
        return html_table(HEADS, [r.cells for r in self], caption=f"{self.mass:.2f} kg in all")

    @property
    def text(self) -> str:
        """The list as CSV text."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(HEADS)
        writer.writerows(r.cells for r in self)
        return out.getvalue()


def parts_list(made: Assembled) -> PartsList:
    """Return the list of parts: made ones first, then bought ones, then what was there before.

    Parameters
    ----------
    made : Assembled
        The assembly.
    """
    need_assembled(made, "parts_list")
    members = made.assembly.members
    things = dict.fromkeys(m.thing for kind in ("part", "bought", "existing") for m in members if m.kind == kind)
    rows = []
    for i, thing in enumerate(things, 1):
        places = [m for m in members if m.thing == thing]
        mass = made.mass_of(places[0])
        if isinstance(thing, Part):
            sheet = made.made_of(places[0].name).sheet
            words = (thing.number, thing.rev, thing.title, sheet.material.key)
            thick: float | None = sheet.nominal
        else:
            words = (thing.name, "", thing.standard, "existing" if thing.existing else "bought")
            thick = None
        number, rev, title, material = words
        rows.append(
            PartsRow(
                item=i,
                quantity=len(places),
                number=number,
                rev=rev,
                title=title,
                material=material,
                thickness=thick,
                mass=mass,
                members=tuple(m.name for m in places),
            )
        )
    return PartsList(rows)


def assembly_stem(made: Assembled) -> str:
    """Return the file name of an assembly without suffix, such as "HN-WC_A_assembly"."""
    return f"{made.assembly.number}_{made.assembly.rev}_assembly"


def _refuse(made: Assembled) -> None:
    need_assembled(made, "what to write")
    refuse(made.findings, made.assembly.number)
    if not made.assembly.members:
        raise CannotMake(f"{made.assembly.number}: nothing was written: it has no members")


def _draft(
    made: Assembled, path: str | os.PathLike[str], suffix: str, despite: Despite, replace: bool, ending: str = ""
) -> Draft:
    _refuse(made)
    file = target(path, suffix, assembly_stem(made) + ending)
    return Draft(file=file, stamp=stamp_of_assembly(made, despite), replace=replace)


def _colour(made: Assembled, name: str) -> Colour:
    thing = made.assembly.member(name).thing
    return thing.colour if isinstance(thing, Bought) else made.made_of(name).sheet.material.colour


def write_assembly_step(
    made: Assembled, path: str | os.PathLike[str], *, despite: Despite = None, replace: bool = False
) -> Path:
    """Write an assembly as STEP: every thing once, placed as often as it stands, with names and colours.

    Parameters
    ----------
    made : Assembled
        Every part must be makeable.
    path : str or path-like
        File name ending in .step, or an existing folder.
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
        A part cannot be made, or something stops it and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    """
    draft = _draft(made, path, ".step", despite, replace)
    items = [
        StepItem(shape=made.own_shape(m.thing), name=m.label, colour=_colour(made, m.name), matrix=m.at.values)
        for m in made.assembly.members
    ]
    return draft.write(step_text(items, draft.stamp.name, draft.stamp.mark))


def write_assembly_glb(
    made: Assembled, path: str | os.PathLike[str], *, despite: Despite = None, replace: bool = False
) -> Path:
    """Write an assembly as GLB, a node for each member.

    Parameters
    ----------
    made : Assembled
        Every part must be makeable.
    path : str or path-like
        File name ending in .glb, or an existing folder.
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
        A part cannot be made, or something stops it and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    """
    draft = _draft(made, path, ".glb", despite, replace)
    items = []
    for m in made.assembly.members:
        positions, triangles = made.mesh(m.name)
        items.append(GlbItem(positions=positions, triangles=triangles, name=m.name, colour=_colour(made, m.name)))
    return draft.write(glb_bytes(items, draft.stamp.mark))


def write_parts_list(
    made: Assembled, path: str | os.PathLike[str], *, despite: Despite = None, replace: bool = False
) -> Path:
    """Write the list of parts as CSV.

    Parameters
    ----------
    made : Assembled
        The assembly.
    path : str or path-like
        File name ending in .csv, or an existing folder.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops the assembly.
    replace : bool
        Write over whatever is there; else only another list of parts gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        A part cannot be made, or something stops it and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is no list of parts, or the system refuses.
    """
    draft = _draft(made, path, ".csv", despite, replace, "_parts")
    # A table for other programs: nothing but its heading can say whose it is.
    return draft.write(parts_list(made).text, ours=",".join(HEADS).encode())


def exploded_shifts(made: Assembled, order: AssemblyOrder, spacing: float = 25.0) -> dict[str, Vec]:
    """Return how far each member is drawn out of its place for the exploded picture, mm.

    Parameters
    ----------
    made : Assembled
        The assembly.
    order : AssemblyOrder
        Its order; each member is drawn back along its own way in, beyond what it would cover.
    spacing : float
        Gap left between members that stood behind each other, mm.
    """
    of_kind(order, AssemblyOrder, "order", "what tb.assembly_order(made) answers")
    wanted = dict(made.assembly.explode)
    shifts: dict[str, Vec] = {}
    there: list[Array] = []
    ways = {name: (-d[0], -d[1], -d[2]) for name, d in order.ways.items()}
    for name in (*order.names, *order.trapped):
        points = made.mesh(name)[0]
        d = wanted.get(name, ways.get(name))
        shift = 0.0
        if d is not None and there:
            view = _axes(d)
            mine = points @ view.T
            for other in there:
                seen = other @ view.T
                if all(_overlap(mine[:, k], seen[:, k]) for k in (0, 1)):
                    shift = max(shift, float(seen[:, 2].max() - mine[:, 2].min()) + spacing)
        v = (0.0, 0.0, 0.0) if d is None else (d[0] * shift, d[1] * shift, d[2] * shift)
        shifts[name] = v
        there.append(points + np.array(v))
    return shifts


def _axes(d: Vec) -> Array:
    other = np.eye(3)[int(np.argmin(np.abs(d)))]
    x = np.cross(other, d)
    x /= np.linalg.norm(x)
    return np.array((x, np.cross(d, x), d))


def _overlap(a: Array, b: Array) -> bool:
    return float(a.min()) < float(b.max()) - 1e-6 and float(b.min()) < float(a.max()) - 1e-6


def exploded_svg(made: Assembled, order: AssemblyOrder, spacing: float = 25.0) -> Picture:
    """Return the exploded picture, numbered like the list of parts.

    Parameters
    ----------
    made : Assembled
        Every part must be makeable.
    order : AssemblyOrder
        Says which way each member is drawn out.
    spacing : float
        As `exploded_shifts`.

    Returns
    -------
    Picture
        An SVG that shows itself in a notebook.
    """
    _refuse(made)
    shifts = exploded_shifts(made, order, spacing)
    return _picture(made, shifts, f"{made.assembly.number} rev {made.assembly.rev}, exploded")


def assembled_svg(made: Assembled, *, bought: bool = False) -> Picture:
    """Return the picture of the assembly as it stands, numbered like the list of parts.

    Parameters
    ----------
    made : Assembled
        Every part must be makeable.
    bought : bool
        Draw bought items too. What is painted from back to front cannot show a bolt half sunk in its
        hole, so they are left out unless asked for.
    """
    _refuse(made)
    drawn = [m.name for m in made.assembly.members if bought or m.kind == "part"]
    still: dict[str, Vec] = dict.fromkeys(drawn, (0.0, 0.0, 0.0))
    return _picture(made, still, f"{made.assembly.number} rev {made.assembly.rev}, assembled")


def _picture(made: Assembled, shifts: dict[str, Vec], title: str) -> Picture:
    patches = pooled_patches(m for name, v in shifts.items() for m in made.placed(name, v))
    box = picture_box(patches)
    reach = max(box[2] - box[0], box[3] - box[1], 1e-3)
    line = reach / 600
    labels, outer = _labels(made, shifts, box, reach / 40)
    return Picture(document(outer, patches_svg(patches, line) + labels, title=title, margin=reach / 40))


def _labels(
    made: Assembled, shifts: dict[str, Vec], box: Sequence[float], size: float
) -> tuple[str, tuple[float, float, float, float]]:
    """Return numbered discs in a column at each side, with a line to the first member of each row, and the box of all."""
    middle = (box[0] + box[2]) / 2
    tips: dict[int, tuple[float, float]] = {}
    sides: dict[bool, list[int]] = {False: [], True: []}
    rows = [row for row in parts_list(made) if row.members[0] in shifts]
    for row in rows:
        name = row.members[0]
        points = made.mesh(name)[0] + np.array(shifts[name])
        corners = [picture_point((float(p[0]), float(p[1]), float(p[2]))) for p in points[:: max(1, len(points) // 60)]]
        right = sum(x for x, _ in corners) / len(corners) >= middle
        tips[row.item] = max(corners, key=lambda q: q[0] if right else -q[0])
        sides[right].append(row.item)
    discs = {}
    for right, items in sides.items():
        x = box[2] + 2 * size if right else box[0] - 2 * size
        items.sort(key=lambda i: -tips[i][1])
        for item, y in zip(items, _spread([tips[i][1] for i in items], 2 * size, box[1], box[3]), strict=True):
            discs[item] = (x, y)
    out = [f'<g class="tb-items" font-family="sans-serif" font-size="{num(size)}" text-anchor="middle">\n']
    for row in rows:
        tip, disc = tips[row.item], discs[row.item]
        out.append(
            f'<path d="M{num(tip[0])} {num(-tip[1])}L{num(disc[0])} {num(-disc[1])}" stroke="#b03a2e" '
            f'stroke-width="{num(size / 12)}" fill="none"/>'
            f'<circle cx="{num(tip[0])}" cy="{num(-tip[1])}" r="{num(size / 6)}" fill="#b03a2e"/>'
            f'<circle cx="{num(disc[0])}" cy="{num(-disc[1])}" r="{num(0.85 * size)}" fill="#fffdf7" '
            f'stroke="#b03a2e" stroke-width="{num(size / 12)}"/>'
            f'<text x="{num(disc[0])}" y="{num(-disc[1] + 0.35 * size)}" fill="#5d1f17">{row.item}'
            f"<title>{escape(row.number)}</title></text>\n"
        )
    out.append("</g>\n")
    xs, ys = [box[0], box[2], *(x for x, _ in discs.values())], [box[1], box[3], *(y for _, y in discs.values())]
    return "".join(out), (min(xs), min(ys), max(xs), max(ys))


def _spread(wanted: Sequence[float], step: float, low: float, high: float) -> list[float]:
    """Return heights `step` apart or more, as near as can be to the falling ones that are wanted, within bounds if they fit."""
    blocks: list[tuple[float, int]] = []
    for i, y in enumerate(wanted):
        total, count = y + i * step, 1
        # Neighbours that would come too near stand together about their mean.
        while blocks and blocks[-1][0] / blocks[-1][1] < total / count:
            before, n = blocks.pop()
            total, count = total + before, count + n
        blocks.append((total, count))
    found = [total / count for total, count in blocks for _ in range(count)]
    found = [y - i * step for i, y in enumerate(found)]
    found = [min(y, high - i * step) for i, y in enumerate(found)]
    last = len(found) - 1
    return [max(y, low + (last - i) * step) for i, y in enumerate(found)]
