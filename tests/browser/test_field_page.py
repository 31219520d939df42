"""A result coloured on the part, on a plain page: colours, legend, values under the pointer, swinging, motion reduced."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from viewer_samples import LENGTH, WIDTH, frames, page

pytestmark = pytest.mark.browser

SHEET = f"""
const sheet = (more = {{}}) => {{
  // The bracket's base as a grid of 20 x 12 quads, sagging as half a sine wave, 2 mm in the middle.
  const [n, m] = [20, 12];
  const points = [], moves = [], values = [], triangles = [];
  for (let j = 0; j <= m; j++)
    for (let i = 0; i <= n; i++) {{
      const w = 2 * Math.sin((Math.PI * i) / n) * Math.sin((Math.PI * j) / m);
      points.push(({LENGTH} * i) / n, ({WIDTH} * j) / m, 1);
      moves.push(0, 0, -w);
      values.push(w);
      if (i < n && j < m) {{
        const a = j * (n + 1) + i;
        triangles.push(a, a + 1, a + n + 2, a, a + n + 2, a + n + 1);
      }}
    }}
  return {{
    points: Float32Array.from(points), moves: Float32Array.from(moves), values: Float32Array.from(values),
    triangles: Uint32Array.from(triangles),
    title: "deflection", unit: "mm", low: 0, high: 2, over: "", swings: false, ...more,
  }};
}};
"""


@pytest.fixture
def shown(fresh_page: Callable[..., Any], static: Path, tmp_path: Path) -> Callable[..., Any]:
    """Open the bracket's page with `sheet(more)` at hand."""

    def open_page(**context: Any) -> Any:
        p = fresh_page(**context)
        p.goto(page(tmp_path, (static / "page.js").read_text(encoding="utf-8")))
        p.wait_for_function("log.some(([n]) => n === 'drawn')")
        p.add_script_tag(content=SHEET)
        return p

    return open_page


def lightness(colour: str) -> float:
    """CIE 1976 L* of an sRGB colour (IEC 61966-2-1, CIE 15)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    y = 0.2126 * r + 0.7152 * g + 0.0722 * b
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


SIGHTS = {
    "all cones": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    # Machado, Oliveira, Fernandes 2009, severity 1.0 (from memory)
    "no red cones": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "no green cones": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.01182, 0.04294, 0.968881),
    ),
}


@pytest.mark.parametrize("sight", SIGHTS)
def test_bands_rise_in_lightness_for_every_eye(shown: Any, sight: str) -> None:
    p = shown()
    colours = p.evaluate("tinbookViewer.BANDS")
    assert len(colours) == 10

    def seen(colour: str) -> str:
        rgb = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgb]
        out = [min(max(sum(a * c for a, c in zip(row, linear, strict=True)), 0), 1) for row in SIGHTS[sight]]
        back = [12.92 * c if c <= 0.0031308 else 1.055 * c ** (1 / 2.4) - 0.055 for c in out]
        return "#" + "".join(f"{round(255 * c):02x}" for c in back)

    levels = [lightness(seen(c)) for c in colours]
    assert all(b - a > 4 for a, b in itertools.pairwise(levels))
    # What lies beyond the end stands off from the last band.
    assert levels[-1] - lightness(seen(p.evaluate("tinbookViewer.BEYOND"))) > 40


def test_colours_replace_the_part_and_go_again(shown: Any) -> None:
    p = shown()
    plain = p.evaluate("picture()")
    p.evaluate("pair.setField(sheet())")
    coloured = p.evaluate("picture()")
    assert coloured != plain
    assert 0.05 < p.evaluate("filled()") < 0.9
    scale = p.locator(".tb-scale")
    assert scale.inner_text().split("\n") == ["deflection, mm", "0", "0.5", "1", "1.5", "2", "movement drawn 5 times"]
    assert p.locator(".tb-bands i").count() == 10
    assert not p.locator(".tb-legend").is_visible()
    assert "Coloured by deflection, 0 to 2 mm" in p.get_attribute(".tb-canvas", "aria-label")
    # The middle is drawn 5 times as low as it lies.
    assert p.evaluate("Math.min(...pair.folded.field.at.filter((_, i) => i % 3 === 2))") == pytest.approx(1 - 5 * 2)
    p.evaluate("pair.setField(null)")
    assert p.evaluate("picture()") == plain
    assert not scale.is_visible()
    assert p.locator(".tb-legend").is_visible()
    assert "Coloured" not in p.get_attribute(".tb-canvas", "aria-label")


def test_the_middle_has_the_last_colour_and_the_rim_the_first(shown: Any) -> None:
    p = shown()
    p.evaluate("pair.folded.look('above'); pair.setField(sheet({moves: new Float32Array(21 * 13 * 3)}));")

    def near(x: float, y: float) -> int:
        colour = p.evaluate(
            """([x, y]) => {
              const c = document.createElement("canvas"), from = pair.folded.canvas, g = c.getContext("2d");
              [c.width, c.height] = [from.width, from.height];
              pair.folded.draw();
              g.drawImage(from, 0, 0);
              const r = from.getBoundingClientRect(), [sx, sy] = onScreen(x, y, 1), k = from.width / r.width;
              return [...g.getImageData(Math.round((sx - r.left) * k), Math.round((sy - r.top) * k), 1, 1).data];
            }""",
            [x, y],
        )
        bands = [[int(h[i : i + 2], 16) for i in (1, 3, 5)] for h in p.evaluate("tinbookViewer.BANDS")]
        return min(range(10), key=lambda k: sum((a - b) ** 2 for a, b in zip(bands[k], colour, strict=False)))

    assert near(LENGTH / 2 + 3, WIDTH / 2 + 4) == 9
    assert near(2.5, 30) == 0
    # Half way down the sine: sin(pi/6) = 0.5, at the border of the 5th and 6th band.
    assert near(LENGTH / 6 + 2, WIDTH / 2 + 4) in (4, 5)


def test_what_is_beyond_the_limit_has_a_colour_and_a_word_of_its_own(shown: Any) -> None:
    p = shown()
    p.evaluate("pair.setField(sheet({title: 'von Mises stress', unit: 'MPa', high: 1, over: 'yields'}))")
    assert "yields" in p.locator(".tb-scale").inner_text()
    uv = p.evaluate("[...pair.folded.field.sheet.geometry.attributes.uv.array].filter((_, i) => i % 2 === 0)")
    assert max(uv) > 10 / 11  # the eleventh colour
    p.evaluate("pair.setField(sheet({high: 1}))")
    uv = p.evaluate("[...pair.folded.field.sheet.geometry.attributes.uv.array].filter((_, i) => i % 2 === 0)")
    assert max(uv) < 10 / 11


def test_the_pointer_reads_the_value(shown: Any) -> None:
    p = shown()
    p.evaluate("pair.folded.look('above'); pair.setField(sheet())")
    p.mouse.move(*p.evaluate(f"onScreen({LENGTH / 2 + 3}, {WIDTH / 2 + 3}, 1)"))
    frames(p)
    text = p.locator(".tb-space .tb-tip").inner_text()
    assert text.endswith(" mm")
    assert 1.8 < float(text.split()[0]) <= 2.0
    p.evaluate("pair.setField(sheet({high: 1, over: 'yields'}))")
    p.mouse.move(*p.evaluate(f"onScreen({LENGTH / 2 + 4}, {WIDTH / 2 + 3}, 1)"))
    frames(p)
    assert p.locator(".tb-space .tb-tip").inner_text() == "yields"
    # A pick still finds the part's own features.
    p.mouse.click(*p.evaluate("onScreen(100, 60, 1)"))
    frames(p)
    assert p.evaluate("pair.folded.marked") == "hole:window"


MODE = "sheet({title: 'mode 1, 64.7 Hz', unit: '', high: 1, swings: true})"


SHARE = "Math.round(1000 * pair.folded.field.share) / 1000"


def swings(p: Any) -> list[float]:
    """Wait for four different places of the swing; return them."""
    p.evaluate("window.swung = new Set()")
    p.wait_for_function(f"() => swung.add({SHARE}).size > 3", timeout=300_000)
    return list(p.evaluate("[...swung]"))


def still(p: Any) -> float:
    """Return the place of the swing after three frames have been drawn; it must not have moved meanwhile."""
    frame = "await new Promise(requestAnimationFrame)"
    places = p.evaluate(
        f"async () => {{ const all = []; for (let i = 0; i < 3; i++) {{ {frame}; all.push({SHARE}); }} return all; }}"
    )
    assert len(set(places)) == 1
    return float(places[0])


def test_a_mode_swings_and_stops(shown: Any) -> None:
    p = shown()
    p.evaluate(f"pair.setField({MODE})")
    button = p.get_by_role("button", name="hold still")
    assert button.is_visible()
    assert all(-1 <= s <= 1 for s in swings(p))
    button.click()
    assert still(p) == 1  # at rest it is shown fully out
    again = p.get_by_role("button", name="let it swing")
    again.focus()
    p.keyboard.press("Enter")
    assert swings(p)
    assert "drawn" not in p.locator(".tb-scale").inner_text()
    # Other colours end it.
    p.evaluate("pair.setField(sheet())")
    assert not p.evaluate("pair.folded.field.running")
    assert not p.locator(".tb-bar button", has_text="still").is_visible()


def test_where_less_motion_is_wanted_it_waits_to_be_asked(shown: Any) -> None:
    p = shown(reduced_motion="reduce")
    p.evaluate(f"pair.setField({MODE})")
    assert still(p) == 1
    p.get_by_role("button", name="let it swing").click()
    assert swings(p)


def test_it_draws_in_both_themes_and_can_be_cut(shown: Any, artefacts: Path) -> None:
    p = shown()
    p.evaluate("pair.setField(sheet())")
    light = p.evaluate("picture()")
    p.evaluate("pair.setTheme('dark')")
    frames(p)
    assert p.evaluate("picture()") != light
    p.screenshot(path=artefacts / "field_dark.png")
    before = p.evaluate("filled()")
    p.evaluate("pair.folded.setSection({axis: 'x', at: 0.5})")
    assert p.evaluate("filled()") < 0.85 * before
    p.evaluate("pair.setField(null)")
    assert p.evaluate("pair.folded.inside.visible")
    p.evaluate("pair.folded.setSection({axis: ''})")
    p.evaluate("pair.dispose()")
    assert p.locator("#here").inner_html() == ""
