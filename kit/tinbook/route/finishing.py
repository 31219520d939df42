"""From the first weld to the last wax: what is done to metal after it is fitted, in which order, and why.

The order is common practice of body shops; makers' data sheets of primers, sealers and waxes go first.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import shapely

from tinbook.language import Said, joined
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.space import dot
from tinbook.tolerances import HEM_GAP
from tinbook.values import dataclass

COURSE: Final = (
    *("prime", "weld", "weld tails", "plug weld", "fill", "dress"),
    *("epoxy", "seal", "paint", "rivet", "insert", "wax", "bolt"),
)
"""Kinds of work in the order of the trade (common practice)."""

WHY: Final = {
    "prime": "no paint reaches between the sheets later",
    "fill": "an open hole lets water into the lap",
    "dress": "grinding tears primer and sealer",
    "epoxy": "sealer and paint hold on it, and it shuts out water; it burns where it is welded",
    "seal": "sealer holds on primer and is painted over",
    "paint": "the last heat is over and the sealer is dry",
    "insert": "heat spoils inserts and paint clogs their threads",
    "bolt": "bolts pinch finished paint and nothing moves any more",
    "rivet": "rivets are set in wet primer, after the faces between are painted",
    "wax": "it creeps where nothing else gets to; nothing sticks on it and it burns",
}
"""Why each stands where it does."""

BARE: Final = ("stainless", "aluminium")
"""Families on which weld-through primer has no business."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """One piece of work.

    Parameters
    ----------
    kind : str
        One of `COURSE`.
    what : str
        In words.
    """

    kind: str
    what: str

    @property
    def why(self) -> str:
        """In one line."""
        return WHY.get(self.kind, "everything else is settled")


def first_coat(families: Iterable[str]) -> str:
    """Return what goes on the bare metal of these families before sealer and paint."""
    kinds = set(families)
    said = []
    if kinds - set(BARE):
        said.append(Said("epoxy primer on bare steel"))
    if "aluminium" in kinds:
        said.append(Said("etch or epoxy primer for aluminium within hours of abrading it"))
    if "stainless" in kinds:
        said += [Said("pickle and passivate stainless"), Said("adhesion primer where it is painted")]
    return joined(said)


def before_laps(families: Iterable[str], zinc: bool) -> str:
    """Return what is done to faces that will lie on each other under a weld."""
    kinds = set(families)
    said = []
    if zinc:
        said.append(Said("grind the zinc off 20 mm each side of the weld, under extraction"))
    if kinds - set(BARE):
        said.append(Said("weld-through primer on the lapped faces"))
    if kinds & set(BARE):
        said.append(Said("degrease and brush bright with a stainless brush, no primer"))
    return joined(said)


def galvanised(made: Made) -> bool:
    """Whether a sheet is zinc coated, by its material's own words ("DX51D+Z", "hot-dip galvanised")."""
    m = made.sheet.material
    words = f"{m.key} {m.title}".lower()
    return "galvani" in words or "+z" in words or "zinc" in words


def finishing(made: Made) -> list[Finish]:
    """Return the work on one part from fitting to bolting, in order."""
    uses = {h.use for p in made.panels for h in p.holes}
    family = made.sheet.material.family
    laps = bool(own_laps(made))
    riveted = "rivet" in uses
    corners = any(f.corner.kind == "closed" and f.hem is None for f in made.part.folds)
    hems = any(f.hem for f in made.part.folds)
    tails = laps and not riveted
    welded = "plug weld" in uses or corners or tails
    found = []
    if "plug weld" in uses or tails:
        found.append(Finish(kind="prime", what=before_laps([family], galvanised(made))))
    if tails:
        found.append(Finish(kind="weld tails", what=Said("weld the tails on what they lie on")))
    if "plug weld" in uses:
        tacked = Said("plug weld, then take the tack screws out") if "tack screw" in uses else Said("plug weld")
        found.append(Finish(kind="plug weld", what=tacked))
    if "tack screw" in uses:
        shut = Said("weld the tack-screw holes shut")
        how = shut if welded else Said("take the tack screws out, close their holes with sealer")
        found.append(Finish(kind="fill", what=how))
    if welded:
        found.append(Finish(kind="dress", what=Said("dress the welds")))
    found.append(Finish(kind="epoxy", what=first_coat([family])))
    if welded or hems:
        found.append(Finish(kind="seal", what=Said("seam sealer along laps, hems and closed corners")))
    found.append(Finish(kind="paint", what=Said("paint")))
    if riveted:
        tails_too = Said("rivet the tails, wet primer between")
        found.append(Finish(kind="rivet", what=tails_too if laps else Said("set the blind rivets, wet primer between")))
    if "plug weld" in uses or hems or laps:
        found.append(Finish(kind="wax", what=Said("cavity wax into laps, hems and whatever is closed")))
    return found


def own_laps(made: Made) -> list[tuple[str, str]]:
    """Return panels of one part that a curl has laid on each other, such as a strap's tail on the strap; no hems."""
    hemmed = {f.name for f in made.part.folds if f.hem}
    curled = {s.child for s in made.strips if s.angle > 180.0 and s.name not in hemmed}
    found = []
    for p in made.panels:
        if p.name in curled:
            found += [(p.name, q.name) for q in made.panels if q.name != p.name and _lies_on(p, q, made.thickness)]
    return found


def _lies_on(p: MadePanel, q: MadePanel, t: float) -> bool:
    """Whether two parallel panels lie on each other over more than a strip of 2 t."""
    a, b = p.frame, q.frame
    if abs(dot(a.z, b.z)) < 0.999:
        return False
    apart = b.local(a(0.0, 0.0, t / 2))[2] - t / 2
    if abs(abs(apart) - t) > HEM_GAP + 0.25 * t:
        return False
    seen = shapely.Polygon((b.inverse() @ a).points(p.boundary.chords(0.1))[:, :2])
    shared = seen.intersection(shapely.Polygon(q.boundary.chords(0.1)))
    return not shared.buffer(-t).is_empty
