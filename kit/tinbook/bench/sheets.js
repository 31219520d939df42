// The page side of sheets.py: a job's sheets, and the hand that shifts, turns and locks blanks. It decides nothing: it
// sends what was done and draws what comes back. It needs no library and no build.

const STYLE = `
.tb-sheets { --ink: var(--jp-ui-font-color1, #23292e); --ground: var(--jp-layout-color0, #fff);
  --rule: var(--jp-border-color1, #8a939a); --mark: var(--jp-brand-color1, #1f63e0);
  font: 13px/1.35 system-ui, sans-serif; color: var(--ink); min-width: 0; }
.tb-sheets nav { display: flex; flex-wrap: wrap; gap: 6px; margin: 4px 0; }
.tb-sheets button, .tb-sheets select, .tb-sheets input { box-sizing: border-box; min-height: 28px; padding: 2px 8px;
  font: inherit; color: inherit; background: var(--jp-layout-color2, #eceeec); border: 1px solid var(--rule);
  border-radius: 3px; }
.tb-sheets select, .tb-sheets input { background: var(--ground); max-width: 100%; }
.tb-sheets input { width: 84px; text-align: right; font-variant-numeric: tabular-nums; }
.tb-sheets button { cursor: pointer; }
.tb-sheets button:disabled { opacity: 0.55; cursor: default; }
.tb-sheets nav button { display: flex; flex-direction: column; gap: 2px; align-items: flex-start; text-align: left; }
.tb-sheets nav svg { width: 150px; max-height: 80px; }
.tb-sheets nav button[aria-pressed="true"] { border: 2px solid var(--mark); }
.tb-sheets .tb-plate { display: block; box-sizing: border-box; width: 100%; background: var(--ground); border: 1px solid var(--rule);
  border-radius: 4px; touch-action: none; }
.tb-sheets path { fill: none; stroke: var(--ink); stroke-width: 1px; vector-effect: non-scaling-stroke; }
.tb-sheets .tb-blank path { fill: var(--ink); fill-opacity: 0.12; }
.tb-sheets .tb-plate .tb-blank { cursor: grab; outline: none; }
.tb-sheets .tb-blank.tb-locked path { fill-opacity: 0.32; stroke-dasharray: 6 3; }
.tb-sheets .tb-blank.tb-chosen path { stroke: var(--mark); stroke-width: 3px; fill: var(--mark); fill-opacity: 0.22; }
.tb-sheets text { fill: var(--ink); text-anchor: middle; pointer-events: none; paint-order: stroke;
  stroke: var(--ground); stroke-width: 0.25em; stroke-linejoin: round; }
.tb-sheets form { display: flex; flex-wrap: wrap; gap: 6px 12px; align-items: end; margin: 6px 0; }
.tb-sheets label { display: flex; flex-direction: column; min-width: 0; }
.tb-sheets :focus-visible { outline: 2px solid var(--mark); outline-offset: 1px; }
.tb-sheets .tb-said { min-height: 1.4em; padding: 2px 8px; border-left: 3px solid transparent; overflow-wrap: anywhere; }
.tb-sheets .tb-said[data-severity="stop"] { border-color: var(--jp-error-color1, #c62828); }
.tb-sheets .tb-said[data-severity="fine"] { border-color: var(--jp-success-color0, #2e7d32); }
.tb-sheets .tb-keys { font-size: 12px; margin: 4px 0; }
`;

const SVG = "http://www.w3.org/2000/svg";

function make(tag, properties = {}, ...children) {
  const { attributes = {}, ...own } = properties;
  const e = Object.assign(document.createElement(tag), own);
  for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, value);
  e.append(...children);
  return e;
}

function draw(tag, attributes, ...children) {
  const e = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, value);
  e.append(...children);
  return e;
}

const key = (b) => `${b.blank} no. ${b.copy}`;
const name = (b) => `${key(b)}${b.locked ? ", locked" : ""}`;
const told = (b) => `${name(b)}, ${b.left} mm from the left, ${b.bottom} mm from below, turned ${b.angle} degrees`;
const count = (n) => `${n} ${n === 1 ? "blank" : "blanks"}`;

/** Return a sheet's picture: the plate, and a group for each blank. */
export function picture(sheet, attributes, each) {
  const [x0, y0, x1, y1] = sheet.box;
  const edge = (x1 - x0) / 80;
  const view = [x0 - edge, y0 - edge, x1 - x0 + 2 * edge, y1 - y0 + 2 * edge].join(" ");
  const blanks = sheet.blanks.map((b) => {
    const g = draw("g", { class: `tb-blank${b.locked ? " tb-locked" : ""}` });
    g.append(draw("path", { d: sheet.shapes[b.blank].path, transform: `matrix(${b.matrix.join(" ")})`, "fill-rule": "evenodd" }));
    each?.(g, b);
    return g;
  });
  return draw("svg", { viewBox: view, ...attributes }, draw("path", { d: sheet.outline }), ...blanks);
}

const SMALL = 10; // px: smaller letters are left out, but for the blank that is chosen

/** Write a blank's name on its broadest metal if it can be read there; `scale` is mm to a px. */
function named(sheet, b, g, scale, chosen) {
  const { at, room } = sheet.shapes[b.blank];
  const [a, e, c, d, x, y] = b.matrix;
  const words = name(b);
  const fits = Math.min(14, room / (0.55 * words.length) / scale);
  const size = Math.max(fits, SMALL) * scale;
  const place = { x: a * at[0] - c * at[1] + x, y: e * at[0] - d * at[1] + y + size / 3 };
  if (fits >= SMALL || chosen) g.append(draw("text", { ...place, "font-size": size }, words));
  g.append(draw("title", {}, told(b)));
}

class Page {
  constructor(model, root) {
    this.model = model;
    this.root = root;
    this.number = 1;
    this.chosen = "";
    this.nav = make("nav", { attributes: { "aria-label": "sheets of the job" } });
    this.place = make("div");
    this.form = make("form");
    this.form.onsubmit = (e) => e.preventDefault();
    this.keys = make("p", {
      className: "tb-keys",
      textContent: "Drag a blank, or choose one: arrow keys shift it by 1 mm, with Shift by 10 mm; R turns it, L locks it.",
    });
    this.said = make("div", { className: "tb-said", attributes: { role: "status" } });
    root.append(make("style", { textContent: STYLE }), this.nav, this.place, this.keys, this.form, this.said);
  }

  get sheet() {
    const all = this.model.get("sheets");
    return all[this.number - 1] ?? all[0];
  }

  get scale() {
    const [x0, y0, x1, y1] = this.sheet.box;
    return Math.max((x1 - x0) / (this.root.clientWidth || 600), (y1 - y0) / this.model.get("height"));
  }

  get blank() {
    return this.sheet?.blanks.find((b) => key(b) === this.chosen);
  }

  send(what, b = this.blank) {
    if (b && !this.model.get("busy")) this.model.send({ do: "lay", sheet: this.sheet.number, blank: b.blank, copy: b.copy, how: what });
    else this.show();
  }

  show() {
    const hadFocus = this.root.contains(this.root.getRootNode().activeElement);
    const focused = this.root.getRootNode().activeElement?.dataset?.key;
    const all = this.model.get("sheets");
    if (!all.length) return;
    // A blank that went to another sheet is followed there.
    if (this.chosen && !this.blank) this.number = all.find((s) => s.blanks.some((b) => key(b) === this.chosen))?.number ?? this.number;
    this.number = this.sheet.number;
    if (!this.blank) this.chosen = this.sheet.blanks[0] ? key(this.sheet.blanks[0]) : "";
    this.nav.replaceChildren(...all.map((s) => this.tab(s)));
    const words = `sheet ${this.number}, ${this.sheet.metal}, ${this.sheet.plate}, ${this.sheet.size}, ${count(this.sheet.blanks.length)}`;
    const large = picture(this.sheet, { class: "tb-plate", role: "group", "aria-label": words }, (g, b) => this.hold(g, b));
    large.style.maxHeight = `${this.model.get("height")}px`;
    this.place.replaceChildren(large);
    this.form.replaceChildren(...this.tools());
    const [text = "", severity = ""] = this.model.get("said");
    this.said.textContent = text;
    this.said.dataset.severity = severity;
    if (hadFocus && focused) [...this.root.querySelectorAll("[data-key]")].find((e) => e.dataset.key === focused)?.focus();
  }

  tab(s) {
    const e = make("button", { type: "button" }, `${s.number}: ${s.metal}`, make("span", { textContent: `${s.plate}, ${count(s.blanks.length)}` }));
    e.prepend(picture(s, { "aria-hidden": "true" }));
    e.setAttribute("aria-pressed", String(s.number === this.number));
    e.dataset.key = `sheet ${s.number}`;
    e.onclick = () => {
      this.number = s.number;
      this.chosen = "";
      this.show();
    };
    return e;
  }

  choose(b) {
    if (this.chosen === key(b)) return;
    this.chosen = key(b);
    this.show();
  }

  /** Make a blank of the large picture one that a hand or the keyboard takes. */
  hold(g, b) {
    named(this.sheet, b, g, this.scale, key(b) === this.chosen);
    const marks = { tabindex: 0, role: "button", "aria-label": told(b), "aria-pressed": String(key(b) === this.chosen) };
    for (const [name, value] of Object.entries(marks)) g.setAttribute(name, value);
    g.classList.toggle("tb-chosen", key(b) === this.chosen);
    g.dataset.key = key(b);
    g.onkeydown = (e) => this.key(e, b);
    g.onpointerdown = (e) => {
      if (e.button) return;
      e.preventDefault();
      const to = g.ownerSVGElement.getScreenCTM().inverse();
      const at = (p) => new DOMPoint(p.clientX, p.clientY).matrixTransform(to);
      const from = at(e);
      const way = (p) => ({ x: at(p).x - from.x, y: at(p).y - from.y });
      let moved = false;
      g.setPointerCapture(e.pointerId);
      g.onpointermove = (p) => {
        moved ||= Math.hypot(p.clientX - e.clientX, p.clientY - e.clientY) > 4;
        const { x, y } = way(p);
        if (moved) g.setAttribute("transform", `translate(${x} ${y})`);
      };
      g.onpointerup = g.onpointercancel = (p) => {
        g.onpointermove = g.onpointerup = g.onpointercancel = null;
        const { x, y } = way(p);
        this.chosen = key(b);
        if (moved && p.type === "pointerup") this.send({ right: Number(x.toFixed(1)), up: Number((-y).toFixed(1)) }, b);
        else this.show();
        [...this.root.querySelectorAll(".tb-plate [data-key]")].find((o) => o.dataset.key === key(b))?.focus();
      };
    };
  }

  key(e, b) {
    if (e.altKey || e.ctrlKey || e.metaKey) return;
    const step = e.shiftKey ? 10 : 1;
    const ways = { ArrowLeft: { right: -step }, ArrowRight: { right: step }, ArrowUp: { up: step }, ArrowDown: { up: -step } };
    const what = ways[e.key] ?? { r: { turn: 90 }, l: { locked: !b.locked } }[e.key.toLowerCase()];
    this.chosen = key(b);
    if (what) this.send(what, b);
    else if (e.key === "Enter" || e.key === " ") this.show();
    else return;
    e.preventDefault();
    e.stopPropagation();
  }

  tools() {
    const b = this.blank;
    const busy = this.model.get("busy");
    const field = (name, label, value) => {
      const input = make("input", { type: "text", value, inputMode: "decimal", autocomplete: "off" });
      input.dataset.key = name;
      input.onchange = () => this.send({ [name]: input.value });
      input.onkeydown = (e) => {
        if (e.key !== "Enter") return;
        e.stopPropagation();
        input.blur();
      };
      return make("label", {}, label, input);
    };
    const button = (words, go, off = false) => {
      const e = make("button", { type: "button", textContent: words, disabled: busy || off });
      e.dataset.key = words;
      e.onclick = go;
      return e;
    };
    const which = make("select", {}, ...this.sheet.blanks.map((o) => make("option", { value: key(o), textContent: key(o), selected: key(o) === this.chosen })));
    which.dataset.key = "blank";
    which.onchange = () => {
      this.chosen = which.value;
      this.show();
    };
    const out = [make("label", {}, "blank", which)];
    if (b) {
      out.push(field("left", "from the left, mm", b.left), field("bottom", "from below, mm", b.bottom), field("angle", "turned, degrees", b.angle));
      out.push(button("Turn by 90 degrees", () => this.send({ turn: 90 })), button(b.locked ? "Unlock" : "Lock", () => this.send({ locked: !b.locked })));
      for (const n of this.sheet.others) out.push(button(`Move to sheet ${n}`, () => this.send({ to: n })));
    }
    out.push(button("Nest the rest around what is locked", () => this.model.send({ do: "around", sheet: this.sheet.number })));
    out.push(button("Undo", () => this.model.send({ do: "undo" })));
    return out;
  }
}

export default {
  render({ model, el }) {
    const root = make("div", { className: "tb-sheets" });
    root.addEventListener("focusin", (e) => (e.target.dataset.lmSuppressShortcuts = "true"));
    const page = new Page(model, root);
    const show = () => page.show();
    for (const name of ["sheets", "said", "busy", "height"]) model.on(`change:${name}`, show);
    el.append(root);
    show();
    let wide = root.clientWidth;
    const sized = new ResizeObserver(() => {
      if (root.clientWidth !== wide) show();
      wide = root.clientWidth;
    });
    sized.observe(root);
    return () => {
      sized.disconnect();
      for (const name of ["sheets", "said", "busy", "height"]) model.off(`change:${name}`, show);
      root.remove();
    };
  },
};
