"""Requests in words ("clamped: front"): supports and loads by name, turned into a shell analysis.

`strength_choices` lists the supports and loads of a part, `strength_of` runs the analysis.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeVar

import shapely

from tinbook.errors import BadValue, TinbookError, UnknownName, of_kind
from tinbook.fields import Count
from tinbook.making.made import Made, need_made
from tinbook.progress import telling
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.analysis import YIELD_TO, buckling_compared, static
from tinbook.strength.analysis import modes as modes_of
from tinbook.strength.joints.result import joints_under
from tinbook.strength.joints.rules import Joining
from tinbook.strength.load_rules import MASSES, PULLS, own_weight, refuse_seats
from tinbook.strength.meshed import Meshes
from tinbook.strength.report import Strength
from tinbook.strength.shell.solve import NotSolved
from tinbook.strength.validity import validity
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.making.folded import MadePanel
    from tinbook.progress import Progress
    from tinbook.strength.loads import Load
    from tinbook.strength.result import Modes
    from tinbook.strength.supports import Support

HOLES: Final = {f"{use}s": use for use in ("plug weld", "bolt", "tack screw", "nut insert", "rivet")}
"""Support words for holes, and the hole use each stands for."""

EDGES: Final[dict[str, Callable[[str, str], Support]]] = {
    "simply supported": on.simple_edge,
    "pinned": partial(on.simple_edge, in_plane="held"),
    "on a lip": on.lip,
    "welded": on.welded_edge,
    "clamped": on.clamped_edge,
}
"""Words for how an edge is held."""

LOADS: Final = ("foot", "heel", "even pressure", "own weight")
ELEMENTS: Final = 1500
"""Most elements for which the mesh is made as fine as its narrowest panel needs, so that an analysis takes seconds."""
PRESSURE: Final = 1000.0
"""Pa: where "even pressure" starts, about 100 kg on a square metre (own proposal)."""

FREQUENCIES: Final = Count(0, 20)

T = TypeVar("T")
Spot: TypeAlias = tuple[float, float]
Held: TypeAlias = "str | Support | Iterable[str | Support]"
Bears: TypeAlias = "str | Load | Iterable[str | Load]"


class Cancelled(TinbookError, RuntimeError):
    """Raise this from `progress` to end an analysis; no result is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """Supports and loads that a part offers.

    Parameters
    ----------
    panels : tuple of str
        Its panels by name.
    holes : tuple of str
        Words for its holes that can hold it: "plug welds", "bolts" ...
    edges : tuple of str
        Its free edges: "front" of the base, "tunnel.end" of a leg.
    outer : tuple of str
        Those that are held unless others are named.
    hows : tuple of str
        Words for how an edge is held.
    loads : tuple of str
        Words for loads that fit on it.
    held : tuple of str
        What it is held by unless told otherwise.
    places : dict
        For "foot" and "heel": each panel that has room for it, and where it stands there unless told otherwise,
        mm in that panel's frame (x along the edge that it hangs from, y away from it).
    """

    panels: tuple[str, ...]
    holes: tuple[str, ...]
    edges: tuple[str, ...]
    outer: tuple[str, ...]
    hows: tuple[str, ...]
    loads: tuple[str, ...]
    held: tuple[str, ...]
    places: Mapping[str, Mapping[str, Spot]]


def strength_choices(made: Made) -> Choices:
    """Return the supports and loads that a part offers."""
    need_made(made, "strength of a part")
    uses = {h.use for p in made.panels for h in p.holes}
    holes = tuple(words for words, use in HOLES.items() if use in uses)
    edges = tuple(name for p in made.panels for name in _free_edges(p))
    outer = tuple(name for p in made.panels if p.name == "base" for name in _free_edges(p)) or edges
    places = {
        name: {p.name: at for p in made.panels if (at := _place(p, size)) is not None}
        for name, size in ld.PATCH.items()
    }
    loads = tuple(name for name in LOADS if name not in ld.PATCH or places[name])
    held = holes[:1] or (("simply supported",) if outer else ())
    return Choices(
        panels=tuple(p.name for p in made.panels),
        holes=holes,
        edges=edges,
        outer=outer,
        hows=tuple(EDGES),
        loads=loads,
        held=held,
        places=places,
    )


def strength_of(
    made: Made,
    supports: Held | None = None,
    load: Bears | None = None,
    *,
    size: float | None = None,
    frequencies: int = 3,
    buckling: bool = False,
    joining: Joining | None = None,
    large: bool | None = None,
    progress: Progress | None = None,
) -> Strength:
    """Compute deflection, first yield and natural frequencies of a part by shell finite elements.

    Parameters
    ----------
    made : Made
    supports : str, Support or several, optional
        In words: "plug welds", "bolts"; "clamped", "welded", "simply supported", "pinned" or "on a lip" for the
        free edges of the base panel, or for some: "clamped: left, right", "pinned: tunnel.end"; or values of
        `strength.supports`. Left out: the part's plug welds or bolts, else simply supported edges.
    load : str, Load or several, optional
        "foot" (1.1 kN on 100 x 100 mm in the middle of the base), "heel" (on 50 x 50 mm), on another panel or place
        "foot: tunnel", "heel: base at 120, 300" (mm in that panel's frame); "even pressure" (1 kPa), "own weight",
        "own weight x 3"; or values of `strength.loads`. Left out: a foot where the base has room, else the own weight.
    size : float, optional
        Largest side of an element, mm. Left out: a 32nd of the short side of the largest panel, or more where that
        would give over 1500 elements; what the mesh does to the numbers is shown either way.
    frequencies : int, optional
        How many; 0 for none.
    buckling : bool, optional
        Whether to look for buckling by linear theory too.
    joining : Joining, optional
        What its welds, bolts, screws and inserts join it to; each is held against its rule in `joints` of the result.
    large : bool, optional
        True follows large displacements, False is linear theory and gives no number where that is not true. Left out:
        large displacements where the linear answer does not balance the load in its displaced shape.
    progress : callable, optional
        Called with 0 to 1 and a word at each mesh and load step; raise `Cancelled` in it to end the run.

    Returns
    -------
    Strength

    Raises
    ------
    BadValue, UnknownName
        Before the solve: nothing that holds it, a motion left free, a load off the part, too fine a mesh.
    NotSolved
        Nothing at all could be worked out.
    """
    held = supports_of(made, supports)
    loads = loads_of(made, load)
    FREQUENCIES.read(frequencies, "frequencies")
    size = default_size(made) if size is None else size
    if large not in (None, True, False):
        raise BadValue("large", large, "True, False or None")
    of_kind(joining, (Joining, type(None)), "joining", "a strength.Joining")
    meshes = Meshes(made, held, size)
    tell = telling(progress)
    first = 0.65 if frequencies or buckling else 1.0
    refused: list[tuple[str, str]] = []

    def solved(what: str, run: Callable[[], T], refusal: type[TinbookError] = NotSolved) -> T | None:
        try:
            return run()
        except (NotSolved, refusal) as reason:
            refused.append((what, str(reason)))
            return None

    def vibrations() -> Modes:
        laden = [x for x in loads if isinstance(x, ld.Acceleration) and x.riding]
        return modes_of(
            made,
            held,
            count=frequencies,
            meshes=meshes,
            cargo=sum(x.riding for x in laden),
            cargo_on=laden[0].panels if laden else ("base",),
            progress=lambda done, word: tell(first + 0.25 * done, word),
        )

    under = solved(
        "under the load",
        lambda: static(
            made, held, loads, meshes=meshes, large=large, yield_to=YIELD_TO, progress=lambda a, w: tell(first * a, w)
        ),
    )
    swings = solved("first frequency", vibrations) if frequencies else None
    found = solved("buckling", lambda: buckling_compared(meshes, loads, tell), BadValue) if buckling else None
    buckles, error = found or (None, None)
    if under is None and swings is None and buckles is None:
        raise NotSolved("; ".join(f"{what}: {why}" for what, why in refused))
    found_joints = None
    if under is not None and under.trusted:
        title = f"{made.part.number} rev {made.part.rev}"
        found_joints = joints_under(made, under, title, joining or Joining(), loads)
    tell(1.0, "done")
    return Strength(
        part=made.part,
        joints=found_joints,
        under=under,
        modes=swings,
        buckles=buckles,
        buckles_error=error,
        refused=tuple(refused),
        limits=validity(made, held, loads),
        force=loads[0].force if len(loads) == 1 and isinstance(loads[0], ld.Foot) else None,
    )


# -- words ----------------------------------------------------------------------------------------


def supports_of(made: Made, supports: Held | None = None) -> tuple[Support, ...]:
    """Parse supports.

    Edges that may slide in their plane are kept from drifting, where nothing else holds the part that way.

    Raises
    ------
    UnknownName
        Words that are not known, an edge or holes that the part does not have.
    BadValue
        Nothing that holds.
    """
    known = strength_choices(made)
    wanted = known.held if supports is None else several(supports)
    out: list[Support] = []
    for s in wanted:
        out += [s] if isinstance(s, on.Support) else _support(made, known, s)
    if not out:
        raise BadValue("supports", "none", "at least one: a part in the air has no deflection")
    if not any(_holds_in_plane(s) for s in out):
        out.append(on.no_drift(out[0].panel))
    return tuple(out)


def _holds_in_plane(s: Support) -> bool:
    return s.at == "drift" or "along" in s.stops or "across" in s.stops


def _support(made: Made, known: Choices, words: str) -> list[Support]:
    if not isinstance(words, str):
        raise BadValue("supports", words, f"words such as {', '.join((*known.holes, *EDGES))}, or a Support")
    how, colon, which = (part.strip() for part in words.partition(":"))
    if how in HOLES:
        if colon:
            raise BadValue("supports", words, f"{how} without edges: all of them hold")
        panels = [p.name for p in made.panels if any(h.use == HOLES[how] for h in p.holes)]
        if not panels:
            raise UnknownName("supports", how, (*known.holes, *EDGES))
        make = on.plug_welds if how == "plug welds" else on.bolts
        return [make(HOLES[how], p) for p in panels]
    if how not in EDGES:
        raise UnknownName("supports", how, (*known.holes, *EDGES))
    edges = [e.strip() for e in which.split(",")] if colon else list(known.outer)
    return [edge_support(made, how, e) for e in edges]


def edge_support(made: Made, how: str, edge: str) -> Support:
    """Return the support of one edge: how in words, the edge as `strength_choices` names it."""
    for panel in made.panels:
        # Looked up, not split: an edge's own name may contain a dot.
        if edge in _free_edges(panel):
            return EDGES[how](edge if panel.name == "base" else edge[len(panel.name) + 1 :], panel.name)
    raise UnknownName("supports: edge", edge, strength_choices(made).edges)


def loads_of(made: Made, load: Bears | None = None) -> tuple[Load, ...]:
    """Parse loads.

    Raises
    ------
    UnknownName, BadValue
        Words that are not known; a foot where there is no room for one.
    """
    known = strength_choices(made)
    wanted = ("foot" if "base" in known.places["foot"] else "own weight",) if load is None else several(load)
    if not wanted:
        raise BadValue("load", "none", f"at least one: {', '.join(known.loads)}")
    return tuple(_load(known, x) if isinstance(x, str) else x for x in wanted)


def _load(known: Choices, words: str) -> Load:
    refuse_seats(words)
    g = own_weight(words)
    if g is not None:
        return ld.Acceleration(g=(0.0, 0.0, -g))
    name, colon, where = (part.strip() for part in words.partition(":"))
    if name.startswith((*MASSES, *PULLS)):
        raise BadValue("load", words, "one load at a time: a rule has several cases, see tb.strength.under_rule")
    if name not in LOADS or (colon and name not in ld.PATCH):
        raise UnknownName("load", words, (*known.loads, "own weight x 3", "foot: PANEL", "foot: PANEL at X, Y"))
    if name == "even pressure":
        return ld.Pressure(pressure=PRESSURE * 1e-6)
    panel, at = _stands(known, name, where if colon else "base", words)
    return ld.Foot(at=at, panel=panel) if name == "foot" else ld.heel(at, panel=panel)


def _stands(known: Choices, name: str, where: str, words: str) -> tuple[str, Spot]:
    """Return the panel and the place that "PANEL" or "PANEL at X, Y" stands for."""
    places = known.places[name]
    if where in places:
        return where, places[where]
    panel, at, spot = (part.strip() for part in where.rpartition(" at "))
    panel = panel if at else where
    if panel not in known.panels:
        raise UnknownName(f"load '{words}': panel", panel, known.panels)
    if not at:
        wide, high = ld.PATCH[name]
        others = f"it stands on: {', '.join(places)}" if places else f"this one takes: {', '.join(known.loads)}"
        raise BadValue("load", words, f"a panel with room for {wide:g} x {high:g} mm; '{panel}' has none; {others}")
    try:
        x, y = (float(v) for v in spot.split(","))
    except ValueError:
        raise BadValue(
            "load", words, f'x and y in mm in the frame of the panel, as in "{name}: {panel} at 120, 40"'
        ) from None
    return panel, (x, y)


def several(value: Any) -> tuple[Any, ...]:
    """Return what a user gave one or several of, as a tuple."""
    return (value,) if isinstance(value, str) or not isinstance(value, Iterable) else tuple(value)


# -- what the part has ----------------------------------------------------------------------------


def _free_edges(panel: MadePanel) -> list[str]:
    names = dict.fromkeys(e.name for e in panel.boundary.edges if e.name not in ("", "relief"))
    prefix = "" if panel.name == "base" else f"{panel.name}."
    # A hole through a fold or an edge is part of the outline and cannot be a support.
    return [prefix + n for n in names if not n.startswith(("fold:", "hole:"))]


def default_size(made: Made) -> float | None:
    """Return the largest side of an element unless one is asked for, mm; see `strength_of`."""
    if not made.panels:
        return None
    boxes = [p.boundary.box for p in made.panels]
    fine = max(min(b[2] - b[0], b[3] - b[1]) for b in boxes) / 32
    area = sum(p.boundary.area for p in made.panels) + sum(s.area for s in made.strips)
    return max(fine, math.sqrt(area / ELEMENTS))


def _place(panel: MadePanel, size: tuple[float, float]) -> Spot | None:
    """Return the middle of a panel, or another place on it with room for a rectangle; None without one."""
    sheet = shapely.Polygon(panel.boundary.chords())
    x0, y0, x1, y1 = sheet.bounds
    roomy = sheet.buffer(-math.hypot(*size) / 2)
    tries = [((x0 + x1) / 2, (y0 + y1) / 2), (sheet.centroid.x, sheet.centroid.y)]
    if not roomy.is_empty:
        spot = roomy.representative_point()
        tries.append((spot.x, spot.y))
    a, b = size
    for x, y in tries:
        patch = shapely.box(x - a / 2, y - b / 2, x + a / 2, y + b / 2)
        if patch.difference(sheet).area <= 0.001 * patch.area:
            return (round(x, 1), round(y, 1))
    return None
