"""Shims under a body's mounts: the fewest pieces from stock that bring it level, and what each mount carries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations_with_replacement
from typing import Any, Final, TypeAlias

import numpy as np

from tinbook import units
from tinbook.errors import BadValue, CannotMake, of_kind
from tinbook.fields import Count
from tinbook.finding import Finding, Findings, caution, fine
from tinbook.htmltable import html_table
from tinbook.units import is_sequence
from tinbook.values import dataclass

MOST_STOCK: Final = 12
MOST_PIECES: Final = 6
MOST_MOUNTS: Final = 24
SAME: Final = 1e-9
"""mm: heights nearer than this are one."""
GRAVITY: Final = 9.80665

Stack: TypeAlias = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Levelled:
    """Shims that bring a body level.

    Parameters
    ----------
    stacks : dict of str to tuple of float
        Thicknesses under each mount, mm, thickest first; none where nothing goes.
    heights : dict of str to float
        Of each mount then, over where it was drawn, mm.
    spread : float
        Highest less lowest of them, mm.
    loads : dict of str to float
        What each mount carries, N; empty where mass and centre were not given.
    findings : Findings
        What should be looked at.
    """

    stacks: dict[str, Stack]
    heights: dict[str, float]
    spread: float
    loads: dict[str, float]
    findings: Findings

    @property
    def pieces(self) -> int:
        """How many shims in all."""
        return sum(map(len, self.stacks.values()))

    def __repr__(self) -> str:
        return f"<{self.pieces} shims under {len(self.stacks)} mounts, level within {self.spread:.2f} mm>"

    def _repr_html_(self) -> str:
        rows = [
            (
                n,
                " + ".join(f"{t:g}" for t in s) or "none",
                f"{sum(s):g}",
                f"{self.heights[n]:+.2f}",
                f"{self.loads[n]:.0f}" if n in self.loads else "",
            )
            for n, s in self.stacks.items()
        ]
        heads = ("mount", "shims, mm", "stack, mm", "height over drawn, mm", "carries, N")
        return html_table(heads, rows, notes=map(str, self.findings))


def level_mounts(
    heights: Mapping[str, Any],
    *,
    stock: Sequence[Any],
    within: Any = "1 mm",
    pieces: int = 3,
    tall: Any = "12 mm",
    bolt: tuple[Any, Any, Any] | None = None,
    places: Mapping[str, Sequence[Any]] | None = None,
    mass: Any = None,
    centre: Sequence[Any] | None = None,
) -> Levelled:
    """Return the fewest shims that bring all mounts to one height over where they were drawn.

    Parameters
    ----------
    heights : mapping of str to length
        Each mount's measured height less its drawn one; negative where it is low.
    stock : sequence of length
        Thicknesses of shims, at most twelve.
    within : length
        Highest less lowest mount, at most, when it is done.
    pieces : int
        Shims in one stack, at most; 0 to 6.
    tall : length
        Height of one stack, at most.
    bolt : (length, length, length), optional
        The bolt's length, what it clamps without shims, and its diameter: thread as long as the diameter must be
        left in the nut, which limits a stack's height too (common practice).
    places : mapping of str to (length, length), optional
        x and y of each mount, for the loads.
    mass : float or quantity, optional
        Of what stands on the mounts, kg.
    centre : (length, length), optional
        Its centre of mass.

    Returns
    -------
    Levelled
        Of several answers with as few pieces the one with the least spread, then the lowest stacks.

    Raises
    ------
    CannotMake
        No stacks within the limits do it; the message names the least spread that can be had.
    """
    of_kind(heights, Mapping, "heights", "{mount: measured less drawn height}")
    off = {str(n): units.length(v, f"height of mount '{n}'") for n, v in heights.items()}
    if not 2 <= len(off) <= MOST_MOUNTS:
        raise BadValue("heights", len(off), f"2 to {MOST_MOUNTS} mounts")
    limit = units.positive(within, "within")
    highest = units.length(tall, "tall")
    if highest < 0:
        raise BadValue("tall", tall, "0 mm or more")
    stacks = _stacks(stock, pieces, min(highest, _room(bolt)))
    found = _fewest(off, stacks, limit)
    if found is None:
        least = min(_least_spread(off, stacks))
        raise CannotMake(
            f"mounts: no stacks of {pieces} pieces up to {highest:g} mm bring them within {limit:g} mm; "
            f"the least spread that can be had is {least:.2f} mm: allow more, or stock a thinner shim"
        )
    after = {n: off[n] + sum(s) for n, s in found.items()}
    spread = max(after.values()) - min(after.values())
    loads, said = _loads(off, places, mass, centre)
    said.append(fine("table.level", f"{len(off)} mounts", "they are level", round(spread, 6), limit))
    return Levelled(stacks=found, heights=after, spread=spread, loads=loads, findings=Findings(said))


def _room(bolt: Any) -> float:
    """Return the tallest stack that leaves the bolt enough thread in its nut."""
    if bolt is None:
        return float("inf")
    if not is_sequence(bolt) or len(bolt) != 3:
        raise BadValue("bolt", bolt, "(length, what it clamps, diameter)")
    long, clamped, dia = (
        units.positive(v, f"bolt {w}") for v, w in zip(bolt, ("length", "clamps", "diameter"), strict=True)
    )
    room = long - clamped - dia
    if room < 0:
        raise BadValue(
            "bolt length", bolt[0], f"{clamped + dia:g} mm or more: what it clamps and its diameter in the nut"
        )
    return room


def _stacks(stock: Any, pieces: Any, tall: float) -> list[Stack]:
    """Return every stack within the limits, one for each height: the fewest pieces, thickest first."""
    if isinstance(stock, str) or not is_sequence(stock) or not 1 <= len(stock) <= MOST_STOCK:
        raise BadValue("stock", stock, f"1 to {MOST_STOCK} thicknesses")
    Count(0, MOST_PIECES).read(pieces, "pieces")
    thick = sorted({units.positive(t, "shim thickness") for t in stock}, reverse=True)
    best: dict[float, Stack] = {}
    for count in range(pieces + 1):
        for s in combinations_with_replacement(thick, count):
            height = round(sum(s), 6)
            if height <= tall + SAME and height not in best:
                best[height] = s
    return [best[h] for h in sorted(best)]


def _fewest(off: Mapping[str, float], stacks: Sequence[Stack], limit: float) -> dict[str, Stack] | None:
    """Return the best stacks: for each height that the lowest mount can have, the fewest pieces of every other.

    Exact: in any answer some mount is lowest, and its height is one of those tried.
    """
    tops = np.array([sum(s) for s in stacks])
    count = np.array([len(s) for s in stacks])
    heights = np.array(list(off.values()))
    after = heights[:, None] + tops[None, :]
    best: tuple[tuple[float, ...], list[int]] | None = None
    for low in np.unique(np.round(after, 9)):
        # A smaller window than the limit may do with as many pieces: the windows that end at a mount's height are tried.
        inside = (after >= low - SAME) & (after <= low + limit + SAME)
        if not inside.any(axis=1).all():
            continue
        need = np.where(inside, count[None, :], 99).min(axis=1)
        total = int(need.sum())
        if best is not None and total > best[0][0]:
            continue
        for high in np.unique(np.round(after[inside], 9)):
            fits = inside & (after <= high + SAME) & (count[None, :] == need[:, None])
            if fits.any(axis=1).all():
                chosen = fits.argmax(axis=1).tolist()  # the lowest stack that does
                reached = after[np.arange(len(heights)), chosen]
                score = (float(total), round(float(np.ptp(reached)), 9), round(float(tops[chosen].sum()), 9))
                if best is None or score < best[0]:
                    best = score, chosen
                break
    return None if best is None else {n: stacks[k] for n, k in zip(off, best[1], strict=True)}


def _least_spread(off: Mapping[str, float], stacks: Sequence[Stack]) -> list[float]:
    """Return the least window over each height that the lowest mount can have."""
    after = np.array(list(off.values()))[:, None] + np.array([sum(s) for s in stacks])[None, :]
    spreads = []
    for low in np.unique(after):
        above = np.where(after >= low - SAME, after, np.inf).min(axis=1)
        if np.isfinite(above).all():
            spreads.append(float(above.max() - low))
    return spreads


def _loads(off: Mapping[str, float], places: Any, mass: Any, centre: Any) -> tuple[dict[str, float], list[Finding]]:
    """Return what each mount carries: a rigid body on mounts of one stiffness."""
    given = [v is not None for v in (places, mass, centre)]
    if not any(given):
        return {}, []
    if not all(given):
        raise BadValue("loads", "incomplete", "places, mass and centre together")
    of_kind(places, Mapping, "places", "{mount: (x, y)}")
    missing = [n for n in off if n not in places]
    if missing:
        raise BadValue("places", tuple(places), f"a place for each mount; missing: {', '.join(missing)}")
    xy = np.array([units.point(places[n], f"place of mount '{n}'") for n in off])
    weight = units.number(mass, "kg", "mass") * GRAVITY
    if weight <= 0:
        raise BadValue("mass", mass, "greater than 0 kg")
    at = np.array(units.point(centre, "centre"))
    arms = np.column_stack((np.ones(len(xy)), xy - at))
    if np.linalg.matrix_rank(arms, tol=1e-6 * float(np.abs(arms).max())) < 3:
        raise BadValue("places", tuple(places), "three mounts or more that do not stand on one line")
    force = arms @ np.linalg.solve(arms.T @ arms, np.array((weight, 0.0, 0.0)))
    loads = {n: float(f) for n, f in zip(off, force, strict=True)}
    light = [n for n, f in loads.items() if f <= 0]
    if not light:
        return loads, []
    what = "the body lifts here: its centre of mass lies outside the mounts"
    return loads, [
        caution("table.lifts", f"mount '{n}'", what, "look at the centre of mass", loads[n], 0.0, "N", "statics")
        for n in light
    ]
