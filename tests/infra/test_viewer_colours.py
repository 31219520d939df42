"""The viewer's colours stay apart for every eye."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from colour_distance import EYES, ciede2000, nearest_pair

APART = 15.0
"""CIEDE2000 between any two: a difference that is seen at a glance between small areas that do not touch."""


@pytest.mark.parametrize(
    ("one", "two", "apart"),
    # Sharma, Wu, Dalal, Color Res. Appl. 30 (2005), table 1: pairs 1, 7, 17, 25, 31 and 34 (from memory).
    [
        ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
        ((50, 0, 0), (50, -1, 2), 2.3669),
        ((50, 2.5, 0), (73, 25, -18), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((22.7233, 20.0904, -46.694), (23.0331, 14.973, -42.5619), 2.0373),
        ((2.0776, 0.0795, -1.135), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_the_distance_is_the_published_one(one: tuple[float, ...], two: tuple[float, ...], apart: float) -> None:
    assert ciede2000(np.array(one), np.array(two)) == pytest.approx(apart, abs=5e-5)


def palettes(root: Path) -> dict[str, dict[str, str]]:
    text = (root / "kit" / "viewer" / "palette.js").read_text(encoding="utf-8")
    blocks = {name: text[text.index(f"const {name}") :].partition("};")[0] for name in ("LIGHT", "DARK")}
    return {name: dict(re.findall(r'(\w+): "(#[0-9a-f]{6})"', block)) for name, block in blocks.items()}


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("theme", ["LIGHT", "DARK"])
def test_kinds_mark_and_section_are_apart(root: Path, theme: str, eye: str) -> None:
    aside = (
        "edge",
        "line",
        "ink",
        "hover",
    )  # what is no kind: the sheet's own edge, lines, text, and a pointer's touch
    kinds = {name: colour for name, colour in palettes(root)[theme].items() if name not in aside}
    assert len(kinds) == 10
    apart, a, b = nearest_pair(kinds, eye)
    assert apart >= APART, (a, b)
