"""A part drawn out at a line: judged by the kernel on the two solids, cut at the line."""

from __future__ import annotations

import pytest

import tinbook as tb
from tinbook.part.forms.bead import Bead
from tinbook.part.forms.drawn_hole import DrawnHole

SHOP = tb.Shop.demo()
FAR = 2000.0


def tray() -> tb.Part:
    """Return a part with folds along and across the line, a fold on a fold, holes, a cut-out and a grid."""
    base = tb.Outline.rectangle(600, 400).clipped({"rear/left": "86 mm"})
    part = tb.Part("HN-S1", sheet="DC01 1.5", base=base)
    part = part.fold("front", "up", leg=40).fold("right", "up", leg=30).fold("front.end", "down", leg=15, name="lip")
    part = part.fold("rear", "up", leg=25, start=20, stop=480)
    shape = tb.Outline.polygon([(0, 0), (314, 0), (250, 60), (60, 60)], ("base", "a", "b", "c"))
    part = part.hole((100, 200), 10).hole((500, 200), 12).hole((150, 20), 6, panel="front")
    part = part.hole((550, 10), 6, panel="front").hole((100, 8), 4, panel="lip").hole((60, 12), 5, panel="rear")
    part = part.cut_out(tb.Outline.rectangle(100, 40), at=(290, 300))
    return part.fold("left", "up", shape=shape)


def boxed(solid: object, low: float, high: float) -> object:
    import cadquery as cq

    box = cq.Solid.makeBox(high - low, FAR, FAR, cq.Vector(low, -FAR / 2, -FAR / 2))
    return solid.intersect(box)  # type: ignore[attr-defined]


def common(a: object, b: object) -> float:
    return float(a.intersect(b).Volume())  # type: ignore[attr-defined]


@pytest.mark.parametrize("by", [60.0, -20.0])
def test_both_sides_of_the_line_keep_their_metal(by: float) -> None:
    at = 330.0
    old, new = (tb.make(p, SHOP).solid for p in (tray(), tray().stretched(at, by)))
    keep = at + min(by, 0.0)
    before = boxed(old, -FAR, keep), boxed(new, -FAR, keep)
    after = boxed(old, at, FAR).translate((by, 0, 0)), boxed(new, at + by, FAR)  # type: ignore[attr-defined]
    for a, b in (before, after):
        assert a.Volume() == pytest.approx(b.Volume(), rel=1e-9)  # type: ignore[attr-defined]
        assert common(a, b) == pytest.approx(a.Volume(), rel=1e-7)  # type: ignore[attr-defined]
    # At the line the part is a prism: what comes in or goes out is the section times the length.
    slice_ = boxed(old, at - 5, at).Volume() / 5  # type: ignore[attr-defined]
    assert new.Volume() - old.Volume() == pytest.approx(by * slice_, rel=1e-6)


def test_a_clipped_corner_stays_and_the_way_back_gives_the_same_part() -> None:
    part = tray()
    longer = part.stretched(330, "60 mm")
    clip = longer.base.edge("rear-left")
    assert sorted((abs(clip.end[0] - clip.start[0]), abs(clip.end[1] - clip.start[1]))) == pytest.approx([86, 86])
    assert longer.base.box == pytest.approx((0, 0, 660, 400))
    assert longer.stretched(390, -60) == part
    assert part.stretched(150, 25, "y").base.box == pytest.approx((0, 0, 600, 425))


def test_repeated_forms_and_grids_spread_between_their_ends() -> None:
    part = tb.Part("HN-S2", sheet="DC01 1.5", base=tb.Outline.rectangle(900, 400))
    part = (
        part.bead([(100, 80), (100, 320)], roll="R18x5")
        .repeated(6, "140 mm")
        .hole_grid((40, 30), (9, 2), (100, 340), dia=6)
    )
    part = part.formed(DrawnHole(centre=(170, 200), dia=30, height=8, copies=5, step=(140, 0)))
    part = part.bead([(60, 370), (840, 370)], roll="R18x5")
    longer = part.stretched(450, 60)
    across, along = longer.forms_of(Bead)
    assert across.step == pytest.approx((152, 0))  # 5 steps share 60 mm
    assert along.path[-1] == pytest.approx((900, 370))
    assert longer.forms_of(DrawnHole)[0].step == pytest.approx((155, 0))
    grid = longer.holes[0]
    assert grid.places[0] == (40, 30)  # type: ignore[union-attr]
    assert grid.places[-1] == pytest.approx((900, 370))  # type: ignore[union-attr]


def test_the_other_parameters_stay_and_the_family_s_values_go() -> None:
    pan = tb.bead_rolled_panel()
    longer = pan.stretched(pan.base.box[0] + 37, 10)
    assert (longer.number, longer.rev, longer.sheet) == (pan.number, pan.rev, pan.sheet)
    assert longer.provenance is None


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda p: p.stretched(300, 0), "other than 0 mm"),
        (lambda p: p.stretched(300, 10, "z"), '"x" or "y"'),
        (lambda p: p.stretched("three", 10), "stretched at"),
        (lambda p: p.stretched(300, float("nan")), "stretched by"),
        (lambda p: p.stretched(None, 10), "stretched at"),
        (lambda p: p.stretched(700, 10), "beyond it"),
        (lambda p: p.stretched(-10, 10), "before it"),
        (lambda p: p.stretched(500, 10), "beside hole"),
        (lambda p: p.stretched(95, -12), "without a corner"),
        (lambda p: p.stretched(200, -250), "without a corner"),
    ],
)
def test_what_cannot_be_drawn_out_is_refused_in_words(call, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(tb.errors.BadValue, match=says):
        call(tray())


def test_an_arc_at_the_line_is_named() -> None:
    round_corner = tb.Outline.rectangle(200, 100).rounded(20)
    with pytest.raises(tb.errors.BadValue, match="front-right"):
        round_corner.stretched(190, 5)
    assert round_corner.stretched(100, 5).area == pytest.approx(round_corner.area + 500)
    bulged = tb.Outline.from_edges(tb.Outline.rectangle(200, 100).loop.edges)
    assert bulged.stretched(50, -20).box == pytest.approx((0, 0, 180, 100))


def test_a_leaning_edge_turns_but_what_stands_on_it_must_not() -> None:
    wedge = tb.Outline.polygon([(0, 0), (300, 0), (300, 200), (0, 120)], ("front", "right", "rear", "left"))
    part = tb.Part("HN-S3", sheet="DC01 1.5", base=wedge).fold("rear", leg=20)
    assert part.stretched(150, 100).base.edge("rear").length == pytest.approx((400**2 + 80**2) ** 0.5)
    with pytest.raises(tb.errors.BadValue, match="leans"):
        part.hole((40, 10), 5, panel="rear").stretched(150, 100)


def test_nothing_stands_where_metal_is_taken_out() -> None:
    """Drawn in by 49 at 100, the strip from 51 to 100 goes: a hole at 50 of 8 reaches 3 mm into it, one at 46 does not."""
    part = tb.Part("S", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100))
    for bad, valid in (
        (part.hole((50, 50), 8, name="edge"), "without hole 'edge'"),
        (part.hole((80, 50), use="bolt", size="M8", name="bolt"), "without hole 'bolt'"),
        (part.hole_grid((60, 20), (2, 2), (80, 20), dia=5, name="grid"), "without an end of grid 'grid"),
        (part.bead([(70, 50), (160, 50)], roll="R18x5", name="bead"), "without a point of 'bead"),
    ):
        with pytest.raises(tb.errors.BadValue, match=valid):
            bad.stretched(100, -49)
    assert part.hole((46, 50), 8).stretched(100, -49).base.box == pytest.approx((0, 0, 151, 100))
    assert part.bead([(30, 50), (160, 50)], roll="R18x5").stretched(100, -49).base.box[2] == pytest.approx(151)


def test_a_line_beside_an_outline_is_refused() -> None:
    for at, side in ((500, "beyond"), (-10, "before")):
        with pytest.raises(tb.errors.BadValue, match=f"a part of the outline {side} it"):
            tb.Outline.rectangle(100, 50).stretched(at, 20)
