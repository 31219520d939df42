"""The live stiffness estimate against CalculiX 2.20, S8R shells, all edges simply supported (see ccx_beaded_panel).

The first block was looked at while the estimate was made; the second was run afterwards and touched nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from ccx_beaded_panel import Case, solve

import tinbook as tb
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.flatpattern import Direction
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.part.forms.bead import MadeBead
from tinbook.plane.loops import Edge, Loop, Move
from tinbook.strength.panel import Bead, PanelStiffness, panel_stiffness, stiffness_of

# Case, largest deflection under 1e-4 MPa (mm), first frequency (Hz).
SEEN = [
    (Case(800, 400, 1.6, 25, 3, 3, 3), 0.30469, 32.22),
    (Case(800, 400, 1.6, 25, 6, 3, 3), 0.22421, 37.33),
    (Case(800, 400, 1.6, 25, 8, 3, 3), 0.17135, 42.26),
    (Case(400, 800, 1.6, 25, 3, 3, 6), 0.10694, 52.35),
    (Case(400, 800, 1.6, 25, 6, 3, 6), 0.03350, 90.00),
    (Case(400, 800, 1.6, 25, 8, 3, 6), 0.01909, 117.42),
    (Case(600, 600, 0.8, 18, 5, 2, 4), 0.70888, 29.04),
    (Case(600, 600, 1.2, 18, 5, 2, 2), 0.68012, 25.12),
    (Case(900, 600, 1.2, 18, 5, 2, 5), 1.35013, 17.52),
    (Case(600, 900, 1.0, 12, 4, 1.5, 8), 0.89860, 22.55),
    (Case(500, 500, 2.0, 36, 10, 4, 4), 0.01685, 116.85),
    (Case(600, 600, 1.0, 18, 6, 2, 10), 0.18721, 47.93),
    (Case(800, 200, 1.6, 25, 6, 3, 1), 0.02794, 103.56),
    (Case(600, 300, 0.8, 18, 5, 2, 1), 0.42711, 37.81),
    (Case(400, 400, 1.2, 18, 5, 2, 2), 0.10626, 63.46),
    (Case(300, 450, 0.8, 25, 8, 3, 3), 0.02340, 162.05),
    (Case(400, 600, 0.8, 36, 10, 4, 3), 0.05457, 107.08),
    (Case(300, 300, 0.7, 12, 4, 1.5, 5), 0.05042, 113.17),
    (Case(800, 400, 1.6, 25, 6, 3, 3, 680), 0.22126, 37.40),
    (Case(800, 400, 1.6, 25, 6, 3, 3, 500), 0.24900, 34.22),
    (Case(400, 800, 1.6, 25, 3, 3, 6, 320), 0.10992, 51.64),
    (Case(400, 800, 1.6, 25, 6, 3, 6, 340), 0.03551, 87.30),
    (Case(400, 800, 1.6, 25, 6, 3, 6, 300), 0.04333, 78.43),
    (Case(400, 800, 1.6, 25, 6, 3, 6, 240), 0.07025, 61.14),
    (Case(400, 800, 1.6, 25, 8, 3, 6, 340), 0.02121, 110.65),
    (Case(600, 600, 0.8, 18, 5, 2, 4, 500), 0.85025, 26.34),
    (Case(600, 600, 1.2, 18, 5, 2, 2, 420), 0.82501, 22.53),
    (Case(900, 600, 1.2, 18, 5, 2, 5, 760), 1.37940, 17.26),
    (Case(600, 900, 1.0, 12, 4, 1.5, 8, 480), 1.01308, 21.21),
    (Case(500, 500, 2.0, 36, 10, 4, 4, 400), 0.02138, 102.83),
    (Case(600, 600, 1.0, 18, 6, 2, 10, 560), 0.18819, 47.91),
    (Case(600, 300, 0.8, 18, 5, 2, 1, 520), 0.44199, 36.94),
    (Case(600, 300, 1.0, 18, 6, 2, 2, 520), 0.22333, 46.82),
    (Case(400, 720, 0.8, 36, 10, 4, 3, 340), 0.11204, 69.12),
    (Case(400, 480, 1.2, 25, 8, 3, 4, 300), 0.04742, 86.33),
    (Case(300, 360, 0.8, 18, 5, 2, 3, 220), 0.07284, 86.05),
    (Case(500, 500, 1.0, 18, 6, 2, 3, 420), 0.22965, 44.70),
]
AFTERWARDS = [
    (Case(450, 700, 1.0, 18, 5, 2, 4, 360), 0.26036, 41.82),
    (Case(350, 500, 1.2, 36, 10, 4, 3), 0.01253, 178.28),
    (Case(550, 380, 0.9, 12, 4, 1.5, 4, 480), 0.46789, 34.17),
    (Case(420, 560, 2.0, 25, 6, 3, 5, 330), 0.02917, 88.99),
    (Case(700, 500, 0.8, 25, 8, 3, 3, 600), 0.57215, 31.41),
    (Case(380, 640, 1.6, 25, 8, 3, 4), 0.01941, 120.47),
]


def estimate(c: Case, **more: Any) -> PanelStiffness:
    bead = Bead(width=c.bead, depth=c.depth, shoulder=c.shoulder, length=c.length)
    return panel_stiffness(c.span, c.width, c.t, bead, c.count, pressure=1e-4, **more)


@pytest.mark.parametrize(("case", "sag", "frequency"), SEEN + AFTERWARDS, ids=str)
def test_within_the_stated_band(case: Case, sag: float, frequency: float) -> None:
    found = estimate(case)
    low, high = found.deflection_band
    assert low <= found.deflection / sag - 1 <= high
    low, high = found.frequency_band
    assert low <= found.frequency / frequency - 1 <= high


def test_bands_are_not_far_wider_than_what_was_found() -> None:
    """A band so wide that it cannot be left says nothing."""
    for inside in (False, True):
        rows = [r for r in SEEN + AFTERWARDS if (r[0].length is not None) is inside]
        sags = [estimate(c).deflection / w - 1 for c, w, _ in rows]
        tones = [estimate(c).frequency / f - 1 for c, _, f in rows]
        band = estimate(rows[0][0])
        assert max(map(abs, sags)) > max(map(abs, band.deflection_band)) / 3
        assert max(map(abs, tones)) > max(map(abs, band.frequency_band)) / 2


@pytest.mark.full
@pytest.mark.parametrize(("case", "sag", "frequency"), [SEEN[4], SEEN[21], *AFTERWARDS], ids=str)
def test_recorded_values_again(
    case: Case, sag: float, frequency: float, tmp_path: Path, needs: Callable[[str], str]
) -> None:
    assert solve(case, tmp_path, needs("ccx")) == pytest.approx((sag, frequency), rel=0.005)


def test_flat_sheet_is_exact() -> None:
    """800 x 400 x 1.6 by Timoshenko's table 8 (0.01013 q a⁴ / D) and Leissa (12.337)."""
    found = panel_stiffness(800, 400, 1.6, None, 0, pressure=1e-4)
    d = 205e3 * 1.6**3 / 12 / 0.91
    assert found.deflection == pytest.approx(0.01013 * 1e-4 * 400**4 / d, rel=0.001)
    assert found.frequency == pytest.approx(12.337 / math.tau / 400**2 * math.sqrt(d / 1.6 / 7850e-12), rel=1e-4)
    assert (found.gain, found.mass_gain) == pytest.approx((1, 1), rel=1e-6)
    # Half the thickness is the limit of linear theory.
    assert found.limit_pressure == pytest.approx(1e-4 * 0.8 / found.deflection)
    shallow = panel_stiffness(800, 400, 1.6, Bead(width=25, depth=0.01, shoulder=3), 3, pressure=1e-4)
    assert shallow.gain == pytest.approx(1, abs=0.01)


def test_direction_turns_with_the_panel() -> None:
    """Six beads along the width of 800 x 400 are six beads along the length of 400 x 800."""
    bead = Bead(width=25, depth=6, shoulder=3, length=340)
    one = panel_stiffness(800, 400, 1.6, bead, 6, along="width")
    other = panel_stiffness(400, 800, 1.6, bead, 6, along="length")
    assert one.deflection == pytest.approx(other.deflection)
    assert one.frequency == pytest.approx(other.frequency)
    assert any("longer side" in n for n in estimate(SEEN[0][0]).notes)
    assert not any("longer side" in n for n in one.notes)


def test_says_where_it_ends() -> None:
    bead = Bead(width=25, depth=6, shoulder=3)
    with pytest.raises(OutOfRange, match="ask for shell FE"):
        panel_stiffness(400, 800, 1.6, bead, 6, supports="pinned")
    with pytest.raises(OutOfRange, match="bead spacing"):
        panel_stiffness(300, 600, 1.0, bead, 2)
    with pytest.raises(OutOfRange, match="bead length"):
        panel_stiffness(400, 800, 1.6, Bead(width=25, depth=6, shoulder=3, length=200), 6)
    for count in (float("nan"), "six", True):
        with pytest.raises(BadValue, match="count"):
            panel_stiffness(800, 400, 1.6, bead, count)
    with pytest.raises(BadValue, match="count"):
        panel_stiffness(400, 100, 1.6, bead, 5)
    with pytest.raises(BadValue, match="bead length"):
        panel_stiffness(400, 800, 1.6, Bead(width=25, depth=6, shoulder=3, length=401), 6)
    with pytest.raises(BadValue, match="Bead"):
        panel_stiffness(400, 800, 1.6, None, 2)
    with pytest.raises(UnknownName, match="along"):
        panel_stiffness(400, 800, 1.6, bead, 6, along="diagonal")  # type: ignore[arg-type]


def test_shows_support_band_and_foot_and_hides_what_is_not_true() -> None:
    heavy = panel_stiffness(800, 400, 1.6, Bead(width=25, depth=6, shoulder=3), 3, pressure=1e-3)
    assert not heavy.linear
    for text in (str(heavy), heavy._repr_html_()):
        assert "simply supported" in text
        assert "more than 0.8 mm: beyond linear theory" in text
        assert f"{heavy.deflection:.3g} mm" not in text
        assert "-13 to +13 %" in text
        assert "foot" in text
    own = panel_stiffness(800, 400, 1.6, None, 0)
    assert own.pressure == pytest.approx(1.6e-3 * 7850 * 9.80665e-6)


# --- from a made part -----------------------------------------------------------------


def made(
    beads: list[tuple[tuple[float, float], tuple[float, float]]],
    corners: list[tuple[float, float]] | None = None,
    **bead: Any,
) -> Made:
    corners = corners or [(0, 0), (800, 0), (800, 400), (0, 400)]
    boundary = Loop(tuple(Edge(p, q) for p, q in zip(corners, corners[1:] + corners[:1], strict=True)))
    up: Direction = "up"
    drawn = tuple(
        MadeBead(
            name=f"bead {i}",
            path=(Edge(p, q),),
            footprint=boundary,
            **({"width": 25.0, "depth": 6.0, "shoulder": 3.0, "direction": up, "roll": "R25x6"} | bead),
        )
        for i, (p, q) in enumerate(beads)
    )
    return with_panel(MadePanel(name="base", boundary=boundary, forms=drawn))


def with_panel(panel: MadePanel) -> Made:
    """Return a plate of the demo shop's 1.6 mm steel whose one panel is another."""
    plate = tb.make(tb.Part("HN-PE", sheet="DC01 1.6", base=tb.Outline.rectangle(800, 400)), tb.Shop.demo())
    steel = replace(plate.sheet.material, youngs=205e3, poisson=0.3, density=7850.0)
    folded = replace(plate.folded, density=7850.0, panels=(panel,))
    return replace(plate, sheet=replace(plate.sheet, material=steel), folded=folded)


ACROSS = [((800 / 6 * (i + 0.5), 30.0), (800 / 6 * (i + 0.5), 370.0)) for i in range(6)]


def test_of_a_made_part() -> None:
    """Six beads across, drawn up and down in turn: the CalculiX case of the same sizes (0.03551 mm, 87.3 Hz)."""
    found = stiffness_of(made([(p, q) if i % 2 else (q, p) for i, (p, q) in enumerate(ACROSS)]), pressure=1e-4)
    assert (found.length, found.width) == pytest.approx((340 + 60, 800))
    assert found.deflection == pytest.approx(0.03551, rel=0.21)
    assert found.frequency == pytest.approx(87.3, rel=0.1)
    flat = stiffness_of(made([]))
    assert sorted((flat.length, flat.width)) == pytest.approx([400, 800])


def test_a_turned_part_is_the_same() -> None:
    turn = Move.turn(33.0)
    corners = [turn(p) for p in [(0.0, 0.0), (800.0, 0.0), (800.0, 400.0), (0.0, 400.0)]]
    turned = stiffness_of(made([(turn(p), turn(q)) for p, q in ACROSS], corners), pressure=1e-4)
    assert turned.deflection == pytest.approx(stiffness_of(made(ACROSS), pressure=1e-4).deflection, rel=1e-9)


@pytest.mark.parametrize(
    ("beads", "corners", "why"),
    [
        (ACROSS[:3], None, "lie to one side"),
        ([*ACROSS[:5], ((600.0, 200.0), (790.0, 200.0))], None, "parallel"),
        ([*ACROSS[:5], (ACROSS[5][0], (ACROSS[5][0][0], 200.0))], None, "one length"),
        ([((p[0], 30), (q[0], 250)) for p, q in ACROSS], None, "lie to one end"),
        ([ACROSS[0], *ACROSS[2:4], ACROSS[5]], None, "even spacing"),
        ([((400 + 40 * i, 30), (400 + 40 * i, 370)) for i in range(-2, 3)], None, "spacing"),
        (ACROSS, [(0, 0), (800, 0), (800, 400), (400, 400), (0, 10)], "fills"),
    ],
)
def test_refuses_what_it_cannot_estimate(beads: Any, corners: Any, why: str) -> None:
    with pytest.raises(OutOfRange, match=why) as caught:
        stiffness_of(made(beads, corners))
    assert "shell FE" in str(caught.value)


def test_refuses_a_curved_bead() -> None:
    one = made(ACROSS)
    panel = one.panels[0]
    bent = tuple(
        MadeBead(
            name=b.name,
            path=(Edge(b.path[0].start, b.path[0].end, 0.1),),
            width=b.width,
            depth=b.depth,
            shoulder=b.shoulder,
            direction=b.direction,
            footprint=b.footprint,
            roll=b.roll,
        )
        for b in panel.beads
    )
    with pytest.raises(OutOfRange, match="straight beads"):
        stiffness_of(with_panel(replace(panel, forms=bent)))
    with pytest.raises(UnknownName, match="base"):
        stiffness_of(one, "lid")


def test_a_flat_sheet_tells_what_lies_between_resting_and_clamped_edges() -> None:
    """Timoshenko's tables by hand, 600 x 400 x 1.2 steel, 100 Pa: tables 8 and 35 (stress 6 M / t²), 23 and 37 (a force)."""
    flat = panel_stiffness(600, 400, 1.2, None, 0, pressure=1e-4)
    rows = {what: shown for what, _, shown in flat.rows()}
    d = 205e3 * 1.2**3 / (12 * 0.91)
    assert rows["edges clamped instead"].startswith(f"{0.0022 * 1e-4 * 400**4 / d:.3g} mm")
    stress = [6 * m * 1e-4 * 400**2 / 1.2**2 for m in (0.0812, 0.0757)]
    said = rows["largest stress, edges resting / clamped"]
    assert [float(v.split()[0]) for v in said.split(" / ")] == pytest.approx(stress, rel=5e-3)
    forces = [0.6 * d / (c * 400**2) for c in (0.01531, 0.00702)]
    said = rows["force at the middle up to which it is linear, edges resting / clamped"]
    assert [float(v.split()[0]) for v in said.split(" / ")] == pytest.approx(forces, rel=0.01)
