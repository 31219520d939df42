"""A user's shop file: overrides, shops that stand alone, and every mistake at once with its line."""

from __future__ import annotations

import pickle
import re
from importlib.resources import files
from pathlib import Path

import pytest

from tinbook.errors import BadFile, BadValue
from tinbook.shop.shop import Shop
from tinbook.shop.tomlfile import parse_toml
from tinbook.sources import sources

ALONE = """
name = "Own shop"

[machines.brake]
title = "Small brake"
kind = "brake"
who = "Own shop"
own = true
length = "4 ft"

[dies.A]
machine = "brake"
opening = "1/2 in"
die_angle = 85
shoulder = 1
punch_nose = 0.8
max_thickness = { DC01 = "2 mm", aluminium = 2.5 }

[sheets."DC01 1"]
material = "DC01"
nominal = "1.0 mm"
sizes = [["2.5 m", 1250]]

[rates]
currency = "EUR"
cut_per_m = {}
cut_per_m_mm = {}
pierce = {}
etch_per_m = {}
fold = 1
fold_setup = 0
bead_per_m = 0
bead_setup = 0
weld = 0
insert = 0
deburr_per_m = 0
part = 0
hour = 40
"""


def load(tmp_path: Path, text: str | bytes) -> Shop:
    path = tmp_path / "my_shop.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return Shop.load(path)


def mistakes(tmp_path: Path, text: str | bytes) -> list[str]:
    with pytest.raises(BadFile) as caught:
        load(tmp_path, text)
    assert "my_shop.toml" in str(caught.value)
    assert "nothing was used" in str(caught.value)
    return [f"{m.where}: {m.what}" for m in caught.value.mistakes]


def test_override_of_the_demo(tmp_path: Path) -> None:
    shop = load(
        tmp_path,
        """
base = "demo"
process_order = ["air"]
revision_scheme = "letters without I O Q"
[sheets."DC01 1.6"]
measured = "1.55 mm"
[materials.DC01]
yield_max = "250 N/mm^2"
[machines.folder]
length = 900
who = "The neighbour"
[[deductions]]
sheet = "DC01 1.6"
tool = "V12"
deduction = 3.1
[fixings.nut_inserts."M10 1-3.5"]
hole = 12
""",
    )
    sheet = shop.sheet("DC01", 1.6)
    assert (sheet.thickness, sheet.nominal, sheet.source) == (1.55, 1.6, "own data")
    assert sheet.material.yield_max == pytest.approx(250)
    assert shop.sheet("DC01", 1.0).material is sheet.material
    assert sheet.sizes == Shop.demo().sheet("DC01", 1.6).sizes
    assert shop.process_order == ("air",)
    assert shop.revision_scheme == "letters without I O Q"
    assert (shop.tool("F1").max_length, shop.tool("F1").who) == (900, "The neighbour")
    assert shop.deductions[0].deduction == 3.1
    assert shop.fixings.nut_insert("M10", 2).hole == 12
    assert shop.fixings.nut_insert("M10", 2).source == "own data"
    assert shop.fixings.nut_insert("M8", 2) == Shop.demo().fixings.nut_insert("M8", 2)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("[materials.DC01]\ndensity = 7.85", "at least 500"),  # g/cm3
        ("[materials.DC01]\nyoungs = 210", "at least 1000"),  # GPa
        ("[materials.DC01]\nyield_min = 140e6", "at most 5000 MPa"),  # Pa
        ('[sheets."DC01 1.6"]\nmeasured = 1550', "at most 200 mm"),  # micrometres
        ('[sheets."DC01 1.6"]\nmeasured = 1e-300', "at least 0.05"),
    ],
)
def test_another_unit_is_noticed(tmp_path: Path, line: str, says: str) -> None:
    (said,) = mistakes(tmp_path, f'base = "demo"\n{line}\n')
    assert says in said


def test_stands_alone(tmp_path: Path) -> None:
    shop = load(tmp_path, ALONE)
    assert [s.key for s in shop.sheets] == ["DC01 1"]
    die = shop.tool("A")
    assert die.opening == pytest.approx(12.7)  # type: ignore[union-attr]
    assert die.max_length == pytest.approx(1219.2)
    assert shop.sheets[0].sizes == ((2500.0, 1250.0),)
    assert shop.material("1.4301").density == 7900  # grades come with the kit
    assert shop.fixings.clearance("M6") == 6.6
    assert shop.cutters == ()
    assert pickle.loads(pickle.dumps(shop)) == shop


def test_empty_file_says_what_a_shop_needs(tmp_path: Path) -> None:
    found = mistakes(tmp_path, "")
    assert [f.split(":")[0] for f in found] == ["file, name", "file, sheets"]


def brake(force: str) -> str:
    return ALONE.replace('length = "4 ft"', f'length = "19 5/8 in"\nforce = {force}')


@pytest.mark.parametrize(
    ("told", "newtons"),
    [
        # Standard gravity 9.80665 m/s² (exact); the pound is 0.45359237 kg (exact): 4448.22 N a kip, 2 or 2.24 of them a ton.
        ('"60 t"', 588_399.0),
        ('"60 tonnes"', 588_399.0),
        ('"60t"', 588_399.0),
        ('"0.5 metric ton"', 4_903.325),
        ('"60 short ton"', 60 * 8_896.443),
        ('"60 long tons"', 60 * 9_964.016),
        ('"1/2 long ton"', 4_982.008),
        ('"600 kN"', 600_000.0),
        ("600000", 600_000.0),
    ],
)
def test_a_brake_s_plate_is_read_as_it_stands(tmp_path: Path, told: str, newtons: float) -> None:
    (machine,) = load(tmp_path, brake(told)).machines
    assert machine.force == pytest.approx(newtons, rel=1e-6)
    assert machine.length == pytest.approx(19.625 * 25.4)


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ('"60 ton"', r"which ton\? '60 t' \(metric\), '60 short ton' .*: 588.4 kN, 533.8 kN, 597.8 kN"),
        ('"60 tons"', "which ton"),
        ('"many tons"', "which ton"),
        ('"60 kg"', "force.*valid"),
        ('"0 t"', "greater than 0"),
        ('"-5 t"', "greater than 0"),
        ('"t"', "force.*valid"),
    ],
)
def test_a_bare_ton_is_given_which(tmp_path: Path, told: str, says: str) -> None:
    (found,) = mistakes(tmp_path, brake(told))
    assert re.search(says, found)


def test_one_mistake_in_a_machine_is_one_mistake(tmp_path: Path) -> None:
    """Its dies, punches and rolls ask for nothing that would then be refused."""
    punch = '\n[punches.P]\nmachine = "brake"\nsection = ""\n'
    broken = ALONE.replace("own = true", 'own = "yes"')
    assert [f.split(":")[0] for f in mistakes(tmp_path, broken)] == ["line 8, machines.brake.own"]
    found = mistakes(tmp_path, broken + punch)
    assert not any("who is missing" in f or "machine" in f.split(":")[0].rsplit(".")[-1] for f in found)
    # What is given there is refused before the machine is mended as after it.
    known = broken.replace("[dies.A]", '[dies.A]\nwho = "me"')
    assert any("unknown key 'who'" in f for f in mistakes(tmp_path, known))


def test_a_roller_with_a_mistake_is_one_mistake(tmp_path: Path) -> None:
    text = (
        ALONE
        + """
[roller]
title = "Bead roller"
who = 5
own = true
throat = 400

[rolls.Q]
width = 12
depth = 3
shoulder = 2
passes = 2
min_curve = 50
max_thickness = { DC01 = 1.5 }
"""
    )
    assert not [f for f in mistakes(tmp_path, text) if "rolls.Q" in f]


@pytest.mark.parametrize("rates", ["", '[rates]\ncurrency = "EUR"\nhour = 40\n'])
def test_rates_that_nobody_reads_are_not_asked_for(tmp_path: Path, rates: str) -> None:
    text = ALONE[: ALONE.index("[rates]")] + rates
    shop = load(tmp_path, text)
    assert (shop.rates is None) == (rates == "")
    if shop.rates is not None:
        assert (shop.rates.hour, shop.rates.fold) == (40, None)
        with pytest.raises(BadValue, match="a rate for this process in the shop file"):
            shop.rates.cutting("laser", 2.0)
    assert "price_per_kg" not in text
    assert "revision_scheme" not in text


def test_every_mistake_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = """
base = "demo"
nme = "X"
process_order = ["fold", "bite"]

[sheets."DC01 1.6"]
measured = "16 ga"
price = 3

[sheets."DC01 1.7"]
material = "DC1"
nominal = -1.7
sizes = [[2500, 1250], [1]]
source = "nowhere"

[materials.DC01]
yield_min = 500
hem = "yes"
colour = [0.1, 2, 0.3]

[dies.V12]
opening = "1/2 in"
machine = "folder"
opening = 13

[dies.V7]
opening = inf
machine = "brake"
max_thickness = { mild = 1.0 }

[rolls.Q]
width = 10
depth = nan
passes = 1.5

[[deductions]]
sheet = "DC01 1.6"
tool = "V99"
deduction = "3 kg"

[dies.V12]
shoulder = 3

[fixings.clearances.M6]
medium = 9
"""
    found = mistakes(tmp_path, text)
    lines = [int(re.match(r"line (\d+)", f).group(1)) for f in found]  # type: ignore[union-attr]
    assert lines == sorted(lines)
    rows = text.splitlines()
    # Each line that holds a mistake, and a word of what is said about it; the line is found by its text.
    for row, said in [
        ('nme = "X"', "did you mean 'name'"),
        ('process_order = ["fold", "bite"]', "fold, wipe, bottom, air"),
        ('measured = "16 ga"', "gauge numbers differ"),
        ("price = 3", "price_per_kg"),
        ('material = "DC1"', "DC01, DC04"),
        ("nominal = -1.7", "at least 0.05"),
        ("sizes = [[2500, 1250], [1]]", "2 numbers in brackets"),
        ('source = "nowhere"', "DIN 6935"),
        ("[materials.DC01]", "at least yield_min = 500"),
        ('hem = "yes"', "true or false"),
        ("colour = [0.1, 2, 0.3]", "at most 1"),
        ("[dies.V12]", "each table once"),
        ('opening = "1/2 in"', "given again on line 24; each key once"),
        ('machine = "folder"', "valid: a brake"),
        ("[dies.V7]", "die_angle is missing"),
        ("[dies.V7]", "punch_nose is missing"),
        ("opening = inf", "finite"),
        ("max_thickness = { mild = 1.0 }", "mild steel"),
        ("[rolls.Q]", "max_thickness is missing"),
        ("depth = nan", "finite"),
        ("passes = 1.5", "whole number"),
        ('tool = "V99"', "V6, V8"),
        ('deduction = "3 kg"', "mm"),
        ("[fixings.clearances.M6]", "fine <= medium <= coarse"),
    ]:
        line = rows.index(row) + 1
        assert any(f.startswith(f"line {line},") and said in f for f in found), (line, row, said, found)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b'base = "demo"\nname = "Caf\xe9"\n', "line 2: byte 0xe9 is not UTF-8"),
        (b"\xff\xfeb\x00a\x00", "UTF-16"),
        (b"\x00\x01\x02", "UTF-16 or binary"),
        (b"base = demo\n", "line 1: Invalid value: 'base = demo'"),
        (b"[sheets\n", "line 1"),
        (b'base = "other"\n', "line 1, base"),
        (b'base = "demo"\nsheets = 3\n', "line 2, sheets"),
        (b'base = "demo"\n[sheets]\nx = 3\n', "line 3, sheets.x"),
        (b'base = "demo"\n[[sheets]]\nnominal = 1\n', "line 2, sheets: sheets: [{'nominal': 1}] is not usable"),
        (b'base = "demo"\ndeductions = [1]\n', "line 2, deductions[1]"),
        (b'base = "demo"\n[dies.F1]\nmachine = "brake"\n', "taken by another tool"),
        (b'base = "demo"\n[dies.V12]\nwho = "me"\n', "unknown key 'who'"),
        (b'base = "demo"\n[machines.brake]\nmachine = "x"\n', "line 3, machines.brake.machine: unknown key 'machine'"),
        (b'base = "demo"\n[rates]\ncolour = "red"\n', "line 3, rates.colour: unknown key 'colour'"),
        (b'base = "demo"\n[dies.V12]\nmaterial = "DC01"\n', "line 3, dies.V12.material: unknown key 'material'"),
        (b'base = "demo"\n[rolls.R18x5]\nrun_out = 20\n', "line 3, rolls.R18x5.run_out: unknown key 'run_out'"),
        (b'base = "demo"\n[cutters.c]\nmachine = "x"\n', "line 3, cutters.c.machine: unknown key 'machine'"),
        (b'base = "demo"\n[rates]\ncut_per_m = { saw = 1 }\n', "laser, plasma, waterjet"),
        (b'base = "demo"\n[sheets."DC01 1.6"]\nmeasured = 3\n', "within 30 %"),
        (b'base = "demo"\n[sheets."DC01 1.6"]\nmeasured = true\n', "line 3"),
        (b'base = "demo"\n[sheets."DC01 1.6"]\nmeasured = "1,6 mm"\n', "decimal point, not a comma"),
        (b'base = "demo"\n[[k_factors]]\nsheet = "DC01 1.6"\nk = 41\n', "at most 1"),
    ],
)
def test_bad_text(tmp_path: Path, text: bytes, said: str) -> None:
    assert any(said in f for f in mistakes(tmp_path, text)), mistakes(tmp_path, text)


def test_latin_1_does_not_hide_the_other_mistakes(tmp_path: Path) -> None:
    found = mistakes(tmp_path, b'base = "demo"\nname = "Caf\xe9"\nnme = 3\n')
    assert len(found) == 2


def test_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    shop = load(tmp_path, b'\xef\xbb\xbfbase = "demo"\r\nname = "M\xc3\xbcller"\r\n')
    assert shop.name == "Müller"


def test_missing_file_folder_and_huge_file(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="does not exist"):
        Shop.load(tmp_path / "none.toml")
    with pytest.raises(BadFile, match="folder"):
        Shop.load(tmp_path)
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as f:
        f.truncate(6_000_000)
    with pytest.raises(BadFile, match="6000000 bytes"):
        Shop.load(huge)


@pytest.mark.parametrize("name", ["demo_shop.toml", "materials.toml", "fixings.toml"])
def test_every_row_of_the_kits_data_has_a_source(name: str) -> None:
    doc = parse_toml(name, files("tinbook.shop").joinpath("data", name).read_bytes())
    rows: list[object] = []
    for table, content in doc.data.items():
        if isinstance(content, dict) and table == "fixings":
            for kind in content.values():
                rows += kind if isinstance(kind, list) else kind.values()
        elif isinstance(content, dict):
            rows += [content] if table in ("roller", "rates", "handling", "packing") else content.values()
    assert len(rows) >= 8
    assert all(isinstance(r, dict) and r["source"] in sources() for r in rows)
