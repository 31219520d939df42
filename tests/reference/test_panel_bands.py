"""The printed ± of deflection, frequency and stress against CalculiX on meshes of its own (`bandcases`).

Two panels every time, all of them with --full. Where stress has no limit both read it on the same ring. In the tight rounds of
beads CalculiX' shells read less than layers of solids, ours lie between the two (`test_shell_round.py`).
"""

from __future__ import annotations

import statistics

import pytest

import bandcases
from tinbook.strength import loads as ld
from tinbook.strength.request import strength_of


def compared(ccx, folder, made, how):
    """Ours over theirs less 1, and the half-width printed, for deflection, frequency and stress."""
    found = strength_of(made, how, ld.Pressure(pressure=bandcases.PRESSURE), frequencies=1)
    ours = found.under.deflection, found.modes.first, found.under.stress
    bands = found.under.bands[0], found.modes.bands[0], found.under.bands[1]
    theirs = bandcases.theirs(ccx, folder, made, how)
    return [(a / b - 1, band) for a, b, band in zip(ours, theirs, bands, strict=True)]


@pytest.mark.parametrize("name", ["holed 3", "trapezoid 7"])
def test_the_reference_lies_within_what_is_printed(needs, tmp_path, name):
    made, how = bandcases.panels()[name]
    found = compared(needs("ccx"), tmp_path, made, how)
    for (off, band), most in zip(found, (0.05, 0.05, 0.1), strict=True):
        assert abs(off) <= band < most


@pytest.mark.full
def test_forty_panels(needs, tmp_path):
    """Each within its band on all but five in a hundred; median half-widths of at most 5 %, of stress 10 %."""
    found = {
        name: compared(needs("ccx"), tmp_path / name.replace(" ", "_"), made, how)
        for name, (made, how) in bandcases.panels().items()
    }
    assert len(found) >= 40
    for k, most in enumerate((0.05, 0.05, 0.1)):
        outside = [name for name, x in found.items() if abs(x[k][0]) > x[k][1]]
        assert len(outside) <= 0.05 * len(found), outside
        assert statistics.median(x[k][1] for x in found.values()) <= most
