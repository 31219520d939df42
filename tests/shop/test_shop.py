"""The shop as a value: the demo workshop, look-ups that list what exists, changes that give a new shop."""

from __future__ import annotations

import dataclasses
import pickle
import subprocess
import sys
from pathlib import Path

import pytest

from tinbook.errors import BadValue, UnknownName
from tinbook.shop.beading import BeadRoll
from tinbook.shop.cutting import fits_on
from tinbook.shop.material import Material, Sheet
from tinbook.shop.shop import Shop
from tinbook.shop.tools.air_die import AirDie
from tinbook.shop.tools.hand_folder import HandFolder
from tinbook.shop.tools.v_block import VBlock
from tinbook.sources import Source, source, sources


@pytest.fixture
def shop() -> Shop:
    return Shop.demo()


def test_the_demo_workshop_has_what_the_job_needs(shop: Shop) -> None:
    thick = {
        m: [s.nominal for s in shop.sheets if s.material.key == m] for m in ("DC01", "S235", "S355", "1.4301", "5083")
    }
    assert (min(thick["DC01"]), max(thick["DC01"])) == (0.8, 3.0)
    assert (thick["S235"][0], thick["S235"][-1]) == (thick["S355"][0], thick["S355"][-1]) == (3.0, 16.0)
    assert (min(thick["1.4301"]), max(thick["1.4301"]), thick["5083"]) == (1.0, 2.0, [3.0])
    assert {type(t) for t in shop.tools} == {AirDie, VBlock, HandFolder}
    dies = [t.opening for t in shop.tools if isinstance(t, AirDie)]
    assert (min(dies), max(dies)) == (6, 50)
    assert len(shop.rolls) == 4
    assert (shop.roll("R18x5").width, shop.roll("R18x5").depth) == (18, 5)
    assert {(c.process, c.own, c.etches) for c in shop.cutters} == {("plasma", True, False), ("laser", False, True)}
    assert shop.roller is not None
    assert {shop.tool(k).who for k in ("F1", "VB25")} == {"Quillback Workshop"}
    assert shop.tool("V16").who != "Quillback Workshop"


def test_equal_by_value_across_processes(shop: Shop) -> None:
    copy = pickle.loads(pickle.dumps(shop))
    assert copy == shop
    assert hash(copy) == hash(shop)
    assert shop.with_measured("DC01 1.6", 1.55) != shop
    assert shop.with_measured("DC01 1.6", 1.55).with_measured("DC01 1.6", None) == shop


def test_sheet_by_material_and_thickness(shop: Shop) -> None:
    assert shop.sheet("DC01", "1.6 mm") is shop.sheet("DC01", 1.6) is shop.sheet_by_key("DC01 1.6")
    with pytest.raises(UnknownName, match=r"0\.8 mm, 1 mm, 1\.2 mm"):
        shop.sheet("DC01", 1.7)
    with pytest.raises(UnknownName, match="DC01, S235, S355"):
        shop.sheet("CR4", 1.6)
    for bad in (-1, 0, float("nan"), "16 ga", None, "thick"):
        with pytest.raises(BadValue, match="sheet thickness"):
            shop.sheet("DC01", bad)


@pytest.mark.parametrize(
    ("call", "lists"),
    [
        (lambda s: s.tool("V13"), "V12"),
        (lambda s: s.roll("R1"), "R18x5"),
        (lambda s: s.cutter("saw"), "plasma, laser"),
        (lambda s: s.material("tin"), "DC01"),
        (lambda s: s.machine("x"), "brake"),
        (lambda s: s.sheet_by_key("DC01"), "DC01 1.6"),
        (lambda s: s.with_measured("DC01", 1), "DC01 1.6"),
        (lambda s: s.with_deduction("DC01 1.6", "V13", 3), "V12"),
        (lambda s: s.with_k("nope", 0.4), "DC01 1.6"),
    ],
)
def test_unknown_names_list_what_exists(shop: Shop, call: object, lists: str) -> None:
    with pytest.raises(UnknownName, match=lists):
        call(shop)  # type: ignore[operator]


def test_cutter_is_the_first_that_takes_the_sheet(shop: Shop) -> None:
    assert shop.cutter_for(shop.sheet("DC01", 1.6)).key == "laser"  # too thin for the own plasma table
    assert shop.cutter_for(shop.sheet("S235", 6)).key == "plasma"
    # Limits are nominal: a micrometer never changes the cutter.
    assert (
        shop.with_measured("DC01 2.0", 1.94).cutter_for(shop.with_measured("DC01 2.0", 1.94).sheet("DC01", 2)).key
        == "plasma"
    )
    thick = dataclasses.replace(shop.sheet("S235", 16), key="S235 40", nominal=40.0)
    with pytest.raises(UnknownName, match=r"plasma \(mild steel 2-16 mm"):
        shop.cutter_for(thick)


def test_smallest_holes(shop: Shop) -> None:
    """Laser: the thickness; plasma: twice the thickness, never under 5 mm (common practice, shop's own floor)."""
    assert shop.cutter("laser").min_hole(3.0) == 3.0
    assert shop.cutter("laser").min_hole(0.8) == 1.0
    assert shop.cutter("plasma").min_hole(6.0) == 12.0
    assert shop.cutter("plasma").min_hole(2.0) == 5.0
    assert shop.cutter("plasma").min_slot(3.0) == 6.0
    assert fits_on(shop.cutter("plasma").bed, 1200, 2400)
    assert not fits_on(shop.cutter("plasma").bed, 1300, 2000)


def test_limits_by_material_before_family(shop: Shop) -> None:
    folder = shop.tool("F1")
    assert folder.takes(shop.material("DC01"), 1.6)
    assert not folder.takes(shop.material("1.4301"), 1.2)
    assert folder.takes(shop.material("5052"), 2.0)
    assert not folder.takes(shop.material("5083"), 1.0)  # its family is not listed


def test_inside_radius_comes_from_the_tool(shop: Shop) -> None:
    dc01, stainless = shop.material("DC01"), shop.material("1.4301")
    assert shop.tool("V16").radius(dc01, 1.5) == pytest.approx(2.56)  # 0.16 V
    assert shop.tool("V16").radius(stainless, 1.5) == pytest.approx(3.2)  # 0.20 V
    assert shop.tool("VB25").radius(dc01, 3.0) == 5.0  # the punch nose
    folder = shop.tool("F1")
    assert isinstance(folder, HandFolder)
    assert folder.radius(dc01, 1.2) == 1.5  # the nose bar
    set_back = dataclasses.replace(folder, set_back=3.0)
    assert set_back.radius(dc01, 1.0) == pytest.approx(3.5)
    assert set_back.radius(dc01, 4.0) == 1.5


def test_draw_factor_is_tested_or_marked_as_a_guess(shop: Shop) -> None:
    tested, guessed = shop.roll("R12x3"), shop.roll("R18x5")
    assert (tested.guessed, tested.draw) == (False, 0.4)
    assert guessed.guessed
    # Arc of chord 18 and height 5: R 10.6, half angle 58.109 deg, arc 21.501: stretch 0.1945.
    assert guessed.free_stretch == pytest.approx(0.1945, abs=1e-4)
    assert 0 < guessed.draw < 1


def test_typed_numbers_give_a_new_shop(shop: Shop) -> None:
    typed = shop.with_deduction("DC01 1.6", "V12", "3.1 mm").with_k("DC01 1.6", 0.42)
    assert shop.deductions == ()
    row = typed.deduction_for("DC01 1.6", "V12")
    assert row is not None
    assert (row.deduction, row.angle, row.source) == (3.1, 90.0, "own data")
    assert typed.deduction_for("DC01 1.6", "V16") is None
    assert typed.k_for("DC01 1.6", "F1").k == 0.42  # type: ignore[union-attr]
    again = typed.with_deduction("DC01 1.6", "V12", 3.0)
    assert len(again.deductions) == 1
    assert again.with_k("DC01 1.6", 0.3, tool="V12").k_for("DC01 1.6", "V12").k == 0.3  # type: ignore[union-attr]
    for bad in (2, -0.1, "x", None):
        with pytest.raises(BadValue):
            shop.with_k("DC01 1.6", bad)
    with pytest.raises(BadValue, match="angle"):
        shop.with_deduction("DC01 1.6", "V12", 3.0, angle=200)


def test_values_refuse_nonsense_and_name_the_field(shop: Shop) -> None:
    sheet, material = shop.sheet("DC01", 1.6), shop.material("DC01")
    for change, said in [
        ({"nominal": -1.0}, "sheet 'DC01 1.6' nominal"),
        ({"measured": float("inf")}, "measured"),
        ({"measured": 0.5}, "within 30 %"),
        ({"sizes": ()}, "sizes"),
        ({"grain": "width"}, "length, none"),
    ]:
        with pytest.raises(BadValue, match=said):
            dataclasses.replace(sheet, **change)  # type: ignore[arg-type]
    with pytest.raises(BadValue, match="poisson"):
        dataclasses.replace(material, poisson=0.7)
    with pytest.raises(BadValue, match="tensile_max"):
        dataclasses.replace(material, tensile_max=100)
    with pytest.raises(BadValue, match="half the width"):
        dataclasses.replace(shop.roll("R18x5"), depth=10.0)
    with pytest.raises(BadValue, match="rates cut_per_m name"):
        dataclasses.replace(shop.rates, cut_per_m=(("saw", 1.0),))


def test_rates_by_process(shop: Shop) -> None:
    assert shop.rates.cutting("laser", 2.0) == pytest.approx(0.60 + 0.35 * 2)
    assert shop.rates.source == "own data"
    with pytest.raises(BadValue, match="a rate for this process"):
        dataclasses.replace(shop.rates, cut_per_m=()).cutting("laser", 1.0)


def test_values_are_frozen_and_hashable(shop: Shop) -> None:
    for value in (shop, *shop.sheets, *shop.tools, *shop.rolls, *shop.cutters, shop.rates, shop.fixings):
        hash(value)
        with pytest.raises((dataclasses.FrozenInstanceError, TypeError)):
            value.key = "x"  # type: ignore[union-attr, misc]
    assert Material.__slots__
    assert Sheet.__slots__
    assert BeadRoll.__slots__


def test_every_source_named_in_the_demo_is_registered(shop: Shop) -> None:
    rows = [*shop.materials, *shop.sheets, *shop.machines, *shop.tools, *shop.rolls, *shop.cutters, shop.rates]
    fixings = shop.fixings
    rows += [*fixings.clearances, *fixings.nut_inserts, *fixings.plug_welds, *fixings.tack_screws, *fixings.bolts]
    assert {r.source for r in rows} <= sources().keys()


def test_sources() -> None:
    assert "(quoted)" in str(source("DIN 6935"))
    assert "(from memory)" in str(source("Machinery's Handbook"))
    assert str(source("common practice")) == "Common practice of the trade"
    with pytest.raises(UnknownName, match="DIN 6935"):
        source("DIN 1")
    with pytest.raises(BadValue, match="memory"):
        Source(key="x", title="x", seen="rumour")  # type: ignore[arg-type]


def test_the_demo_is_read_without_the_unit_registry(root: Path) -> None:
    """Importing pint takes longer than everything else here; plain numbers must not need it."""
    code = "import sys; from tinbook.shop.shop import Shop; Shop.demo(); sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=root / "kit").returncode == 0
