"""Injured DXF files: a flat or a TinbookError, quickly, and nothing else. 20 000 with --full, two hundred else.

The seeds are fresh in every run; the report's head prints the one to run again with, a failure the case's own.
"""

from __future__ import annotations

import logging
import random
import time
from pathlib import Path

import ezdxf
import pytest

from injuries import injured, seeds
from tinbook.errors import TinbookError
from tinbook.read.dxf.flat import read_dxf


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    """Two drawings with every kind of entity that the reader knows."""
    folder = tmp_path_factory.mktemp("good")
    doc = ezdxf.new("R2000")
    space = doc.modelspace()
    block = doc.blocks.new("HOLE")
    block.add_circle((1, 0), 2)
    block.add_spline([(0, 0), (1, 2), (3, 1)])
    space.add_lwpolyline([(0, 0), (100, 0, 0, 0, 1.0), (100, 40), (0, 40)], close=True)
    spaced = {"column_count": 3, "column_spacing": 9, "row_count": 2, "row_spacing": 9}
    space.add_blockref("HOLE", (20, 20), dxfattribs=spaced)
    space.add_ellipse((60, 20), (8, 0), 0.5)
    space.add_text("HN-TL")
    space.add_polyline2d([(70, 10), (80, 10), (75, 20)], close=True)
    space.add_linear_dim((0, -10), (0, 0), (100, 0)).render()
    doc.saveas(folder / "new.dxf")
    old = ezdxf.new("R12")
    space = old.modelspace()
    for a, b in (((0, 0), (9, 0)), ((9, 0), (9, 9)), ((9, 9), (0, 0))):
        space.add_line(a, b)
    space.add_polyline2d([(1, 0.2), (5, 0.2), (5, 2)], close=True)
    space.add_arc((7, 3), 1, 0, 270)
    old.saveas(folder / "old.dxf")
    return [(folder / "new.dxf").read_bytes(), (folder / "old.dxf").read_bytes()]


def ends(good: list[bytes], seed: int, folder: Path) -> tuple[str, float]:
    """Read one injured drawing; return how it ended and the CPU seconds. Anything but a TinbookError passes on."""
    path = folder / "case.dxf"
    rng = random.Random(seed)
    data = rng.choice(good)
    data = injured(data, rng, max(data.find(b"ENTITIES"), 0))
    path.write_bytes(data)
    start = time.process_time()
    try:
        read_dxf(path)
        ended = "flat"
    except TinbookError:
        ended = "error"
    except Exception as wrong:
        raise AssertionError(f"case {seed} ends in {type(wrong).__name__}") from wrong
    took = time.process_time() - start
    assert path.read_bytes() == data
    assert list(folder.iterdir()) == [path]
    return ended, took


@pytest.fixture(autouse=True)
def hushed(caplog: pytest.LogCaptureFixture) -> None:
    """Keep out of the report what the DXF library says about damage: pieces of the file that no text can carry."""
    caplog.set_level(logging.CRITICAL, "ezdxf")


@pytest.mark.filterwarnings("ignore")  # what the DXF library says about damage does not matter here
@pytest.mark.parametrize("block", range(2))
def test_injured_files(block: int, good: list[bytes], tmp_path: Path) -> None:
    found = [ends(good, seed, tmp_path) for seed in seeds("dxf", 100, 100 * block)]
    assert min([e for e, _ in found].count(kind) for kind in ("flat", "error")) > 5
    assert max(took for _, took in found) < 5


@pytest.mark.full
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("block", range(20))
def test_twenty_thousand_injured_files(block: int, good: list[bytes], tmp_path: Path) -> None:
    longest = max(ends(good, seed, tmp_path)[1] for seed in seeds("dxf, full", 1000, 1000 * block))
    print(f"block {block}: longest {longest:.2f} s")
    assert longest < 5
