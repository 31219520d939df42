// The flat pattern: an SVG text shown with layer switches, zoom and names under the pointer.

import { gestures } from "./gestures.js";

const FEATURE = "[data-name]";
const SIDES = [[1, 0], [-1, 0], [0, 1], [0, -1]];
const STATE = ["tb-marked", "tb-pointed"];

/**
 * View of a flat pattern. Its drawing is an SVG with a viewBox, one <g data-layer="..."> a layer and data-name on
 * every feature. Events on `element` as FoldedView's: "tinbook:hover" and "tinbook:pick".
 */
export class FlatView {
  constructor(element) {
    this.element = element;
    this.paper = document.createElement("div");
    this.paper.className = "tb-paper";
    this.paper.tabIndex = 0;
    this.paper.setAttribute("role", "img");
    this.tip = document.createElement("div");
    this.tip.className = "tb-tip";
    this.tip.hidden = true;
    element.append(this.paper, this.tip);
    this.hidden = new Set();
    this.layers = [];
    this.text = "";
    this.names = [];
    this.labels = new Map();
    this.marked = this.pointed = "";
    this.onlayers = () => {};
    this.deaf = gestures(this.paper, {
      drag: (dx, dy) => this.drag(dx, dy),
      zoom: (factor, x, y) => this.zoom(factor, x, y),
      point: (x, y) => this.point(x, y),
      press: (x, y) => this.press(x, y),
      key: (e) => this.key(e),
    });
    this.sizes = new ResizeObserver(() => this.frame());
    this.sizes.observe(this.paper);
  }

  /** Show an SVG text; what is not one leaves the last drawing. */
  setSvg(text) {
    if (!text || text === this.text) return;
    const page = new DOMParser().parseFromString(text, "image/svg+xml");
    const svg = page.documentElement;
    if (svg.nodeName !== "svg" || page.querySelector("parsererror")) return;
    this.text = text;
    this.svg = document.importNode(svg, true);
    this.svg.removeAttribute("width");
    this.svg.removeAttribute("height");
    this.svg.removeAttribute("style");
    this.svg.setAttribute("preserveAspectRatio", "xMidYMid meet");
    // The paper round it is the picture that has a name.
    this.svg.removeAttribute("role");
    this.svg.setAttribute("aria-hidden", "true");
    // The browser's own tips would lie over ours.
    for (const title of this.svg.querySelectorAll("title")) title.remove();
    const whole = (svg.getAttribute("viewBox") ?? "0 0 100 100").split(/[\s,]+/).map(Number);
    this.whole = whole;
    if (!this.moved) this.view = [...whole];
    this.paper.replaceChildren(this.svg);
    const layers = [...new Set([...this.svg.querySelectorAll("g[data-layer]")].map((g) => g.dataset.layer))];
    if (layers.join("\n") !== this.layers.join("\n")) {
      this.layers = layers;
      this.onlayers(layers);
    }
    this.names = [...new Set([...this.svg.querySelectorAll(FEATURE)].map((e) => e.dataset.name))];
    this.paper.setAttribute("aria-label", `Flat pattern, layers: ${layers.join(", ")}`);
    this.applyLayers();
    this.paint();
    this.frame();
  }

  /** Give the texts to show for names: a Map. */
  setLabels(labels) {
    this.labels = labels;
  }

  /** Show or hide a layer. */
  setLayer(name, shown) {
    if (shown) this.hidden.delete(name);
    else this.hidden.add(name);
    this.applyLayers();
  }

  applyLayers() {
    for (const g of this.svg?.querySelectorAll("g[data-layer]") ?? []) {
      g.style.display = this.hidden.has(g.dataset.layer) ? "none" : "";
    }
  }

  /** Mark everything of that name, without an event. */
  highlight(name) {
    this.marked = name ?? "";
    this.paint();
  }

  /** Mark lightly what another view points at. */
  hover(name) {
    this.pointed = name ?? "";
    this.paint();
  }

  paint() {
    if (!this.svg) return;
    for (const e of this.svg.querySelectorAll(STATE.map((c) => `.${c}`).join(","))) e.classList.remove(...STATE);
    for (const e of this.named(this.pointed)) e.classList.add("tb-pointed");
    for (const e of this.named(this.marked)) e.classList.add("tb-marked");
  }

  named(name) {
    return name ? [...this.svg.querySelectorAll(FEATURE)].filter((e) => e.dataset.name === name) : [];
  }

  // The nearest feature within a few px: fold lines and small holes are thin.
  at(x, y) {
    const r = this.paper.getBoundingClientRect();
    for (let reach = 0; reach <= 6; reach++) {
      for (const [dx, dy] of reach ? SIDES : [[0, 0]]) {
        const hit = document.elementFromPoint(r.left + x + reach * dx, r.top + y + reach * dy)?.closest?.(FEATURE);
        if (hit && this.paper.contains(hit)) return hit;
      }
    }
    return null;
  }

  point(x, y) {
    const e = x === null ? null : this.at(x, y);
    this.show(e, x, y);
    const name = e?.dataset.name ?? "";
    if (name === this.pointed) return;
    this.hover(name);
    this.tell("hover", e);
  }

  press(x, y) {
    const e = this.at(x, y);
    this.pick(e?.dataset.name === this.marked ? null : e);
  }

  pick(e) {
    this.highlight(e?.dataset.name ?? "");
    this.tell("pick", e);
  }

  tell(what, e) {
    const detail = e ? { name: e.dataset.name, kind: e.dataset.kind ?? "", label: this.words(e) } : { name: "" };
    this.element.dispatchEvent(new CustomEvent(`tinbook:${what}`, { bubbles: true, detail }));
  }

  show(e, x, y) {
    this.tip.hidden = !e;
    if (!e) return;
    this.tip.textContent = this.words(e);
    this.tip.style.left = `${Math.max(4, Math.min(x + 14, this.element.clientWidth - this.tip.offsetWidth - 4))}px`;
    this.tip.style.top = `${Math.max(4, Math.min(y + 14, this.element.clientHeight - this.tip.offsetHeight - 4))}px`;
  }

  words(e) {
    return this.labels.get(e.dataset.name) || e.dataset.name;
  }

  // Size of one px in drawing units.
  unit() {
    const [, , w, h] = this.view;
    return Math.max(w / (this.paper.clientWidth || 1), h / (this.paper.clientHeight || 1));
  }

  drag(dx, dy) {
    if (!this.view) return;
    const u = this.unit();
    this.view[0] -= dx * u;
    this.view[1] -= dy * u;
    this.moved = true;
    this.frame();
  }

  zoom(factor, x = this.paper.clientWidth / 2, y = this.paper.clientHeight / 2) {
    if (!this.view) return;
    const width = Math.min(Math.max(this.view[2] * factor, this.whole[2] / 200), this.whole[2] * 5);
    const f = width / this.view[2];
    const u = this.unit();
    const cx = this.view[0] + this.view[2] / 2 + (x - this.paper.clientWidth / 2) * u;
    const cy = this.view[1] + this.view[3] / 2 + (y - this.paper.clientHeight / 2) * u;
    this.view = [cx + (this.view[0] - cx) * f, cy + (this.view[1] - cy) * f, width, this.view[3] * f];
    this.moved = true;
    this.frame();
  }

  /** Bring the whole drawing into the picture. */
  fit() {
    if (!this.whole) return;
    this.moved = false;
    this.view = [...this.whole];
    this.frame();
  }

  frame() {
    this.svg?.setAttribute("viewBox", this.view.map((v) => +v.toFixed(4)).join(" "));
  }

  key(e) {
    const arrow = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (arrow) this.drag(arrow[0] * 30, arrow[1] * 30);
    else if (e.key === "+" || e.key === "=") this.zoom(0.85);
    else if (e.key === "-") this.zoom(1 / 0.85);
    else if (e.key === "0" || e.key === "Home") this.fit();
    else if (e.key === "n" || e.key === "p") this.step(e.key === "n" ? 1 : -1);
    else if (e.key === "Escape" && this.marked) this.pick(null), (this.tip.hidden = true);
    else return false;
    return true;
  }

  step(by) {
    if (!this.names.length) return;
    const now = this.names.indexOf(this.marked);
    const next = now < 0 && by < 0 ? this.names.length - 1 : (now + by + this.names.length) % this.names.length;
    const e = this.named(this.names[next])[0];
    this.pick(e);
    const [r, p] = [e.getBoundingClientRect(), this.paper.getBoundingClientRect()];
    this.show(e, (r.left + r.right) / 2 - p.left, (r.top + r.bottom) / 2 - p.top);
  }

  dispose() {
    this.deaf();
    this.sizes.disconnect();
    this.element.replaceChildren();
  }
}
