"""Every printed stop is where the kernel's solids touch, and what is folded at it measures what is printed."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from gaugeproof import ABOVE, BELOW, PARTS, Proof, folded_at_printed_stops
from inmachine import made_of

from tinbook.making.accuracy import ANGLE, SET, cut_band, finished_sizes, plus_minus_between
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.plane.cuts import contains
from tinbook.route.fold_order import fold_sequence
from tinbook.route.foldstep import FoldStep
from tinbook.route.steps import FoldPlan
from walked import profile

FEW = (
    "zed 60",
    "acute 150",
    "hat 30",
    "closed hem on a leg, up",
    "tapered tunnel 45",
    "tray, closed corners",
    "tongues",
)
"""What each run looks at; `--full` takes all of them."""
CONTACT = 0.01
"""mm: the kernel's states lift a flat fold by 0.004 degrees."""


def holds(proof: Proof) -> None:
    for number, stop, met in proof.stops:
        assert stop == pytest.approx(met, abs=CONTACT), f"step {number}"
    for size, measured in proof.sizes:
        assert abs(measured - round(size.nominal, 1)) <= size.plus_minus, size.name


@pytest.mark.parametrize("name", FEW)
def test_stops_and_sizes_of_a_few(name: str) -> None:
    proof = folded_at_printed_stops(PARTS[name]())
    assert proof.stops
    assert proof.sizes
    holds(proof)


@pytest.mark.full
@pytest.mark.parametrize("name", sorted(PARTS))
def test_stops_and_sizes_of_all(name: str) -> None:
    """All are made on the brake: nearly every step has a stop, and those without say why."""
    proof = folded_at_printed_stops(PARTS[name]())
    holds(proof)
    air = [s for s in proof.sequence.steps if s.setup.process == "air"]
    assert len(proof.stops) >= len(air) - 1
    assert all(s.no_stop for s in air if s.line_now is None)


def test_a_wrong_stop_would_be_seen() -> None:
    """The proof itself: a line 0.3 mm off its place leaves a leg so much short and a web so much long."""
    from gaugeproof import measure, shifted

    made = made_of(PARTS["cup 60"]())
    off = shifted(made, "near", 0.3)
    sizes = {z.name: z for z in finished_sizes(made)}
    assert measure(off, off.solid, sizes["leg near"]) == pytest.approx(34.7, abs=1e-6)
    assert measure(off, off.solid, sizes["base over folds near and far"]) == pytest.approx(120.3, abs=1e-6)


# --- what a line takes over from what it is set by ------------------------------------------------------


class Strip2D:
    """A part of parallel folds as a strip in its own plane, folded hit by hit by code that knows no planner.

    Blank coordinates run from the near end to the far one. Causes: ("bend", fold), ("angle", fold), ("stop", fold),
    ("finger", fold), ("cut", "low" or "high"): mm, degrees, mm, mm, mm.
    """

    def __init__(self, made: Made, sequence: FoldPlan) -> None:
        self.made, self.sequence = made, sequence
        assert made.flat is not None
        y = [p[1] for p in made.flat.outer.points]
        self.ends = (min(y), max(y))
        self.strips = {s.name: s for s in made.strips}
        self.nominal = {f.name: f.pieces[0][0][1] for f in made.flat.folds}
        steps = [s for s in sequence.steps if s.line_now is not None]
        self.stops = {s.fold: s.line_now for s in steps}

    def lines(self, changed: dict[tuple[str, str], float]) -> dict[str, float]:
        """Where each line ends up in the blank when every stop is set as it is printed, unrounded."""
        done: dict[str, float] = {}
        for step in self.sequence.steps:
            sign = self._toward_back(step)
            met = self._contact(step, sign, done, changed)
            set_at = self.stops[step.fold] + changed.get(("stop", step.fold), 0.0)
            # Away from the nominal line by `met`, and the punch comes down a stop before it.
            done[step.fold] = self.nominal[step.fold] + sign * (met - set_at)
        return done

    def _toward_back(self, step: FoldStep) -> float:
        s = self.strips[step.fold]
        child = 1.0 if s.flat((0.0, s.allowance))[1] > s.flat((0.0, 0.0))[1] else -1.0
        return child if step.at_back == s.child else -child

    def _contact(
        self, step: FoldStep, sign: float, done: dict[str, float], changed: dict[tuple[str, str], float]
    ) -> float:
        here, t = self.nominal[step.fold], self.made.thickness
        end = (
            self.ends[1] + changed.get(("cut", "high"), 0.0)
            if sign > 0
            else self.ends[0] - changed.get(("cut", "low"), 0.0)
        )
        beyond = sorted((sign * (at - here), name) for name, at in done.items() if sign * (at - here) > 0)
        x, z, heading, gone = 0.0, 0.0, 0.0, 0.0
        low, high = [(x, z)], [(x, z + t)]
        for at, name in beyond:
            s = self.strips[name]
            turned = math.radians(s.angle + changed.get(("angle", name), 0.0))
            assert s.bend.k is not None
            arc = turned * (s.radius + s.bend.k * t) - changed.get(("bend", name), 0.0)
            run = at - arc / 2 - gone
            x, z = x + run * math.cos(heading), z + run * math.sin(heading)
            up = 1.0 if s.direction == "up" else -1.0
            rad = s.radius + t if up > 0 else s.radius
            cx, cz = x - up * rad * math.sin(heading), z + up * rad * math.cos(heading)
            for share in np.linspace(0.0, 1.0, 400):
                h = heading + up * share * turned
                for skin, off in ((low, 0.0), (high, t)):
                    skin.append((cx + (up * rad - off) * math.sin(h), cz - (up * rad - off) * math.cos(h)))
            heading += up * turned
            x, z = cx + up * rad * math.sin(heading), cz - up * rad * math.cos(heading)
            gone = at + arc / 2
        run = sign * (end - here) - gone
        x, z = x + run * math.cos(heading), z + run * math.sin(heading)
        low.append((x, z))
        high.append((x - t * math.sin(heading), z + t * math.cos(heading)))
        if step.direction == "down":
            # It lies the other way up: the up face is the outside of this bend and lies on the die.
            low, high = [(a, t - b) for a, b in low], [(a, t - b) for a, b in high]
        metal = shapely.Polygon([*low, *reversed(high)])
        lift = changed.get(("finger", step.fold), 0.0)
        return float(shapely.intersection(metal, shapely.box(-1.0, lift - BELOW, 1e4, lift + ABOVE)).bounds[2])

    def sizes(self, changed: dict[tuple[str, str], float]) -> dict[str, float]:
        lines, out = self.lines(changed), {}
        ends = {
            "low": self.ends[0] - changed.get(("cut", "low"), 0.0),
            "high": self.ends[1] + changed.get(("cut", "high"), 0.0),
        }
        for z in finished_sizes(self.made):
            at = [lines[f] for f in z.folds]
            if len(at) == 1:
                at.append(ends["high"] if self._outermost(z.folds[0], z.panel) > 0 else ends["low"])
            half = sum(self._deduction(self.strips[f]) + changed.get(("bend", f), 0.0) for f in z.folds) / 2
            out[z.name] = abs(at[1] - at[0]) + half
        return out

    def _outermost(self, fold: str, panel: str) -> float:
        s = self.strips[fold]
        child = 1.0 if s.flat((0.0, s.allowance))[1] > s.flat((0.0, 0.0))[1] else -1.0
        return child if panel == s.child else -child

    @staticmethod
    def _deduction(s: BendZone) -> float:
        return 2 * s.setback - s.allowance


@pytest.mark.parametrize("name", ["zed 75", "cup 90", "hat 60", "hat 90", "acute 105", "six steps"])
def test_a_line_takes_over_the_error_of_what_it_is_set_by(name: str) -> None:
    """Each cause varied by itself in the strip's own plane: cut ends, deductions, angles, stops, the finger's height.

    A line that is set from a formed leg takes over half that bend's deduction and what had moved its line; a web between
    two lines that are set from one another owes nothing to the cut.
    """
    made = made_of(PARTS[name]())
    sequence = fold_sequence(made)
    assert all(s.line_now is not None for s in sequence.steps)
    strip = Strip2D(made, sequence)
    for z in finished_sizes(made):
        assert strip.sizes({})[z.name] == pytest.approx(z.nominal, abs=0.01)
    causes = [(kind, f) for kind in ("bend", "angle", "stop", "finger") for f in strip.strips]
    causes += [("cut", "low"), ("cut", "high")]
    drawn = strip.sizes({})
    h = 0.01
    slopes: dict[str, dict[tuple[str, str], float]] = {z.name: {} for z in finished_sizes(made)}
    for cause in causes:
        more, less = strip.sizes({cause: h}), strip.sizes({cause: -h})
        for size, found in slopes.items():
            up, down = more[size] - drawn[size], drawn[size] - less[size]
            # An upright leg touches elsewhere when it leans the other way: the worse of the two counts.
            found[cause] = max(up, down, key=abs) / h
    for z in finished_sizes(made, sequence):
        mine = slopes[z.name]
        cuts = [c for c in mine if c[0] == "cut" and abs(mine[c]) > 1e-4]
        assert made.flat is not None
        cut = (cut_band(made, z.nominal if len(cuts) < 2 else max(made.flat.size)) or 0.0) / math.sqrt(2)
        bands = {"angle": ANGLE, "stop": SET["stop"], "finger": SET["finger"], "cut": cut}
        square = sum((mine[c] * bands[c[0]]) ** 2 for c in mine if c[0] != "bend")
        # One die, and no strips of it: its K is as wrong in one fold as in the next.
        bends = sum(mine[c] * (strip.strips[c[1]].bend.plus_minus or 0.0) for c in mine if c[0] == "bend")
        assert z.plus_minus == pytest.approx(math.hypot(math.sqrt(square), bends), rel=0.02), z.name


@pytest.mark.parametrize("name", ["zed 75", "hat 60", "six steps"])
def test_two_points_of_the_part_as_it_is_set(name: str) -> None:
    """The same causes carried to the distance of two marks on the sheet, one near either end of the strip."""
    made = made_of(PARTS[name]())
    sequence = fold_sequence(made)
    strip = Strip2D(made, sequence)
    t = made.thickness
    listed = sorted((at, strip.strips[f]) for f, at in strip.nominal.items())
    folds = []
    for at, s in listed:
        assert s.bend.k is not None
        folds.append((at, math.radians(s.angle) * (1 if s.direction == "up" else -1), s.radius, s.bend.k, t))
    marks = (strip.ends[0] + 6.0, strip.ends[1] - 6.0)

    def apart(cause: tuple[str, str], by: float) -> float:
        lines = strip.lines({cause: by})
        changed = {(n, "position"): lines[s.name] - at for n, (at, s) in enumerate(listed)}
        for n, (_, s) in enumerate(listed):
            if cause[1] == s.name and cause[0] in ("bend", "angle"):
                kind = "deduction" if cause[0] == "bend" else "angle"
                changed[n, kind] = math.radians(by) if kind == "angle" else by
        return math.dist(*profile(folds, marks, changed))

    h, square, bends = 0.001, 0.0, 0.0
    assert made.flat is not None
    bands = {"angle": ANGLE, "stop": SET["stop"], "finger": SET["finger"]}
    bands["cut"] = (cut_band(made, max(made.flat.size)) or 0.0) / math.sqrt(2)
    causes = [(kind, f) for kind in ("bend", "angle", "stop", "finger") for f in strip.strips]
    for cause in [*causes, ("cut", "low"), ("cut", "high")]:
        slope = (apart(cause, h) - apart(cause, -h)) / (2 * h)
        if cause[0] == "bend":
            bends += slope * (strip.strips[cause[1]].bend.plus_minus or 0.0)
        else:
            square += (slope * bands[cause[0]]) ** 2
    places = [_on_panel(made, at) for at in marks]
    assert plus_minus_between(made, *places, sequence) == pytest.approx(math.hypot(math.sqrt(square), bends), rel=0.02)


def _on_panel(made: Made, at: float) -> tuple[str, tuple[float, float, float]]:
    """The point at a place along the blank, on the down face in the middle of its width."""
    assert made.flat is not None
    x = (made.flat.outer.box[0] + made.flat.outer.box[2]) / 2
    for p in made.panels:
        local = p.flat.inverse()((x, at))
        if contains(p.boundary, local):
            return p.name, (*local, 0.0)
    raise AssertionError(at)
