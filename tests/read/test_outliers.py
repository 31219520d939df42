"""Which reading is wrong: known limits, another solver's adjustment, and seeded sets with and without one gross error."""

from __future__ import annotations

import math
import re
from itertools import combinations

import numpy as np
import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.errors import BadValue, CannotMake
from tinbook.part.partfile import part_from_toml, part_to_toml
from tinbook.read import outliers
from tinbook.read.outliers import critical, detectable, studentised
from tinbook.read.tape import outline_from_tape

FIVE = [(0, 0), (900, 0), (930, 250), (500, 520), (0, 420)]
NAMES = [f"s{i}" for i in range(5)]
CORNERS = [f"{NAMES[i - 1]}/{NAMES[i]}" for i in range(5)]
PAIRS = list(combinations(range(5), 2))
TRUE = np.array([math.dist(FIVE[a], FIVE[b]) for a, b in PAIRS])
SCATTER = 0.5  # mm; a quarter of the default tolerance


def outline(lengths):
    """The outline of ten readings in the order of PAIRS."""
    sides, diagonals = {}, {}
    by_pair = dict(zip(PAIRS, lengths, strict=True))
    for i in range(5):
        sides[NAMES[i]] = by_pair[min(i, (i + 1) % 5), max(i, (i + 1) % 5)]
    for (a, b), length in by_pair.items():
        if b - a not in (1, 4):
            diagonals[CORNERS[a], CORNERS[b]] = length
    return outline_from_tape(sides, diagonals)


def name_of(pair):
    a, b = pair
    return (
        NAMES[0 if (a, b) == (0, 1) else 4 if (a, b) == (0, 4) else a]
        if b - a in (1, 4)
        else f"{CORNERS[a]} to {CORNERS[b]}"
    )


def test_limits_known_from_surveying():
    """Baarda's 4.13 for 0.1 % and a power of 80 %; normal quantiles 1.960 and 3.291 (printed tables, from memory)."""
    assert critical(1) == pytest.approx(1.960, abs=5e-4)
    assert critical(1, 0.001) == pytest.approx(3.291, abs=5e-4)
    assert detectable(1, 0.001, 0.80) == pytest.approx(4.13, abs=0.005)
    # Ten good readings: each may be beyond with 1 - 0.95^(1/10) = 0.512 %, quantile 2.800.
    assert critical(10) == pytest.approx(2.800, abs=1e-3)


def test_one_number_read_four_times_by_hand():
    """Mean of four: each residual keeps 3/4 of an error; standard deviation sqrt(3)/2 of a reading's."""
    values = np.array([10.0, 10.2, 9.8, 13.0])
    test = outliers.tested(values - values.mean(), np.ones((4, 1)), 0.2)
    assert test.shares == pytest.approx([0.75] * 4)
    assert test.standardised[3] == pytest.approx((13.0 - 10.75) / (0.2 * math.sqrt(0.75)))
    assert test.group == (3,)
    assert test.hidden[0] == pytest.approx(0.2 * (critical(4) + 1.6449) / math.sqrt(0.75), rel=1e-4)


def test_two_readings_of_one_thing_cannot_be_told_apart():
    test = outliers.tested(np.array([1.0, -1.0]), np.ones((2, 1)), 0.2)
    assert sorted(test.group) == [0, 1]


def test_an_error_that_no_residual_shows_is_named():
    """493 taken for 498: every residual stays within the tolerance, and yet the reading is named with its error."""
    o = outline(TRUE + np.where([p == (3, 4) for p in PAIRS], 5.0, 0.0))
    assert all(abs(r.residual) <= o.tol for r in o.readings)
    (found,) = o.findings.of("tape.suspect")
    assert found.severity == "stop"
    assert found.where.startswith("'s3'")
    assert "about 5.0 mm" in found.what
    assert "again" in found.remedy
    assert outline(TRUE).findings == ()


def trials(count, seed):
    """Return how many clean sets alarm, and of sets with one smallest detectable error how many alarm and name it."""
    rng = np.random.default_rng(seed)
    false = detected = named = 0
    hidden = [{r.name: r.hidden for r in outline(TRUE).readings}[name_of(p)] for p in PAIRS]
    for _ in range(count):
        noise = rng.normal(0, SCATTER, 10)
        false += bool(suspects(TRUE + noise))
        k = int(rng.integers(10))
        noise = rng.normal(0, SCATTER, 10)
        noise[k] += float(rng.choice([-1, 1])) * hidden[k]
        said = suspects(TRUE + noise)
        detected += bool(said)
        named += name_of(PAIRS[k]) in said
    return false / count, detected / count, named / count


def suspects(lengths):
    """Names of the readings in doubt, whether they pass the tolerance or not."""
    try:
        found = [f for f in outline(lengths).findings if f.code == "tape.suspect"]
    except BadValue as refused:
        return re.findall(r"'([^']+)'(?:: | or |$| \()", str(refused).partition("look first")[2]) or ["?"]
    return [w.strip("'") for f in found for w in f.where.split(", ")]


@pytest.mark.full
def test_five_hundred_sets_with_and_without_an_error():
    """Family-wise 5 % and a power of 95 % are promised."""
    false, detected, named = trials(500, 1)
    print(f"false alarms {false:.1%}, detected {detected:.1%}, named {named:.1%}")
    assert false <= 0.075
    assert detected >= 0.925
    assert named >= 0.90


def test_some_sets_with_and_without_an_error():
    """The same for sixty: 95 % less three standard deviations (2.8 % each) of chance."""
    false, detected, named = trials(60, 2)
    assert false <= 0.05 + 3 * 0.028
    assert detected >= 0.95 - 3 * 0.028
    assert named >= 0.90 - 3 * 0.039


def test_points_of_an_edge_against_a_deleted_fit():
    """The same as leaving each point out and asking what the others predict (Student's t by SciPy's quantile)."""
    from scipy.stats import t

    rng = np.random.default_rng(5)
    x, n = np.linspace(0, 500, 12), 12
    y = 0.001 * x + rng.normal(0, 0.1, n)
    y[4] += 0.9
    design = np.column_stack((np.ones(n), x))
    fit = np.linalg.lstsq(design, y, rcond=None)[0]
    d = y - design @ fit
    largest, hidden = studentised(d, design, n)
    quantile = t.ppf(1 - (1 - 0.95 ** (1 / n)) / 2, n - 3)
    for i in range(n):
        rest = np.delete(np.arange(n), i)
        alone, left, *_ = np.linalg.lstsq(design[rest], y[rest], rcond=None)
        s = math.sqrt(float(left[0]) / (n - 3))
        apart = y[i] - design[i] @ alone
        spread = s * math.sqrt(1 + design[i] @ np.linalg.inv(design[rest].T @ design[rest]) @ design[i])
        assert (abs(d[i]) > largest[i]) == (abs(apart) > quantile * spread)
        assert hidden[i] == pytest.approx((quantile + t.ppf(0.95, n - 3)) * spread, rel=1e-9)
    assert np.flatnonzero(np.abs(d) > largest).tolist() == [4]


def test_a_part_from_a_suspect_outline_is_stopped(tmp_path):
    """Whatever is drawn from the outline: moved, grown, a cut-out in another part, read back from its file."""
    wrong = outline(TRUE + np.where([p == (3, 4) for p in PAIRS], 5.0, 0.0))
    assert wrong.findings.of("tape.suspect")
    plate = tb.Outline.rectangle(3000, 3000)
    for part in (
        tb.Part("A", sheet="DC01 1.5", base=wrong),
        tb.Part("A", sheet="DC01 1.5", base=wrong.offset("5 mm").moved(10, 0, 90).mirrored()),
        tb.Part("A", sheet="DC01 1.5", base=plate).cut_out(wrong, (1500, 1500)),
    ):
        for again in (part, part_from_toml(part_to_toml(part))):
            assert part_to_toml(again) == part_to_toml(part)
            found = tb.check(tb.make(again, SHOP))
            assert "tape.suspect" in {f.code for f in found.stops}
    sound = tb.Part("A", sheet="DC01 1.5", base=outline(TRUE))
    assert not tb.check(tb.make(sound, SHOP)).of("tape.suspect")
    with pytest.raises(CannotMake, match="disagree"):
        tb.write_dxf(tb.make(tb.Part("A", sheet="DC01 1.5", base=wrong), SHOP), tmp_path)
    assert not list(tmp_path.iterdir())
