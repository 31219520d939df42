"""Mesh of a made part: panels, beads and bend strips, folded up by the part's own frames.

Everything lies on the mid-surface. Panels meet strips node on node, because
both take their points from the same division of the fold's edge.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from itertools import pairwise
from typing import Any, Final

import numpy as np
from scipy.spatial import cKDTree

from tinbook.errors import BadValue, CannotMake
from tinbook.making.folded import BendZone, Folded, MadePanel
from tinbook.making.made import Made
from tinbook.plane.loops import Edge, Loop
from tinbook.strength.mesh import lines
from tinbook.strength.mesh.forms import Patch, patch
from tinbook.strength.mesh.planar import GRADE, Ring, divide, hole_ring, region, ring
from tinbook.strength.mesh.quads import Mesh, require_one_piece, require_webs
from tinbook.strength.mesh.strips import Seam, strip_mesh
from tinbook.strength.shell.element import Array, Index, corner_sines
from tinbook.strength.shell.solve import NotSolved
from tinbook.strength.shell.stress import TIGHTEST
from tinbook.units import positive
from tinbook.values import dataclass

BYTES_PER_UNKNOWN: Final = 11000
"""Memory of a solve with frequencies for each unknown: 9.3 to 10.2 kB measured at 12 000 to 120 000 unknowns."""

FINE_RIM: Final = math.radians(30.5)
COARSE_RIM: Final = math.radians(61)
"""Angle of a hole's rim covered by two elements. At the rim of a plug weld of 8 mm the fine one reads the stress
within 3 %, the coarse one up to 31 % too low; deflection does not care."""

MANY_HOLES: Final = 40
"""Holes above which all rims are coarse: a hole costs 110 nodes, or 55."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fine:
    """Where a mesh must be finer.

    Parameters
    ----------
    points : array (k, 3)
        On the mid-surface, part axes, mm.
    sizes : array (k,)
        Side of an element wanted there, mm.
    forms : frozenset of (str, int)
        Panel and place of forms whose profile is divided twice as finely.
    """

    points: Array
    sizes: Array
    forms: frozenset[tuple[str, int]] = frozenset()


@dataclass(slots=True, eq=False)
class _Panel:
    """A panel being meshed, with the element size wanted at each of its points."""

    panel: MadePanel
    tree: cKDTree | None
    spacing: Array
    fine: tuple[Array, Array] | None = None

    def wanted(self, xy: Array, size: float) -> Array:
        """Return the spacing wanted at points: fine near holes and bead ends."""
        if self.tree is None:
            return np.full(len(xy), size)
        d, i = self.tree.query(xy, k=min(8, len(self.spacing)))
        d, i = d.reshape(len(xy), -1), i.reshape(len(xy), -1)
        return np.asarray(np.minimum((self.spacing[i] + GRADE * d).min(axis=1), size))


def mesh(
    made: Made,
    size: float | None = None,
    *,
    finer_beads: float = 1.0,
    memory: float | None = None,
    lips: Mapping[str, Sequence[tuple[str, float]]] | None = None,
    fine_rims: bool = True,
    fine: Fine | None = None,
) -> Mesh:
    """Mesh a made part.

    Parameters
    ----------
    made : Made
        The part, without stop findings.
    size : float or None, optional
        Largest side of an element, mm; None takes a 32nd of the shorter side of the largest panel.
    finer_beads : float, optional
        Divides the turn of a bead's profile over one element.
    memory : float or None, optional
        Bytes that a solve may take; None asks the machine.
    lips : dict, optional
        For panels by name: edges and how far a lip reaches in from them, mm. Elements follow the lip's inner line.
    fine_rims : bool, optional
        Whether the rims of few holes are divided finely, as stress there wants it; deflections do not care.
    fine : Fine, optional
        Where elements must be smaller still.

    Returns
    -------
    Mesh

    Raises
    ------
    CannotMake
        The part has stop findings.
    BadValue
        A size that is not positive, or so fine that the solve would not fit in memory; holes or cuts that leave
        next to no metal, on which a region would hang by single nodes.
    """
    if not made.ok:
        why = next((f"{f.where}, {f.what}" for f in made.findings if f.severity == "stop"), "see its findings")
        raise CannotMake(f"a part that cannot be made has no mesh: {why}")
    boxes = [p.boundary.box for p in made.panels]
    if size is None:
        size = max(min(b[2] - b[0], b[3] - b[1]) for b in boxes) / 32
    size = positive(size, "mesh size")
    require_webs(made)
    _fits(made, size, memory)
    out = _Builder(made.folded, size, finer_beads, fine_rims, fine)
    for name, of in (lips or {}).items():
        wide = [(edge, reach) for edge, reach in of if reach > lines.FINEST * out.size]
        out.lines[name] = lines.inner(made.panel(name), wide)
    return out.build()


def _fits(made: Made, size: float, memory: float | None) -> None:
    area = sum(p.boundary.area for p in made.panels)
    holes = sum(len(p.holes) for p in made.panels)
    around: float = holes * (110 if holes <= MANY_HOLES else 55)
    # A form has about twenty nodes across; a bead ends in two fans.
    for footprint in (f.footprint for p in made.panels for f in p.forms):
        if footprint is not None:
            around += 20 * (10 + sum(e.length for e in footprint.edges) / 2 / max(size, 1e-3))
    unknowns = 6 * (area / size**2 + around)
    if memory is None:
        try:
            # Free pages omit caches that the system would release; assume at least a quarter of all memory.
            pages = max(os.sysconf("SC_AVPHYS_PAGES"), os.sysconf("SC_PHYS_PAGES") / 4)
            memory = 0.8 * pages * os.sysconf("SC_PAGE_SIZE")
        except (AttributeError, ValueError, OSError):
            memory = 4e9
    if unknowns * BYTES_PER_UNKNOWN > memory:
        least = size * math.sqrt(unknowns * BYTES_PER_UNKNOWN / memory)
        raise BadValue(
            "mesh size", size, f"at least {least:.2g} mm: {unknowns:.3g} unknowns do not fit in {memory / 1e9:.2g} GB"
        )


class _Builder:
    def __init__(
        self, folded: Folded, size: float, finer_beads: float, fine_rims: bool, fine: Fine | None = None
    ) -> None:
        self.fine = fine
        self.folded, self.size, self.finer, self.fine_rims = folded, size, finer_beads, fine_rims
        self.t = folded.thickness
        self.parts: list[tuple[Array, Array, Index, Index, Array]] = []
        self.owners: list[str] = []
        self.edges: dict[str, list[Index]] = {}
        self.holes: dict[str, Index] = {}
        self.uses: dict[str, str] = {}
        self.count = 0
        self.notes: list[str] = []
        self.lines: dict[str, Any] = {}

    def build(self) -> Mesh:
        panels = {p.name: self._sized(p) for p in self.folded.panels}
        patches = {p.name: self._patches(panels[p.name]) for p in self.folded.panels}
        count = sum(len(p.holes) for p in self.folded.panels)
        if count > MANY_HOLES:
            self.notes.append(f"the rims of {count} holes are divided coarsely: stress there may read a third too low")
        turn = FINE_RIM if self.fine_rims and count <= MANY_HOLES else COARSE_RIM
        holes = {
            p.name: [hole_ring(h.loop, 2 * self.size, turn, self._wanted(panels[p.name])) for h in p.holes]
            for p in self.folded.panels
        }
        for p in self.folded.panels:
            inner = [b.ring for b, _ in patches[p.name]] + holes[p.name]
            panels[p.name] = self._sized(p, inner)
        seams = self._seams(panels)
        for p in self.folded.panels:
            self._panel(panels[p.name], patches[p.name], holes[p.name], seams)
        for s in self.folded.zones:
            self._strip(s, seams)
        tight = [f"'{s.name}'" for s in self.folded.zones if self.t / 2 > TIGHTEST * (s.radius + self.t / 2)]
        if tight:
            said = "bent tighter than a fifth of the thickness: stress on the inside may read low"
            self.notes.append(f"{', '.join(tight)} {said}")
        return self._merged()

    def _sized(self, p: MadePanel, inner: Sequence[Ring] = ()) -> _Panel:
        """Return a panel with the spacing wanted at its holes and forms, and where the mesh must be finer."""
        points, spacing = [r.points for r in inner], [r.spacing for r in inner]
        fine = None
        if self.fine is not None:
            local = p.frame.inverse().points(self.fine.points)
            # Forms rise out of their panel; what lies beside it in another panel wants the same at the seam.
            near = np.abs(local[:, 2] - self.t / 2) < 2 * self.size
            fine = local[near, :2], 2 * self.fine.sizes[near]
            if near.any():
                points, spacing = [*points, fine[0]], [*spacing, fine[1]]
            else:
                fine = None
        tree = cKDTree(np.concatenate(points)) if points else None
        return _Panel(panel=p, tree=tree, spacing=np.concatenate(spacing) if spacing else np.empty(0), fine=fine)

    def _wanted(self, p: _Panel) -> Callable[[Array], Array] | None:
        return None if p.fine is None else partial(p.wanted, size=2 * self.size)

    def _patches(self, sized: _Panel) -> list[tuple[Patch, float]]:
        """Return the mesh of each form of a panel with its mean thickness; what is left out is noted."""
        found = []
        panel = sized.panel
        for k, f in enumerate(panel.forms):
            profile, thickness = f.profile(self.t), f.sheet_thickness(self.t)
            if isinstance(thickness, str):
                self.notes.append(f"{f.KIND} '{f.name}' is left out of the mesh: {thickness}")
            elif profile is not None:
                twice = self.fine is not None and (panel.name, k) in self.fine.forms
                finer = self.finer * (2 if twice else 1)
                found.append((patch(profile, 2 * self.size, finer, self._wanted(sized)), thickness))
        return found

    def _seams(self, panels: dict[str, _Panel]) -> list[Seam]:
        """Divide every edge where a strip meets a panel, once for both."""
        seams: list[Seam] = []
        for s in self.folded.zones:
            for loop in s.regions:
                mine: list[Seam] = []
                for e in loop:
                    if e.name in ("parent", "child"):
                        (x0, v), (x1, _) = sorted((e.start, e.end))
                        at = s.ruling(v, self.t)
                        ends = at(x0, 0.0, self.t / 2), at(x1, 0.0, self.t / 2)
                        mine.append(Seam(loop=loop, side=e.name, x=(x0, x1), ends=ends))
                sizes = [self._along(seam, panels[s.parent if seam.side == "parent" else s.child]) for seam in mine]
                if [m.side for m in mine] in (["parent", "child"], ["child", "parent"]):
                    both = np.minimum(sizes[0], sizes[1])
                    sizes = [both, both]
                    for m in mine:
                        m.ruled = True
                longest = max((m.x[1] - m.x[0] for m in mine), default=0.0)
                for m, wanted in zip(mine, sizes, strict=True):
                    m.fractions = divide(wanted, longest if m.ruled else m.x[1] - m.x[0])
                seams += mine
        return seams

    def _along(self, seam: Seam, panel: _Panel) -> Array:
        f = np.linspace(0, 1, 65)[:, None]
        at = np.asarray(seam.ends[0]) * (1 - f) + np.asarray(seam.ends[1]) * f
        return panel.wanted(panel.panel.frame.inverse().points(at)[:, :2], 2 * self.size)

    def _panel(
        self, p: _Panel, patches: Sequence[tuple[Patch, float]], holes: Sequence[Ring], seams: Sequence[Seam]
    ) -> None:
        panel, frame = p.panel, p.panel.frame
        outer, names = self._outline(p, seams)
        rings = [outer, *[b.ring for b, _ in patches], *holes]
        ends = self.lines.get(panel.name)
        extra, sides = (None, None) if ends is None else lines.nodes(ends, rings, 2 * self.size)
        xy, quads = region(rings, 2 * self.size, extra, sides, p.fine)
        up = np.tile(frame.z, (len(xy), 1))
        first = self._add(frame.at(0.0, 0.0, self.t / 2).points(xy), up, quads, panel.name)
        total = sum(len(r.points) for r in rings)
        start = 0
        for k, r in enumerate(rings):
            n = len(r.points)
            corner, half = first + start + np.arange(n), first + total + start + np.arange(n)
            start += n
            if k == 0:
                for i, name in enumerate(names):
                    if name:
                        self.edges.setdefault(f"{panel.name}/{name}", []).append(
                            np.array([corner[i], half[i], corner[(i + 1) % n]])
                        )
            elif k > len(patches):
                hole = panel.holes[k - 1 - len(patches)]
                key = f"{panel.name}/{hole.name or f'hole {k - len(patches)}'}"
                while key in self.holes:
                    key += "'"
                self.holes[key], self.uses[key] = np.concatenate((corner, half)), hole.use
        for b, thickness in patches:
            points = frame.at(0.0, 0.0, self.t / 2).points(b.points)
            self._add(points, frame.vectors(b.normals), b.quads, panel.name, thickness)

    def _outline(self, p: _Panel, seams: Sequence[Seam]) -> tuple[Ring, list[str]]:
        """Return the divided outline of a panel and the edge's name of each coarse segment."""
        edges = _without_tiny(p.panel.boundary, 0.1 * self.size)
        divided = [(e, self._fractions(e, p, seams)) for e in edges]
        return ring(divided), [e.name for e, f in divided for _ in f[1:]]

    def _fractions(self, e: Edge, p: _Panel, seams: Sequence[Seam]) -> Array:
        if e.name.startswith("fold:"):
            ends = [np.asarray(p.panel.frame(*q, self.t / 2)) for q in (e.start, e.end)]
            axis, length = ends[1] - ends[0], e.length
            inside = []
            for seam in seams:
                s = [float((np.asarray(q) - ends[0]) @ axis) / length**2 for q in seam.ends]
                off = max(
                    float(np.linalg.norm(ends[0] + axis * k - np.asarray(q))) for k, q in zip(s, seam.ends, strict=True)
                )
                if off < 1e-3 and min(s) > -1e-6 and max(s) < 1 + 1e-6:
                    inside.append(s[0] + seam.fractions * (s[1] - s[0]))
            if inside:
                return np.unique(np.round(np.concatenate([[0.0, 1.0], *inside]), 9))
        cuts = lines.crossings(self.lines.get(p.panel.name), e.start, e.end) if e.is_line else []
        f = np.zeros(1)
        for a, b in pairwise((0.0, *cuts, 1.0)):
            samples = np.array([e.at(a + (b - a) * s) for s in np.linspace(0, 1, 33)])
            steps = divide(p.wanted(samples, 2 * self.size), (b - a) * e.length)
            f = np.concatenate((f, a + (b - a) * steps[1:]))
        least = math.ceil(abs(e.sweep) / math.radians(60)) if not e.is_line else 1
        return f if len(f) > least else np.linspace(0, 1, least + 1)

    def _add(self, points: Array, normals: Array, quads: Index, owner: str, thickness: float | None = None) -> int:
        if owner not in self.owners:
            self.owners.append(owner)
        first = self.count
        whose = np.full(len(quads), self.owners.index(owner))
        thick = np.full(len(quads), self.t if thickness is None else thickness)
        self.parts.append((points, normals, quads + first, whose, thick))
        self.count += len(points)
        return first

    def _strip(self, s: BendZone, seams: Sequence[Seam]) -> None:
        if s.holes:
            self.notes.append(f"{len(s.holes)} hole(s) inside the bend '{s.name}' are left out of the mesh")
        for loop in s.regions:
            mine = [m for m in seams if m.loop is loop]
            folded, normals, quads = strip_mesh(s, loop, mine, 2 * self.size, self.t)
            self._add(folded, normals, quads, f"fold:{s.name}")

    def _merged(self) -> Mesh:
        points, normals, quads, owner, thickness = (np.concatenate(x) for x in zip(*self.parts, strict=True))
        near = cKDTree(points).query_pairs(min(1e-3, self.size / 100), output_type="ndarray")
        target = np.arange(len(points))
        for a, b in near[np.lexsort((near[:, 0], near[:, 1]))].tolist():
            target[b] = min(target[b], target[a])
        target = target[target]
        used, number = np.unique(target[quads], return_inverse=True)
        quads, points = number.reshape(quads.shape), points[used]
        place = np.searchsorted(used, target)
        sines = corner_sines(points[quads])
        if sines.min() < 1e-3:
            name = self.owners[int(owner[int(np.argmin(sines))])]
            raise NotSolved(
                f"'{name}' could not be divided into sound elements of {self.size:g} mm: take another mesh size"
            )
        out = Mesh(
            points=points,
            quads=quads,
            owner=owner,
            owners=tuple(self.owners),
            thickness=thickness,
            normals=normals[used],
            edges={k: np.unique(place[np.concatenate(v)]) for k, v in self.edges.items()},
            holes={k: np.unique(place[v]) for k, v in self.holes.items()},
            uses=self.uses,
            size=self.size,
            quality=(float(sines.min()), float(sines.mean())),
            notes=tuple(self.notes),
            forms=sum(len(p.risen) for p in self.folded.panels),
        )
        require_one_piece(out)
        return out


def _without_tiny(loop: Loop, least: float) -> list[Edge]:
    """Drop corners between two edges that are both tiny: reliefs no wider than a tenth of an element."""
    edges = list(loop.edges)
    k = 0
    while len(edges) > 3 and k < len(edges):
        a, b = edges[k], edges[(k + 1) % len(edges)]
        tiny = a.length < least and b.length < least
        if tiny and not a.name.startswith("fold:") and not b.name.startswith("fold:"):
            joined = Edge(a.start, b.end, 0.0, a.name)
            edges[k] = joined
            del edges[(k + 1) % len(edges)]
            continue
        k += 1
    return edges
