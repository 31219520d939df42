"""Every number of every paper of every family: holes and fold lines from a datum on the metal, sizes as the model has them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import tinbook as tb
from familylists import FIRST, FITTED, LIGHT, PLATES, WELDED
from printed import faults, pieces, printed_as, rows
from tapesolid import Taped
from tinbook.dims import hole_rows
from tinbook.making.accuracy import FinishedSize
from tinbook.making.made import Made
from tinbook.plane.cuts import distance
from tinbook.write.setting_out import MOST, setting_out
from tinbook.write.taping import hole_places

SHOP = tb.Shop.demo()
DESPITE = "only its paper is looked at"
SAMPLE = (tb.folded_channel, tb.families.hinged_lid)
EVERY = [*(pytest.param(f, id=f.__name__) for f in SAMPLE)] + [
    pytest.param(f, id=f.__name__, marks=pytest.mark.full)
    for f in (*FIRST, *LIGHT, *PLATES, *WELDED, *FITTED)
    if f not in SAMPLE
]


def parts_of(thing: Any) -> Iterator[tb.Part]:
    for it in thing if isinstance(thing, tuple) else (thing,):
        yield from it.parts if isinstance(it, tb.Assembly) else (it,)


@pytest.mark.parametrize("family", EVERY)
def test_every_number_on_the_sheet_is_the_models(family: Any, tmp_path: Path) -> None:
    for part in parts_of(family()):
        made = tb.make(part, SHOP)
        every = pieces(tb.write_sheet(made, tmp_path, despite=DESPITE, language="en").read_bytes())
        assert faults(every) == [], part.number
        said = rows(every)
        assert list(_missing(made, said)) == [], part.number
        if made.strips:
            assert list(_off_the_metal(made, said)) == [], part.number


def _missing(made: Made, said: list[list[str]]) -> Iterator[str]:
    """What should stand on the paper and does not, measured from the corner that the paper names as its origin."""
    flat = made.flat
    assert flat is not None
    cells = {cell for row in said for cell in row}
    for v in flat.size:
        if not any(f"{v:.1f}" in cell for cell in cells):
            yield f"size {v:.1f}"
    for size in tb.finished_sizes(made):
        if not any(t in row for row in said for t in printed_as(size.nominal)):
            yield f"finished size {size.name} {size.nominal:.2f}"
    out = setting_out(flat)
    origin = out.datum, out.holes
    shown = [r for r in said if len(r) >= 3]
    cut = 0
    for h in hole_rows(flat):
        for p in h.centres:
            cut += not h.drilled
            if h.drilled or cut <= MOST:
                x, y = origin[1].at(p)
                if not any(_stands(r, x, y) for r in shown):
                    yield f"hole {h.name} at {x:.2f}, {y:.2f}"
    for f in flat.folds:
        for p in (f.pieces[0][0], f.pieces[-1][1]) if f.pieces else ():
            x, y = origin[0].at(p)
            if not any(_stands(r, x, y) for r in shown):
                yield f"fold line {f.name} at {x:.2f}, {y:.2f}"
    if not flat.outer.is_full_circle and min(distance(e, origin[0].origin) for e in flat.outer) > 1e-6:
        meets = origin[0].kind in ("edges", "across")  # where two edges would meet, or a line that is marked
        if not meets:
            yield "an origin that is not on the metal"


def _off_the_metal(made: Made, said: list[list[str]]) -> Iterator[str]:
    """Distances of the folded part that are not printed, and those that the solid's faces and edges do not have."""
    tape, t = Taped(made.solid), made.thickness
    for places in hole_places(made):
        ends = {places[0].tag, places[-1].tag}
        for place in places:
            p = place.panel
            down, up = (np.array(p.frame(*place.at, z)) for z in (0.0, t))
            faces = tape.lines((down + up) / 2, t / 2)
            seen = [it.away(q) for lines in faces for q in (down, up) for it in lines]
            if len(place.taped) < 2:
                yield f"{place.tag} has fewer than two distances"
            if min((away for away, beside in seen if beside), default=math.inf) < place.taped[0].away - t - 0.05:
                yield f"{place.tag}: not from what is nearest"
            for it in place.taped:
                if not any(abs(away - it.away) < 0.02 for away, _ in seen):
                    yield f"{place.tag} {it.away:.2f} from {it.name}: not on the solid"
                names = {place.tag, f"{places[0].tag} ... {places[-1].tag}"}
                if place.tag in ends and not any(_told(r, names, it.away) for r in said):
                    yield f"{place.tag} {it.away:.2f} from {it.name}: not on the paper"
    sizes = tb.finished_sizes(made)
    for size in sizes:
        if not all(tape.on_a_line(np.array(made.panel(size.panel).frame(*q, z))) for q, z in _ends(made, size)):
            yield f"{size.name} {size.nominal:.2f}: not on the solid"
    yield from {s.name for s in made.strips if not s.formed} - {f for size in sizes for f in size.folds}


def _ends(made: Made, size: FinishedSize) -> Iterator[tuple[tuple[float, float], float]]:
    """The ends of a size on its panel, each on the face that is the outside of its fold; a cut edge on that of the other end."""
    ways = {s.name: s.direction for s in made.strips}
    for k, end in enumerate(size.ends):
        yield end, 0.0 if ways[size.folds[min(k, len(size.folds) - 1)]] == "up" else made.thickness


def _told(row: list[str], names: set[str], away: float) -> bool:
    """Whether a distance stands behind one of the names in a row that several tables may share."""
    return any(cell in names and set(row[k + 1 : k + 3]) & set(printed_as(away)) for k, cell in enumerate(row))


def _stands(row: list[str], x: float, y: float) -> bool:
    """Whether x and y stand beside each other in a row."""
    return any(a in printed_as(x) and b in printed_as(y) for a, b in pairwise(row))


@pytest.mark.full
@pytest.mark.parametrize("family", [*WELDED, *FITTED], ids=lambda f: f.__name__)
@pytest.mark.parametrize("language", ["en", "de"])
def test_nothing_overlaps_on_an_assemblys_page(family: Any, language: str, tmp_path: Path) -> None:
    found = family()
    for it in found if isinstance(found, tuple) else (found,):
        if isinstance(it, tb.Assembly):
            file = tb.write.write_assembly_page(tb.assemble(it, SHOP), tmp_path, language=language, despite=DESPITE)
            assert faults(pieces(file.read_bytes())) == []


def test_views_show_the_folded_part_with_its_overall_sizes_and_its_revisions(tmp_path: Path) -> None:
    """By hand: a channel of 60 with two legs of 30, 200 long, all to the outside: 200 x 60 x 30, each size in two views."""
    part = tb.Part("CH", rev="C", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 60))
    made = tb.make(part.fold("front", "up", leg=30).fold("rear", "up", leg=30), SHOP)
    listed = [("B", "2027-01-31", "legs 30, were 25"), ("C", "2027-03-31", "no holes")]
    every = pieces(tb.write_sheet(made, tmp_path, revisions=listed, language="de").read_bytes())
    last = max(p.page for p in every)
    said = [p.text.strip() for p in every if p.page == last]
    assert [said.count(v) for v in ("200,0", "60,0", "30,0")] == [2, 2, 2]
    assert [row for row in rows(every) if row[0] == "C" and len(row) == 3] == [["C", "31.03.2027", "no holes"]]
    for bad in (3, "AB", [("A", "B")], [("A", "B", 3)], [None]):
        with pytest.raises(tb.errors.BadValue, match="revisions"):
            tb.write_sheet(made, tmp_path, revisions=bad, replace=True)
