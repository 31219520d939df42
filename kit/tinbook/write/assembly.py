"""An assembly's list of parts, and its pictures as it stands and drawn apart, numbered like the list."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Mapping, Sequence
from functools import partial
from html import escape
from pathlib import Path
from typing import get_args

import numpy as np
import numpy.typing as npt

from tinbook.errors import of_kind
from tinbook.fields import Choice
from tinbook.htmltable import html_table
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.making.preview.drawing import FINE, Drawing, drawing
from tinbook.making.preview.view import Side, View, corner_view
from tinbook.part.part import Part
from tinbook.plane.loops import Array, Point
from tinbook.route.assembly.work import AssemblyOrder
from tinbook.space import Vec
from tinbook.svg import Picture, document, num
from tinbook.values import dataclass
from tinbook.write.drafts import draft_of
from tinbook.write.folded import drawing_svg
from tinbook.write.names import need_members
from tinbook.write.png import TINTS
from tinbook.write.stamp import Despite

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
        """The cells of its row in a table."""
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
    """Return the list of parts: made parts first, then bought items, then what exists already.

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
        names, mass = tuple(m.name for m in places), made.mass_of(places[0])
        row = partial(PartsRow, item=i, quantity=len(places), mass=mass, members=names)
        if isinstance(thing, Part):
            sheet = made.made_of(names[0]).sheet
            row = partial(row, material=sheet.material.key, thickness=sheet.nominal)
            rows.append(row(number=thing.number, rev=thing.rev, title=thing.title))
        else:
            stuff = "existing" if thing.existing else "bought"
            rows.append(row(number=thing.name, rev="", title=thing.standard, material=stuff, thickness=None))
    return PartsList(rows)


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
    need_assembled(made, "write_parts_list")
    draft = draft_of(made, path, ".csv", ending="_parts", despite=despite, replace=replace)
    # A CSV file for other programs holds no mark, so its heading identifies it.
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
    of_kind(order, AssemblyOrder, "order", "what tb.order_of_work(made) answers")
    wanted = dict(made.assembly.explode)
    shifts: dict[str, Vec] = {}
    there: list[Array] = []
    ways = {name: (-d[0], -d[1], -d[2]) for name, d in order.ways.items()}
    for name in (*order.names, *order.trapped):
        points = made.mesh(name)[0]
        v = drawn_out(points, there, wanted.get(name, ways.get(name)), spacing)
        shifts[name] = v
        there.append(points + np.array(v))
    return shifts


def drawn_out(points: Array, there: Sequence[Array], d: Vec | None, spacing: float = 25.0) -> Vec:
    """Return how far a member is drawn out along a direction so that it covers nothing that is there, mm.

    Parameters
    ----------
    points : array, shape (n, 3)
        Of the member, mm.
    there : sequence of arrays
        Points of what is there.
    d : (float, float, float) or None
        The direction; None leaves the member in its place.
    spacing : float
        Gap left, mm.
    """
    if d is None:
        return 0.0, 0.0, 0.0
    view, shift = _axes(d), 0.0
    mine = points @ view.T
    for other in there:
        seen = other @ view.T
        if all(_overlap(mine[:, k], seen[:, k]) for k in (0, 1)):
            shift = max(shift, float(seen[:, 2].max() - mine[:, 2].min()) + spacing)
    return d[0] * shift, d[1] * shift, d[2] * shift


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
    need_members(made)
    shifts = exploded_shifts(made, order, spacing)
    return _picture(made, shifts, f"{made.assembly.number} rev {made.assembly.rev}, exploded")


def assembled_svg(made: Assembled, seen_from: Side = "up") -> Picture:
    """Return the picture of the assembly as it stands, numbered like the list of parts.

    Parameters
    ----------
    made : Assembled
        Every part must be makeable.
    seen_from : {"up", "down"}
        From above, or from below.
    """
    need_members(made)
    Choice(get_args(Side)).read(seen_from, "assembled_svg seen_from")
    still: dict[str, Vec] = dict.fromkeys(made.assembly.names, (0.0, 0.0, 0.0))
    title = f"{made.assembly.number} rev {made.assembly.rev}, assembled"
    return _picture(made, still, title if seen_from == "up" else f"{title}, from below", seen_from)


def _picture(made: Assembled, shifts: dict[str, Vec], title: str, seen_from: Side = "up") -> Picture:
    names = list(shifts)
    members = [made.assembly.member(name) for name in names]
    d = member_drawing(made, shifts, corner_view(seen_from))
    tints = [TINTS[m.kind] for m in members]
    reach = max(d.box[2] - d.box[0], d.box[3] - d.box[1], 1e-3)
    labels, outer = _balloons(balloon_tips(made, names, d), d.box, reach / 36)
    return Picture(document(outer, drawing_svg(d, reach / 600, tints) + labels, title=title, margin=reach / 40))


def member_drawing(made: Assembled, shifts: Mapping[str, Vec], view: View | None = None, fine: int = FINE) -> Drawing:
    """Return what one sees of some members, each shifted from its place, in the order in which they are given."""
    members = [made.assembly.member(name) for name in shifts]
    return drawing(((made.bodies_of(m.thing), m.at.moved(shifts[m.name])) for m in members), view, fine)


def balloon_tips(made: Assembled, names: Sequence[str], d: Drawing) -> dict[PartsRow, Point]:
    """Return where the balloon of each row of the parts list points: well inside what one sees of one of its members.

    Parameters
    ----------
    made : Assembled
        The assembly.
    names : sequence of str
        Members in the order in which they were drawn.
    d : Drawing
        The drawing. A row of which nothing is seen has no balloon.
    """
    tips: dict[PartsRow, Point] = {}
    for row in parts_list(made):
        best = 0
        for name in row.members:
            depth, line, column = deepest(d.item == names.index(name)) if name in names else (0, 0, 0)
            if depth > best:
                best = depth
                tips[row] = d.grid.low[0] + (column + 0.5) * d.grid.pitch, d.grid.low[1] + (line + 0.5) * d.grid.pitch
    return tips


def deepest(seen: npt.NDArray[np.bool_]) -> tuple[int, int, int]:
    """Return how many rims can be peeled off a region, and the row and column of a pixel of what is left before the last.

    The picture's edge counts as outside. 0, 0, 0 where nothing is seen. A library's distances would take longer to load
    than this takes.
    """
    rows, columns = np.flatnonzero(seen.any(axis=1)), np.flatnonzero(seen.any(axis=0))
    if not len(rows):
        return 0, 0, 0
    left = np.pad(seen[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1], 1)
    last, depth = left, 0
    while left.any():
        last, depth = left, depth + 1
        left = np.zeros_like(last)
        left[1:-1, 1:-1] = last[1:-1, 1:-1] & last[:-2, 1:-1] & last[2:, 1:-1] & last[1:-1, :-2] & last[1:-1, 2:]
    places = np.argwhere(last)
    line, column = places[len(places) // 2] - 1
    return depth, int(line + rows[0]), int(column + columns[0])


def _balloons(
    tips: Mapping[PartsRow, Point], box: Sequence[float], size: float
) -> tuple[str, tuple[float, float, float, float]]:
    """Return numbered discs in a column at each side, each with a line to its tip, and the box of all."""
    middle = (box[0] + box[2]) / 2
    sides: dict[bool, list[PartsRow]] = {False: [], True: []}
    for row, tip in tips.items():
        sides[tip[0] >= middle].append(row)
    discs: dict[PartsRow, Point] = {}
    for right, rows in sides.items():
        x = box[2] + 2 * size if right else box[0] - 2 * size
        rows.sort(key=lambda r: (-tips[r][1], r.item))
        for row, y in zip(rows, _spread([tips[r][1] for r in rows], 2 * size, box[1], box[3]), strict=True):
            discs[row] = (x, y)
    out = [f'<g class="tb-items" font-family="sans-serif" font-size="{num(size)}" text-anchor="middle">\n']
    for row, tip in tips.items():
        disc = discs[row]
        out.append(
            f'<path d="M{num(tip[0])} {num(-tip[1])}L{num(disc[0])} {num(-disc[1])}" stroke="#b03a2e" '
            f'stroke-width="{num(size / 12)}" fill="none"/>'
            f'<circle cx="{num(tip[0])}" cy="{num(-tip[1])}" r="{num(size / 7)}" fill="#b03a2e"/>'
            f'<circle cx="{num(disc[0])}" cy="{num(-disc[1])}" r="{num(0.85 * size)}" fill="#fffdf7" '
            f'stroke="#b03a2e" stroke-width="{num(size / 12)}"/>'
            f'<text x="{num(disc[0])}" y="{num(-disc[1] + 0.35 * size)}" fill="#5d1f17">{row.item}'
            f"<title>{escape(row.number)}</title></text>\n"
        )
    out.append("</g>\n")
    xs, ys = [box[0], box[2], *(x for x, _ in discs.values())], [box[1], box[3], *(y for _, y in discs.values())]
    return "".join(out), (min(xs) - size, min(ys) - size, max(xs) + size, max(ys) + size)


def _spread(wanted: Sequence[float], step: float, low: float, high: float) -> list[float]:
    """Return heights at least `step` apart, as close as possible to the wanted ones (descending), within the bounds if they fit."""
    blocks: list[tuple[float, int]] = []
    for i, y in enumerate(wanted):
        total, count = y + i * step, 1
        # Neighbours that would be too close form a group centred on their mean.
        while blocks and blocks[-1][0] / blocks[-1][1] < total / count:
            before, n = blocks.pop()
            total, count = total + before, count + n
        blocks.append((total, count))
    found = [total / count for total, count in blocks for _ in range(count)]
    found = [y - i * step for i, y in enumerate(found)]
    found = [min(y, high - i * step) for i, y in enumerate(found)]
    last = len(found) - 1
    return [max(y, low + (last - i) * step) for i, y in enumerate(found)]
