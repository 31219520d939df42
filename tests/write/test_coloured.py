"""The coloured picture of a result: which band lies where, what is written beside it, what is refused."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import tinbook as tb
from tinbook.errors import BadValue, UnknownName
from tinbook.making.preview.view import corner_view
from tinbook.strength.report import Strength
from tinbook.write.coloured import BANDS, BEYOND, strength_svg

SHOP = tb.Shop.demo()


@cache
def pressed() -> Strength:
    """A small plate, clamped all round, under an even pressure that stays linear."""
    made = tb.make(tb.bead_rolled_panel(400, 200, beads=0, sheet="DC01 2.0", number="HN-PL"), SHOP)
    return tb.strength_of(made, "clamped", tb.strength.Pressure(pressure=1e-4), size=25)


def pixels(svg: str) -> tuple[np.ndarray[tuple[int, int, int]], dict[str, float]]:
    """The image as red, green, blue and opacity, its lowest row first, and where it lies."""
    where = re.search(r'<image x="(.+?)" y="(.+?)" width="(.+?)" height="(.+?)" .*?base64,(.+?)"', svg)
    assert where
    x, y, wide, high = map(float, where.groups()[:4])
    image = np.asarray(Image.open(io.BytesIO(base64.b64decode(where[5]))).convert("RGBA"))
    return image[::-1], {"x": x, "low": -y - high, "pitch": wide / image.shape[1]}


def rgb(colour: str) -> np.ndarray[tuple[int]]:
    return np.array([int(colour[k : k + 2], 16) for k in (0, 2, 4)])


def band_at(image: np.ndarray, place: dict[str, float], at: np.ndarray) -> int:
    """Which colour lies at a point of the picture, by its share of red, green and blue: shading keeps these."""
    row, column = int((at[1] - place["low"]) / place["pitch"]), int((at[0] - place["x"]) / place["pitch"])
    r, g, b, a = image[row, column].astype(float)
    assert a == 255
    seen = np.array([r, g, b]) / np.linalg.norm([r, g, b])
    known = [rgb(c) / np.linalg.norm(rgb(c)) for c in (*BANDS, BEYOND)]
    return int(np.argmin([np.linalg.norm(seen - k) for k in known]))


@pytest.mark.parametrize("name", ["deflection", "stress, up side"])
def test_the_colour_at_a_node_is_its_band(name: str) -> None:
    found = pressed()
    field = found.field(name)
    image, place = pixels(strength_svg(found, name))
    most = np.linalg.norm(field.moves, axis=1).max()
    times = float(re.search(r"displacements (\d+) times", strength_svg(found, name))[1])  # type: ignore[index]
    assert 400 * 0.02 < times * most < 400 * 0.08
    tried = 0
    for node in range(0, len(field.points), 7):
        x, y, _ = field.points[node]
        share = field.values[node] / field.high * len(BANDS)
        if not (10 < x < 390 and 10 < y < 190) or min(share % 1, 1 - share % 1) < 0.15:
            continue  # at the rim and near a band's edge a pixel may show its neighbour
        at = corner_view("up").flat(field.points[node] + times * field.moves[node])[0]
        assert band_at(image, place, at) == min(int(share), len(BANDS) - 1)
        tried += 1
    assert tried > 8


def test_what_yields_has_a_colour_of_its_own() -> None:
    found = pressed()
    assert found.under is not None
    under = replace(found.under, yield_stress=0.6 * float(found.under.top.max()))
    svg = strength_svg(replace(found, under=under), "stress, up side")
    image, _ = pixels(svg)
    shown = image[image[:, :, 3] == 255][:, :3].astype(float)
    like = np.abs(shown / np.linalg.norm(shown, axis=1)[:, None] - rgb(BEYOND) / np.linalg.norm(rgb(BEYOND))).max(1)
    assert (like < 0.02).any()
    assert ">yields</text>" in svg
    assert "yields" not in strength_svg(found, "stress, up side")


def test_names_scale_and_unit_stand_beside_it() -> None:
    svg = strength_svg(pressed())
    assert "<title>HN-PL rev A: deflection, mm</title>" in svg
    high = pressed().field("deflection").high
    for k in (0, 2, 10):
        assert f">{high * k / 10:.3g}</text>" in svg
    assert len(tb.write.strength_svg(pressed(), "mode 1")._repr_png_()[0]) < 100_000
    assert "shape of a mode" in strength_svg(pressed(), "mode 1")
    assert strength_svg(pressed()) == svg


def test_the_bands_are_those_of_the_workbench(root: Path) -> None:
    ramp = (root / "kit" / "viewer" / "ramp.js").read_text(encoding="utf-8")
    assert re.findall(r'"#([0-9a-f]{6})"', ramp) == [*BANDS, BEYOND]


@pytest.mark.parametrize("field", ["stress", "", None, 3, "buckled shape"])
def test_a_field_that_is_not_there_is_refused(field: object) -> None:
    with pytest.raises(UnknownName, match="deflection"):
        strength_svg(pressed(), field)  # type: ignore[arg-type]


@pytest.mark.parametrize("thing", [None, "HN-PL", 3.0])
def test_only_a_result_is_drawn(thing: object) -> None:
    with pytest.raises(BadValue, match="strength_svg"):
        strength_svg(thing)  # type: ignore[arg-type]
