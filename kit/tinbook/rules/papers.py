"""Rules of the papers: the name of the revision, cautions of the part, plug welds that no code gives a resistance."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tinbook.calc.spotwelds import least_plug_hole
from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.made import Made
from tinbook.shop.revisions import in_scheme, in_words

APPROVED: Final = "have it approved by whoever your local rules name"
PLATE: Final = 3.0
"""mm: from this thickness on a plug weld probably carries a calculated load (own proposal)."""


def revision(made: Made) -> Iterator[Finding]:
    """Check that the revision follows the scheme of the shop file."""
    scheme = made.shop.revision_scheme
    if in_scheme(made.part.rev, scheme):
        return
    source = "ASME Y14.35" if scheme.startswith("ASME") else "own data"
    remedy = f"{in_words(scheme)}; or another revision_scheme in the shop file"
    yield stop(
        "part.revision", f"revision {made.part.rev!r}", f"not in the shop's scheme, {scheme}", remedy, source=source
    )


def cautions(made: Made) -> Iterator[Finding]:
    """Repeat what the declaration says must stand on every paper of the part."""
    for sentence in made.part.cautions:
        yield caution("part.caution", "part", sentence.rstrip("."), APPROVED)


def plug_welds(made: Made) -> Iterator[Finding]:
    """Name the plug welds that no code gives a resistance: those through holes under thickness + 8 mm."""
    t = made.thickness
    for dia in sorted({h.dia for p in made.panels for h in p.holes if h.use == "plug weld" and h.dia is not None}):
        least = least_plug_hole(t)
        if dia >= least:
            continue
        where, what = f"plug welds of {dia:g} mm", "body practice, not calculable by EN 1993-1-8 4.3.5"
        if t >= PLATE:
            remedy = f"where a load must be proved: holes of {least:g} mm, or fillet welds"
            yield caution("weld.plug", where, what, remedy, dia, least, source="EN 1993-1-8")
        else:
            yield fine("weld.plug", where, what, dia, least, source="EN 1993-1-8")
