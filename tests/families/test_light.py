"""Families of light parts: hands, patterns that agree, curls past half a turn."""

from __future__ import annotations

import math
import re
import typing
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pypdf
import pytest

import tinbook as tb
from familylists import LIGHT
from lightparts import SHOP, din, made_of
from tinbook.errors import BadValue
from tinbook.families import dash_panels
from tinbook.fields import Range
from tinbook.making.labels import labels
from tinbook.making.made import Made
from tinbook.part.part import Part
from tinbook.part.partfile import part_from_toml, part_to_toml
from tinbook.plane.cuts import distance
from tinbook.space import dot, plus

FAMILIES = LIGHT


def _hints(family: Callable[..., Any]) -> dict[str, Any]:
    return typing.get_type_hints(family, include_extras=True)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.__name__)
def test_a_value_out_of_range_names_the_nearest(family: Callable[..., Part]) -> None:
    for name, hint in _hints(family).items():
        limits = next((m for m in getattr(hint, "__metadata__", ()) if isinstance(m, Range)), None)
        if limits is not None:
            with pytest.raises(BadValue, match=rf"{family.__name__} {name}.*nearest {limits.high:g}"):
                family(**{name: int(limits.high) + 1})


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.__name__)
def test_defaults_make_a_sound_part_for_the_workbench(family: Callable[..., Part]) -> None:
    made = made_of(family())
    found = tb.check(made, SHOP)
    assert found.ok
    assert len(found.of("route.order")) == bool(made.strips)
    assert made.solid.isValid()
    assert abs(made.solid.Volume() * 7850e-9 - made.mass) < 1e-6 * made.mass


# --- curls -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [90.0, 200.0, 265.0, 275.0])
def test_curl_is_a_ring_sector(angle: float) -> None:
    """Pappus: a ring sector's volume is its middle arc times thickness and width; the rest is flat sheet."""
    base = tb.Outline.rectangle(100, 30)
    made = made_of(tb.Part("HN-ST", sheet="DC01 2.0", base=base).curl("right", "up", radius=6, angle=angle, leg=5))
    flat = 100 - (6 + 2) * (math.tan(math.radians(min(angle, 90)) / 2)) + 5
    assert made.solid.isValid()
    assert made.solid.Volume() == pytest.approx(30 * 2 * (flat + math.radians(angle) * 7), rel=1e-9)


def test_curl_says_what_it_takes() -> None:
    part = tb.Part("HN-ST", sheet="DC01 2.0", base=tb.Outline.rectangle(100, 30))
    with pytest.raises(BadValue, match="at most 330 deg"):
        part.curl("right", radius=6, angle=331, leg=5)
    with pytest.raises(BadValue, match="at most 180 deg"):
        part.fold("right", leg=20, angle=200)
    curled = part.curl("right", radius="6 mm", angle=300, leg=5)
    assert part_from_toml(part_to_toml(curled)).folds == curled.folds
    assert not [s.bend.tool for s in tb.make(curled, SHOP).strips if s.bend.tool]


def test_past_half_a_turn_there_is_no_included_angle(tmp_path: Path) -> None:
    """Wherever a fold's angle is printed: both ways up to 180 degrees, beyond that only what was turned."""
    part = tb.Part("HN-ST", sheet="DC01 2.0", base=tb.Outline.rectangle(100, 30))
    made = made_of(part.curl("right", radius=6, angle=270, leg=5).fold("left", leg=30, angle=30))
    assert made.flat is not None
    eye, leg = made.flat.folds
    assert (eye.included, leg.included) == (None, 150.0)
    drawn = [e.dxf.text for e in ezdxf.readfile(tb.write_dxf(made, tmp_path, folds=True)).modelspace().query("TEXT")]
    said = [labels(made)["fold:right"], labels(made)["fold:left"], made.flat._repr_svg_(), *drawn]
    sheet = pypdf.PdfReader(tb.write_sheet(made, tmp_path))
    said.append(" ".join(p.extract_text() for p in sheet.pages))
    text = " ".join("\n".join(said).split())
    assert min(text.count("turned 270"), text.count("turned 30")) >= 4
    said_included = re.findall(r"included (\S+)", text)
    assert len(said_included) >= 4
    # The fold to 30 degrees, a little over where it is bent past its spring-back; nothing of the curl.
    assert all(149 < float(w.rstrip("°,")) <= 150 for w in said_included)


# --- tunnel, lid, gasket -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("folds", [1, 2, 4])
def test_tunnel_stands_as_high_as_it_was_asked(folds: int) -> None:
    """Read from the folded frames: heights over the flanges' underside, flanges in one plane, sides at their slope."""
    made = made_of(tb.families.tunnel(height_front=230, height_rear=170, folds=folds, slope=78))
    right, left = made.panel("right flange").frame, made.panel("left flange").frame
    assert right.z == pytest.approx(left.z, abs=1e-9)
    for edge, height in (("front", 230), ("rear", 170)):
        top = (0.0, made.part.base.edge(edge).start[1], made.thickness)
        assert dot(plus(top, right.origin, -1.0), right.z) == pytest.approx(height, abs=1e-6)
        assert dot(plus(top, left.origin, -1.0), left.z) == pytest.approx(height, abs=1e-6)
    side = made.panel("right side").frame.z
    across = (side[0], math.hypot(0.0, dot(side, right.z)))  # in the plane square to the floor's long axis
    assert math.degrees(math.atan2(across[0], across[1])) == pytest.approx(78, abs=1e-6)
    assert made.solid.isValid()


@pytest.mark.parametrize(("slope", "shoulder"), [(78, 45), (60, 80)])
def test_a_rolled_shoulder_is_as_long_as_its_arc(slope: float, shoulder: float) -> None:
    """Half a section by hand, level tunnel: half the crown, the arc on DIN's neutral line, the side, the flange."""
    t = 1.5
    part = tb.families.tunnel(400, 260, 260, 200, 200, slope=slope, corners="rolled", shoulder=shoulder)
    made = made_of(part)
    assert made.solid.isValid()
    right = made.panel("right flange").frame
    top = (0.0, part.base.edge("front").start[1], t)
    assert dot(plus(top, right.origin, -1.0), right.z) == pytest.approx(200, abs=1e-9)
    (roll, foot) = (next(s for s in made.strips if s.name == n) for n in ("right side", "right flange"))
    a = math.radians(slope)
    assert roll.radius == pytest.approx(shoulder - t)
    crown = 130 - shoulder * math.tan(a / 2)
    arc = a * (shoulder - t + din(shoulder - t, t))
    flat = made.panel("right side").boundary.box
    assert flat[1] == pytest.approx(shoulder * math.tan(a / 2), abs=1e-9)
    assert roll.allowance == pytest.approx(arc, abs=1e-9)
    assert made.panel("base").boundary.box[2] == pytest.approx(crown, abs=1e-9)
    assert foot.angle == pytest.approx(slope)


def test_a_lid_keeps_to_the_flat_of_a_rolled_crown() -> None:
    """78 degrees and 45 mm take 36.4 mm of the crown at each side."""
    holes = tb.families.bolting(140, 300)
    assert tb.families.lid_opening(tb.families.tunnel(), holes).holes
    with pytest.raises(BadValue, match=r"lid_opening width.*at most 6[0-9]\."):
        tb.families.lid_opening(tb.families.tunnel(corners="rolled"), holes)


def test_drive_unit_under_a_rolled_shoulder() -> None:
    """A level tunnel: the box's upper edge against the roll's axis, plane trigonometry."""
    part = tb.families.tunnel(600, 240, 240, 200, 200, slope=80, corners="rolled", shoulder=60)
    crown, side, roll = tb.families.drive_clearance(made_of(part), 180, 400, 170, 100)
    a = math.radians(80)
    axis = 120 - 60 * math.tan(a / 2), 200 - 60
    assert roll.where == "rolled right side"
    assert roll.value == pytest.approx(58.5 - math.hypot(90 - axis[0], 170 - axis[1]), abs=1e-9)
    assert roll.value < min(crown.value, side.value)


def test_patterns_of_tunnel_lid_and_gasket_agree() -> None:
    holes = tb.families.bolting(130, 300, 30, 75)
    tunnel = made_of(tb.families.lid_opening(tb.families.tunnel(), holes, at="450 mm"))
    lid, blank = made_of(tb.families.tunnel_lid(holes)), tb.families.gasket(holes)
    y0 = tunnel.part.base.edge("front").start[1] + 450
    inserts = [_middle(h.loop) for h in tunnel.panel("base").holes if h.use == "nut insert"]
    screws = [_middle(h.loop) for h in lid.panel("base").holes if h.use == "bolt"]
    rubber = [_middle(c.loop) for c in blank.cuts if c.use == "bolt"]
    assert len(inserts) == len(screws) == len(rubber) == len(holes.points)
    for a, b, c in zip(inserts, screws, rubber, strict=True):
        assert math.dist((a[0], a[1] - y0), b) < 1e-9
        assert math.dist(b, c) < 1e-9
    opening = holes.frame(0.0)
    for p, q in zip(holes.points, (*holes.points[1:], holes.points[0]), strict=True):
        assert min(distance(e, p) for e in opening.edges) == pytest.approx(15, abs=1e-9)  # the middle of the rim
        assert 20 < math.dist(p, q) <= 75
        assert any(math.dist((-p[0], -p[1]), o) < 1e-9 for o in holes.points)
    assert not [f for f in tb.check(tunnel, SHOP) if f.code == "hole.edge" and f.severity != "fine"]


def _middle(loop: Any) -> tuple[float, float]:
    x0, y0, x1, y1 = loop.box
    return (x0 + x1) / 2, (y0 + y1) / 2


def test_lid_wider_than_the_tunnel_is_refused() -> None:
    with pytest.raises(BadValue, match=r"lid_opening width.*at most 1[34][0-9]"):
        tb.families.lid_opening(tb.families.tunnel(), tb.families.bolting(200, 300))
    with pytest.raises(BadValue, match=r"lid_opening at.*nearest 195"):
        tb.families.lid_opening(tb.families.tunnel(), tb.families.bolting(), at=50)
    with pytest.raises(BadValue, match=r"lid_opening length.*at most"):
        tb.families.lid_opening(tb.families.tunnel(length=400), tb.families.bolting(140, 400))


def test_gasket_rule_by_hand() -> None:
    """A beam clamped at both ends, w = q L⁴ / 384 E I (Roark), on the rim's own width."""
    holes = tb.families.bolting(130, 300, 24, 200)
    blank = tb.families.gasket(holes, 4.0)
    squeeze, pitch = sorted(tb.families.gasket_findings(holes, blank, 1.0, 2.6), key=lambda f: f.code, reverse=True)
    assert squeeze.severity == "fine"
    inertia, load = 24 * 1.0**3 / 12, 0.05 * 24
    most = (384 * 210_000 * inertia * 0.4 / load) ** 0.25
    assert pitch.limit == pytest.approx(most)
    assert (pitch.severity == "stop") == (holes.pitch > most)
    (too_hard,) = tb.families.gasket_findings(holes, blank, 1.0, 1.6).of("gasket.squeeze")
    assert too_hard.severity == "stop"
    assert too_hard.limit == pytest.approx(2.0)


def test_drive_unit_under_the_crown() -> None:
    """A level crown and upright-ish sides: distances by plain trigonometry."""
    made = made_of(
        tb.families.tunnel(crown_front=240, crown_rear=240, height_front=200, height_rear=200, slope=80, folds=1)
    )
    crown, side = tb.families.drive_clearance(made, 160, 400, 150, 100)
    assert crown.value == pytest.approx(200 - 1.5 - 150)
    a = math.radians(80)
    outer = (240 / 2 - 160 / 2) * math.sin(a) + (200 - 150) * math.cos(a)
    assert side.value == pytest.approx(outer - 1.5)
    assert next(f.severity for f in tb.families.drive_clearance(made, 160, 400, 190, 100)) == "stop"


# --- dash --------------------------------------------------------------------------------------------------------


def test_dash_and_its_panels_agree() -> None:
    bay = tb.families.dash_bay(1000, 200, 3)
    dash = made_of(tb.families.dash_frame(1000, 200, 3))
    panel = made_of(tb.families.fascia(bay, [("gauge 80", -70, 0), ("toggle switch", 60, 20)]))
    screws = [_middle(h.loop) for h in panel.panel("base").holes if h.use == "bolt"]
    for i, (x, y) in enumerate(tb.families.bay_places(bay, 1000, 200, 3)):
        names = f"insert {i + 1} "
        inserts = [_middle(h.loop) for h in dash.panel("base").holes if h.name.startswith(names)]
        assert len(inserts) == len(screws)
        assert all(math.dist((x + sx, y + sy), p) < 1e-9 for (sx, sy), p in zip(screws, inserts, strict=True))
    with pytest.raises(BadValue, match=r"dash_bay panels.*at most 5"):
        tb.families.dash_bay(700, 200, 6)
    hem = next(s for s in dash.strips if s.name == "hem")
    assert hem.radius == pytest.approx(2.0 / 2)


def test_instruments_keep_their_room() -> None:
    bay = tb.families.dash_bay(1000, 200, 3)
    with pytest.raises(BadValue, match="94 mm beside"):
        tb.families.fascia(bay, [("gauge 80", -60, 0), ("gauge 80", 20, 0)])
    with pytest.raises(BadValue, match="stays in the bay"):
        tb.families.fascia(bay, [("gauge 52", 130, 0)])
    with pytest.raises(BadValue, match="gauge 52, gauge 80"):
        tb.families.fascia(bay, [("clock", 0, 0)])
    stop, fine = dash_panels.keep_out([("rocker switch", 0, 0), ("gauge 80", 0, 0)], 60)
    assert (fine.severity, stop.severity, stop.value) == ("fine", "stop", 85.0)


# --- pans --------------------------------------------------------------------------------------------------------


def _opening() -> tb.Outline:
    return tb.Outline.polygon(
        [(0, 0), (0, -420), (830, -420), (900, -350), (900, 0)], ["front", "sill", "clip", "rear", "tunnel"]
    )


def test_pans_are_true_mirrors_and_their_text_reads_right() -> None:
    left, right = tb.families.floor_pan_pair(_opening(), rev="B", beads=4)
    hands = [made_of(p.text("SEAT", (60, -60), height=12)) for p in (left, right.mirrored().mirrored())]
    # Text is added on the first hand; both must hold it at mirrored places, read from left to right.
    strokes = []
    for m in hands:
        assert m.flat is not None
        (mark,) = (k for k in m.flat.marks if k.kind == "text" and k.label == "SEAT")
        points = [p for e in mark.edges for p in (e.start, e.end)]
        x0, y0 = min(p[0] for p in points), min(p[1] for p in points)
        strokes.append((x0, max(p[0] for p in points), [(p[0] - x0, p[1] - y0) for p in points]))
    assert all(math.dist(p, q) < 1e-6 for p, q in zip(strokes[0][2], strokes[1][2], strict=True))
    assert strokes[1][0] == pytest.approx(-strokes[0][1])
    a, b = sorted(_places(hands[0])), sorted((-x, y) for x, y in _places(hands[1]))
    assert len(a) == len(b) > 40
    assert all(min(math.dist(p, q) for q in b) < 1e-9 for p in a)
    assert hands[0].flat.area == pytest.approx(hands[1].flat.area, abs=1e-6)  # type: ignore[union-attr]


def test_etched_lines_of_both_hands_are_mirror_images() -> None:
    left = tb.families.floor_pan_pair(_opening(), beads=0)[0].etch([(60, -60), (160, -60), (160, -100)], name="seat")
    lines = []
    for m in (made_of(left), made_of(left.mirrored("HN-FP-R"))):
        assert m.flat is not None
        (mark,) = (k for k in m.flat.marks if k.kind == "match")
        lines.append([p for e in mark.edges for p in (e.start, e.end)])
    assert all(math.dist((-x, y), p) < 1e-9 for (x, y), p in zip(lines[1], lines[0], strict=True))
    assert lines[0][0] == pytest.approx((60, -60))


def _places(m: Made) -> list[tuple[float, float]]:
    assert m.flat is not None
    return [_middle(c.loop) for c in m.flat.cuts]


def test_extended_pan_is_longer_by_what_was_asked() -> None:
    short, long = (tb.families.floor_pan_pair(_opening(), extended=e)[0] for e in (0, "120 mm"))
    assert long.base.box[2] - short.base.box[2] == pytest.approx(120)
    assert long.base.box[3] - long.base.box[1] == pytest.approx(short.base.box[3] - short.base.box[1])


def test_brace_is_welded_between_the_beads() -> None:
    pan, _ = tb.families.floor_pan_pair(_opening(), beads=5)
    flats = tb.families.flats_of(pan, 100, 700, -200)
    beads = [pan.beads[0].path[0][0] + k * pan.beads[0].step[0] for k in range(5)]
    assert len(flats) == 6
    assert all(abs(100 + x - b) >= 14 for x in flats for b in beads)
    brace = made_of(tb.families.floor_brace(700, flats=flats))
    for flange in ("near flange", "far flange"):
        p = brace.panel(flange)
        along = sorted(p.frame(*_middle(h.loop))[0] for h in p.holes)
        assert along == pytest.approx(flats)
    with pytest.raises(BadValue, match="flats_of y"):
        tb.families.flats_of(pan, 100, 700, 300)


# --- hinged lid --------------------------------------------------------------------------------------------------


def test_strut_holds_the_lid_by_hand_calculation() -> None:
    """Moments about the hinge at 75 degrees and -10 °C, the gas by its absolute temperature."""
    lid = tb.families.centred_lid(7.0, 450, 25, 180, (20, -50))
    strut = tb.families.strut_for(lid, 75)
    c, s = math.cos(math.radians(75)), math.sin(math.radians(75))
    jx, jy = c * 180 + s * 25, s * 180 - c * 25
    long = math.hypot(jx - 20, jy + 50)
    arm = abs(jx * (-50) - jy * 20) / long
    weight = 7.0 * 9.80665 * (c * 225 + s * 25 / 4)
    absolute, back = 263.15 / 293.15, 0.101325 * math.pi / 4 * 8**2
    share = (strut.extended - long) / strut.stroke
    full, pressed = strut.force + back, 1.3 * strut.force + back
    push = full / (1 - (1 - full / pressed) * share) * absolute - back
    found = tb.families.lid_findings(lid, strut, 75)
    (stays,), (effort,) = found.of("lid.stays_open"), found.of("lid.effort")
    assert stays.limit == pytest.approx(7.0 * 2 * push * arm / weight, rel=1e-9)
    assert stays.severity == effort.severity == "fine"
    assert strut.force == 50 * math.ceil(strut.force / 50)
    assert "<svg" in tb.families.effort_plot(lid, strut, 75)._repr_svg_()
    with pytest.raises(BadValue, match=r"lid_joint.*nearest stroke"):
        tb.families.strut_for(tb.families.centred_lid(7.0, 450, 25, 180, (170, -600)), 75)
