"""Joints of a part that is held by them: the reaction of every weld, bolt, insert, screw and welded edge by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.space import Vec, negative, vec
from tinbook.strength.carried import Carried
from tinbook.strength.joints.load import AT_HOLE, JointLoad, Kind, sheet_at
from tinbook.strength.joints.rules import Joining
from tinbook.strength.loads import Load, Pull
from tinbook.strength.result import Static
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.supports import MOTIONS, Support, holes_named
from tinbook.values import dataclass

STRETCH: Final = 30.0
"""mm: shortest length of a weld that counts (EN 1993-1-8 4.5.1), or six throats; a seam is judged on its worst stretch of it."""


def joints_held(made: Made, under: Static, how: Joining) -> tuple[JointLoad, ...]:
    """Return the load on every joint that holds a part.

    Parameters
    ----------
    made : Made
    under : Static
        Its answer under a load.
    how : Joining
        On which side of the sheet the other part lies, and the throat of seams.

    Returns
    -------
    tuple of JointLoad
        In part axes; none for supports that are no joints (clamps, lips, simple edges).
    """
    found: list[JointLoad] = []
    for s in under.held:
        panel = made.panel(s.panel)
        if s.at == "hole":
            found += _at_holes(made, under, s, panel, how)
        elif s.at == "edge" and "welded" in s.title and s.stops == MOTIONS:
            found.append(_along_edge(made, under, s, panel, how))
    return tuple(found)


def _rim(points: Array) -> tuple[Array, float]:
    """Return centre and diameter of a hole from nodes on its rim, which need not lie evenly round it, mm."""
    mean = points.mean(axis=0)
    off = points - mean
    square = (off * off).sum(axis=1)
    # |p - c| is the same for all: linear in c. The shortest solution lies in the plane of the rim.
    centre = mean + np.linalg.lstsq(2.0 * off, square - square.mean(), rcond=1e-6)[0]
    return centre, 2 * float(np.linalg.norm(points - centre, axis=1).mean())


def _at_holes(made: Made, under: Static, s: Support, panel: MadePanel, how: Joining) -> list[JointLoad]:
    m = under.mesh
    keys = holes_named(m, panel.name, str(s.where), f"support '{s.title}'")
    middles = {k: _rim(m.points[m.holes[k]])[0] for k in keys}
    bores = {f"{panel.name}/{h.name}": h for h in panel.holes}
    sums = {k: _sums(m.points, under.reaction, m.holes[k], middle) for k, middle in middles.items()}
    out = []
    for key, middle in middles.items():
        others = [(vec(p), sums[k][0]) for k, p in middles.items() if k != key]
        bore = bores.get(key.rstrip("'"))
        dia = (bore.dia if bore is not None else None) or _rim(m.points[m.holes[key]])[1]
        plain: Kind = "plug weld" if s.stops == MOTIONS else "bolt"
        kind = AT_HOLE.get(m.uses[key]) or ("blind rivet" if how.rivets else plain)
        force, moment = sums[key]
        x, y, _ = panel.frame.local(vec(middle))
        sheet = sheet_at(made, panel, (x, y), force, dia, others)
        name = key.split("/", 1)[1].rstrip("'")
        out.append(
            JointLoad(
                name=name if panel.name == "base" else f"{name} of {panel.name}",
                kind=kind,
                at=vec(middle),
                axis=negative(panel.frame.z) if how.side == "down" else panel.frame.z,
                force=force,
                moment=moment,
                first=sheet,
                nodes=tuple(m.holes[key].tolist()),
            )
        )
    return out


def pins_pulled(made: Made, under: Static, loads: Sequence[Load]) -> tuple[JointLoad, ...]:
    """Return the load on every hole that a pin pulls at: plain holes (no bolt, no weld) that a load stands in."""
    m, out = under.mesh, []
    for load in loads:
        if not isinstance(load, Pull | Carried):
            continue
        where = load.hole if isinstance(load, Pull) else load.holes
        if not where:
            continue
        panel = made.panel(load.panel)
        keys = [k for k in holes_named(m, panel.name, where, "pin") if m.uses[k] == "cut-out"]
        # A load that hangs on several holes brings a moment as well: no pin.
        if isinstance(load, Carried) and len(keys) > 1:
            continue
        for key in keys:
            middle, dia = _rim(m.points[m.holes[key]])
            name = key.split("/", 1)[1].rstrip("'")
            x, y, _ = panel.frame.local(vec(middle))
            out.append(
                JointLoad(
                    name=f"pin in {name}" if panel.name == "base" else f"pin in {name} of {panel.name}",
                    kind="pin",
                    at=vec(middle),
                    axis=panel.frame.z,
                    force=load.newtons,
                    moment=(0.0, 0.0, 0.0),
                    first=sheet_at(made, panel, (x, y), load.newtons, dia),
                    nodes=tuple(m.holes[key].tolist()),
                )
            )
    return tuple(out)


def _sums(points: Array, reaction: Array, nodes: Index, about: Array) -> tuple[Vec, Vec]:
    force = reaction[nodes]
    arm = points[nodes] - about
    turn = force[:, 3:] + np.cross(arm, force[:, :3])
    return vec(force[:, :3].sum(axis=0)), vec(turn.sum(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Nodes in order along a seam, with what reaches each of them.

    Parameters
    ----------
    points : array (n, 3)
        mm.
    force, moment : array (n, 3)
        On the first sheet, N and N mm about the node itself.
    nodes : array (n,)
    """

    points: Array
    force: Array
    moment: Array
    nodes: Index

    @property
    def stations(self) -> Array:
        """Where each node lies along the seam, mm."""
        return np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(self.points, axis=0), axis=1))))

    def worst(self, length: float) -> tuple[Vec, Vec, Vec, float, tuple[int, ...]]:
        """Return middle, force and moment of the worst stretch of a length, how long it is, and its nodes.

        A node's force counts for the half of the seam's pieces on its two sides that lies in the stretch.
        """
        s = self.stations
        total = float(s[-1])
        take = min(length, total)
        ends = np.concatenate(([0.0], (s[1:] + s[:-1]) / 2, [total]))
        share = np.maximum(np.diff(ends), 1e-12)
        best: tuple[float, Array] = (-1.0, np.ones(len(s)))
        for start in np.unique(np.concatenate((np.clip(ends[:-1], 0.0, total - take), [total - take]))):
            inside = np.minimum(ends[1:], start + take) - np.maximum(ends[:-1], start)
            weight = np.clip(inside, 0.0, None) / share
            size = float(np.linalg.norm(weight @ self.force))
            if size > best[0]:
                best = size, weight
        weight = best[1]
        middle = (weight * share) @ self.points / float((weight * share).sum())
        turn = self.moment + np.cross(self.points - middle, self.force)
        used = tuple(self.nodes[weight > 0].tolist())
        return vec(middle), vec(weight @ self.force), vec(weight @ turn), take, used


def _along_edge(made: Made, under: Static, s: Support, panel: MadePanel, how: Joining) -> JointLoad:
    m = under.mesh
    nodes = m.edges[f"{panel.name}/{s.where}"]
    places = m.points[nodes]
    far = places[int(np.argmax(np.linalg.norm(places - places.mean(axis=0), axis=1)))]
    order = np.argsort(np.linalg.norm(places - far, axis=1), kind="stable")
    nodes, places = nodes[order], places[order]
    shared = _edges_at(under.held, m, nodes)
    reaction = under.reaction[nodes] / shared[:, None]
    line = Line(places, reaction[:, :3], reaction[:, 3:], nodes)
    middle, force, moment, length, used = line.worst(max(STRETCH, 6 * (how.throat or 0.7 * made.thickness)))
    x, y, _ = panel.frame.local(middle)
    way = places[-1] - places[0]
    along = vec(way / max(float(np.linalg.norm(way)), 1e-12))
    box = m.points[np.unique(m.quads[m.of(panel.name)])]
    width = float(np.ptp(box @ np.cross(np.asarray(panel.frame.z), along)))
    name = f"seam '{s.where}'" if panel.name == "base" else f"seam '{s.where}' of {panel.name}"
    return JointLoad(
        name=name,
        kind="seam",
        at=middle,
        axis=negative(panel.frame.z) if how.side == "down" else panel.frame.z,
        force=force,
        moment=moment,
        first=sheet_at(made, panel, (x, y), force),
        length=length,
        along=along,
        total=float(line.stations[-1]),
        width=width,
        nodes=used,
    )


def _edges_at(held: Sequence[Support], mesh: Any, nodes: Index) -> Array:
    """Return how many held edges meet at each node: each takes its share of what acts there."""
    count = np.zeros(len(mesh.points))
    for s in held:
        if s.at == "edge":
            count[mesh.edges[f"{s.panel}/{s.where}"]] += 1
    return np.maximum(count[nodes], 1.0)
