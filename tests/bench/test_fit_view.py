"""A fit map in the live view."""

from __future__ import annotations

import numpy as np
import pytest

import tinbook as tb
from tinbook.bench.fitview import HIGH, field_of
from tinbook.errors import BadValue
from tinbook.read.scans.practice import CLEAN, practice_scan
from tinbook.space import frame_at


def borders(triangles):
    """Sides that belong to one triangle only."""
    sides = np.sort(np.concatenate([triangles[:, (k, (k + 1) % 3)] for k in range(3)]), axis=1)
    found, count = np.unique(sides, axis=0, return_counts=True)
    return found[count == 1]


def test_the_view_shows_every_triangle_with_its_gap_where_the_part_was_drawn():
    """A plate that stands 2 mm over its lip: the down face's triangles over the lip have a gap of 2, the rest none."""
    rim = tb.Outline.rectangle(120, 90)
    scan = practice_scan(rim, lip=25, spacing=4, flaws=CLEAN, at=frame_at((500, 0, 30)))
    made = tb.make(tb.Part("HN-V1", sheet="DC01 1.5", base=rim.offset(20)), tb.Shop.demo())
    fit = tb.fit.fit_map(made, scan, at=frame_at((500, 0, 32)))
    field = field_of(fit)
    assert len(field.triangles) == len(fit.gaps) <= 150_000
    assert field.points.min(axis=0) == pytest.approx([-20, -20, 0], abs=1e-3)
    down = field.points[field.triangles][:, :, 2].max(axis=1) < 1e-3
    shown = field.values[field.triangles][down]
    near = (shown < HIGH).all(axis=1)
    assert 0.2 < near.mean() < 0.9
    assert shown[near] == pytest.approx(2.0, abs=1e-3)
    assert len(borders(field.triangles[down])) < 0.1 * down.sum(), "lines only round the face"
    view = tb.fit_view(fit)
    assert view.field["title"] == "gap to the body"
    assert len(view.field_values) == 4 * len(field.values)
    for wrong in (None, made, scan):
        with pytest.raises(BadValue):
            tb.fit_view(wrong)


def test_an_assembly_is_shown_where_it_was_drawn_member_by_member():
    """Two plates, 1 and 4 mm over a floor: each member is a group, and the colours lie on both."""
    floor = practice_scan(tb.Outline.rectangle(120, 90), lip=40, spacing=5, flaws=CLEAN)
    plate = tb.Part("HN-V2", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 20))
    two = tb.Assembly("HN-V3").add("low", plate, frame_at((20, -30, 1))).add("high", plate, frame_at((20, 100, 4)))
    made = tb.assemble(two, tb.Shop.demo())
    fit = tb.fit.fit_map(made, floor, at=frame_at())
    view = tb.fit_view(fit)
    assert [name for name, _ in view.groups] == ["low", "high"]
    y = np.frombuffer(view.y, "<f4")
    assert (y.min(), y.max()) == pytest.approx((-30, 120))
    field = field_of(fit)
    down = np.isclose(field.points[:, 2], 1, atol=1e-3) | np.isclose(field.points[:, 2], 4, atol=1e-3)
    low = field.points[:, 1] < 45
    assert field.values[down & low].min() == pytest.approx(1.0, abs=0.02)
    assert field.values[down & ~low].min() == pytest.approx(4.0, abs=0.02)
    assert len(view.group_of) // 4 == sum(len(made.mesh(m.name)[1]) for m in made.assembly.members)
