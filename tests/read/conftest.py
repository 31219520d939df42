"""A drawing of one's own, read back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

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
