"""Order of ten folds against making the part itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from frame import Case, benchmark


def _pan() -> object:
    """A tray with four returns, lips on all of them, and two tabs in the middle of its long sides' lips."""
    from tinbook.part.outline import Outline
    from tinbook.part.part import Part

    part = Part("HN-TRAY", sheet="DC01 1.5", base=Outline.rectangle(400, 300, ("near", "right", "far", "left")))
    for edge in ("near", "right", "far", "left"):
        part = part.fold(edge, "up", leg=30, tool="V12").fold(f"{edge}.end", "down", leg=18, tool="V12")
    for edge in ("near", "far"):
        part = part.fold(f"{edge}.end.end", "up", leg=12, angle=45, start=150, stop=250, tool="V12")
    return part


def _stairs() -> object:
    """A strip of ten folds, up and down in pairs."""
    from tinbook.part.outline import Outline
    from tinbook.part.part import Part

    part, edge = (
        Part("HN-STEPS", sheet="DC01 1.5", base=Outline.rectangle(300, 40, ("near", "right", "far", "left"))),
        "near",
    )
    for n in range(10):
        part = part.fold(edge, "up" if n % 4 in (0, 3) else "down", leg=25, tool="V12", name=f"s{n}")
        edge = f"s{n}.end"
    return part


def _zigzag() -> object:
    """Ten folds of 60 degrees by hand, each hung on the one before: it is turned over nine times."""
    from tinbook.part.outline import Outline
    from tinbook.part.part import Part

    base = Outline.rectangle(150, 40, ("front", "right", "rear", "left"))
    part = Part("HN-CH", sheet="DC01 1.2", base=base).fold("rear", "up", leg=40, angle=60, name="f1")
    for n in range(2, 11):
        part = part.fold(f"f{n - 1}.end", "down" if n % 2 == 0 else "up", leg=40, angle=60, name=f"f{n}")
    return part


@benchmark
def order_of_ten_folds() -> Iterator[Case]:
    from tinbook.making.resolve import make
    from tinbook.route.fold_order import fold_sequence
    from tinbook.shop.shop import Shop

    shop = Shop.demo()
    parts = {"a tray with lips and tabs": _pan(), "ten folds in a strip": _stairs(), "a zigzag by hand": _zigzag()}
    for name, part in parts.items():
        made = make(part, shop)
        assert len(made.strips) == 10
        assert fold_sequence(made).steps
        yield Case(
            name=f"order of ten folds: {name}",
            against="making the part",
            ours=lambda made=made: fold_sequence(replace(made)),  # a part keeps its answer
            base=lambda part=part: make(part, shop),
            rounds=3,
            seconds=2.0,
        )


@benchmark
def papers_of_a_part() -> Iterator[Case]:
    """Fold sheet, page of steps and template of one part whose order of folds is known, against its solid and STEP file."""
    from pathlib import Path
    from tempfile import mkdtemp

    import tinbook as tb

    shop, folder = tb.Shop.demo(), Path(mkdtemp())
    for family in (tb.families.tunnel, tb.families.flanged_disc):
        made = tb.make(family(), shop)
        tb.fold_sequence(made)

        def ours(made: tb.making.Made = made) -> None:
            tb.write_sheet(made, folder, replace=True)
            tb.write_fold_page(made, folder, replace=True)
            tb.write_template(made, folder, replace=True)

        def base(family: object = family) -> None:
            tb.write_step(tb.make(family(), shop), folder, replace=True)  # type: ignore[operator]

        yield Case(
            name=f"papers of a part, {family.__name__}",
            against="making it, its solid and its STEP file",
            ours=ours,
            base=base,
            rounds=3,
            seconds=1.5,
            cpu=True,
        )
