"""A fit map in the live view."""

from __future__ import annotations

import numpy as np
import pytest

import tinbook as tb
from tinbook.bench.fitview import HIGH, field_of
from tinbook.errors import BadValue
from tinbook.read.scans.practice import CLEAN, practice_scan
from tinbook.space import frame_at


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
    shown = field.values[field.triangles][down].mean(axis=1)
    near = shown < HIGH
    assert 0.2 < near.mean() < 0.9
    assert shown[near] == pytest.approx(np.full(near.sum(), 2.0), abs=1e-3)
    view = tb.fit_view(fit)
    assert view.field["title"] == "gap to the body"
    assert len(view.field_values) == 4 * len(field.values)
    for wrong in (None, made, scan):
        with pytest.raises(BadValue):
            tb.fit_view(wrong)
