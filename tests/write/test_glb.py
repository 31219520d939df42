"""The GLB, taken apart by the published layout of the format and measured."""

from __future__ import annotations

import json
import os
import signal
import struct
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_samples import channel, impossible, pan

from tinbook.errors import CannotMake
from tinbook.write.glb import write_glb


def parts(data: bytes) -> tuple[dict[str, Any], bytes]:
    """Split a GLB into its JSON and its binary chunk (glTF 2.0 specification, section 4.4)."""
    magic, version, total = struct.unpack_from("<4sII", data)
    assert (magic, version, total) == (b"glTF", 2, len(data))
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    assert length % 4 == 0
    document = json.loads(data[20 : 20 + length])
    size, kind = struct.unpack_from("<I4s", data, 20 + length)
    assert kind == b"BIN\0"
    blob = data[28 + length :]
    assert len(blob) == size
    return document, blob


def read(document: dict[str, Any], blob: bytes, index: int) -> np.ndarray[Any, Any]:
    accessor = document["accessors"][index]
    view = document["bufferViews"][accessor["bufferView"]]
    dtype, width = {5126: ("<f4", 3), 5125: ("<u4", 1)}[accessor["componentType"]]
    assert view["byteOffset"] % 4 == 0
    return np.frombuffer(blob, dtype, accessor["count"] * width, view["byteOffset"]).reshape(-1, width)


@pytest.mark.parametrize("made", [channel, pan], ids=["channel", "pan"])
def test_holds_the_part_in_metres_with_y_up(tmp_path: Path, made: Any) -> None:
    it = made()
    document, blob = parts(write_glb(it, tmp_path).read_bytes())
    primitive = document["meshes"][0]["primitives"][0]
    p = read(document, blob, primitive["attributes"]["POSITION"]).astype(float)
    n = read(document, blob, primitive["attributes"]["NORMAL"]).astype(float)
    corners = read(document, blob, primitive["indices"]).reshape(-1, 3)
    a, b, c = (p[corners[:, k]] for k in range(3))
    # Volume under a closed surface (divergence theorem), right way round, against the kernel's exact one.
    volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6 * 1e9
    assert volume == pytest.approx(it.solid.Volume(), rel=2e-3)
    box = it.solid.BoundingBox()
    assert p.max(axis=0) * 1000 == pytest.approx([box.xmax, box.zmax, -box.ymin], abs=0.06)
    assert p.min(axis=0) * 1000 == pytest.approx([box.xmin, box.zmin, -box.ymax], abs=0.06)
    assert np.linalg.norm(n, axis=1) == pytest.approx(1, abs=1e-5)
    accessor = document["accessors"][primitive["attributes"]["POSITION"]]
    assert accessor["max"] == pytest.approx(p.max(axis=0))


def test_colour_and_name(tmp_path: Path) -> None:
    document, _ = parts(write_glb(channel(), tmp_path).read_bytes())
    assert document["nodes"][0]["name"] == "HN-WC rev A"
    surface = document["materials"][0]["pbrMetallicRoughness"]
    assert surface["metallicFactor"] == 0
    # sRGB 0.5 is 0.2140 in linear light (IEC 61966-2-1); channels of the material, forward again.
    back = [1.055 * v ** (1 / 2.4) - 0.055 for v in surface["baseColorFactor"][:3]]
    assert back == pytest.approx(channel().sheet.material.colour, abs=1e-4)


def test_same_bytes_again(tmp_path: Path) -> None:
    first = write_glb(channel(), tmp_path / "a.glb").read_bytes()
    assert write_glb(channel(), tmp_path / "b.glb").read_bytes() == first


def test_refusal_writes_nothing(tmp_path: Path) -> None:
    with pytest.raises(CannotMake):
        write_glb(impossible(), tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork on this system")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded")
def test_a_forked_child_may_write_what_its_parent_wrote(tmp_path: Path) -> None:
    """The kernel's pool of threads does not live on in a child, which would wait for it for ever."""
    parent = write_glb(channel(), tmp_path / "parent.glb")
    child = os.fork()
    if child == 0:
        code = 1
        with suppress(BaseException):
            write_glb(replace(channel()), tmp_path / "child.glb")
            code = 0
        os._exit(code)
    deadline = time.monotonic() + 600
    while (ended := os.waitpid(child, os.WNOHANG))[0] == 0:
        if time.monotonic() > deadline:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            pytest.fail("the child waits for threads that it does not have")
        time.sleep(0.02)
    assert os.waitstatus_to_exitcode(ended[1]) == 0
    assert (tmp_path / "child.glb").read_bytes() == parent.read_bytes()
