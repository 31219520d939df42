"""The few lengths and angles below which the kit treats things as equal."""

from __future__ import annotations

from typing import Final

SAME_POINT: Final = 1e-6
"""mm: two ends closer than this are one point (a tenth of the kernel's own 1e-7 m)."""

FITTED: Final = 5
"""Decimals of a mm, `FITTED_BULGE` of an arc's bulge and `FITTED_TURN` of a direction that are kept of what was fitted to
measured points. Beyond them stands only how a processor's own library rounds, and files must not depend on that."""

FITTED_BULGE: Final = 8
FITTED_TURN: Final = 11

SHORTEST_EDGE: Final = 1e-3
"""mm: no cutter follows a shorter edge; the resolver merges such steps away."""

CHORD: Final = 0.01
"""mm: largest sagitta when an arc becomes chords for area tests and pictures."""

HEM_GAP: Final = 0.1
"""mm: gap left in a closed hem, so that its two skins never touch in the solid."""

LANCED_GAP: Final = 0.1
"""mm: width left between a louvre's hood and the sheet it was lanced from, so that they never touch in the solid."""

SLIT: Final = 0.2
"""mm: width drawn for a tear relief; the cutter runs it as one cut."""
