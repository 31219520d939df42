"""The worst place for a foot: not the middle; supports that leave the part loose get words instead of a mode."""

from __future__ import annotations

import math

import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.errors import BadValue, TinbookError, UnknownName
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import analysis as an
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.request import supports_of
from tinbook.strength.shell.solve import NotSolved


@pytest.fixture(scope="module")
def panel():
    return make(Part("HN-WP", rev="A", sheet="DC01 1.5", base=Outline.rectangle(600, 400)), SHOP)


@pytest.fixture(scope="module")
def found(panel):
    wheel = ld.Foot(at=(0.0, 0.0), force=600.0, name="wheel")
    return tb.strength.worst_place(panel, "simply supported", wheel, size=50.0)


def test_the_worst_place_is_not_the_middle(found):
    """In mid-panel thin sheet becomes a membrane; beside an edge that holds it only down it bends."""
    by = {s.at: s.newtons for s in found.stands}
    assert found.worst.newtons < 0.7 * by[300.0, 200.0]
    assert found.worst.newtons == min(by.values())


def test_its_load_goes_on_to_strength_of(panel, found):
    """Followed from a light load, first yield is that of the load itself."""
    alone = an.static(
        panel, supports_of(panel, "simply supported"), [found.load], size=50.0, compare=False, yield_to=10.0
    )
    assert alone.first_yield * found.load.force == pytest.approx(found.worst.newtons, rel=0.01)
    assert found.load.name == "wheel"


def test_the_map_is_as_symmetric_as_the_panel(found):
    """Mesh and supports are symmetric but for where it is kept from sliding."""
    at = {tuple(p): s for p, s in zip(found.places.tolist(), found.stress.tolist(), strict=True)}
    assert all(at[x, y] == pytest.approx(at[round(600 - x, 1), y], rel=0.05) for x, y in at)
    picture = str(found.picture())
    assert picture.count("<rect") == len(found.places) + 2 * len(found.stands) + 10
    assert "worst: " in picture


@pytest.mark.parametrize(
    ("load", "more"),
    [("cart", {}), (None, {}), (5.0, {}), ("foot", {"panel": "roof"}), ("foot", {"panel": None}), ("foot", {"size": -1.0}),
     (ld.Foot(at=(0, 0), force=0.0), {}), (ld.Foot(at=(0, 0), force=math.nan), {}), (ld.Foot(at=(0, 0), size=(700.0, 400.0)), {})],
)  # fmt: skip
def test_what_is_no_load_or_no_place_is_named(panel, load, more):
    with pytest.raises((BadValue, UnknownName)):
        tb.strength.worst_place(panel, "pinned", load, **more)


ONE_POINT = [on.point((300, 200), stops=("along", "across", "normal", "turn along", "turn across", "turn normal"))]


def test_a_part_held_at_a_point_has_no_frequency(panel):
    """A point has no turning stiffness in the continuum: what a mesh finds is the mesh's own."""
    with pytest.raises(NotSolved, match="hold too loosely: at frequency 1 it does little but turn about"):
        an.modes(panel, ONE_POINT, count=2, size=50.0)


def test_a_part_held_at_a_point_has_no_deflection(panel):
    pull = [ld.Pull(newtons=(0.0, 1e-3, 0.0), edge="right")]
    with pytest.raises(NotSolved, match="under the load it does little but turn about z"):
        an.static(panel, ONE_POINT, pull, size=50.0)
    with pytest.raises(BadValue, match="the part can turn about x"):
        an.static(panel, [on.simple_edge("front", in_plane="held")], pull, size=50.0)


def test_a_cantilever_is_no_loose_hold(panel):
    """Its first swing is nearly a turn about its edge, and a true one: beam theory with the sheet's plate stiffness."""
    first = an.modes(panel, [on.clamped_edge("left")], count=1, size=50.0).first
    metal = panel.sheet.material
    e, nu, rho, t, long = metal.youngs, metal.poisson, metal.density * 1e-12, 1.5, 600.0
    beam = 1.875**2 / math.tau * math.sqrt(e * t**2 / (12 * rho)) / long**2
    assert beam < first < beam / math.sqrt(1 - nu**2)


@pytest.mark.parametrize("words", ["no support", "off the part", "seat", "nothing held"])
def test_misuse_gets_words_and_no_solver_speaks(panel, words):
    calls = {
        "no support": lambda: tb.strength_of(panel, [], size=50.0),
        "off the part": lambda: tb.strength_of(panel, "pinned", ld.Foot(at=(900.0, 0.0)), size=50.0),
        "seat": lambda: tb.strength_of(panel, "pinned", "seat 40 kg", size=50.0),
        "nothing held": lambda: tb.strength_of(panel, [on.point((10, 10))], "own weight", size=50.0),
    }
    with pytest.raises(TinbookError) as caught:
        calls[words]()
    assert not any(name in str(caught.value) for name in ("SuperLU", "ARPACK", "Factor", "scipy", "singular", "rray"))
