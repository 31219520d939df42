"""Bead layouts: the five panels of `layoutcases`, each searched within 30 s on two cores."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from frame import Case, benchmark


def _search(name: str, feet: object = ()) -> object:
    import layoutcases as cases
    from strategies import SHOP
    from tinbook.strength.bead_search.search import bead_layouts

    p = cases.PANELS[name]
    return bead_layouts(
        p.part,
        SHOP,
        p.supports,
        rolls=p.rolls,
        most=p.most,
        feet=feet,  # type: ignore[arg-type]
        members=4,
        workers=2,
    )


def _some_alone(name: str) -> object:
    """Sixteen coarse runs of one layout, one after another in this process."""
    import layoutcases as cases
    from strategies import SHOP
    from tinbook.making.resolve import make
    from tinbook.strength import analysis as an

    p = cases.PANELS[name]
    part = p.part.bead(((100, 100), (100, 300)), p.rolls[0]).repeated(4, (60, 0))
    made = make(part, SHOP)
    box = made.panel("base").boundary.box
    size = min(box[2] - box[0], box[3] - box[1]) / 8
    return [an.modes(made, p.supports, count=1, size=size, compare=False) for _ in range(16)]


@benchmark
def layouts() -> Iterator[Case]:
    import layoutcases as cases

    for name in cases.PANELS:
        yield Case(
            name=f"bead layouts, {name}, 128 layouts on two processes",
            against="16 of its coarse runs, one after another",
            ours=partial(_search, name),
            base=partial(_some_alone, name),
            rounds=1,
            seconds=30.0,
        )
    yield Case(
        name="bead layouts, simply supported, with a foot in large displacements",
        against="16 of its coarse runs, one after another",
        ours=partial(_search, "simply supported", None),
        base=partial(_some_alone, "simply supported"),
        rounds=1,
        seconds=30.0,
    )
