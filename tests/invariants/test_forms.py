"""Every kind of form is asked by every view: one that has no answer for a view fails here.

The kinds come from the list `FORMS`, the parts from the zoo: the first part that holds the kind stands for it, beside the
same part without its forms of that kind.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import cadquery as cq
import numpy as np
import pytest

from strategies import RANDOM_FORMS
from tinbook.making.articulated import ArticulatedPart
from tinbook.making.labels import key, labels
from tinbook.making.made import Made
from tinbook.making.preview.view import CONTOUR, FORM, TANGENT, Side
from tinbook.making.resolve import make
from tinbook.part.forms import FORMS
from tinbook.part.forms.form import Form, MadeForm, Setting
from tinbook.part.partfile import part_from_toml, part_to_toml
from tinbook.route.order import order_of_work
from tinbook.route.plan import USUAL
from tinbook.rules.registry import live
from tinbook.sources import sources
from tinbook.strength.mesh.build import mesh
from tinbook.svg import flat_svg
from tinbook.write.facts import form_table
from tinbook.write.folded import folded_drawing
from tinbook.write.step import write_step
from zoo import SHOP, ZOO, made_zoo

ZOO_SHOWS = "a part of the zoo shows one awkward thing; not every one can be folded"


@dataclass(frozen=True)
class Sample:
    """A part with forms of a kind, the same part without them, and those forms as they are made."""

    made: Made
    plain: Made
    forms: tuple[MadeForm, ...]

    @property
    def risen(self) -> tuple[MadeForm, ...]:
        """Those that leave the plane of the sheet."""
        return tuple(f for f in self.forms if f.stands_out)


@cache
def sample(kind: type[Form]) -> Sample:
    """Return the first part of the zoo that holds a kind."""
    name = next(n for n, build in ZOO.items() if build().forms_of(kind))
    made, part = made_zoo(name), ZOO[name]()
    on = Setting(shop=SHOP, sheet=made.sheet, thickness=made.thickness, part=part)
    names = {f.name for form in part.forms_of(kind) for f in form.made(on)}
    classes = {type(f) for form in part.forms_of(kind) for f in form.made(on)}
    plain = replace(part, forms=tuple(f for f in part.forms if type(f) is not kind))
    forms = tuple(f for p in made.panels for f in p.forms if type(f) in classes and f.name in names)
    return Sample(made, make(plain, SHOP), forms)


def part_file(s: Sample) -> None:
    part = s.made.part
    assert part_from_toml(part_to_toml(part)).forms == part.forms


def flat(s: Sample) -> None:
    """The flat pattern shows each form, with and without marks that help to make it."""
    has, lacks = s.made.flat, s.plain.flat
    assert has is not None
    assert lacks is not None
    assert (has.marks, has.cuts, has.form_lines) != (lacks.marks, lacks.cuts, lacks.form_lines)
    assert flat_svg(has) != flat_svg(lacks)
    for f in s.forms:
        assert f.pilot is None or any(c.name == f.name and c.use == f.KIND for c in has.cuts)


def preview(s: Sample) -> None:
    seen = s.made.preview
    shown = {(seen.kinds[g], seen.names[g]) for g in np.unique(seen.group).tolist()}
    lines = {(seen.kinds[g], seen.names[g]) for g in np.unique(seen.line_group).tolist()}
    for f in s.risen:
        assert {("fold", z) for z in f.zones} or {(f.KIND, f.name)} <= shown & lines
    assert seen.volume == pytest.approx(s.made.solid.Volume(), rel=5e-3)
    assert (seen.volume != s.plain.preview.volume) is bool(s.risen)


def solid(s: Sample) -> None:
    assert s.made.solid.isValid()
    assert (abs(s.made.solid.Volume() - s.plain.solid.Volume()) > 1.0) is bool(s.risen)


def fold_simulation(s: Sample) -> None:
    """The part that is posed has a body for each form, as high as its profile stands out on either face."""
    blank, t = ArticulatedPart(s.made.folded), s.made.thickness
    for f in s.risen:
        for zone in f.zones:
            (body,) = (b for b in blank.bodies if (b.name, b.kind) == (zone, "bend"))
            assert body.own is None, "made before the folds: no fold shapes it"
            assert np.ptp(blank.pieces(body, (0,) * len(blank.strips))[..., 2]) > t + 0.1
        if f.zones:
            continue
        (body,) = (b for b in blank.bodies if b.form is f)
        z = blank.pieces(body, (0,) * len(blank.strips))[..., 2]
        profile = f.profile(t)
        assert profile is not None
        below, above = profile.rise
        assert below + above > 0
        assert not below or z.min() == pytest.approx(-below, abs=1e-6)
        assert not above or z.max() == pytest.approx(t + above, abs=1e-6)


def stiffness(s: Sample) -> None:
    """The mesh rises as the form does, or says that it is left out; a mark changes nothing."""
    has, lacks = mesh(s.made, 25.0), mesh(s.plain, 25.0)
    for f in s.forms:
        left_out = isinstance(f.sheet_thickness(s.made.thickness), str)
        assert left_out == any(f"'{f.name}' is left out" in note for note in has.notes)
        if not f.stands_out:
            assert f.sheet_thickness(s.made.thickness) == s.made.thickness
        elif not left_out:
            assert {f"fold:{z}" for z in f.zones} <= set(has.owners)
            assert f.zones or has.forms > lacks.forms
    assert len(has.quads) > 0
    if not s.risen:
        assert len(has.quads) == len(lacks.quads)


def distances(s: Sample) -> None:
    for f in s.forms:
        keep = f.keep_off(s.made.thickness)
        assert (keep is None) is (not f.stands_out)
        if keep is None:
            continue
        assert keep.source in sources()
        for d in (keep.fold, keep.edge, keep.hole, keep.other):
            assert 0 <= d.least < 1000
            assert d.why
            assert d.remedy


def rules(s: Sample) -> None:
    """What a form says of its tool and the material reaches the check, each finding complete."""
    said = live(s.made)
    on = Setting(shop=SHOP, sheet=s.made.sheet, thickness=s.made.thickness, part=s.made.part)
    for f in s.forms:
        own = list(f.findings(on))
        assert bool(own) is f.stands_out
        for finding in own:
            assert finding in tuple(said)
            assert finding.code.startswith(f"{f.CODE}.")
            assert finding.source in sources()
            assert finding.remedy or finding.severity == "fine"


def order_of_operations(s: Sample) -> None:
    plan = order_of_work(s.made)
    for f in s.forms:
        work = f.work(SHOP)
        assert (work is None) is (not f.stands_out)
        if work is None:
            continue
        assert work.kind in USUAL
        place = plan.place(f"{work.kind}: {work.key}")
        assert place > plan.place("deburr") > 0
        folds = [step.number for step in plan.steps if step.operation.kind == "fold"]
        assert not folds or place < min(folds)


def sheet_and_price(s: Sample) -> None:
    table = form_table(s.made)
    for f in s.forms:
        row = f.row(SHOP)
        assert (row is None) is (not f.stands_out)
        assert row is None or (table is not None and any(row.what in cells for cells in table.rows))


def folded_picture(s: Sample) -> None:
    # From one of its two sides a form is in sight.
    def lines(m: Made, side: Side) -> object:
        return [folded_drawing(m, side).lines[kind] for kind in (TANGENT, FORM, CONTOUR)]

    assert not s.risen or any(lines(s.made, side) != lines(s.plain, side) for side in ("up", "down"))


def pointer(s: Sample) -> None:
    told = labels(s.made)
    for f in s.risen:
        for k in (*(key("fold", z) for z in f.zones), *([] if f.zones else [key(f.KIND, f.name)])):
            assert f.name in told[k]


def other_hand(s: Sample) -> None:
    """Mirrored twice is the same; mirrored once stands at the mirrored place."""
    for f in s.forms:
        there = f.mirrored()
        assert there.mirrored().label() == f.label()
        if f.footprint is not None and there.footprint is not None:
            x0, y0, x1, y1 = f.footprint.box
            assert there.footprint.box == pytest.approx((-x1, y0, -x0, y1), abs=1e-9)
    both = make(s.made.part.mirrored(), SHOP)
    assert both.solid.Volume() == pytest.approx(s.made.solid.Volume(), rel=1e-9)


VIEWS: tuple[Callable[[Sample], None], ...] = (
    part_file,
    flat,
    preview,
    solid,
    fold_simulation,
    stiffness,
    distances,
    rules,
    order_of_operations,
    sheet_and_price,
    folded_picture,
    pointer,
    other_hand,
)


@pytest.mark.parametrize("view", VIEWS, ids=lambda v: v.__name__)
@pytest.mark.parametrize("kind", FORMS, ids=lambda k: k.__name__)
def test_every_form_answers_every_view(kind, view):
    """Each kind of form answers each view, or says in so many words that it has nothing for it."""
    view(sample(kind))


@pytest.mark.parametrize("kind", FORMS, ids=lambda k: k.__name__)
def test_the_exchanged_solid_holds_the_same_metal(kind, tmp_path):
    """The STEP file read back by the kernel's own reader."""
    made = sample(kind).made
    back = cq.importers.importStep(str(write_step(made, tmp_path, despite=ZOO_SHOWS))).val()
    assert back.Volume() == pytest.approx(made.solid.Volume(), rel=1e-6)


def test_random_parts_draw_every_form():
    """A form that random parts do not hold is never tried by the invariants."""
    assert set(RANDOM_FORMS) == set(FORMS)
