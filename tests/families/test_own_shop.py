"""Families on any shop: its own sheets by name or as sheets, its own tools, thickness from the sheet and not from its name."""

from __future__ import annotations

import inspect
import math
import pickle
from dataclasses import replace

import pytest

import tinbook as tb
from tinbook.bench.usercode import run_user_code
from tinbook.errors import BadValue, UnknownName
from tinbook.part.partfile import part_from_toml, part_to_toml

DEMO = tb.Shop.demo()
RACK = replace(DEMO.sheet("DC01", "2.0 mm"), key="rack 3", nominal=1.8)
OWN = replace(DEMO, sheets=(*DEMO.sheets, RACK)).with_measured("DC01 1.5", 1.40)
MEASURED = OWN.sheet_by_key("DC01 1.5")


def test_a_sheet_gives_its_own_thickness_whatever_it_is_called() -> None:
    """The pins of a strap lie outside by the sheet's thickness less the eye's offset, which depends on it alone too."""
    assert tb.families.tank_strap(sheet=RACK) != tb.families.tank_strap(sheet="DC01 2.0")  # type: ignore[arg-type]
    places = [tb.families.pin_places(420, 3, 40, 12, s) for s in ("DC01 1.5", MEASURED, "DC01 2.0")]  # type: ignore[arg-type]
    assert places[0] != places[1] != places[2]
    same = replace(RACK, key="DC01 1.8")
    assert tb.families.tank_strap(sheet=RACK).folds == tb.families.tank_strap(sheet=same).folds  # type: ignore[arg-type]


def test_a_bare_name_that_says_no_thickness_is_refused_with_what_to_give() -> None:
    for family in (tb.families.tank_strap, tb.families.tunnel, tb.families.floor_brace):
        with pytest.raises(BadValue, match=r"rack 3.*shop\.sheet_by_key"):
            family(sheet="rack 3")
        part = family(sheet=RACK)  # type: ignore[arg-type]
        made = tb.make(part, OWN)
        assert made.thickness == 1.8
        assert part.sheet == "rack 3"


def test_a_bare_name_is_the_kits_own_sheet_and_a_thicker_one_in_the_shop_is_told() -> None:
    """ "DC01 1.5" is 1.5 mm until the shop says 1.40: the part is set out for 1.5, and the check says so."""
    plain, own = tb.families.tunnel(sheet="DC01 1.5"), tb.families.tunnel(sheet=MEASURED)  # type: ignore[arg-type]
    assert (plain.drawn_thickness, own.drawn_thickness) == (1.5, 1.4)
    (told,) = tb.check(tb.make(plain, OWN), kind="live").of("blank.thickness")
    assert (told.severity, told.value, told.limit) == ("caution", 1.4, 1.5)
    assert not tb.check(tb.make(own, OWN), kind="live").of("blank.thickness")
    assert not tb.check(tb.make(plain, DEMO), kind="live").of("blank.thickness")
    assert part_from_toml(part_to_toml(own)).drawn_thickness == 1.4


PLATES = {
    "winch_cradle": "S355 5.0",
    "body_mount": "S235 5.0",
    "front_joiner": "S235 5.0",
    "recovery_plate": "S355 16.0",
}


@pytest.mark.parametrize("kind", PLATES)
def test_plates_are_set_out_for_the_shops_own_measured_plate(kind: str) -> None:
    """Tabs and slots follow the micrometer: without the plate itself the check says that they do not."""
    key = PLATES[kind]
    nominal = DEMO.sheet_by_key(key).thickness
    shop = DEMO.with_measured(key, round(nominal - 0.2, 2))
    family = getattr(tb.families, kind)
    given = family(sheet=shop.sheet_by_key(key))
    mine = [p for p in given.parts if p.sheet == key]
    assert {p.drawn_thickness for p in mine} <= {nominal - 0.2, None}
    assert any(p.drawn_thickness for p in mine)
    usual = [p for p in family().parts if p.sheet == key and p.drawn_thickness]
    assert all(tb.check(tb.make(p, shop), kind="live").of("blank.thickness") for p in usual)
    assert not any(tb.check(tb.make(p, shop), kind="live").of("blank.thickness") for p in mine)
    assert {p.number for p in mine} == {p.number for p in family().parts if p.sheet == key}


def test_the_workbench_takes_the_shops_own_sheet() -> None:
    part = run_user_code(tb.families.tunnel, {"sheet": "DC01 1.5"}, OWN)
    assert isinstance(part, tb.Part)
    assert (part.sheet, part.drawn_thickness) == ("DC01 1.5", 1.4)
    assert "rack 9" in str(run_user_code(tb.families.tunnel, {"sheet": "rack 9"}, OWN))


def test_the_sheet_survives_files_and_processes() -> None:
    part = tb.families.tunnel(sheet=MEASURED)  # type: ignore[arg-type]
    assert part_from_toml(part_to_toml(part)).sheet == "DC01 1.5"
    assert pickle.loads(pickle.dumps(part)) == part


@pytest.mark.parametrize(
    "family", [tb.families.winch_cradle, tb.families.body_mount, tb.families.gusset], ids=lambda f: f.__name__
)
def test_a_tool_of_any_shop_is_taken_and_looked_up_in_make(family: object) -> None:
    shop = replace(DEMO, tools=(*DEMO.tools, replace(DEMO.tool("V50"), key="D40")))
    values = {"lip": 45} if family is tb.families.gusset else {}
    thing = family(tool="D40", **values)  # type: ignore[operator]
    folded = thing if isinstance(thing, tb.Part) else next(p for p in thing.parts if p.folds)
    assert {s.bend.tool for s in tb.make(folded, shop).strips} == {"D40"}
    with pytest.raises(UnknownName, match="D40"):
        tb.make(folded, DEMO)


def test_gaskets_openings_and_fascias_say_their_ranges() -> None:
    holes = tb.families.bolting()
    with pytest.raises(BadValue, match=r"gasket thickness.*1 to 12 mm; nearest 12"):
        tb.families.gasket(holes, 20)
    with pytest.raises(BadValue, match=r"lid_opening at.*0 to 3000 mm"):
        tb.families.lid_opening(tb.families.tunnel(), holes, -5)
    assert tb.families.gasket(holes, "5 mm").thickness == 5.0  # type: ignore[arg-type]
    bay = tb.families.dash_bay()
    with pytest.raises(BadValue, match=r"fascia corner.*0 to 24 mm; nearest 24"):
        tb.families.fascia(bay, corner=30)
    with pytest.raises(BadValue, match=r"fascia mounted item 1 y.*-700 to 700 mm"):
        tb.families.fascia(bay, [("gauge 52", 0, 900)])


@pytest.mark.parametrize(
    "mounted", [[("gauge 52", "x", 0)], [("gauge 52", 0)], "gauge 52", [(3, 0, 0)], [("gauge 52", math.nan, 0)], 5]
)
def test_what_is_mounted_is_refused_by_name(mounted: object) -> None:
    with pytest.raises(BadValue, match=r"fascia mounted|instrument"):
        tb.families.fascia(tb.families.dash_bay(), mounted)  # type: ignore[arg-type]


def test_lengths_of_a_fascia_may_carry_their_unit() -> None:
    """2 in are 50.8 mm."""
    own = tb.families.Instrument(opening=("2 in", 50), front=(60, 60), behind=(60, 60, 40))  # type: ignore[arg-type]
    panel = tb.families.fascia(tb.families.dash_bay(), [(own, "1 in", 0)])  # type: ignore[list-item]
    (cut,) = [h for h in panel.holes if h.name == "instrument 1"]
    assert cut.centre[0] == pytest.approx(25.4)
    assert cut.loop.box[2] - cut.loop.box[0] == pytest.approx(50.8)
    with pytest.raises(BadValue, match="instrument opening width"):
        tb.families.Instrument(opening=(0, 50), front=(60, 60), behind=(60, 60, 40))


def test_a_family_that_takes_a_thing_refuses_another() -> None:
    for made, field in ((tb.families.fascia, "fascia bay"), (tb.families.gasket, "gasket holes")):
        with pytest.raises(BadValue, match=f"{field}: 'int'.*a Bolting"):
            made(3)  # type: ignore[operator]
    with pytest.raises(BadValue, match=r"lid_opening part: 'Bolting'.*a Part"):
        tb.families.lid_opening(tb.families.bolting(), tb.families.bolting())  # type: ignore[arg-type]


def _defaults() -> dict[str, str]:
    """Default part number of every ready-made kind."""
    found = {}
    for name in dir(tb.families):
        thing = getattr(tb.families, name)
        if callable(thing) and getattr(thing, "__module__", "").startswith("tinbook.families"):
            given = inspect.signature(thing).parameters
            number = given["number"].default if "number" in given else None
            if isinstance(number, str):
                found[name] = number
    return found


def test_no_kind_carries_a_customers_number() -> None:
    """The number that nobody gave says what the part is; the Heron's numbers stand in the notebooks."""
    found = _defaults()
    assert len(found) >= 25
    assert not [n for n in found.values() if n.startswith("HN")]


@pytest.mark.parametrize(
    "kind", ["strapped_tank", "lid_on_struts", "winch_cradle", "body_mount", "front_joiner", "recovery_plate"]
)
def test_members_are_numbered_from_their_assembly(kind: str) -> None:
    made = getattr(tb.families, kind)(number="BT-77")
    numbers = [p.number for p in made.parts]
    assert numbers
    assert all(n.startswith("BT-77-") for n in numbers), numbers
    assert len(set(numbers)) == len(numbers)
