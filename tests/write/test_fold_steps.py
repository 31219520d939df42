"""The folds of a part as steps for a page: from the flat blank to the finished part, each step where the last one ended."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import tinbook as tb
from tinbook.write.fold_steps import FRAMES, fold_steps

SHOP = tb.Shop.demo()
TRAY = tb.Part("HN-K1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 120)).fold("front", leg=30)


def points(found: dict[str, Any], step: int, n: int) -> Any:
    """Corners of everything that picture `n` of a step shows, in order of their bodies' names."""
    out = []
    for m in sorted(found["steps"][step]["members"], key=lambda m: m["name"]):
        if m["from"] <= n <= m["to"]:
            place = np.frombuffer(m["track"], "<f4").reshape(-1, 4, 3)[n]
            out.append(
                np.frombuffer(found["bodies"][m["body"]]["positions"], "<f4").reshape(-1, 3) @ place[1:] + place[0]
            )
    return np.concatenate(out)


def test_it_begins_flat_and_ends_folded() -> None:
    """Legs of 30 mm to the outside on a base of 200 x 120 x 1.5: finished 30 high; flat as large as the cut blank."""
    made = tb.make(TRAY.fold("rear", leg=30), SHOP)
    found = fold_steps(made)
    assert found is not None
    assert [s["words"] for s in found["steps"]] == ["Step 1 of 2: fold front up", "Step 2 of 2: fold rear up"]
    assert made.flat is not None
    begin, end = points(found, 0, 0), points(found, 1, FRAMES - 1)
    assert np.ptp(begin, axis=0) == pytest.approx([*made.flat.size, 1.5], abs=1e-3)
    assert np.ptp(end, axis=0) == pytest.approx([200, 120, 30], abs=1e-3)
    assert points(found, 0, FRAMES - 1) == pytest.approx(points(found, 1, 0), abs=1e-3)
    assert np.ptp(points(found, 0, FRAMES - 1), axis=0)[1] < np.ptp(begin, axis=0)[1] - 20


def test_what_is_not_folded_has_no_steps() -> None:
    plain = tb.Part("HN-K2", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 120))
    assert fold_steps(tb.make(plain, SHOP)) is None
