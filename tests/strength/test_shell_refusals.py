"""What could not be solved is said, never shown: singular systems, loads without a balance, nothing to buckle."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse

from shellgrids import flat, grid, holding, rows
from strategies import SHOP
from tinbook.errors import OutOfRange
from tinbook.families.plain import bead_rolled_panel
from tinbook.making.resolve import make
from tinbook.strength import analysis as an
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.contact import linear as contact
from tinbook.strength.mesh.build import mesh
from tinbook.strength.report import Strength
from tinbook.strength.shell import eigen, steps
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell import nonlinear as nl
from tinbook.strength.shell.solve import NotSolved, factorise

SIDES = ("front", "right", "rear", "left")


@pytest.fixture(scope="module")
def panel():
    return make(bead_rolled_panel(beads=0), SHOP)


def pinned():
    return [on.simple_edge(e, in_plane="held") for e in SIDES]


def test_singular_system():
    with pytest.raises(NotSolved, match=r"singular: something can move freely.*no number is shown"):
        factorise(sparse.csr_array(np.diag([1.0, 0.0, 2.0])), np.arange(3))


def test_out_of_balance():
    """A held plate whose stiffness is spoilt after its factors were made: the answer does not balance the load."""
    p, q = grid(4, 4, flat(100, 100))
    edge = (np.abs(p[:, :2] - 50) > 49.9).any(axis=1)
    s = sh.system(sh.shell(p, q, 1.0, 205e3, 0.3), holding(len(p), rows(edge, *range(6))))
    s.factor.matrix.data[:] = 0
    s.matrix.data[:] *= 3
    with pytest.raises(NotSolved, match="does not balance the load"):
        sh.displaced(s, sh.spread(s.model, 1e-3))


def test_load_that_is_not_reached_gives_no_numbers(panel, monkeypatch):
    """Stopped on the way: the part of the load that was reached is told, the state there is not passed off as the answer."""
    monkeypatch.setattr(nl, "STEPS", 1)
    r = an.static(panel, pinned(), [ld.Foot(at=(400, 200))], size=80.0, compare=False)
    assert not r.complete
    assert r.reached == pytest.approx(0.25)
    for ask in (lambda: r.deflection, lambda: r.stress, lambda: r.at((0, 0, 0))):
        with pytest.raises(OutOfRange, match=r"at most 0\.25 of it: no balance was found beyond"):
            ask()
    shown = Strength(part=panel.part, under=r)
    (what, value, differ, _held), *others = shown.rows()
    assert (what, value, differ) == (
        "greatest deflection",
        "no number: no balance was found beyond 0.25 of the load",
        "",
    )
    assert not others
    assert shown.fields == ()


def test_no_balance_at_all(panel, monkeypatch):
    monkeypatch.setattr(steps, "TURNS", 1)
    with pytest.raises(NotSolved, match=r"no balance was found .*no number is shown"):
        an.static(panel, pinned(), [ld.Foot(at=(400, 200))], size=80.0, compare=False)


def test_contact_that_never_settles(panel, monkeypatch):
    monkeypatch.setattr(contact, "ROUNDS", 1)
    with pytest.raises(NotSolved, match="no contact settles"):
        an.static(panel, [*[on.lip(e) for e in SIDES], on.no_drift()], [ld.Foot(at=(400, 200), force=5)], size=80.0)


def test_nothing_to_buckle():
    """A strip clamped at one end and pulled, without Poisson's effect: no compression anywhere."""
    p, q = grid(8, 2, flat(100, 20))
    held = holding(len(p), rows(p[:, 0] < 1e-9, *range(6)))
    f = np.zeros((len(p), 6))
    f[p[:, 0] > 99.9, 0] = np.array([0.25, 0.5, 0.25]) * 100
    s = sh.system(sh.shell(p, q, 1.0, 205e3, 0.0), held)
    with pytest.raises(NotSolved, match="nothing can buckle"):
        eigen.buckling(s, sh.displaced(s, f)[0])


@pytest.mark.parametrize("beads", [0, 6])
def test_the_guess_of_unknowns_is_near_the_mesh(beads):
    """What is refused for its memory is judged by a count before meshing: within half of the true one."""
    from tinbook.errors import BadValue
    from tinbook.strength.mesh.build import BYTES_PER_UNKNOWN

    made = make(bead_rolled_panel(beads=beads, along="width"), SHOP)
    m = mesh(made, 12.5)
    true = 6 * len(m.points) * BYTES_PER_UNKNOWN
    with pytest.raises(BadValue, match="do not fit"):
        mesh(made, 12.5, memory=true / 2)
    assert len(mesh(made, 12.5, memory=true * 2).points) == len(m.points)
