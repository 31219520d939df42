"""Where a shell's stress holds: stout plates and pins in thick plate get words, recovery pulls no factor, solvers no voice."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse

import tinbook as tb
from strategies import SHOP
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.shell.solve import NotSolved, factorise, solving
from tinbook.strength.validity import validity


def plate(wide, long=100.0, sheet="S355 12.0"):
    return make(Part("HN-V", rev="A", sheet=sheet, base=Outline.rectangle(long, wide)), SHOP)


@pytest.fixture(scope="module")
def eye():
    """80 kN along the vehicle at the eye of the family's own plate."""
    part = next(m.thing for m in tb.families.recovery_plate().members if m.name == "plate")
    made = make(part, SHOP)
    return tb.strength_of(
        made, "welded: tail", ld.Pull(newtons=(80e3, 0.0, 0.0), hole="eye"), size=20.0, frequencies=0, large=False
    )


def test_a_recovery_plate_gets_no_factor_and_its_cautions(eye):
    rows = {row[0]: row[1] for row in eye.rows()}
    assert rows["first yield"].startswith("no number: in thick plate a pin's hole yields")
    assert rows["greatest von Mises stress"].startswith("no number")
    assert "times the load" not in str(eye)
    assert "It does not rate it" in str(eye)
    assert "A recovery pull can reach several times the vehicle's weight" in str(eye)
    assert not [name for name in eye.fields if name.startswith("stress")]


def test_a_weld_says_that_its_toe_is_not_in_the_stress(eye):
    assert "the notch at a weld's toe is not in it" in str(eye)
    assert "detail category of EN 1993-1-9" in str(eye)


def test_the_picture_of_a_welded_part_says_so_too():
    part = Part("HN-W", rev="A", sheet="DC01 1.5", base=Outline.rectangle(200, 100))
    for x, y in ((20, 20), (180, 20), (100, 80)):
        part = part.hole((x, y), 8, use="plug weld")
    welded, riveted = (
        tb.strength_of(make(part, SHOP), how, "own weight x 3", size=60, frequencies=0)
        for how in ("plug welds", "simply supported")
    )
    assert "up side, not of weld toes" in str(tb.write.strength_svg(welded, "stress, up side"))
    assert "weld" not in riveted.field("stress, up side").title


@pytest.mark.parametrize(("wide", "words"), [(50.0, "a solid is wanted"), (100.0, "less sure"), (200.0, "")])
def test_how_many_thicknesses_wide_decides_whether_stress_is_shown(wide, words):
    """Common practice: plates of 10 thicknesses and more are thin, below 5 not plates any more."""
    found = validity(plate(wide, 300.0), [on.clamped_edge("left")], [ld.Acceleration()])
    said = " ".join((found.no_stress, *found.notes))
    assert (words in said) if words else said.strip() == ""
    assert bool(found.no_stress) == (wide < 60)


def test_a_pin_in_thin_sheet_keeps_its_number():
    part = Part("HN-V", rev="A", sheet="DC01 1.5", base=Outline.rectangle(200, 100)).hole((30, 50), 20, name="eye")
    found = validity(make(part, SHOP), [on.clamped_edge("left")], [ld.Pull(newtons=(100.0, 0, 0), hole="eye")])
    assert found.no_stress == ""


@pytest.mark.parametrize("error", [RuntimeError("Factor is exactly singular"), ValueError("k > n"), MemoryError("x")])
def test_a_solver_says_nothing_itself(error):
    with pytest.raises(NotSolved) as caught, solving("nothing holds it"):
        raise error
    assert str(error) not in str(caught.value)
    assert caught.value.__cause__ is None


def test_a_singular_system_is_told_in_words():
    with pytest.raises(NotSolved, match="something can move freely") as caught:
        factorise(sparse.csr_array(np.zeros((3, 3))), np.arange(3))
    assert "actor" not in str(caught.value)


def test_cautions_of_a_part_stand_by_every_answer():
    """A part that carries a tank says so on its own, outside its assembly too."""
    fork = tb.make(tb.families.strap_fork(), SHOP)
    said = fork.part.cautions
    assert "fuel tank" in said[0]
    weld = tb.strength.bracket_weld(fork, "left", force=(0, 0, 100.0), at=(0.0, 0.0, 50.0))
    beam = tb.strength.beam_estimate(fork, force=100.0)
    answers = (tb.strength_of(fork, "clamped: left, right", "own weight", size=15.0, frequencies=0), weld, beam)
    for answer in answers:
        assert all(str(answer).count(sentence) == 1 for sentence in said)
    assert [f.what for f in tb.check(fork, kind="live").of("part.caution")] == [s.rstrip(".") for s in said]
    whole = tb.Assembly("HN-CA", cautions=said[:1]).add("fork", fork.part)
    assert whole.every_caution == said
    found = tb.check(tb.assemble(whole, SHOP))
    assert sum(said[0].rstrip(".") in f.what for f in found) == 1
    assert found.of("part.caution")
