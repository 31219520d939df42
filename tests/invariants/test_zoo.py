"""Every animal of the zoo: a valid solid, its part file read back, its DXF and STEP, checks that answer."""

from __future__ import annotations

import io
import math

import ezdxf
import pytest
import shapely
from ezdxf import path as dxfpath

from tinbook.making.resolve import make
from tinbook.part.partfile import part_from_toml, part_to_toml
from tinbook.rules.registry import live
from tinbook.write.dxf import INNER, OUTER, write_dxf
from tinbook.write.step import write_step
from zoo import SHOP, ZOO, made_zoo

NAMES = sorted(ZOO)
ZOO_SHOWS = "a part of the zoo shows one awkward thing; not every one can be folded"


@pytest.mark.parametrize("name", NAMES)
def test_a_valid_solid(name):
    made = made_zoo(name)
    assert made.ok, made.findings
    solid = made.solid
    assert solid.ShapeType() == "Solid"
    assert solid.isValid()
    # Weight by the kernel's volume; beads thin the sheet and have their own test.
    if not any(p.risen for p in made.panels):
        assert made.mass == pytest.approx(solid.Volume() * made.sheet.material.density * 1e-9, rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_part_file_and_back(name):
    part = ZOO[name]()
    again = part_from_toml(part_to_toml(part))
    for field in type(part).__slots__:
        if field not in ("newest", "asked"):  # only what `repeated` repeats
            assert getattr(again, field) == getattr(part, field), field
    assert make(again, SHOP).flat == made_zoo(name).flat


@pytest.mark.parametrize("name", NAMES)
def test_dxf_holds_the_blank(name, tmp_path):
    """The area of the closed contours, worked out by another library, is the flat pattern's."""
    made = made_zoo(name)
    doc = ezdxf.read(io.StringIO(write_dxf(made, tmp_path, marks=True, despite=ZOO_SHOWS).read_text(encoding="utf-8")))
    assert not doc.audit().has_errors
    areas = []
    for e in doc.modelspace():
        if e.dxf.layer in (OUTER, INNER):
            points = [(v.x, v.y) for v in dxfpath.make_path(e).flattening(1e-4)]
            areas.append(shapely.Polygon(points).area)
    outer, *inner = sorted(areas, reverse=True)
    undersize = math.fsum(c.loop.area for c in made.flat.undersize)  # like holes to drill, not taken off the area
    assert outer - math.fsum(inner) + undersize == pytest.approx(made.flat.area, rel=1e-5)


@pytest.mark.parametrize("name", NAMES)
def test_step_holds_one_valid_solid(name, tmp_path):
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps
    from OCP.STEPControl import STEPControl_Reader

    made = made_zoo(name)
    reader = STEPControl_Reader()
    assert int(reader.ReadFile(str(write_step(made, tmp_path, despite=ZOO_SHOWS)))) == 1
    reader.TransferRoots()
    shape = reader.OneShape()
    assert BRepCheck_Analyzer(shape).IsValid()
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    assert props.Mass() == pytest.approx(made.solid.Volume(), rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_checks_answer(name):
    found = live(made_zoo(name))
    assert not found.of("check.failed"), found
    assert found.of("blank.sheet")
