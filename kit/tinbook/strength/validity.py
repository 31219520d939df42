"""Where a shell's stress holds and where another rule must answer: stout plates, pins in thick plate, toes of welds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely

from tinbook.calc.lugs import CAUTIONS
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.strength.loads import Load, Pull
from tinbook.strength.supports import Support
from tinbook.values import dataclass

SLENDER: Final = 10.0
"""Thicknesses across the largest panel below which a shell's stress is less sure than its ± (common practice)."""
STOUT: Final = 5.0
"""The same below which no stress is shown: it is no longer linear over the thickness (common practice)."""
THICK_EYE: Final = 4.0
"""Thicknesses in a pin's hole up to which its plate is held against the rule for pin plates (own choice)."""
TOES: Final = (
    "At welds the stress is the sheet's own at the weld's line; the notch at a weld's toe is not in it. The weld is held "
    "against its joint's rule, cyclic loads go by the detail category of EN 1993-1-9, whatever the grade."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """What limits an answer.

    Parameters
    ----------
    no_stress : str
        Why stress and first yield have no number; "" where they have.
    notes : tuple of str
        What must stand beside the numbers.
    """

    no_stress: str = ""
    notes: tuple[str, ...] = ()


def validity(made: Made, supports: Sequence[Support], loads: Sequence[Load]) -> Validity:
    """Return what limits a part's answer by shells on its supports under its loads."""
    notes = []
    no_stress = ""
    panel = max(made.panels, key=lambda p: abs(p.boundary.area))
    width = _short_side(panel) / made.thickness
    said = f"'{panel.name}' is {width:.3g} thicknesses wide"
    if width < STOUT:
        no_stress = f"{said}; shells give stress from {STOUT:g} on, a solid is wanted"
    elif width < SLENDER:
        notes.append(f"{said}: below {SLENDER:g} stress by shells is less sure than its ± says (common practice).")
    if _thick_eye(made, loads):
        no_stress = "in thick plate a pin's hole yields at its rim first; the rule for pin plates decides, see joints"
        notes += CAUTIONS
    if any("weld" in s.title for s in supports):
        notes.append(TOES)
    return Validity(no_stress=no_stress, notes=tuple(notes))


def _short_side(panel: MadePanel) -> float:
    box = shapely.minimum_rotated_rectangle(shapely.Polygon(panel.boundary.chords()))
    x, y = np.asarray(box.exterior.coords)[:3].T
    return float(min(math.hypot(x[1] - x[0], y[1] - y[0]), math.hypot(x[2] - x[1], y[2] - y[1])))


def _thick_eye(made: Made, loads: Sequence[Load]) -> bool:
    """Return whether a pin pulls a hole in thick plate, mostly in its plane."""
    for load in loads:
        if not isinstance(load, Pull) or not load.hole:
            continue
        panel = made.panel(load.panel)
        force = np.asarray(panel.frame.inverse().vectors(np.array([load.newtons], dtype=np.float64)))[0]
        if math.hypot(force[0], force[1]) <= np.linalg.norm(force) / 2:
            continue
        for hole in panel.holes:
            x0, _, x1, _ = hole.loop.box
            mine = hole.use == "cut-out" and load.hole in (hole.name, hole.use, hole.name.rsplit(" ", 1)[0])
            if mine and hole.loop.is_circle and x1 - x0 <= THICK_EYE * made.thickness:
                return True
    return False
