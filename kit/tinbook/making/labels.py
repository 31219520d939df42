"""Names and sizes of a part's features, as the views show them under the pointer.

A feature's key is its kind and its name ("fold:tunnel"), since a fold and the
panel beyond it share a name. The folded view and the flat pattern use the same
keys, which is what links a pick in one to the other.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from tinbook.flatpattern import both_ways

if TYPE_CHECKING:
    from tinbook.making.folded import BendZone, MadeHole, MadePanel
    from tinbook.making.made import Made
    from tinbook.plane.loops import Loop


def key(kind: str, name: str) -> str:
    """Return the key of a feature."""
    return f"{kind}:{name}"


def labels(made: Made) -> dict[str, str]:
    """Return the text of every feature by its key."""
    found: dict[str, str] = {}
    for p in made.panels:
        found[key("panel", p.name)] = _panel(p, made.thickness)
        found |= _holes(p.holes)
        for f in p.forms:
            if f.footprint is not None:
                found[key(f.KIND, f.name)] = f"{named(f.KIND, f.name)}, {f.label()}"
            for zone in f.zones:
                found[key("fold", zone)] = f"{named(f.KIND, f.name)}, {f.label()}"
    for s in made.strips:
        found[key("fold", s.name)] = _strip(s)
        found |= _holes(s.holes)
    if made.flat is not None:
        # Holes through a fold are in no panel; the flat pattern knows them.
        for drilled, cuts in ((False, made.flat.cuts), (True, made.flat.drills)):
            for c in cuts:
                if (name := key("hole", c.name)) not in found:
                    found[name] = _hole(c.name, c.use, c.dia, c.loop, drilled)
    return found


def named(kind: str, name: str) -> str:
    """Return what a feature is called in a sentence: its kind and its name, once where the name begins with the kind."""
    return name if name.startswith(kind) else f"{kind} {name}"


def _panel(p: MadePanel, thickness: float) -> str:
    x0, y0, x1, y1 = p.boundary.box
    return f"{named('panel', p.name)}\n{x1 - x0:.1f} × {y1 - y0:.1f} × {thickness:g} mm"


def _strip(s: BendZone) -> str:
    length = max((r.box[2] for r in s.regions), default=0.0) - min((r.box[0] for r in s.regions), default=0.0)
    return (
        f"{named('fold', s.name)}, {s.direction}\n{both_ways(s.angle, '°')}\n"
        f"inside radius {s.radius:.2f} mm, {length:.1f} mm long"
    )


def _holes(holes: Iterable[MadeHole]) -> dict[str, str]:
    return {key("hole", h.name): _hole(h.name, h.use, h.dia, h.loop, h.by_hand) for h in holes}


def _hole(name: str, use: str, dia: float | None, loop: Loop, by_hand: bool = False) -> str:
    if dia is not None:
        size = f"diameter {dia:g} mm"
    else:
        x0, y0, x1, y1 = loop.box
        size = f"{x1 - x0:.1f} × {y1 - y0:.1f} mm"
    return f"{named('hole', name)}\n{size}, {use}{', drilled by hand' if by_hand else ''}"
