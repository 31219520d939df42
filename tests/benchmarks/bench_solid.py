"""The folded solid against a boolean cut per hole, its growth with the number of holes, and the preview beside it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import cadquery as cq
from frame import Case, Job, benchmark

from byhand import tray
from tinbook.making.folded import Folded
from tinbook.making.preview.build import preview
from tinbook.making.solid import mesh
from tinbook.making.solid.build import solid

GROWTH = 10**1.2
"""From 300 to 3000 holes the time may grow like the number of holes to the power 1.2."""


def afresh(m: Folded) -> Folded:
    """Return the part without what was kept from the last round."""
    return replace(m)


def cut_one_by_one(m: Folded) -> Job:
    """Return the job of drilling the undrilled pan hole by hole in plain CadQuery."""
    blank = solid(tray(0))
    holes = m.panels[0].holes

    def job() -> object:
        part = blank
        for h in holes:
            x, y = h.loop.edges[0].centre
            part = part.cut(cq.Solid.makeCylinder(h.dia / 2, 10.0, cq.Vector(x, y, -5.0)))
        return part

    return job


def with_triangles(m: Folded) -> object:
    """Return what a viewer would need from the kernel: the solid's triangles as arrays."""
    s = solid(afresh(m))
    mesh.triangulate(s)
    return mesh.triangles(s)


@benchmark
def solids() -> Iterator[Case]:
    for count, wanted, rounds in ((60, 20, 3), (300, 100, 1)):
        m = tray(count)
        theirs = cut_one_by_one(m)
        assert abs(theirs().Volume() / solid(m).Volume() - 1) < 1e-9
        yield Case(
            name=f"solid of a pan with four returns and {count} holes",
            against="one boolean cut per hole",
            ours=lambda m=m: solid(afresh(m)),
            base=theirs,
            rounds=rounds,
            faster=wanted,
        )
    few, many = tray(300), tray(3000)
    yield Case(
        name="solid with 3000 holes",
        against="solid with 300 holes",
        ours=lambda: solid(afresh(many)),
        base=lambda: solid(afresh(few)),
        slower=GROWTH,
    )
    for count in (60, 300):
        m = tray(count)
        yield Case(
            name=f"preview with {count} holes",
            against="solid, meshed and read",
            ours=lambda m=m: preview(afresh(m)),
            base=lambda m=m: with_triangles(m),
            rounds=9,
            faster=30,
        )
