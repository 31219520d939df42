"""The flat pattern as the workbench draws it, held against the DXF as ezdxf's drawing add-on renders it.

Two writers and two readers: the SVG's path data is read here by a parser of the test's own (lines and circular arcs as
SVG 1.1, section 8.3, defines them), the DXF goes through ezdxf's own frontend, which knows nothing of this project.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely
from bench_samples import big_tray, tray
from ezdxf.addons.drawing import Frontend, RenderContext
from ezdxf.addons.drawing.config import Configuration
from ezdxf.addons.drawing.recorder import Recorder

from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.shop.shop import Shop
from tinbook.svg import flat_svg
from tinbook.write.dxf import write_dxf

LAYERS = {"edge": "BLANK_EDGE", "holes": "BLANK_HOLES", "folds up": "FOLD_UP", "folds down": "FOLD_DOWN"}
SVG = "{http://www.w3.org/2000/svg}"
CLOSE = 0.02
"""mm: both sides become chords of at most 0.005 mm sagitta."""


def arc_points(
    x0: float, y0: float, r: float, large: int, sweep: int, x1: float, y1: float
) -> list[tuple[float, float]]:
    """Return points along a circular SVG arc, by the endpoint construction of its appendix F.6."""
    dx, dy = (x0 - x1) / 2, (y0 - y1) / 2
    d = math.hypot(dx, dy)
    r = max(r, d)
    h = math.sqrt(max(r * r / (d * d) - 1, 0.0)) * (-1 if large == sweep else 1)
    cx, cy = (x0 + x1) / 2 + h * dy, (y0 + y1) / 2 - h * dx
    a0, a1 = math.atan2(y0 - cy, x0 - cx), math.atan2(y1 - cy, x1 - cx)
    turn = (a1 - a0) % math.tau if sweep else -((a0 - a1) % math.tau)
    n = max(8, math.ceil(abs(turn) / math.acos(1 - min(0.005 / r, 0.5))))
    return [(cx + r * math.cos(a0 + turn * k / n), cy + r * math.sin(a0 + turn * k / n)) for k in range(1, n)] + [
        (x1, y1)
    ]


def strokes(d: str) -> list[shapely.LineString]:
    """Return the strokes of path data, y turned up again."""
    found: list[list[tuple[float, float]]] = []
    for letter, numbers in re.findall(r"([MLAZ])([^MLAZ]*)", d):
        v = [float(n) for n in numbers.split()]
        if letter == "M":
            found.append([(v[0], v[1])])
        elif letter == "L":
            found[-1].append((v[0], v[1]))
        elif letter == "A":
            assert v[0] == v[1]
            found[-1] += arc_points(*found[-1][-1], v[0], int(v[3]), int(v[4]), v[5], v[6])
        else:
            found[-1].append(found[-1][0])
    return [shapely.LineString([(x, -y) for x, y in s]) for s in found]


def svg_layers(text: str) -> dict[str, Any]:
    """Return what is stroked in each layer."""
    found: dict[str, list[Any]] = defaultdict(list)
    for group in ET.fromstring(text).iter(f"{SVG}g"):
        for path in group.iter(f"{SVG}path"):
            pen = path.get("stroke") or group.get("stroke")
            if group.get("data-layer") in LAYERS and pen:
                found[group.attrib["data-layer"]] += strokes(path.attrib["d"])
    return {name: shapely.union_all(lines) for name, lines in found.items()}


def dxf_layers(file: Path) -> dict[str, Any]:
    """Return what the drawing add-on draws on each layer."""
    page = ezdxf.readfile(file)
    backend = Recorder()
    setup = Configuration(max_flattening_distance=0.005, min_lineweight=0.01)
    Frontend(RenderContext(page), backend, config=setup).draw_layout(page.modelspace())
    found: dict[str, list[Any]] = defaultdict(list)
    for record, properties in backend.player().recordings():
        kind = type(record).__name__
        if kind == "PathRecord":
            points = [(p.x, p.y) for p in record.path.flattening(0.005)]
            found[properties.layer].append(shapely.LineString(points))
        elif kind == "PointsRecord" and len(record.points) > 1:
            found[properties.layer].append(shapely.LineString([(p.x, p.y) for p in record.points.vertices()]))
        elif kind == "SolidLinesRecord":
            ends = [(p.x, p.y) for p in record.lines.vertices()]
            found[properties.layer] += [shapely.LineString(pair) for pair in zip(ends[::2], ends[1::2], strict=True)]
    return {name: shapely.union_all(lines) for name, lines in found.items()}


@pytest.fixture(scope="module", params=["tray", "tray down", "big tray"])
def made(request: pytest.FixtureRequest) -> Made:
    parts: dict[str, Part] = {"tray": tray(), "tray down": tray(745.0, 33.0, 2, "down", False), "big tray": big_tray()}
    return make(parts[request.param], Shop.demo())


def test_layers_show_the_same_lines_as_the_dxf(made: Made, tmp_path: Path) -> None:
    assert made.flat is not None
    ours = svg_layers(flat_svg(made.flat, dims=True, keys=True))
    theirs = dxf_layers(write_dxf(made, tmp_path, folds=True, despite="its lines are looked at"))
    directions = {f"folds {f.direction}" for f in made.flat.folds}
    assert set(ours) == {"edge", "holes"} | directions
    for name, lines in ours.items():
        other = theirs[LAYERS[name]]
        assert other.buffer(CLOSE).covers(lines), name
        assert lines.buffer(CLOSE).covers(other), name
        assert lines.length == pytest.approx(other.length, rel=5e-4), name


def test_every_fold_hole_and_bead_is_one_named_element(made: Made) -> None:
    assert made.flat is not None
    page = ET.fromstring(flat_svg(made.flat, dims=True, keys=True))
    names = [e.attrib["data-name"] for e in page.iter() if "data-name" in e.attrib]
    wanted = [f"hole:{c.name}" for c in made.flat.cuts] + [f"fold:{f.name}" for f in made.flat.folds]
    wanted += [f"bead:{b.name}" for p in made.panels for b in p.beads]
    assert sorted(names) == sorted(wanted)


def test_dimensions_tell_the_size_of_the_blank(made: Made) -> None:
    assert made.flat is not None
    page = ET.fromstring(flat_svg(made.flat, dims=True, keys=True))
    (group,) = (g for g in page.iter(f"{SVG}g") if g.get("data-layer") == "dimensions")
    texts = {t.text for t in group.iter(f"{SVG}text")}
    x0, y0, x1, y1 = made.flat.outer.box
    assert {f"{x1 - x0:.1f}", f"{y1 - y0:.1f}"} <= texts


def test_without_keys_the_picture_is_as_before_and_has_no_names(made: Made) -> None:
    assert made.flat is not None
    text = flat_svg(made.flat)
    assert "data-name" not in text
    assert "data-layer" not in text
