"""Text with a unit: a closed grammar, held against another library's units; nothing of it is ever evaluated."""

from __future__ import annotations

import math
import subprocess
import sys
import time
from contextlib import suppress

import pint
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tinbook import units
from tinbook.errors import BadValue

PINT = pint.UnitRegistry()
NAMES = {'"': "inch", "″": "inch", "'": "foot", "′": "foot", "kp": "kgf", "t": "tonne", "kip": "kip", "%": "percent"}


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("5", "mm", 5.0),
        ("1/16 in", "mm", 1.5875),
        ("19 5/8 in", "mm", 498.475),  # 19.625 x 25.4
        ("-19 5/8 in", "mm", -498.475),
        ("19-5/8 in", "mm", 498.475),
        ('19 5/8"', "mm", 498.475),
        ("6'", "mm", 1828.8),
        ("1.5e1 mm", "mm", 15.0),
        (" 2  cm ", "mm", 20.0),
        ("2\u00a0cm", "mm", 20.0),
        (".5 mm", "mm", 0.5),
        ("90°", "deg", 90.0),
        ("0.25 turn", "deg", 90.0),
        ("500 g", "kg", 0.5),
        ("2 lb", "kg", 0.90718474),
        ("1 kN m", "N*m", 1000.0),
        ("3 N·mm", "N*m", 0.003),
        ("210 N/mm^2", "MPa", 210.0),
        ("210 N/mm²", "MPa", 210.0),
        ("7.85 g/cm^3", "kg/m^3", 7850.0),
        ("7850 kg m^-3", "kg/m^3", 7850.0),
        ("2 cm**2", "mm^2", 200.0),
        ("12 %", "%", 12.0),
        ("44 %", "", 0.44),
    ],
)
def test_what_is_read(text: str, unit: str, value: float) -> None:
    """Exact to the last bit where the definition is: 1 in = 25.4 mm, 1 lb = 0.45359237 kg (NIST SP 811, B.6)."""
    assert units.number(text, unit, "size") == value


@pytest.mark.parametrize("unit", ["mm", "deg", "kg", "s", "N", "MPa", ""])
@pytest.mark.parametrize("word", sorted(units.UNITS))
def test_every_word_means_what_another_library_says(word: str, unit: str) -> None:
    size = 12.375
    theirs = PINT.Quantity(size, NAMES.get(word, word))
    turns = units.UNITS[word][1] == units.UNITS["deg"][1]  # theirs are bare numbers
    if theirs.is_compatible_with(unit or "dimensionless") and turns == (unit == "deg"):
        expected = theirs.to(unit or "dimensionless").magnitude
        assert units.number(f"{size} {word}", unit, "size") == pytest.approx(expected, rel=1e-12, abs=1e-300)
    else:
        with pytest.raises(BadValue):
            units.number(f"{size} {word}", unit, "size")


@pytest.mark.parametrize(
    "text",
    [
        "5 mm/0", "5 mm^9^9^9^9", "5 (9^9^9^9)mm", "5 mm^999999999", "5 mm/(1-1)", "5 ((((mm", "5 mm)", "5 'mm'",
        "5 mm.real", "5 __import__", "5 mm/mm*mm", "5 mm per", "5 mm%", "5 km/(m/mm)", "5 ⁹⁹⁹mm", "5 mm⁹⁹⁹", "5 mm!",
        "5 [mm]", "5 {mm}", "5 mm\\", "5 mm,", "5 mm\x00", "5 mm#x", "5 m//mm", "5 mm^(1/0)", "5 mm^nan", "5 mm^1e999",
        "5/0 mm", "1 1/0 mm", "1.5 1/2 in", "1.5/2 in", "1 2 mm", "1e9999 mm", "1e999 mm", "9" * 400 + " mm", "٣ mm",
        "5 mm^0", "5 mm^5", "5 mm^1.5", "5 mm mm^-", "--5 mm", "5*mm", "*5 mm", "5 mm*", "5 / mm", "", " ", "mm", "/",
        "inf mm", "nan", "0x10 mm", "1_000 mm", "5 kg", "5 furlongs", "5 tons", "1 half in", "16 ga", "16 gauge", "16 g",
    ],
)  # fmt: skip
def test_what_is_refused_at_once(text: str) -> None:
    began = time.process_time()
    with pytest.raises(BadValue, match=r"^size: .* is not usable; valid: "):
        units.length(text, "size")
    assert time.process_time() - began < 0.1


@given(st.text("0123456789 ./^*-+eE%°\"'()[]#,mincftdegN²³⁹µ_·", max_size=80))
@example("5" * 59 + "m")
@settings(max_examples=400)
def test_any_text_is_a_finite_number_or_refused(text: str) -> None:
    for unit in ("mm", "deg", "MPa"):
        with suppress(BadValue):
            assert math.isfinite(units.number(text, unit, "size"))


@given(st.floats(-3000, 3000), st.sampled_from(["mm", "cm", "in", "ft", "thou"]))
@settings(max_examples=200)
def test_a_length_comes_back(value: float, word: str) -> None:
    there = units.length(f"{value!r} {word}", "size")
    assert there / float(units.UNITS[word][0]) == pytest.approx(value, rel=1e-15, abs=1e-300)


def test_what_is_meant_is_given() -> None:
    with pytest.raises(BadValue, match="1000 kg, 907 kg or 1016 kg"):
        units.number("3 tons", "kg", "load")
    with pytest.raises(BadValue, match=r"'furlongs' is no unit known here; known are mm, cm"):
        units.length("3 furlongs", "edge")
    with pytest.raises(BadValue, match="decimal point, not a comma"):
        units.length("1,5 mm", "edge")


def test_a_quantity_is_given_in_its_own_registry() -> None:
    assert units.length(PINT.Quantity(2, "inch"), "edge") == pytest.approx(50.8)
    assert units.number(PINT.Quantity(5, "kN*m"), "N*m", "torque") == pytest.approx(5000)
    with pytest.raises(BadValue, match="edge"):
        units.length(PINT.Quantity(5, "kg"), "edge")
    with pytest.raises(BadValue, match="edge"):
        units.length(PINT.Quantity([5, 6], "mm"), "edge")


def test_text_needs_no_library() -> None:
    code = "import sys; from tinbook.units import length; length('19 5/8 in', 'x'); sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


@pytest.mark.parametrize(
    ("value", "count", "text"),
    [(1320.4, 3, "1320"), (4943.2, 4, "4943"), (0.04213, 3, "0.0421"), (-123456.7, 3, "-123000"), (0.0, 3, "0")],
)
def test_figures_are_written_without_a_power_of_ten(value: float, count: int, text: str) -> None:
    assert units.figures(value, count) == text
