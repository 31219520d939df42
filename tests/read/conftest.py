"""A drawing of one's own, read back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import bentstrip
import ezdxf
import pytest
from dxfdrawn import Draw
from ezdxf import units as dxf_units

from tinbook.flatpattern import FlatPattern
from tinbook.read.dxf.flat import read_dxf


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., FlatPattern]:
    """Draw into a new file, read it, and see that the file stayed as it was."""

    def do(draw: Draw, unit: int = dxf_units.MM, **options: Any) -> FlatPattern:
        doc = ezdxf.new("R2010", setup=True)
        doc.header["$INSUNITS"] = unit
        draw(doc, doc.modelspace())
        path = tmp_path / "their.dxf"
        doc.saveas(path)
        before = path.read_bytes()
        flat = read_dxf(path, **options)
        assert path.read_bytes() == before
        return flat

    return do


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A good STEP file: an angle of 1.5 mm with a hole."""
    cq = pytest.importorskip("cadquery")
    path = tmp_path_factory.mktemp("step") / "angle.step"
    angle = bentstrip.solid(cq, [50, (90, 2), 30], 1.5, 40).faces("<Y").workplane().hole(6)
    cq.exporters.export(angle, str(path))
    return path.read_text()


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str | bytes], Path]:
    def to_file(content: str | bytes) -> Path:
        path = tmp_path / "case.step"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return to_file
