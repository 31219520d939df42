"""Bad input to a part: a clear error that names field, value and what would be valid, or a finding; never a file."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest

from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.families.plain import folded_channel, hemmed_dash_edge
from tinbook.making.resolve import make
from tinbook.part.adding import folded_on
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop
from tinbook.write.dxf import write_dxf
from tinbook.write.step import write_step

SHOP = Shop.demo()
BASE = Outline.rectangle(200, 100)


def plain(**more) -> Part:
    return Part("HN-X", sheet="DC01 1.5", base=BASE, **more)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda p: p.hole((50, 50), thread="M6"), "hole option: 'thread' .* size"),
        (lambda p: p.holes_along("front", dia=5, pitch=40, gap=3), "hole option: 'gap' .* pitch"),
        (lambda p: p.fold("front", leg=40, inside=3), "fold option: 'inside' .* radius"),
        (lambda p: p.hem("front", leg=12, open=True), "fold option: 'open'"),
        (lambda p: p.etch([(10, 10), (50, 10)], colour="red"), "etched line option: 'colour' .* note"),
        (lambda p: p.text("A", (10, 10), font="small"), "text option: 'font' .* height"),
    ],
)
def test_an_option_that_a_feature_does_not_have_is_named_with_those_it_has(call, said):
    part = plain()
    with pytest.raises(UnknownName, match=said):
        call(part)
    assert part == plain()


@pytest.mark.parametrize(
    "number", ["", "../HN", "HN/1", "a\\b", 'HN"1', "<b>HN</b>", "HN\n", "x" * 41, ".hidden", None, 7]
)
def test_part_numbers_that_cannot_be_file_names(number):
    with pytest.raises(BadValue, match="part number"):
        Part(number, sheet="DC01 1.5", base=BASE)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda p: p.fold("front", leg=-5), "leg"),
        (lambda p: p.fold("front", leg=math.nan), "leg"),
        (lambda p: p.fold("front", leg="40 kg"), "leg"),
        (lambda p: p.fold("front", leg="40,5 mm"), "leg"),
        (lambda p: p.fold("front", leg=(1, 2, 3)), "leg"),
        (lambda p: p.fold("front", leg=40, angle=181), "angle"),
        (lambda p: p.fold("front", leg=40, angle=0), "angle"),
        (lambda p: p.fold("front", leg=40, angle=-90), "angle"),
        (lambda p: p.fold("front", leg=40, radius=0), "radius"),
        (lambda p: p.fold("front", leg=40, radius=-1), "radius"),
        (lambda p: p.fold("front", "sideways", leg=40), "direction"),
        (lambda p: p.fold("front", leg=40, to="middle"), "to"),
        (lambda p: p.fold("front", leg=40, relief="star"), "relief"),
        (lambda p: p.fold("front", leg=40, corner="glued"), "corner"),
        (lambda p: p.fold("front", leg=40, start=50, stop=20), "stop"),
        (lambda p: p.fold("front", leg=40, name="a/b"), "name"),
        (lambda p: p.fold("front", leg=40).fold("rear", leg=40, name="front"), "taken"),
        (lambda p: p.fold("nowhere", leg=40), "front, right, rear, left"),
        (lambda p: p.fold("front", leg=40).fold("front.base", leg=40), "front.left"),
        (lambda p: p.hem("front", "round", leg=10), "hem"),
        (lambda p: p.hem("front", "closed", leg=10, gap=2), "gap"),
        (lambda p: p.hole((10, 10), -3), "dia"),
        (lambda p: p.etch([(10, 10)]), "path"),
        (lambda p: p.etch([(10, 10), (20, 10)], closed=True), "three where it is closed"),
        (lambda p: p.etch([(10, 10), (10, 10)]), "differ"),
        (lambda p: p.etch([(10, 10), (20, 10)], panel="lid"), "base"),
        (lambda p: p.etch([(10, 10), (20, 10)], face="top"), "face"),
        (lambda p: p.hole((10, math.inf), 3), "at y"),
        (lambda p: p.hole("10 mm", 3), "at"),
        (lambda p: p.hole((10, 10), use="drain"), "dia"),
        (lambda p: p.hole((10, 10), use="bolt"), "size"),
        (lambda p: p.hole((10, 10), 3, use="window"), "use"),
        (lambda p: p.hole((10, 10), 3, panel="lid"), "base"),
        (lambda p: p.hole((10, 10), 8, length=5), "length"),
        (lambda p: p.holes_along("front", dia=5), "pitch, count"),
        (lambda p: p.holes_along("front", dia=5, pitch=10, count=3), "pitch, count"),
        (lambda p: p.holes_along((), dia=5, pitch=10), "edges"),
        (lambda p: p.holes_along("front", dia=5, pitch=0), "pitch"),
        (lambda p: p.hole_grid((10, 10), (0, 3), (5, 5), dia=2), "counts"),
        (lambda p: p.hole_grid((10, 10), 3, (5, 5), dia=2), "counts"),
        (lambda p: p.hole_grid((10, 10), ("2", 3), (5, 5), dia=2), "counts"),
        (lambda p: p.hole_grid((10, 10), (2.5, 3), (5, 5), dia=2), "counts"),
        (lambda p: p.hole((10, 10), 1e-300), "dia"),
        (lambda p: p.hole((10, 1e7), 3), "within 1000000 mm"),
        (lambda p: p.fold("front", leg="2000 km"), "within 1000000 mm"),
        (lambda p: p.text("a", (0, 0), face="back"), "face"),
        (lambda p: p.bead([(10, 10)], "R18x5"), "path"),
        (lambda p: p.bead([(10, 10), (10, 10)], "R18x5"), "path"),
        (lambda p: p.bead([(10, 10), (90, 10)], "R18x5").repeated(0, 10), "copies"),
        (lambda p: p.repeated(3, 10), "repeated"),
        (lambda p: p.text("", (0, 0)), "text"),
        (lambda p: p.text("a\x00b", (0, 0)), "text"),
        (lambda p: p.renamed(quantity=0), "quantity"),
        (lambda p: p.renamed(rev="B/2"), "rev"),
    ],
)
def test_values_are_refused_by_name(call, names):
    with pytest.raises(BadValue, match=names):
        call(plain())


GOOD = {
    "fold": {"edge": "front", "direction": "up", "leg": 30, "angle": 90, "to": "outside", "start": 10, "stop": 90,
             "radius": 2, "tool": "F1", "rule": "DIN 6935", "relief": "square", "corner": "open", "skew": 0},
    "hem": {"edge": "front", "kind": "open", "leg": 10, "gap": 2, "tool": "F1"},
    "curl": {"edge": "front", "radius": 10, "angle": 270, "leg": 10, "to": "tangent", "rule": None},
    "hole": {"at": (50, 50), "dia": 5, "panel": "base", "use": "cut-out", "size": None, "length": 10, "turn": 0},
    "cut_out": {"shape": Outline.rectangle(9, 9), "at": (50, 50), "panel": "base", "turn": 0},
    "holes_along": {"edges": "rear", "dia": 5, "pitch": 20, "inset": 10, "ends": 10, "use": "plug weld", "size": None},
    "hole_grid": {"first": (50, 50), "counts": (2, 2), "steps": (20, 20), "dia": 5, "panel": "base", "size": None},
    "bead": {"path": [(40, 50), (160, 50)], "roll": "R18x5", "direction": "up", "panel": "base", "corner_radius": 99},
    "text": {"text": "t", "at": (10, 10), "height": 8, "turn": 0, "panel": "base", "face": "up"},
    "etch": {"path": [(40, 50), (160, 50)], "closed": False, "panel": "base", "face": "up", "name": "n"},
}  # fmt: skip
"""A call of each verb that is taken."""

JUNK = [None, "", "x", -5, 1e308, math.nan, True, [], {}, object(), (1, 2, 3), [["a", "b"]], np.array([1, 2]), 10**400]


@pytest.mark.parametrize("verb", GOOD)
def test_a_thing_of_any_type_is_refused_by_name_or_made(verb):
    for field in GOOD[verb]:
        for junk in JUNK:
            with contextlib.suppress(BadValue):
                make(getattr(plain(), verb)(**{**GOOD[verb], field: junk}), SHOP)


@pytest.mark.parametrize("flag", ["trim", "marking"])
def test_a_flag_is_true_or_false(flag):
    with pytest.raises(BadValue, match=flag):
        Part("HN-X", sheet="DC01 1.5", base=BASE, **{flag: "no"})


@pytest.mark.parametrize("thickness", ["-1.5 mm", 0, "16 ga", math.nan, "1,5 mm", "1.5 kg"])
def test_a_sheet_of_no_thickness(thickness):
    with pytest.raises(BadValue):
        SHOP.sheet("DC01", thickness)


def test_what_the_shop_does_not_have_is_named():
    with pytest.raises(UnknownName, match=r"DC01 1\.5"):
        make(Part("HN-X", sheet="DC01 1.55", base=BASE), SHOP)
    with pytest.raises(UnknownName, match="R18x5"):
        make(plain().bead([(50, 30), (150, 30)], "R99"), SHOP)
    with pytest.raises(UnknownName):
        make(plain().fold("front", leg=40, tool="V99"), SHOP)


@pytest.mark.parametrize(
    ("part", "code"),
    [
        (plain().fold("front", leg=2), "fold.leg_in_bend"),
        (plain().hole((300, 50), 10), "hole.off_panel"),
        (plain().hole((198, 50), 10), "hole.off_panel"),
        (plain().hole((50, 50), 20).hole((60, 50), 20), "hole.overlap"),
        (plain().bead([(50, 50), (230, 50)], "R18x5"), "bead.off_panel"),
        (plain().bead([(50, 50), (150, 50)], "R18x5").hole((100, 50), 6), "bead.overlap"),
        (plain().fold("front", leg=40).hole((199, 1), 6), "hole.off_fold"),
        (plain().holes_along("front", dia=8, pitch=1e-9), "hole.row_pitch"),
        # A hole over the fold whose rim passes the end of the leg by hundredths.
        (plain().fold("front", leg=12).hole((100, 0), 18.30), "hole.off_panel"),
        (plain().fold("front", leg=40, start=1), "fold.relief"),
        (plain().fold("front", leg=40, stop=300), "fold.stretch"),
        (plain().fold("front", leg=40, skew=-74).fold("front.end", leg=10), "fold.leg_crosses"),
        (plain().fold("front", leg=60, skew=60).fold("right", leg=60, skew=60), "flat.overlap"),
        (
            Part("HN-X", sheet="DC01 1.5", base=BASE.rounded({"front/right": 30})).fold("front-right", leg=20),
            "fold.curved_edge",
        ),
    ],
)
def test_impossible_geometry_is_a_stop_with_a_remedy_and_no_file(part, code, tmp_path):
    made = make(part, SHOP)
    stop = made.findings[0]
    assert (stop.code, stop.severity) == (code, "stop")
    assert stop.remedy
    for write in (write_dxf, write_step):
        with pytest.raises(CannotMake):
            write(made, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_part_does_not_change_under_a_failing_call():
    part = plain().fold("front", leg=40)
    before = part
    with pytest.raises(BadValue):
        part.fold("rear", leg=-1)
    assert part is before
    assert part.panels == ("base", "front")


def test_folds_go_on_another_tool_by_name_and_hems_stay():
    part = hemmed_dash_edge()
    on = {f.name: f.tool for f in folded_on(part, "V8").folds}
    assert on == {"hem": None, "lip": "V8"}
    assert [f.tool for f in folded_on(folded_channel(), "V8", "far").folds] == [None, "V8"]
    with pytest.raises(UnknownName, match="valid: one of: hem, lip"):
        folded_on(part, "V8", "lid")
    with pytest.raises(BadValue, match="fold 'lip' tool"):
        folded_on(part, 8)  # type: ignore[arg-type]
