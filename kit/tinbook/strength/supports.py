"""How a part is held: plug welds, welded and bolted edges, simple edges, a lip underneath, symmetry.

Each function names its support in the trade's words; the words travel with
the result, since no number stands without its support.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import shapely

from tinbook import units
from tinbook.errors import BadValue, UnknownName
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.strength.mesh import lines
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell.element import Array, Index
from tinbook.values import dataclass

At: TypeAlias = Literal["edge", "hole", "point", "drift"]
IN_A_HOLE: Final = 0.5
"""How far from the rim a point in a hole is no longer taken for one on the rim, mm."""
MOTIONS: Final = ("along", "across", "normal", "turn along", "turn across", "turn normal")
"""Directions of a support in the panel: along the edge, across it in the sheet, square to the sheet; turns about them.
At holes and points along and across are the panel's x and y."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """One support.

    Parameters
    ----------
    title : str
        In words, for results.
    at : {"edge", "hole", "point", "drift"}
        What is held.
    where : str or (float, float)
        Name of the edge, name or use of the holes, or a point in the panel's frame, mm.
    panel : str
        Panel that has it.
    stops : tuple of str
        Which of `MOTIONS` it stops.
    one_sided : {"", "down", "up"}
        Stops only motion towards this side of the sheet; may lift off.
    reach : float
        For edges: what lies up to this far from the edge, mm. The mesh follows the line where that ends.
    """

    title: str
    at: At
    where: str | tuple[float, float]
    panel: str = "base"
    stops: tuple[str, ...] = MOTIONS
    one_sided: Literal["", "down", "up"] = ""
    reach: float = 0.0

    def __post_init__(self) -> None:
        for s in self.stops:
            if s not in MOTIONS:
                raise UnknownName(f"support '{self.title}' stops", s, MOTIONS)
        if not self.stops:
            raise BadValue(f"support '{self.title}' stops", self.stops, "at least one of: " + ", ".join(MOTIONS))


def _edge(edge: str, panel: str, how: str) -> str:
    return f"edge '{edge}' {how}" if panel == "base" else f"edge '{edge}' of '{panel}' {how}"


def plug_welds(where: str = "plug weld", panel: str = "base") -> Support:
    """Return plug welds to something stiff: the rim of each hole of that name or use cannot move or turn."""
    return Support(title=f"plug welds '{where}'", at="hole", where=where, panel=panel)


def bolts(where: str = "bolt", panel: str = "base") -> Support:
    """Return bolts to something stiff: the rims of holes of that name or use cannot move."""
    return Support(title=f"bolts '{where}'", at="hole", where=where, panel=panel, stops=MOTIONS[:3])


def welded_edge(edge: str, panel: str = "base") -> Support:
    """Return an edge welded to something stiff all along: no motion, no turn."""
    return Support(title=_edge(edge, panel, "welded"), at="edge", where=edge, panel=panel)


def clamped_edge(edge: str, panel: str = "base") -> Support:
    """Return an edge clamped between stiff bars: no motion, no turn."""
    return Support(title=_edge(edge, panel, "clamped"), at="edge", where=edge, panel=panel)


def simple_edge(edge: str, panel: str = "base", *, in_plane: Literal["free", "held"] = "free") -> Support:
    """Return an edge that rests both ways square to the sheet and may turn about itself.

    Parameters
    ----------
    edge, panel : str
        Which edge.
    in_plane : {"free", "held"}, optional
        Whether it may slide in the plane of the sheet; held, thin sheet under a
        large load becomes a membrane and is far stiffer.
    """
    if in_plane not in ("free", "held"):
        raise UnknownName("simple_edge in_plane", in_plane, ("free", "held"))
    stops = ("normal",) + (("along", "across") if in_plane == "held" else ())
    how = "pinned" if in_plane == "held" else "simply supported"
    return Support(title=_edge(edge, panel, how), at="edge", where=edge, panel=panel, stops=stops)


def lip(edge: str, panel: str = "base", *, side: Literal["down", "up"] = "down", width: float = 0.0) -> Support:
    """Return a lip that the edge lies on: it stops motion towards it, and lets the sheet lift off.

    Parameters
    ----------
    edge, panel : str
        Which edge.
    side : {"down", "up"}, optional
        On which side of the sheet the lip is.
    width : float, optional
        How far it reaches in from the edge, mm. Under load the sheet bears along the lip's inner line and lifts
        behind it; frequencies are of small swings about where it rests under its own weight.
    """
    if isinstance(width, bool) or not isinstance(width, (int, float)) or not 0 <= width < math.inf:
        raise BadValue("lip width", width, "mm, at least 0")
    return Support(
        title=_edge(edge, panel, "on a lip"),
        at="edge",
        where=edge,
        panel=panel,
        stops=("normal",),
        one_sided=side,
        reach=float(width),
    )


def symmetry(edge: str, panel: str = "base") -> Support:
    """Return the other half of a symmetric part: the edge lies in the plane of symmetry."""
    stops = ("across", "turn along", "turn normal")
    return Support(title=f"symmetry at edge '{edge}'", at="edge", where=edge, panel=panel, stops=stops)


def point(at: Sequence[float], panel: str = "base", *, stops: Sequence[str] = ("normal",)) -> Support:
    """Return a support at the node nearest to a point of the panel."""
    x, y = units.point(at, "support at a point")
    return Support(title=f"point ({x:g}, {y:g})", at="point", where=(x, y), panel=panel, stops=tuple(stops))


def no_drift(panel: str = "base") -> Support:
    """Return three constraints that keep a panel from sliding in its own plane without holding its edges.

    They take no force unless the load has one in the plane.
    """
    return Support(title="kept from sliding in its plane", at="drift", where="", panel=panel, stops=("along",))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stops:
    """Supports as constraints on the nodes of a mesh.

    Parameters
    ----------
    at : array (k,)
        Nodes.
    rows : array (k, 6)
        Directions that they cannot move in.
    support : array (k,)
        Place of the support that does it.
    one_sided : array (k,) of bool
        Whether the stop only acts along +row (it pushes the node along its row, never pulls).
    firm : array (k,) of bool
        Stops that hold before anything is known of contact: all but those on a lip behind its inner line.
    """

    at: Index
    rows: Array
    support: Index
    one_sided: npt.NDArray[np.bool_]
    firm: npt.NDArray[np.bool_]


def lips(supports: Sequence[Support]) -> dict[str, list[tuple[str, float]]]:
    """Return for each panel its edges with a lip of some width, and that width, mm: what a mesh must follow."""
    out: dict[str, list[tuple[str, float]]] = {}
    for s in supports:
        if s.at == "edge" and s.reach > 0:
            out.setdefault(s.panel, []).append((str(s.where), s.reach))
    return out


def on_mesh(made: Made, mesh: Mesh, supports: Sequence[Support]) -> Stops:
    """Apply supports to a mesh.

    Raises
    ------
    UnknownName
        A panel, edge or hole that the part does not have; lists those it has.
    BadValue
        No support at all, or a point off the part.
    """
    if not supports:
        raise BadValue("supports", "none", "at least one: a part in the air has no deflection")
    found = []
    wide = lips(supports)
    for k, s in enumerate(supports):
        panel = made.panel(s.panel)
        nodes, frames = _nodes(panel, mesh, s)
        bears = _bears(panel, mesh, nodes, wide[s.panel]) if s.one_sided and s.reach > 0 else np.ones(len(nodes), bool)
        rows = np.zeros((len(nodes), len(s.stops), 2, 3))
        for j, m in enumerate(map(MOTIONS.index, s.stops)):
            rows[:, j, m // 3] = -frames[:, m % 3] if s.one_sided == "up" else frames[:, m % 3]
        n = len(s.stops)
        single = np.full(n * len(nodes), bool(s.one_sided))
        found.append((np.repeat(nodes, n), rows.reshape(-1, 6), np.full(len(single), k), single, np.repeat(bears, n)))
    at, rows, support, one_sided, firm = (np.concatenate(x) for x in zip(*found, strict=True))
    return Stops(at=at, rows=rows, support=support, one_sided=one_sided, firm=firm)


def holes_named(mesh: Mesh, panel: str, where: str, field: str) -> list[str]:
    """Return the keys of a panel's holes with that name or that use, or else of those numbered after that name.

    Both together: the first of several plug welds is called just "plug weld", and must not stand for all.
    """
    mine = {k: u for k, u in mesh.uses.items() if k.startswith(f"{panel}/")}
    names = {k: k[len(panel) + 1 :].rstrip("'") for k in mine}
    found = [k for k, n in names.items() if n == where or mine[k] == where] or [
        k for k, n in names.items() if n.rsplit(" ", 1)[0] == where
    ]
    if not found:
        raise UnknownName(field, where, sorted(set(names.values()) | set(mine.values())))
    return found


def edge_nodes(mesh: Mesh, panel: MadePanel, where: str, field: str) -> Index:
    """Return the nodes on an edge of a panel."""
    key = f"{panel.name}/{where}"
    if key not in mesh.edges:
        raise UnknownName(
            field, where, sorted(k.split("/", 1)[1] for k in mesh.edges if k.startswith(f"{panel.name}/"))
        )
    return mesh.edges[key]


def _nodes(panel: MadePanel, mesh: Mesh, s: Support) -> tuple[Index, Array]:
    """Return the nodes of a support and for each the rows along, across, normal."""
    own = panel.frame.axes
    field = f"support '{s.title}'"
    mine = np.unique(mesh.quads[mesh.of(panel.name)])
    local = panel.frame.inverse().points(mesh.points[mine])[:, :2]
    if s.at == "hole":
        nodes = np.concatenate([mesh.holes[k] for k in holes_named(mesh, panel.name, str(s.where), field)])
        return nodes, np.tile(own, (len(nodes), 1, 1))
    if s.at == "point":
        assert not isinstance(s.where, str)
        away = np.linalg.norm(local - np.asarray(s.where), axis=1)
        # A comparison with a value that is not finite is false.
        if not away.min() <= mesh.size:
            raise BadValue(field, s.where, f"a point on panel '{panel.name}', {_extent(local)}")
        for hole in panel.holes:
            inside = shapely.Polygon(hole.loop.chords()).buffer(-IN_A_HOLE)
            if shapely.contains_xy(inside, *s.where):
                raise BadValue(field, s.where, f"a point on metal: this one is in '{hole.name}', whose rim can hold")
        nodes = mine[[int(np.argmin(away))]]
        return nodes, own[None]
    if s.at == "drift":
        a = int(np.argmin(np.linalg.norm(local - local.mean(axis=0), axis=1)))
        b = int(np.argmax(np.linalg.norm(local - local[a], axis=1)))
        along = local[b] - local[a]
        along = along / np.linalg.norm(along)
        one = along @ own[:2]
        two = np.cross(own[2], one)
        frames = np.array([[one, two, own[2]], [two, one, own[2]], [two, one, own[2]]])
        return mine[[a, a, b]], frames
    nodes = edge_nodes(mesh, panel, str(s.where), field)
    frames = _along_edge(mesh, nodes, panel)
    if s.reach > 0:
        away = shapely.distance(lines.polyline(panel, str(s.where)), shapely.points(local))
        # Sides of elements on a curved inner line are chords that stray from it.
        close = np.union1d(mine[away <= s.reach + min(0.1 * mesh.size, 0.3 * s.reach)], nodes)
        if len(close) == len(mine):
            raise BadValue(f"{field} width", s.reach, f"mm, less than all of panel '{panel.name}', {_extent(local)}")
        nearest = np.argmin(np.linalg.norm(mesh.points[close][:, None] - mesh.points[nodes][None], axis=2), axis=1)
        return close, frames[nearest]
    return nodes, frames


def _bears(panel: MadePanel, mesh: Mesh, nodes: Index, wide: Sequence[tuple[str, float]]) -> Array:
    """Return which nodes on a lip lie on the line where it ends, or on the edge where a mesh is too coarse for that."""
    local = panel.frame.inverse().points(mesh.points[nodes])[:, :2]
    inside = [(shapely.distance(lines.polyline(panel, e), shapely.points(local)), reach) for e, reach in wide]
    on = np.zeros(len(nodes), dtype=bool)
    deep = np.zeros(len(nodes), dtype=bool)
    for away, reach in inside:
        slack = min(0.1 * mesh.size, 0.3 * reach)
        on |= np.abs(away - reach) <= slack
        deep |= away < reach - slack
    # Where lips meet, the end of one lies on the other.
    on &= ~deep
    return on if on.any() else np.ones(len(nodes), dtype=bool)


def _along_edge(mesh: Mesh, nodes: Index, panel: MadePanel) -> Array:
    """Return rows along, across, normal for nodes on an edge, from the sides of the elements that lie on it."""
    a, b = mesh.free_sides(panel.name, nodes).T
    step = mesh.points[b] - mesh.points[a]
    step /= np.linalg.norm(step, axis=1, keepdims=True)
    tangent = np.zeros((len(mesh.points), 3))
    # The sides run round the outline the same way, so directions add.
    np.add.at(tangent, a, step)
    np.add.at(tangent, b, step)
    t = tangent[nodes]
    size = np.linalg.norm(t, axis=1, keepdims=True)
    f = panel.frame
    t = np.where(size > 1e-9, t / np.maximum(size, 1e-12), np.asarray(f.x))
    z = np.broadcast_to(np.asarray(f.z), t.shape)
    return np.stack((t, np.cross(z, t), z), axis=1)


def _extent(local: Array) -> str:
    (x0, y0), (x1, y1) = local.min(axis=0), local.max(axis=0)
    return f"x {x0:.4g} to {x1:.4g}, y {y0:.4g} to {y1:.4g} mm"
