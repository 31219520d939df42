"""Measured points in a text file become an outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadFile, BadValue, Mistake
from tinbook.read.measured import MeasuredOutline
from tinbook.read.rows import read_rows, shortened
from tinbook.read.survey import Measured, survey
from tinbook.space import Vec, unit_vector

SMALLEST: Final = 20.0
LARGEST: Final = 20_000.0
"""mm: an opening smaller or larger than this across was read in the wrong unit."""


def read_outline(
    path: str | Path,
    tol: Any = "0.5 mm",
    *,
    unit: str = "mm",
    up: Sequence[float] = (0.0, 0.0, 1.0),
    delimiter: str | None = None,
    decimal: str = ".",
) -> MeasuredOutline:
    """Fit an outline to measured points in a text file (CSV).

    Parameters
    ----------
    path : str or Path
        Table with the columns edge, x, y, z: points in order along each edge, edges in order round the
        opening (either way round). Measuring may begin in the middle of an edge: rows at the end of the
        file that carry the first edge's name again belong before its first row. See `rows.read_rows`.
    tol : length
        Within this a line must hold, or else an arc; greater than 0, at most a tenth of the span.
    unit : str
        Unit of the coordinates.
    up : (float, float, float)
        The side that is up, in the file's coordinates: the outline runs anticlockwise seen from there.
    delimiter, decimal : str
        See `rows.read_rows`.

    Returns
    -------
    MeasuredOutline
        In its own plane: the first edge starts at (0, 0) and its chord runs along +x, the opening lies
        on the side of +y. The record of the fit is its `fit`.

    Raises
    ------
    BadFile
        With every wrong row at once; or a wrong unit, an edge that neither a line nor an arc holds
        (naming the worst row), edges that do not meet.
    """
    tol, scale, up = _checked(tol, unit, up)
    rows = read_rows(path, delimiter=delimiter, decimal=decimal)
    names = np.array(rows.edges)
    cuts = [0, *(np.flatnonzero(names[1:] != names[:-1]) + 1).tolist(), len(names)]
    runs = [(str(names[i]), np.arange(i, j)) for i, j in pairwise(cuts)]
    if len(runs) > 2 and runs[0][0] == runs[-1][0]:
        runs[0] = runs[0][0], np.concatenate((runs.pop()[1], runs[0][1]))
    mistakes, seen = [], set()
    for name, index in runs:
        if name in seen:
            what = f"edge '{name}' begins again; the rows of an edge must stand together, in the order of measuring"
            mistakes.append(Mistake(f"line {rows.lines[index[0]]}", what))
        seen.add(name)
    if mistakes:
        raise BadFile(str(path), shortened(mistakes))
    lines = np.array(rows.lines)
    return _fitted([Measured(name, rows.xyz[index], lines[index]) for name, index in runs], tol, scale, up, str(path))


def _checked(tol: Any, unit: Any, up: Any) -> tuple[float, float, Vec]:
    """Return tolerance (mm), mm per unit and the unit vector upward."""
    if not isinstance(unit, str) or not unit.strip():
        raise BadValue("unit", unit, "the name of a unit of length, such as 'mm'")
    scale = units.length(f"1 {unit}", "unit")
    return units.positive(tol, "tol"), scale, unit_vector(up, "up")


def _fitted(edges: list[Measured], tol: float, scale: float, up: Vec, path: str) -> MeasuredOutline:
    """Check the rows, then fit; every error becomes a BadFile."""
    mistakes = []
    if len(edges) < 2:
        what = f"{len(edges)} edge named; an outline has at least three lines, or two edges of which one is an arc"
        mistakes.append(Mistake("column edge", what))
    for e in edges:
        if not (e.xyz != e.xyz[0]).any():
            what = f"edge '{e.name}' has one point only; a line takes two or more, an arc three or more"
            mistakes.append(Mistake(e.at(0), what))
    if mistakes:
        raise BadFile(path, shortened(mistakes))
    with np.errstate(over="ignore"):
        edges = [replace(e, xyz=e.xyz * scale) for e in edges]
        across = float(np.ptp(np.concatenate([e.xyz for e in edges]), axis=0).max())
    if not SMALLEST <= across <= LARGEST:
        fitting = [
            u
            for u, mm in (("mm", 1.0), ("m", 1000.0), ("in", 25.4), ("cm", 10.0))
            if 100 <= across / scale * mm <= 5000
        ]
        guess = (
            f"; in {fitting[0]} they would span {across / scale:.4g} {fitting[0]}: pass unit='{fitting[0]}'"
            if fitting
            else ""
        )
        what = f"span {across:.4g} mm across; an opening is {SMALLEST:g} mm to {LARGEST / 1000:g} m across{guess}"
        raise BadFile(path, [Mistake("columns x, y, z", what)])
    if tol > across / 10:
        raise BadValue("tol", f"{tol:g} mm", f"at most a tenth of the opening's span, {across / 10:.4g} mm")
    return survey(edges, tol, up, path)
