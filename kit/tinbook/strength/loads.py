"""Loads: pressure, feet and heels, boxes on feet, accelerations, pulls at holes and edges.

Forces in N, pressures in MPa, masses in kg. A load that presses, presses on
the panel's up side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Final, Literal, TypeAlias, get_args

import numpy as np
import shapely

from tinbook.calc.loads import foot_cases, foot_patch
from tinbook.errors import BadValue, UnknownName
from tinbook.making.made import Made
from tinbook.space import Frame
from tinbook.strength.carried import Carried
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell import element as el
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.linear import Shell, spread
from tinbook.strength.supports import edge_nodes, holes_named
from tinbook.units import figures
from tinbook.values import dataclass

GRAVITY: Final = 9.80665
WALKER, HEEL = foot_cases()
FOOT: Final = WALKER.value
"""N on 100 x 100 mm (AS 1657, floors and platforms: 1.1 kN at the worst place)."""
PATCH: Final = {case.name: (foot_patch(case), foot_patch(case)) for case in (WALKER, HEEL)}
"""mm by mm under a foot (AS 1657) and a heel (common practice)."""


def _number(field: str, value: float, valid: str = "a finite number") -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise BadValue(field, value, valid)
    return float(value)


def _several(field: str, value: object, count: int, valid: str) -> None:
    if not isinstance(value, (tuple, list, np.ndarray)) or len(value) != count:
        raise BadValue(field, value, valid)


@cache
def _places() -> tuple[Array, Array]:
    """Return the element's functions (256, 4) and their slopes at 16 x 16 places, to carry loads to the corners."""
    ticks = ((np.arange(16) + 0.5) / 8 - 1).tolist()
    both = [el.shape(i, j) for i in ticks for j in ticks]
    return np.array([n for n, _ in both]), np.array([d for _, d in both])


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressure:
    """A uniform pressure on whole panels.

    Parameters
    ----------
    pressure : float
        MPa, positive on the up side.
    panels : tuple of str
        Names; empty for every panel.
    """

    pressure: float
    panels: tuple[str, ...] = ("base",)

    @property
    def title(self) -> str:
        """In words."""
        return f"{self.pressure * 1e6:.4g} Pa on {', '.join(self.panels) or 'every panel'}"

    def at_nodes(self, made: Made, mesh: Mesh, model: Shell) -> Array:
        """Return nodal forces (n, 6), N."""
        p = np.zeros(len(mesh.quads))
        for name in self.panels or mesh.owners:
            p[mesh.of(name)] = -_number("pressure", self.pressure)
        return spread(model, p)


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """A force spread evenly over a rectangle of a panel, square to it.

    Parameters
    ----------
    at : (float, float)
        Middle, in the panel's frame, mm.
    force : float
        N, positive on the up side; negative presses on the other side.
    size : (float, float)
        Length and width, mm.
    panel : str
    name : str
        What presses, for results.
    """

    at: tuple[float, float]
    force: float = FOOT
    size: tuple[float, float] = PATCH["foot"]
    panel: str = "base"
    name: str = "foot"

    def __post_init__(self) -> None:
        _several(f"load '{self.name}' at", self.at, 2, "x and y in mm in the panel's frame")
        _several(f"load '{self.name}' size", self.size, 2, "a length and a width in mm")

    @property
    def title(self) -> str:
        """In words."""
        on = "" if self.panel == "base" else f" of '{self.panel}'"
        (a, b), (x, y) = self.size, self.at
        below = " from below" if self.force < 0 else ""
        return f"{self.name} {figures(abs(self.force), 4)} N{below} on {a:g} x {b:g} mm at ({x:g}, {y:g}){on}"

    def at_nodes(self, made: Made, mesh: Mesh, model: Shell) -> Array:
        """Return nodal forces (n, 6), N; raises BadValue for a place off the part."""
        panel = made.panel(self.panel)
        (x, y), (a, b) = self.at, self.size
        for v in (x, y, a, b, self.force):
            _number(f"load '{self.name}'", v)
        if a <= 0 or b <= 0:
            raise BadValue(f"load '{self.name}' size", self.size, "lengths in mm greater than 0")
        patch = shapely.box(x - a / 2, y - b / 2, x + a / 2, y + b / 2)
        sheet = shapely.Polygon(panel.boundary.chords())
        if patch.difference(sheet).area > 0.01 * patch.area:
            x0, y0, x1, y1 = panel.boundary.box
            raise BadValue(
                f"load '{self.name}' at",
                self.at,
                f"a place where all of its {a:g} x {b:g} mm lie on panel '{panel.name}' "
                f"(x {x0:.4g} to {x1:.4g}, y {y0:.4g} to {y1:.4g} mm)",
            )
        mine = mesh.of(panel.name)
        local = panel.frame.inverse().points(model.points[mesh.quads[mine]])[..., :2]
        low, high = local.min(axis=1), local.max(axis=1)
        near = (low[:, 0] < x + a / 2) & (high[:, 0] > x - a / 2) & (low[:, 1] < y + b / 2) & (high[:, 1] > y - b / 2)
        mine, local = mine[near], local[near]
        n, d = _places()
        where = np.einsum("gi,eik->egk", n, local)
        jac = np.einsum("gri,eik->egrk", d, local)
        area = np.abs(jac[..., 0, 0] * jac[..., 1, 1] - jac[..., 0, 1] * jac[..., 1, 0])
        inside = (np.abs(where[..., 0] - x) < a / 2) & (np.abs(where[..., 1] - y) < b / 2)
        share = np.einsum("eg,gi->ei", area * inside, n)
        total = float(share.sum())
        if patch.within(shapely.MultiPolygon([shapely.Polygon(h.loop.chords()) for h in panel.holes])):
            raise BadValue(f"load '{self.name}' at", self.at, f"a place with metal under it on panel '{panel.name}'")
        if total <= 0:
            raise BadValue(f"load '{self.name}' size", self.size, f"not far smaller than an element ({mesh.size:g} mm)")
        out = np.zeros((len(model.points), 6))
        weight = np.bincount(mesh.quads[mine].ravel(), share.ravel(), len(model.points)) / total
        out[:, :3] = -self.force * weight[:, None] * np.asarray(panel.frame.z)
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceleration:
    """Inertia of the part and of what rides on it.

    Parameters
    ----------
    g : (float, float, float)
        The push that the mass feels, in multiples of gravity, part axes; (0, 0, -1) is its own weight.
    riding : float
        Mass that rides on the panels named, spread evenly, kg (cargo, tank contents).
    panels : tuple of str
        Panels that carry it.
    """

    g: tuple[float, float, float] = (0.0, 0.0, -1.0)
    riding: float = 0.0
    panels: tuple[str, ...] = ("base",)

    def __post_init__(self) -> None:
        _several("acceleration", self.g, 3, "three numbers: times gravity along x, y and z of the part")

    @property
    def title(self) -> str:
        """In words."""
        with_it = f" with {self.riding:g} kg on it" if self.riding else ""
        return "({:g}, {:g}, {:g}) g".format(*self.g) + with_it

    def at_nodes(self, made: Made, mesh: Mesh, model: Shell) -> Array:
        """Return nodal forces (n, 6), N."""
        g = np.array([_number("acceleration", v) for v in self.g]) * GRAVITY
        density = model.density * 1e-9 * model.elements.thickness
        if self.riding:
            if _number("riding mass", self.riding) < 0:
                raise BadValue("riding mass", self.riding, "a mass in kg, at least 0")
            density = density + riding(mesh, model, self.riding, self.panels) / model.elements.area
        size = float(np.linalg.norm(g))
        return spread(model, density * size, [float(v) for v in g / size]) if size else np.zeros((len(model.points), 6))


def riding(mesh: Mesh, model: Shell, mass: float, panels: Sequence[str] = ("base",)) -> Array:
    """Return a mass spread evenly over panels as kg on each element (m,)."""
    on = np.zeros(len(mesh.quads), dtype=bool)
    for name in panels:
        on[mesh.of(name)] = True
    area = np.where(on, model.elements.area, 0.0)
    return np.asarray(mass * area / area.sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """A force at holes or along an edge of a panel.

    At a hole the part of the force that lies in the panel is that of a pin: it bears on the half of the rim that it is
    pulled towards, square to the rim, with a pressure that falls with the cosine of the angle (Bickley 1928). What
    pulls square to the panel, as a screw's head does, is spread evenly over the rim, a force on an edge along it.

    Parameters
    ----------
    newtons : (float, float, float)
        Force in part axes, N, on each hole (or on the whole edge).
    hole, edge : str
        Name or use of the holes, or name of the edge; one of the two.
    panel : str
    """

    newtons: tuple[float, float, float]
    hole: str = ""
    edge: str = ""
    panel: str = "base"

    def __post_init__(self) -> None:
        if bool(self.hole) == bool(self.edge):
            raise BadValue("pull", (self.hole, self.edge), "either a hole or an edge")
        _several("pull", self.newtons, 3, "three numbers: N along x, y and z of the part")

    @property
    def title(self) -> str:
        """In words."""
        at = f"hole '{self.hole}'" if self.hole else f"edge '{self.edge}'"
        return "({:.4g}, {:.4g}, {:.4g}) N at ".format(*self.newtons) + at

    def at_nodes(self, made: Made, mesh: Mesh, model: Shell) -> Array:
        """Return nodal forces (n, 6), N."""
        panel = made.panel(self.panel)
        f = np.array([_number("pull", v) for v in self.newtons])
        out = np.zeros((len(model.points), 6))
        if self.edge:
            nodes = edge_nodes(mesh, panel, self.edge, "pull edge")
            out[nodes, :3] += _tributary(model.points, mesh.free_sides(panel.name, nodes), nodes)[:, None] * f
        else:
            for key in holes_named(mesh, panel.name, self.hole, "pull hole"):
                nodes = mesh.holes[key]
                out[nodes, :3] += _at_rim(model.points[nodes], panel.frame, f)
        return out


def _at_rim(points: Array, frame: Frame, force: Array) -> Array:
    """Return forces (n, 3) of a pin on the nodes of a hole's rim, in part axes."""
    across = np.array((frame.x, frame.y))
    p = (points - points.mean(axis=0)) @ across.T
    order = np.argsort(np.arctan2(p[:, 1], p[:, 0]), kind="stable")
    ahead, behind = np.roll(p[order], -1, axis=0), np.roll(p[order], 1, axis=0)
    chord = np.empty_like(p)
    chord[order] = (ahead - behind) / 2
    # Points out of the hole; its length is the node's share of the rim.
    normal = np.column_stack((chord[:, 1], -chord[:, 0]))
    length = np.linalg.norm(normal, axis=1)
    inside = across @ force
    out = np.outer(length / length.sum(), force - inside @ across)
    size = float(np.linalg.norm(inside))
    if size > 0:
        bearing = normal * np.maximum(normal @ inside / length, 0.0)[:, None]
        # On a rim of few nodes the sum is slightly off; the difference is added where the pin bears.
        total = bearing.sum(axis=0) @ inside / size**2
        bearing /= total
        weight = np.linalg.norm(bearing, axis=1)
        bearing += np.outer(weight / weight.sum(), inside - bearing.sum(axis=0))
        out += bearing @ across
    return out


def _tributary(points: Array, sides: Index, nodes: Index) -> Array:
    """Return each node's share of the length of an edge's sides."""
    length = np.linalg.norm(points[sides[:, 0]] - points[sides[:, 1]], axis=1) / 2
    share = np.bincount(sides.ravel(), np.repeat(length, 2), len(points))[nodes]
    return np.asarray(share / share.sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """Contents of a tank: hydrostatic pressure on the wetted panels, at rest or under an acceleration.

    Parameters
    ----------
    surface : (float, float, float)
        A point of the free surface, part axes, mm. The surface lies square to `g`.
    density : float
        kg/m³; water 1000.
    g : (float, float, float)
        The push that the contents feel, in multiples of gravity, part axes.
    panels : tuple of str
        Names of wet panels; empty for every panel and bend.
    inside : {"up", "down"}
        Which side of the sheet is wet.
    """

    surface: tuple[float, float, float]
    density: float = 1000.0
    g: tuple[float, float, float] = (0.0, 0.0, -1.0)
    panels: tuple[str, ...] = ()
    inside: Literal["up", "down"] = "up"

    def __post_init__(self) -> None:
        if self.inside not in ("up", "down"):
            raise UnknownName("contents inside", self.inside, ("up", "down"))
        if not _number("contents density", self.density) > 0:
            raise BadValue("contents density", self.density, "kg/m³ greater than 0")

    @property
    def title(self) -> str:
        """In words."""
        push = "" if self.g == (0.0, 0.0, -1.0) else " under ({:g}, {:g}, {:g}) g".format(*self.g)
        return f"contents of {self.density:g} kg/m³{push} on {', '.join(self.panels) or 'every panel'}"

    def at_nodes(self, made: Made, mesh: Mesh, model: Shell) -> Array:
        """Return nodal forces (n, 6), N."""
        g = np.array([_number("contents g", v) for v in self.g]) * GRAVITY
        top = np.array([_number("contents surface", v) for v in self.surface])
        wet = np.zeros(len(mesh.quads))
        for name in self.panels or mesh.owners:
            wet[mesh.of(name)] = 1.0
        # MPa from kg/m³, m/s² and mm.
        deep = np.maximum((model.elements.corners.mean(axis=1) - top) @ g, 0.0) * self.density * 1e-9
        if not (deep * wet).any():
            raise BadValue("contents surface", self.surface, "a place above some of the wet panels")
        return spread(model, deep * wet * (-1.0 if self.inside == "up" else 1.0))


Load: TypeAlias = Pressure | Foot | Acceleration | Pull | Contents | Carried


def heel(at: tuple[float, float], force: float = HEEL.value, panel: str = "base") -> Foot:
    """Return a heel: the foot's force on 50 x 50 mm (common practice); stepping in counts 1.5 to 2 times."""
    return Foot(at=at, force=force, size=PATCH["heel"], panel=panel, name="heel")


def strap(tension: float, towards: tuple[float, float, float], hole: str, panel: str = "base") -> Pull:
    """Return the pull of a tight strap at the hole that its end is bolted to.

    Parameters
    ----------
    tension : float
        N, see `calc.straps`.
    towards : (float, float, float)
        Way in which the strap runs off, part axes; any length.
    hole, panel : str
        Where its end is.
    """
    way = np.array([_number("strap towards", v) for v in towards])
    size = float(np.linalg.norm(way))
    if size == 0.0:
        raise BadValue("strap towards", towards, "a direction")
    if _number("strap tension", tension) < 0:
        raise BadValue("strap tension", tension, "N, at least 0: a strap does not push")
    x, y, z = (tension * way / size).tolist()
    return Pull(newtons=(x, y, z), hole=hole, panel=panel)


def nodal(made: Made, mesh: Mesh, model: Shell, loads: Sequence[Load]) -> Array:
    """Return the sum of loads as nodal forces (n, 6), N.

    Raises
    ------
    BadValue
        No load, one off the part, or loads that are nothing at all.
    UnknownName
        A panel, hole or edge that the part does not have.
    """
    if not loads:
        raise BadValue("loads", "none", "at least one load")
    for load in loads:
        if not isinstance(load, Load):
            raise UnknownName("load", type(load).__name__, [kind.__name__ for kind in get_args(Load)])
    force = np.asarray(sum(load.at_nodes(made, mesh, model) for load in loads))
    if not force.any():
        raise BadValue("loads", "; ".join(load.title for load in loads), "at least one that is not nought")
    return force
