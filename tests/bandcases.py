"""Forty-odd panels under a light even pressure, and CalculiX' answers on meshes of its own, for the bands that are printed.

Test only. Flat panels are meshed by gmsh (six-node triangles S6), beaded and folded ones as eight-node shells S8R on
sheets divided twice as finely as ours.
"""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from scipy.spatial import cKDTree

import ccxdeck
from strategies import SHOP
from tinbook.families.plain import bead_rolled_panel
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import analysis as an
from tinbook.strength import loads as ld
from tinbook.strength.mesh.build import Fine
from tinbook.strength.request import supports_of
from tinbook.strength.shell import linear as sh
from tinbook.strength.singular import singular_places
from tinbook.strength.supports import on_mesh

PRESSURE = 2e-6
"""MPa: linear theory is true within a thousandth on every panel."""
HOWS = ("simply supported", "pinned", "clamped")
AWAY = 2.0
"""Thicknesses from a place where stress has no limit, at which it is read by both."""
TIP = 0.4
"""mm: side of an element there."""


def plain(corners: list[tuple[float, float]], sheet: str = "DC01 1.5") -> Part:
    names = tuple("abcdefgh"[: len(corners)])
    return Part("HN-B", rev="A", sheet=sheet, base=Outline.polygon(corners, names=names))


def panels() -> dict[str, tuple[Made, Any]]:
    """Return parts and how they are held, by name."""
    out: dict[str, tuple[Part, Any]] = {}
    hows = itertools.cycle(HOWS)
    for k, (a, b, c) in enumerate(
        [(400, 250, 60), (500, 300, 120), (600, 400, 200), (350, 300, 40), (700, 250, 150), (450, 450, 100),
         (300, 200, 90), (550, 350, 30)]
    ):  # fmt: skip
        out[f"trapezoid {k + 1}"] = plain([(0, 0), (a, 0), (a - c, b), (c / 3, b)]), next(hows)
    for k, (a, b, c, d) in enumerate(
        [(400, 300, 100, 80), (500, 400, 250, 200), (600, 350, 150, 200), (350, 350, 100, 100), (450, 300, 60, 150),
         (520, 420, 200, 100), (640, 380, 320, 120), (380, 260, 90, 60)]
    ):  # fmt: skip
        out[f"notched {k + 1}"] = plain([(0, 0), (a, 0), (a, b - d), (a - c, b - d), (a - c, b), (0, b)]), next(hows)
    for k, (a, b, holes) in enumerate(
        [(400, 300, [(200, 150, 60)]), (500, 250, [(150, 120, 80), (350, 130, 80)]), (400, 400, [(200, 200, 150)]),
         (600, 300, [(100, 150, 40), (300, 150, 40), (500, 150, 40)]), (350, 250, [(90, 80, 30)]),
         (450, 300, [(225, 60, 50)]), (550, 400, [(160, 140, 120), (400, 260, 90)]), (300, 300, [(150, 150, 25)]),
         (640, 360, [(320, 180, 200)]), (420, 280, [(120, 140, 70), (300, 140, 35)])]
    ):  # fmt: skip
        part = Part("HN-B", rev="A", sheet="DC01 1.5", base=Outline.rectangle(a, b))
        for x, y, dia in holes:
            part = part.hole((x, y), dia)
        out[f"holed {k + 1}"] = part, next(hows)
    for beads, along in ((2, "length"), (3, "length"), (4, "width"), (6, "width"), (5, "width"), (4, "length")):
        how = "pinned" if next(hows) == "simply supported" else "clamped"
        out[f"beaded {beads} along the {along}"] = bead_rolled_panel(beads=beads, along=along), how
    for k, (a, b, leg, sides) in enumerate(
        [(300, 200, 20, ("front",)), (400, 250, 30, ("front", "rear")), (350, 300, 25, ("front",)),
         (500, 200, 40, ("front", "rear")), (260, 220, 15, ("front", "rear")), (420, 300, 35, ("front",)),
         (380, 180, 20, ("front", "rear")), (450, 350, 50, ("front", "rear"))]
    ):  # fmt: skip
        part = Part("HN-B", rev="A", sheet="DC01 1.5", base=Outline.rectangle(a, b))
        for side in sides:
            part = part.fold(side, "up" if k % 2 else "down", leg=leg)
        out[f"folded {k + 1}"] = part, f"{'clamped' if k % 3 else 'pinned'}: left, right"
    return {name: (make(part, SHOP), how) for name, (part, how) in out.items()}


def theirs(ccx: str, folder: Path, made: Made, how: str) -> tuple[float, float, float]:
    """Return deflection in mm, first frequency in Hz and greatest von Mises stress in MPa by CalculiX."""
    flat = len(made.panels) == 1 and not made.panels[0].forms
    return _by_gmsh(ccx, folder, made, how) if flat else _by_quads(ccx, folder, made, how)


def _by_quads(ccx: str, folder: Path, made: Made, how: str) -> tuple[float, float, float]:
    held_by, load = supports_of(made, how), ld.Pressure(pressure=PRESSURE)
    size = max(an.model_of(made, None)[0].size, 10.0)
    t = made.thickness
    spots = [np.asarray(made.panel(p.panel).frame(*p.at, t / 2)) for p in singular_places(made, held_by)]
    around = [spot + AWAY * t * np.array(way) for spot in spots for way in itertools.product((-1, 0, 1), repeat=3)]
    fine = Fine(points=np.array(around), sizes=np.full(len(around), 2 * TIP)) if spots else None
    # Twice as fine as ours; beads across the width have so many elements that half as many again must do.
    finer = 2.0 if len(made.panels[0].forms) < 4 else 1.5
    m, model = an.model_of(made, size / finer, finer, fine=fine)
    stops = on_mesh(made, m, held_by)
    held = sh.hold(len(m.points), stops.at, stops.rows)
    assert not len(held.skew)
    more = {"youngs": model.youngs, "poisson": model.poisson, "density": model.density, "fixed": held.fixed}
    force = ld.nodal(made, m, model, [load])[:, :3]
    table = ccxdeck.run(ccx, ccxdeck.deck(m.points, m.quads, m.thickness, force=force, smooth=True, **more), folder)
    moved = float(np.linalg.norm(ccxdeck.displacements(table, len(m.points)), axis=1).max())
    places, tensors, normals = ccxdeck.skin_stresses(folder / "job.frd", m.points, m.quads, m.thickness)
    found = ccxdeck.von_mises(ccxdeck.in_the_skin(tensors, normals))
    nodes, elements, _ = ccxdeck.eight_nodes(m.points, m.quads)
    owner = cKDTree(nodes).query(places - normals * t / 2)[1]
    stress = _read(nodes, elements, owner, _up(m, nodes, owner, normals), found, spots, AWAY * t)
    text = ccxdeck.deck(m.points, m.quads, m.thickness, modes=1, smooth=True, **more)
    return moved, ccxdeck.frequencies(ccxdeck.run(ccx, text, folder / "modes"))[0], stress


def _by_gmsh(ccx: str, folder: Path, made: Made, how: str) -> tuple[float, float, float]:
    panel = made.panels[0]
    corners = [e.start for e in panel.boundary.edges]
    holes = [(h.loop.box, h.loop) for h in panel.holes]
    circles = [((b[0] + b[2]) / 2, (b[1] + b[3]) / 2, (b[2] - b[0]) / 2) for b, _ in holes]
    nodes, elements = triangles(corners, circles, _hot(corners, how))
    sheet = shapely.Polygon(corners)
    rim = shapely.distance(sheet.exterior, shapely.points(nodes[:, :2])) < 1e-6
    fixed = np.zeros((len(nodes), 6), dtype=bool)
    fixed[rim, 2] = True
    if how == "simply supported":
        far = int(np.argmax(np.linalg.norm(nodes - nodes[0], axis=1)))
        fixed[0, :2] = True
        away = np.abs(nodes[far] - nodes[0])
        fixed[far, int(np.argmin(away[:2]))] = True
    else:
        fixed[rim, :2] = True
    if how == "clamped":
        fixed[rim, 3:] = True
    material = made.sheet.material
    lines = ["*NODE, NSET=ALL", *(f"{i}, {x:.10g}, {y:.10g}, 0." for i, (x, y, _) in enumerate(nodes.tolist(), 1))]
    lines += ["*ELEMENT, TYPE=S6, ELSET=E"]
    lines += [f"{i}, " + ", ".join(str(n + 1) for n in e) for i, e in enumerate(elements.tolist(), 1)]
    lines += ["*SHELL SECTION, ELSET=E, MATERIAL=M", f"{made.thickness}", "*MATERIAL, NAME=M", "*ELASTIC"]
    lines += [f"{material.youngs}, {material.poisson}", "*DENSITY", f"{material.density * 1e-12:.10g}", "*BOUNDARY"]
    lines += [f"{n + 1}, {d + 1}, {d + 1}" for n, d in np.argwhere(fixed).tolist()]
    static = ["*STEP", "*STATIC", "*DLOAD", f"E, P, {PRESSURE}", "*NODE PRINT, NSET=ALL", "U"]
    static += ["*EL FILE, OUTPUT=3D", "S", "*END STEP", ""]
    table = ccxdeck.run(ccx, "\n".join([*lines, *static]), folder)
    moved = float(np.linalg.norm(ccxdeck.displacements(table, len(nodes)), axis=1).max())
    places, stress = ccxdeck.stresses(folder / "job.frd")
    skin = np.abs(places[:, 2]) > 0.4 * made.thickness
    places, stress = places[skin], stress[skin]
    owner = cKDTree(nodes[:, :2]).query(places[:, :2])[1]
    spots = [np.array([*b, 0.0]) for b in _hot(corners, how)]
    peak = _read(nodes, elements, owner, places[:, 2] > 0, stress, spots, AWAY * made.thickness)
    swing = ["*STEP", "*FREQUENCY", "1", "*END STEP", ""]
    found = ccxdeck.frequencies(ccxdeck.run(ccx, "\n".join([*lines, *swing]), folder / "modes"))[0]
    return moved, found, peak


def _up(m, nodes, owner, normals) -> Any:
    """Return whether normals at shell nodes point to the side that the normals of our mesh point to."""
    near = cKDTree(m.points).query(nodes[owner])[1]
    return np.einsum("ki,ki->k", normals, m.normals[near]) > 0


def _read(nodes, elements, owner, up, stress, spots, reach) -> float:
    """Return the greatest stress out of reach of some places, that on the rings round them included.

    `owner` and `up` say of which shell node and which skin each stress is; between nodes it is linear on the sides.
    """
    k = elements.shape[1] // 2
    corner, mid = elements[:, :k], elements[:, k:]
    sides = np.concatenate([np.stack((x.ravel(), mid.ravel()), 1) for x in (corner, np.roll(corner, -1, axis=1))])
    best = 0.0
    for side in (True, False):
        mine = np.zeros(len(nodes))
        mine[owner[up == side]] = stress[up == side]
        far = np.ones(len(nodes), dtype=bool)
        for spot in spots:
            away = np.linalg.norm(nodes - spot, axis=1)
            far &= away >= reach
            across = sides[(away[sides] < reach).sum(axis=1) == 1]
            (a, b), (x, y) = away[across].T, mine[across].T
            best = max(best, float((x + (reach - a) / (b - a) * (y - x)).max(initial=0.0)))
        best = max(best, float(mine[far].max()))
    return best


def _hot(corners: list[Any], how: str) -> list[Any]:
    """Return the corners at which stress has no limit: inner ones, and beyond a right angle where edges may turn."""
    around = zip([corners[-1], *corners], corners, [*corners[1:], corners[0]], strict=False)
    return [b for a, b, c in around if _in(a, b, c) or (how != "clamped" and _blunt(a, b, c))]


def _in(a: Any, b: Any, c: Any) -> bool:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) < -1e-9


def _blunt(a: Any, b: Any, c: Any) -> bool:
    """Return whether a corner is wider than 92 degrees."""
    ahead, back = np.subtract(c, b), np.subtract(a, b)
    return bool(ahead @ back / np.linalg.norm(ahead) / np.linalg.norm(back) < np.cos(np.radians(92)))


def triangles(
    corners: list[Any], circles: list[tuple[float, float, float]], hot: list[Any]
) -> tuple[np.ndarray, np.ndarray]:
    """Return nodes (n, 3) and six-node triangles (m, 6) of a panel by gmsh, fine at rims and at hot corners."""
    import gmsh

    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        low, high = np.min(corners, axis=0), np.max(corners, axis=0)
        size = float((high - low).min()) / 24
        occ = gmsh.model.occ
        points = [occ.addPoint(x, y, 0) for x, y in corners]
        lines = [occ.addLine(p, points[(k + 1) % len(points)]) for k, p in enumerate(points)]
        loops = [occ.addCurveLoop(lines)]
        for x, y, r in circles:
            loops.append(occ.addCurveLoop([occ.addCircle(x, y, 0, r)]))
        occ.addPlaneSurface(loops)
        occ.synchronize()
        # CalculiX carries stress to an edge from points inside elements, so these are small there.
        curves = [tag for _, tag in gmsh.model.getEntities(1)]
        round_ones = [tag for tag in curves if gmsh.model.getType(1, tag) == "Circle"]
        tips = [points[k] for k, c in enumerate(corners) if c in hot]
        near = [_graded("CurvesList", curves, size / 4, size, 2 * size)]
        near += [_graded("CurvesList", round_ones, size / 6, size, 2 * size)] if round_ones else []
        near += [_graded("PointsList", tips, TIP, size, 3 * size)] if tips else []
        least = gmsh.model.mesh.field.add("Min")
        gmsh.model.mesh.field.setNumbers(least, "FieldsList", near)
        gmsh.model.mesh.field.setAsBackgroundMesh(least)
        gmsh.option.setNumber("Mesh.MeshSizeExtendFromBoundary", 0)
        gmsh.option.setNumber("Mesh.MeshSizeFromPoints", 0)
        gmsh.model.mesh.generate(2)
        gmsh.model.mesh.setOrder(2)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        place = {int(t): k for k, t in enumerate(tags)}
        kinds, _, found = gmsh.model.mesh.getElements(2)
        assert kinds.tolist() == [9]
        elements = np.array([place[int(t)] for t in found[0]]).reshape(-1, 6)
        return xyz.reshape(-1, 3), elements
    finally:
        gmsh.finalize()


def _graded(of: str, tags: list[int], fine: float, coarse: float, reach: float) -> int:
    """Return gmsh's field of sizes that grow from `fine` at curves or points to `coarse` at a distance."""
    import gmsh

    field = gmsh.model.mesh.field
    away, grown = field.add("Distance"), field.add("Threshold")
    field.setNumbers(away, of, tags)
    field.setNumber(away, "Sampling", 200)
    field.setNumber(grown, "InField", away)
    for name, value in (("SizeMin", fine), ("SizeMax", coarse), ("DistMin", 0.0), ("DistMax", reach)):
        field.setNumber(grown, name, value)
    return grown
