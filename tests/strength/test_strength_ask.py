"""Asking in the trade's words: choices, answers with their support and error, nothing outside validity, bad input."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.families.plain import bead_rolled_panel, folded_channel
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.request import Cancelled, edge_support, loads_of, strength_choices, strength_of, supports_of
from tinbook.strength.shell.solve import NotSolved


@pytest.fixture(scope="module")
def panel():
    return make(bead_rolled_panel(beads=0), SHOP)


@pytest.fixture(scope="module")
def channel():
    return make(folded_channel(length=400, web=60, flange=30, holes=4), SHOP)


@pytest.fixture(scope="module")
def foot(panel):
    return strength_of(panel, "pinned", size=40.0)


@pytest.fixture(scope="module")
def light(panel):
    return strength_of(panel, "simply supported", ld.Foot(at=(400, 200), force=4.0), size=25.0, frequencies=2)


# -- choices --------------------------------------------------------------------------------------


def test_choices_are_what_the_part_has(panel, channel):
    flat = strength_choices(panel)
    assert flat.edges == flat.outer == ("front", "right", "rear", "left")
    assert (flat.holes, flat.held, flat.places["foot"]) == ((), ("simply supported",), {"base": (400.0, 200.0)})
    folded = strength_choices(channel)
    assert (folded.holes, folded.held) == (("bolts",), ("bolts",))
    assert folded.outer == ("right", "left")
    assert "near.end" in folded.edges
    # No foot of 100 mm stands on a web of 60 mm; a heel of 50 mm does.
    assert "base" not in folded.places["foot"]
    assert "foot" not in folded.loads
    assert folded.places["heel"]["base"] == (200.0, 30.0)


def test_a_foot_stands_on_the_sheet_even_where_the_middle_is_air():
    """An L-shaped base: the middle of its box is outside."""
    shape = Outline.polygon([(0, 0), (900, 0), (900, 150), (150, 150), (150, 900), (0, 900)])
    made = make(Part("HN-L", rev="A", sheet="DC01 1.6", base=shape), SHOP)
    x, y = strength_choices(made).places["foot"]["base"]
    assert min(x, y) <= 100
    assert loads_of(made, "foot")[0].at == (x, y)


def test_an_edge_with_a_dot_in_its_name_is_found():
    shape = Outline.polygon([(0, 0), (200, 0), (200, 100), (0, 100)], names=("a.b", "x", "y", "z"))
    made = make(Part("HN-N", rev="A", sheet="DC01 1.6", base=shape), SHOP)
    assert strength_choices(made).edges == strength_choices(made).outer == ("a.b", "x", "y", "z")
    assert edge_support(made, "clamped", "a.b") == on.clamped_edge("a.b")
    assert strength_of(made, "clamped: a.b", "own weight", size=20.0, frequencies=1).held == "clamped: a.b"


@pytest.fixture(scope="module")
def step():
    """A tread with a riser: both have room for a foot."""
    part = Part("HN-SP", rev="A", sheet="DC01 1.6", base=Outline.rectangle(300, 200))
    return make(part.fold("rear", "up", leg=150, name="riser").fold("front", "down", leg=20), SHOP)


def test_a_foot_stands_on_any_panel_by_its_name(step):
    known = strength_choices(step)
    assert known.panels == ("base", "riser", "front")
    assert list(known.places["foot"]) == list(known.places["heel"]) == ["base", "riser"]
    at = known.places["foot"]["riser"]
    assert loads_of(step, "foot: riser") == (ld.Foot(at=at, panel="riser"),)
    assert loads_of(step, ["heel: riser at 60, 100", "foot: base"]) == (
        ld.heel((60.0, 100.0), panel="riser"),
        ld.Foot(at=known.places["foot"]["base"]),
    )
    # On the riser it presses along the base's y: the reactions push back along it, and nowhere else.
    r = strength_of(
        step, ["clamped: left, right", "clamped: riser.left, riser.right"], "heel: riser", frequencies=0, size=25.0
    )
    assert r.under.loads == (f"heel 1100 N on 50 x 50 mm at ({at[0]:g}, {at[1]:g}) of 'riser'",)
    total = np.sum([x.force for x in r.under.reactions], axis=0)
    z = step.panel("riser").frame.z
    assert total == pytest.approx([1100 * v for v in z], rel=1e-3, abs=2.0)


def test_a_foot_over_nothing_but_a_hole_is_refused():
    part = Part("HN-SP", rev="A", sheet="DC01 1.6", base=Outline.rectangle(300, 300)).hole((150, 150), 90)
    made = make(part, SHOP)
    with pytest.raises(BadValue, match=r"'heel' at: \(150.*a place with metal under it on panel 'base'"):
        strength_of(made, "clamped", "heel: base at 150, 150", size=20.0)


def test_words_become_supports(panel, channel):
    assert [s.title for s in supports_of(panel, "clamped: left, right")] == [
        "edge 'left' clamped",
        "edge 'right' clamped",
    ]
    lip = supports_of(panel, "on a lip")
    assert [s.one_sided for s in lip] == ["down"] * 4 + [""]
    assert lip[-1].at == "drift"  # nothing else keeps it from sliding
    assert supports_of(channel, ["bolts", "pinned: near.end"])[1].panel == "near"
    assert supports_of(panel, on.clamped_edge("left")) == (on.clamped_edge("left"),)
    assert loads_of(panel, ["own weight x 3", "heel"])[0].g == (0.0, 0.0, -3.0)
    assert loads_of(channel) == (ld.Acceleration(g=(0.0, 0.0, -1.0)),)


# -- answers --------------------------------------------------------------------------------------


def test_first_frequency_of_a_simply_supported_panel(panel, light):
    """Exact: f = pi/2 (1/a^2 + 1/b^2) sqrt(D / rho h) (Leissa, NASA SP-160, equation 4.20)."""
    m = SHOP.material("DC01")
    d = m.youngs * 1.6**3 / (12 * (1 - m.poisson**2))
    exact = math.pi / 2 * (1 / 800**2 + 1 / 400**2) * math.sqrt(d / (m.density * 1e-12 * 1.6))
    assert light.modes.first == pytest.approx(exact, rel=0.01)
    with pytest.raises(BadValue, match="progress"):
        tb.strength.frequencies_of(panel, progress=3)  # type: ignore[arg-type]
    alone = tb.strength.frequencies_of(panel, "simply supported", count=1, size=40.0)
    assert alone.first == pytest.approx(exact, rel=0.01)
    what, value, _, held = light.rows()[3]
    assert (what, value) == ("first frequency", f"{light.modes.first:.3g} Hz")
    assert all(row[2].endswith("%") for row in light.rows() if "frequency" in row[0])
    assert held == "simply supported: front, right, rear, left; kept from sliding in its plane"


def test_every_number_names_its_support_and_its_error(light):
    assert {row[3] for row in light.rows()} == {light.held}
    first = light.rows()[0]
    assert first[1] == f"{light.under.deflection:.3g} mm (linear, true within 1%)"
    assert float(first[2].strip("± %")) == pytest.approx(100 * (0.015 + light.under.error[0]), abs=0.06)
    html = light._repr_html_()
    assert "within" in html
    assert "not a certificate" in html
    assert "0x" not in repr(light)
    assert "array" not in repr(light)


def test_yield_is_told_only_as_far_as_it_was_looked_for(light):
    """4 N give an eighth of a mm; linear theory would put first yield beyond half the thickness, where it is not true."""
    r = light.under
    assert not r.large
    assert r.departs < 0.01
    assert 1 < r.watched < SHOP.material("DC01").yield_min / r.stress
    assert light.rows()[2][1].startswith(f"not within {r.watched:.3g} times the load, {4 * r.watched:.3g} N (140 MPa")


def test_a_foot_is_followed_in_large_displacements_and_told_up_to_yield(foot):
    r = foot.under
    assert r.large
    assert r.yields
    said = {row[0]: row[1] for row in foot.rows()}
    assert said["greatest deflection"].startswith(f"at least {r.deflection:.3g} mm: it yields before")
    # The elastic stress beyond yield is no number of this world.
    assert f"{r.stress:.3g}" not in str(foot)
    assert said["greatest von Mises stress"].startswith("the yield stress, 140 MPa")
    assert said["first yield"].startswith(f"at {r.first_yield:.3g} of the load, {1100 * r.first_yield:.3g} N;")


def test_fields_carry_what_is_coloured(foot, light):
    assert foot.fields == ("deflection", "stress, up side", "stress, down side", "mode 1", "mode 2", "mode 3")
    d = foot.field("deflection")
    assert d.title == "deflection, at least"  # it yields
    assert light.field("deflection").title == "deflection"
    assert d.high == pytest.approx(foot.under.deflection, rel=1e-6)
    assert np.linalg.norm(d.moves, axis=1) == pytest.approx(d.values, abs=1e-6)
    assert len(d.points) == len(d.values) == d.triangles.max() + 1
    s = foot.field("stress, down side")
    assert (s.high, s.over, s.unit) == (140.0, "yields", "MPa")
    mode = light.field("mode 2")
    assert mode.swings
    assert mode.values.max() == pytest.approx(1.0)
    assert mode.unit == ""
    with pytest.raises(UnknownName, match=r"colour.*'mode 9'.*deflection"):
        foot.field("mode 9")


def test_a_number_that_is_not_shown_has_no_colours(panel, monkeypatch):
    from dataclasses import replace

    r = strength_of(panel, "pinned", "own weight", size=80.0, frequencies=0)
    stuck = replace(r, under=replace(r.under, complete=False, reached=0.4))
    assert stuck.fields == ()
    assert stuck.rows()[0][1] == "no number: no balance was found beyond 0.4 of the load"


def test_buckling_of_a_strip_pulled_and_pushed(panel):
    """A plate pressed along its long side: k pi^2 D / b^2 with k = 4 for a/b = 2 (Timoshenko, Elastic stability)."""
    held = [on.simple_edge(e) for e in ("front", "right", "rear", "left")] + [
        on.Support(title="middle of the left edge", at="edge", where="left", stops=("across",)),
        on.point((0, 0), stops=("across",)),
    ]
    push = ld.Pull(newtons=(-1000.0, 0.0, 0.0), edge="right")
    r = strength_of(panel, held, push, size=25.0, frequencies=0, buckling=True)
    m = SHOP.material("DC01")
    exact = 4 * math.pi**2 * m.youngs * 1.6**3 / (12 * (1 - m.poisson**2)) / 400  # N on the width of 400
    assert r.buckles.factor * 1000 == pytest.approx(exact, rel=0.02)
    what, value, differ, _ = r.rows()[-1]
    assert what == "buckles"
    assert value.startswith("at ")
    assert differ.endswith("%")
    lip = strength_of(panel, "on a lip", "own weight", size=80.0, frequencies=0, buckling=True)
    assert lip.rows()[-1][:2] == ("buckling", f"no number: {lip.refused[0][1]}")


def test_it_is_on_the_front_and_does_not_load_when_the_front_does():
    assert tb.strength_of is strength_of


# -- progress, cancel, bad input --------------------------------------------------------------------


def test_a_push_from_below_yields_at_a_positive_force(panel):
    """A flat panel is its own mirror: as large as from above, and no sign of a direction in a resistance."""
    both = [
        strength_of(panel, "pinned", ld.Foot(at=(150, 100), force=f), size=40.0, frequencies=0) for f in (300.0, -300.0)
    ]
    above, below = (next(b for a, b, _, _ in r.rows() if a == "first yield") for r in both)
    assert above == below
    assert " N" in below
    assert "-" not in below
    assert "foot 300 N from below on" in str(both[1])
    assert both[1].under.first_yield == pytest.approx(both[0].under.first_yield, rel=1e-3)


def test_progress_never_goes_back_and_ends_at_one(panel):
    told: list[tuple[float, str]] = []
    strength_of(panel, "pinned", size=80.0, buckling=True, progress=lambda a, w: told.append((a, w)))
    shares = [a for a, _ in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert len(set(shares)) > 8
    assert "100% of the load" in [w for _, w in told]


def test_a_progress_that_raises_ends_the_run(panel):
    def stop(done: float, word: str) -> None:
        if done > 0.2:
            raise Cancelled("enough")

    with pytest.raises(Cancelled):
        strength_of(panel, "pinned", size=80.0, progress=stop)


@pytest.mark.parametrize(
    ("supports", "load", "words"),
    [
        ("clampd", None, r"supports.*'clampd'.*bolts.*clamped"),
        ("plug welds", None, r"supports.*'plug welds'.*bolts"),
        ("bolts: left", None, "bolts without edges"),
        ("clamped: nose", None, r"edge.*'nose'.*right, left, near\.right"),
        ("clamped:", None, r"edge.*''.*right"),
        (7, None, "supports.*7.*words such as"),
        ([], None, "at least one"),
        (None, [], "load.*at least one"),
        (None, "foot", "room for 100 x 100 mm; 'base' has none; this one takes: heel"),
        (None, "heel: near", "room for 50 x 50 mm; 'near' has none; it stands on: base"),
        (None, "heel: lid", r"panel.*'lid'.*base, near, far"),
        (None, "heel: lid at 1, 2", r"panel.*'lid'.*base, near, far"),
        (None, "heel: base at 12", r"load: 'heel: base at 12'.*'?heel: base at 120, 40"),
        (None, "heel: base at 390, 30", r"'heel' at: \(390.*all of its 50 x 50 mm lie on panel 'base' \(x 0 to 400"),
        (None, "heel: near at 200, 15", r"all of its 50 x 50 mm lie on panel 'near' \(x"),
        (None, "heel: base at nan, 3", "finite"),
        (None, "own weight: base", "load.*'own weight: base'.*foot: PANEL at X, Y"),
        (None, "stone", "load.*'stone'.*heel"),
        (None, "heel x 2", "load.*'heel x 2'"),
        (None, "own weight x much", "a factor that is a number"),
        (None, "own weight x nan", "a factor that is a number"),
        (None, 7, "load.*int.*Pressure"),
        ("on a lip: near.end", "own weight", "too few: the part can"),
    ],
)
def test_bad_questions_are_refused_before_any_solve(channel, supports, load, words, monkeypatch):
    from tinbook.strength.shell import linear as shell

    monkeypatch.setattr(shell, "displaced", lambda *a: pytest.fail("it solved"))
    with pytest.raises(BadValue, match=words):
        strength_of(channel, supports, load, size=10.0)


@pytest.mark.parametrize("count", [-1, 21, 1.5, True])
def test_bad_count_of_frequencies(panel, count):
    with pytest.raises(BadValue, match="frequencies"):
        strength_of(panel, frequencies=count)


def test_no_part_no_answer_and_no_balance_is_told(panel, monkeypatch):
    bad = make(Part("HN-X", rev="A", sheet="DC01 1.6", base=Outline.rectangle(200, 100)).hole((10, 10), 90), SHOP)
    with pytest.raises((CannotMake, BadValue)):
        strength_of(bad)
    from tinbook.strength import request as ask

    def never(*a, **k):
        raise NotSolved("no contact settles")

    monkeypatch.setattr(ask, "static", never)
    r = strength_of(panel, "pinned", size=80.0)
    assert r.rows()[-1][:2] == ("under the load", "no number: no contact settles")
    assert r.fields == ("mode 1", "mode 2", "mode 3")
    monkeypatch.setattr(ask, "modes_of", never)
    with pytest.raises(NotSolved, match="under the load: no contact settles; first frequency"):
        strength_of(panel, "pinned", size=80.0)
