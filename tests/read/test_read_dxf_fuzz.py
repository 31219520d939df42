"""Injured DXF files: a flat or a TinbookError, quickly, and nothing else. 20 000 with --full, a few hundred else."""

from __future__ import annotations

import logging
import random
import time
from pathlib import Path

import ezdxf
import pytest

from tinbook.errors import TinbookError
from tinbook.read.dxf import read_dxf

ODD = (b"0", b"-1", b"1e308", b"nan", b"inf", b"99999999999", b"1e-300", b"", b"xyz", b"10", b"SPLINE", b"INSERT")


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


def injured(data: bytes, rng: random.Random) -> bytes:
    """One random injury to bytes, digits, stretches or lines, mostly among the entities."""
    low = max(data.find(b"ENTITIES"), 0)
    out = bytearray(data)
    kind = rng.randrange(7)
    if kind == 0:
        del out[rng.randrange(len(out)) :]
    elif kind == 1:
        for _ in range(rng.choice([1, 3, 10, 50])):
            out[rng.randrange(len(out))] = rng.randrange(256)
    elif kind == 2:
        for _ in range(rng.choice([1, 3, 10])):
            out[rng.randrange(low, len(out))] = rng.randrange(32, 127)
    elif kind == 3:
        i = rng.randrange(low, len(out))
        del out[i : i + rng.randrange(1, 2000)]
    elif kind == 4:
        i, at = rng.randrange(low, len(out)), rng.randrange(low, len(out))
        out[at:at] = out[i : i + rng.randrange(1, 2000)]
    elif kind == 5:
        digits = [i for i in range(low, len(out)) if 48 <= out[i] <= 57]
        for _ in range(rng.choice([1, 5, 30])):
            out[rng.choice(digits)] = 48 + rng.randrange(10)
    else:
        lines = bytes(out[low:]).split(b"\n")
        for _ in range(rng.choice([1, 3])):
            lines[rng.randrange(len(lines))] = rng.choice(ODD)
        out[low:] = b"\n".join(lines)
    return bytes(out)


def ends(good: list[bytes], seed: int, folder: Path) -> tuple[str, float]:
    """Read one injured drawing; return how it ended and the CPU seconds. Anything but a TinbookError passes on."""
    path = folder / "case.dxf"
    rng = random.Random(seed)
    data = injured(rng.choice(good), rng)
    path.write_bytes(data)
    start = time.process_time()
    try:
        read_dxf(path)
        ended = "flat"
    except TinbookError:
        ended = "error"
    took = time.process_time() - start
    assert path.read_bytes() == data
    assert list(folder.iterdir()) == [path]
    return ended, took


@pytest.fixture(autouse=True)
def hushed(caplog: pytest.LogCaptureFixture) -> None:
    """Keep out of the report what the DXF library says about damage: pieces of the file that no text can carry."""
    caplog.set_level(logging.CRITICAL, "ezdxf")


@pytest.mark.filterwarnings("ignore")  # what the DXF library says about damage does not matter here
@pytest.mark.parametrize("block", range(4))
def test_injured_files(block: int, good: list[bytes], tmp_path: Path) -> None:
    found = [ends(good, seed, tmp_path) for seed in range(75 * block, 75 * block + 75)]
    assert min([e for e, _ in found].count(kind) for kind in ("flat", "error")) > 5
    assert max(took for _, took in found) < 5


@pytest.mark.full
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("block", range(20))
def test_twenty_thousand_injured_files(block: int, good: list[bytes], tmp_path: Path) -> None:
    longest = max(ends(good, seed, tmp_path)[1] for seed in range(1000 + 1000 * block, 2000 + 1000 * block))
    print(f"block {block}: longest {longest:.2f} s")
    assert longest < 5
