"""A scan as a file that scanners' programs read: aligned, cut to a band, or invented for practice."""

from __future__ import annotations

import os
import re
from pathlib import Path

import numpy as np

from tinbook.errors import of_kind
from tinbook.read.scans.mesh import Scan
from tinbook.write.files import target, write_whole


def write_scan(scan: Scan, path: str | os.PathLike[str]) -> Path:
    """Write a scan as a binary PLY file, in mm.

    Parameters
    ----------
    scan : Scan
        Points, and triangles if it has any.
    path : str or path-like
        A file name that ends in .ply, or a folder that exists.

    Returns
    -------
    Path
        Of the file; one that is there already is replaced whole.
    """
    of_kind(scan, Scan, "scan", "a Scan, as tb.read_scan gives one")
    file = target(path, ".ply", re.sub(r"[^\w.-]+", "_", Path(scan.name).stem) or "scan")
    faces = np.zeros(len(scan.triangles), np.dtype([("count", "u1"), ("corners", "<i4", 3)]))
    faces["count"], faces["corners"] = 3, scan.triangles
    head = (
        "ply\nformat binary_little_endian 1.0\ncomment mm\n"
        f"element vertex {len(scan.points)}\nproperty double x\nproperty double y\nproperty double z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    write_whole({file: head.encode() + scan.points.astype("<f8").tobytes() + faces.tobytes()})
    return file
