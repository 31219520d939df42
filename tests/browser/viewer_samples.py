"""A bracket drawn by hand for the viewer's own tests: two panels, a fold, a bead, holes, and their flat pattern."""

from __future__ import annotations

import array
import base64
import json
import math
from html import escape
from pathlib import Path
from typing import Any

from tinbook.making.made import Made
from tinbook.making.shape import shape_of
from tinbook.svg import flat_svg

T, LEG, LENGTH, WIDTH = 2.0, 60.0, 200.0, 120.0
EVIL = "<img src=x onerror=\"document.title='run'\">"


class Soup:
    """Triangles by group; every plate is a box, holes are only their walls."""

    def __init__(self) -> None:
        self.points: list[tuple[float, float, float]] = []
        self.triangles: list[tuple[int, int, int]] = []
        self.group_of: list[int] = []
        self.groups: list[dict[str, str]] = []
        self.edges: list[float] = []

    def group(self, name: str, kind: str, label: str) -> int:
        self.groups.append({"name": name, "kind": kind, "label": label})
        return len(self.groups) - 1

    def quad(self, group: int, *corners: tuple[float, float, float]) -> None:
        n = len(self.points)
        self.points += corners
        self.triangles += [(n, n + 1, n + 2), (n, n + 2, n + 3)]
        self.group_of += [group, group]

    def box(self, group: int, low: tuple[float, float, float], high: tuple[float, float, float]) -> None:
        (a, b, c), (d, e, f) = low, high
        self.quad(group, (a, b, c), (a, e, c), (d, e, c), (d, b, c))
        self.quad(group, (a, b, f), (d, b, f), (d, e, f), (a, e, f))
        self.quad(group, (a, b, c), (d, b, c), (d, b, f), (a, b, f))
        self.quad(group, (d, b, c), (d, e, c), (d, e, f), (d, b, f))
        self.quad(group, (d, e, c), (a, e, c), (a, e, f), (d, e, f))
        self.quad(group, (a, e, c), (a, b, c), (a, b, f), (a, e, f))
        for z in (c, f):
            for p, q in (((a, b), (d, b)), ((d, b), (d, e)), ((d, e), (a, e)), ((a, e), (a, b))):
                self.edges += [*p, z, *q, z]

    def wall(self, group: int, x: float, y: float, r: float) -> None:
        n = 24
        ring = [(x + r * math.cos(k * math.tau / n), y + r * math.sin(k * math.tau / n)) for k in range(n)]
        for p, q in zip(ring, ring[1:] + ring[:1], strict=True):
            self.quad(group, (*q, 0.0), (*p, 0.0), (*p, T), (*q, T))


def packed(code: str, values: Any) -> str:
    """Return numbers as the page carries them."""
    return base64.b64encode(array.array(code, values).tobytes()).decode()


def folded(made: Made) -> dict[str, Any]:
    """Return arrays, groups and SVG of a made part."""
    shape = shape_of(made)
    assert made.flat is not None
    return {
        "positions": base64.b64encode(shape.positions).decode(),
        "triangles": base64.b64encode(shape.triangles).decode(),
        "groupOf": base64.b64encode(shape.group_of).decode(),
        "edges": base64.b64encode(shape.edges).decode(),
        "groups": [
            {"name": name, "kind": kind, "label": label}
            for (name, kind), label in zip(shape.groups, shape.labels, strict=True)
        ],
        "svg": flat_svg(made.flat, dims=True, keys=True),
    }


def bracket(length: float = LENGTH) -> dict[str, Any]:
    """Return arrays, groups and SVG of the bracket; the base leaves its two holes open as four boxes and a slab."""
    s = Soup()
    base = s.group("panel:base", "panel", f"panel base\n{length:g} × {WIDTH:g} × {T:g} mm")
    # The plate round one square opening (80..120, 40..80): the hole "hole:window" is really open to rays.
    s.box(base, (0, 0, 0), (80, WIDTH, T))
    s.box(base, (120, 0, 0), (length, WIDTH, T))
    s.box(base, (80, 0, 0), (120, 40, T))
    s.box(base, (80, 80, 0), (120, WIDTH, T))
    window = s.group("hole:window", "hole", "hole window\n40 × 40 mm, cut-out")
    for p, q in (((80, 40), (120, 40)), ((120, 40), (120, 80)), ((120, 80), (80, 80)), ((80, 80), (80, 40))):
        s.quad(window, (*q, 0.0), (*p, 0.0), (*p, T), (*q, T))
    s.wall(s.group("hole:drain", "hole", "hole drain\ndiameter 20 mm, drain"), 160, 60, 10)
    s.box(s.group("bead:rib", "bead", "bead rib"), (15, 20, T), (65, 40, T + 5))
    s.box(s.group("fold:lip", "fold", "fold lip, up\nturned 90°"), (0, WIDTH, 0), (length, WIDTH + 4, 4))
    s.box(s.group("panel:lip", "panel", EVIL), (0, WIDTH + 2, 4), (length, WIDTH + 4, LEG))

    flat = WIDTH + LEG
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-10 {-flat - 10} {length + 20} {flat + 20}"><title>t</title>'
        f'<g data-layer="edge" stroke="currentColor" stroke-width="1" fill="none"><path d="M0 0H{length}V{-flat}H0Z"/></g>'
        '<g data-layer="holes" stroke="currentColor" stroke-width="1" fill="#000" fill-opacity="0">'
        '<path data-name="hole:window" data-kind="hole" d="M80 -40H120V-80H80Z"/>'
        '<circle data-name="hole:drain" data-kind="hole" cx="160" cy="-60" r="10"/></g>'
        f'<g data-layer="folds up" stroke="#2778c4" stroke-width="1">'
        f'<path data-name="fold:lip" data-kind="fold" d="M0 -120H{length}"/></g>'
        f'<g data-layer="dimensions"><text x="50" y="-182">{escape(EVIL)}</text></g></svg>'
    )
    return {
        "positions": packed("f", [v for p in s.points for v in p]),
        "triangles": packed("I", [v for t in s.triangles for v in t]),
        "groupOf": packed("I", s.group_of),
        "edges": packed("f", s.edges),
        "groups": s.groups,
        "svg": svg,
    }


def page(folder: Path, script: str, background: str = "#ffffff", short: dict[str, Any] | None = None) -> str:
    """Write a page that shows the bracket, or what is given, with the built viewer; return its address."""
    data = json.dumps({"short": short or bracket(), "long": bracket(LENGTH * 3)})
    html = f"""<!doctype html><meta charset="utf-8"><title>still</title>
<body style="background:{background};margin:10px"><div id="here" style="width:1200px"></div>
<script>{script}</script>
<script id="data" type="application/json">{data.replace("<", chr(92) + "u003c")}</script>
<script>
const parts = JSON.parse(document.getElementById("data").textContent);
for (const part of Object.values(parts))
  for (const k of ["positions", "triangles", "groupOf", "edges"]) part[k] = tinbookViewer.bytes(part[k]);
const log = [];
for (const n of ["hover", "pick", "drawn"]) document.addEventListener("tinbook:" + n, (e) => log.push([n, e.detail]));
const pair = new tinbookViewer.Pair(document.getElementById("here"));
pair.update({{...parts.short, stamp: 1}});
const filled = () => {{
  const c = document.createElement("canvas");
  const from = pair.folded.canvas;
  [c.width, c.height] = [from.width, from.height];
  const g = c.getContext("2d");
  pair.folded.draw();
  g.drawImage(from, 0, 0);
  const d = g.getImageData(0, 0, c.width, c.height).data;
  let n = 0;
  for (let i = 3; i < d.length; i += 4) n += d[i] > 0;
  return n / (d.length / 4);
}};
const picture = () => (pair.folded.draw(), pair.folded.canvas.toDataURL());
const onScreen = (x, y, z) => {{
  const v = pair.folded.table.camera.position.clone().set(x, y, z).project(pair.folded.table.camera);
  const r = pair.folded.canvas.getBoundingClientRect();
  return [r.left + ((v.x + 1) / 2) * r.width, r.top + ((1 - v.y) / 2) * r.height];
}};
</script>"""
    file = folder / "viewer.html"
    file.write_text(html, encoding="utf-8")
    return file.as_uri()


WIDGET = """async (source) => {
    const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
    const { mount } = await import(url);
    const columns = (points) => [0, 1, 2].map((k) => new DataView(points.filter((_, i) => i % 3 === k).buffer));
    const seen = [];
    for (const spare of [0, 65536]) {
        const part = { ...parts.short };
        const own = new Float32Array(part.positions);
        const points = new Float32Array(own.length + 3 * spare); // points that no triangle uses, but that count
        points.set(own);
        const triangles = new Uint32Array(part.triangles);
        const Index = points.length > 3 * 65536 ? Uint32Array : Uint16Array;
        const [x, y, z] = columns(points);
        const [edges_x, edges_y, edges_z] = columns(new Float32Array(part.edges));
        const state = {
            x, y, z, edges_x, edges_y, edges_z, svg: part.svg, field: {}, height: 300, theme: "light", note: "",
            triangles: new DataView(Index.from(triangles).buffer), group_of: new DataView(part.groupOf),
            groups: part.groups.map((g) => [g.name, g.kind]), labels: part.groups.map((g) => g.label), stamp: 7,
            highlight: "",
        };
        const heard = {};
        const model = {
            get: (name) => state[name], set: (name, value) => (state[name] = value), save_changes: () => {},
            on: (name, f) => (heard[name] = f), off: (name) => delete heard[name],
        };
        const host = document.createElement("div");
        document.body.append(host);
        const away = mount(model, host);
        const view = host.firstChild.tinbookPair.folded;
        const same = (a, b) => a.length === b.length && a.every((v, i) => v === b[i]);
        seen.push(same(view.data.triangles, triangles), same(view.data.positions, points));
        seen.push(same(view.data.edges, new Float32Array(part.edges)));
        // A moved coordinate alone is one message: the part is drawn anew from it.
        state.x = new DataView(Float32Array.from(new Float32Array(x.buffer), (v) => 2 * v).buffer);
        state.stamp = 8;
        const drawn = new Promise((done) => host.addEventListener("tinbook:drawn", (e) => e.detail.stamp === 8 && done()));
        heard["change:x"]();
        heard["change:stamp"]?.();
        await drawn;
        seen.push(view.data.box[1][0] === 2 * pair.folded.data.box[1][0]);
        away();
        seen.push(Object.keys(heard).length === 0);
    }
    return seen;
}"""


def frames(p: Any) -> None:
    """Wait until the page has drawn what it was given: hovers, picks and pictures are worked off before a frame."""
    p.evaluate("() => new Promise((d) => requestAnimationFrame(() => requestAnimationFrame(() => d())))")
