// Folded part and flat pattern side by side, each marking what is picked in the other.

import { choice, make } from "./elements.js";
import { FlatView } from "./flat.js";
import { FoldedView } from "./folded.js";
import { VIEWS } from "./orbit.js";
import { KINDS, palette } from "./palette.js";
import { Parts } from "./parts.js";
import { BANDS, BEYOND, short } from "./ramp.js";
import css from "./style.css";
import { watchTheme } from "./theme.js";

/**
 * Both views in one element. `options.theme` is "auto", "light" or "dark"; `options.plane` is false for a part without
 * its flat pattern.
 * Call update({positions, triangles, groupOf, groups, edges, svg, stamp}) with whatever changed.
 * Events of the two views bubble up to `element`.
 */
export class Pair {
  constructor(element, options = {}) {
    this.element = element;
    element.classList.add("tb-pair");
    const [folded, flat] = [make("div", { className: "tb-stage" }), make("div", { className: "tb-stage" })];
    const [spaceBar, planeBar] = [make("div", { className: "tb-bar" }), make("div", { className: "tb-bar" })];
    this.legend = make("div", { className: "tb-legend" });
    this.scale = make("div", { className: "tb-scale", hidden: true });
    this.moves = make("div", { className: "tb-bar tb-moves", hidden: true });
    this.layers = make("span", { className: "tb-layers" });
    this.note = make("div", { className: "tb-note", hidden: true });
    this.note.setAttribute("role", "status");
    this.list = make("div", { className: "tb-parts", hidden: true });
    this.parts = new Parts(this.list, {
      pick: (name) => this.folded?.pick(this.folded.data.groups.find((g) => g.name === name) ?? null),
      hide: (names) => this.folded?.hide(names),
    });
    element.append(
      make("style", { textContent: css }),
      make("div", { className: "tb-side tb-space" }, spaceBar, this.moves, folded, this.legend, this.scale),
      make("div", { className: "tb-side tb-plane" }, planeBar, flat, this.list),
      this.note,
    );
    try {
      this.folded = new FoldedView(folded);
    } catch (error) {
      // No WebGL: the flat pattern still works.
      folded.replaceChildren(make("p", { className: "tb-sorry", textContent: `No 3-D picture here: ${error.message}` }));
    }
    this.flat = new FlatView(flat);
    if (this.folded) this.fillSpaceBar(spaceBar);
    this.fillPlaneBar(planeBar);
    this.ofPart = [planeBar, flat];
    this.plane = options.plane ?? true;
    this.link(folded, flat);
    this.setTheme(options.theme ?? "auto");
  }

  fillSpaceBar(bar) {
    const look = choice("look from", [["", "look from …"], ...VIEWS.map(([name]) => [name, name])], (name) => {
      if (name) this.folded.look(name);
      look.value = "";
    });
    const where = make("input", { type: "range", min: 0, max: 1, step: 0.005, value: 0.5, hidden: true });
    where.setAttribute("aria-label", "place of the section");
    where.oninput = () => this.folded.setSection({ at: Number(where.value) });
    const turn = make("button", { type: "button", textContent: "other half", hidden: true });
    turn.onclick = () => this.folded.setSection({ flip: !this.folded.section.flip });
    const axes = [["", "no section"], ["x", "cut across x"], ["y", "cut across y"], ["z", "cut across z"]];
    const cut = choice("section", axes, (axis) => {
      where.hidden = turn.hidden = axis === "";
      this.folded.setSection({ axis });
    });
    const whole = make("button", { type: "button", textContent: "whole part", title: "show the whole part (key 0)" });
    whole.onclick = () => this.folded.look("fit");
    const ruler = make("button", { type: "button", textContent: "measure", title: "measure between two points (key m)" });
    ruler.setAttribute("aria-pressed", "false");
    ruler.onclick = () => this.folded.measure.turn(!this.folded.measure.on);
    this.folded.measure.onturn = (on) => ruler.setAttribute("aria-pressed", String(on));
    this.swing = make("button", { type: "button", hidden: true });
    this.swing.onclick = () => {
      if (this.folded.field.running) this.folded.field.hold();
      else this.folded.swing();
      this.nameSwing();
    };
    this.pull = make("input", { type: "range", min: 0, max: 1, step: 0.01, value: 0 });
    this.pull.oninput = () => this.folded.pull(Number(this.pull.value));
    this.apart = make("label", { className: "tb-apart", hidden: true }, "apart", this.pull);
    const put = make("input", { type: "range", min: 0, max: 1, step: 0.005, value: 1 });
    put.oninput = () => this.folded.put(Number(put.value));
    this.put = make("label", { className: "tb-apart", hidden: true }, "put together", put);
    bar.append(whole, look, ruler, cut, where, turn, this.apart, this.put, this.swing);
  }

  fillPlaneBar(bar) {
    const whole = make("button", { type: "button", textContent: "whole blank", title: "show the whole blank (key 0)" });
    whole.onclick = () => this.flat.fit();
    bar.append(whole, this.layers);
    this.flat.onlayers = (layers) => {
      this.layers.replaceChildren(
        ...layers.map((name) => {
          const box = make("input", { type: "checkbox", checked: !this.flat.hidden.has(name) });
          box.onchange = () => this.flat.setLayer(name, box.checked);
          return make("label", { className: "tb-layer" }, box, name);
        }),
      );
    };
  }

  link(folded, flat) {
    folded.addEventListener("tinbook:hover", (e) => this.flat.hover(e.detail.name));
    folded.addEventListener("tinbook:pick", (e) => this.flat.highlight(e.detail.name));
    folded.addEventListener("tinbook:pick", (e) => this.parts.mark(e.detail.name));
    flat.addEventListener("tinbook:hover", (e) => this.folded?.hover(e.detail.name));
    flat.addEventListener("tinbook:pick", (e) => this.folded?.highlight(e.detail.name));
  }

  /** Show what changed; keys that are missing stay as they are. */
  update(data) {
    if (data.groups) this.flat.setLabels(new Map(data.groups.map((g) => [g.name, g.label])));
    if (data.triangles) {
      this.showList(false);
      this.folded?.setModel(data, data.stamp);
      this.paintLegend();
    }
    if (data.svg !== undefined) this.flat.setSvg(data.svg);
  }

  /** Show an assembly: {bodies, members, rows}, its list of parts where a part has its flat pattern. */
  setMembers(scene, stamp = 0) {
    this.folded?.setMembers(scene, stamp);
    this.fillMoves(scene.movements ?? []);
    this.showList(true);
    this.parts.set(scene.rows);
    this.folded?.hide(this.parts.hidden);
    this.paintLegend();
  }

  // A slider for each movement, which stays as it is while an assembly keeps its movements.
  fillMoves(movements) {
    const now = JSON.stringify(movements.map(({ name, low, high, unit }) => [name, low, high, unit]));
    if (!this.folded || now === this.movesOf) return;
    this.movesOf = now;
    this.moves.replaceChildren(
      ...movements.map(({ name, low, high, unit }) => {
        const value = this.folded.members.amounts.get(name) ?? 0;
        const slider = make("input", { type: "range", min: low, max: high, step: (high - low) / 100, value });
        const said = make("output", {});
        const tell = () => {
          said.textContent = `${short(Number(slider.value))} ${unit}`;
          slider.setAttribute("aria-valuetext", said.textContent);
        };
        slider.setAttribute("aria-label", name);
        slider.oninput = () => {
          tell();
          this.folded.move(name, Number(slider.value));
        };
        tell();
        return make("label", { className: "tb-apart" }, name, slider, said);
      }),
    );
  }

  showList(on) {
    this.moves.hidden = !on || !this.moves.childElementCount;
    this.list.hidden = !on;
    for (const e of this.ofPart) e.hidden = on;
    this.list.parentElement.hidden = !on && !this.plane;
    if (!this.apart) return;
    this.apart.hidden = !on;
    this.put.hidden = !on || !this.folded.members.list.some((m) => m.turn !== undefined);
  }

  /** Light what meets what in an assembly: [{a, b, kind, text}]. */
  setLinks(links) {
    this.folded?.setLinks(links);
    this.parts.setLinks(links);
  }

  /** Colour the part by a result (see field.js), null for its own colours. */
  setField(field) {
    this.folded?.setField(field);
    const shown = this.folded?.field.on ? this.folded.field : null;
    if (this.swing) this.swing.hidden = !shown?.data.swings;
    this.nameSwing();
    this.legend.hidden = Boolean(shown);
    this.scale.hidden = !shown;
    this.scale.replaceChildren(...(shown ? this.scaleOf(shown) : []));
  }

  nameSwing() {
    if (!this.swing) return;
    const running = Boolean(this.folded.field.running);
    this.swing.textContent = running ? "hold still" : "let it swing";
    this.swing.setAttribute("aria-pressed", String(running));
  }

  scaleOf({ data, scale }) {
    const { title, unit, low, high, over } = data;
    const swatch = (colour) => {
      const e = make("i", {});
      e.style.background = colour;
      return e;
    };
    const number = (share) => make("span", { textContent: short(low + (high - low) * share) });
    const parts = [
      make("div", { textContent: unit ? `${title}, ${unit}` : title }),
      make("div", { className: "tb-bands" }, ...BANDS.map(swatch)),
      make("div", { className: "tb-ticks" }, ...[0, 0.25, 0.5, 0.75, 1].map(number)),
    ];
    if (over) parts.push(make("div", {}, make("span", { className: "tb-beyond" }, swatch(BEYOND), over)));
    if (unit && scale) parts.push(make("div", { textContent: scale > 1 ? `movement drawn ${short(scale)} times` : "movement true to size" }));
    return parts;
  }

  /** Mark a feature by name in both views, without an event. */
  highlight(name) {
    this.folded?.highlight(name);
    this.flat.highlight(name);
    this.parts.mark(name ?? "");
  }

  /** Dim the views and say why ("" when they are up to date). */
  setNote(text) {
    this.note.textContent = text;
    this.note.hidden = !text;
    this.element.classList.toggle("tb-stale", Boolean(text));
  }

  setTheme(theme) {
    this.unwatch?.();
    this.unwatch = null;
    if (theme === "auto") this.unwatch = watchTheme(this.element, (t) => this.applyTheme(t));
    else this.applyTheme(theme);
  }

  applyTheme(theme) {
    this.element.dataset.theme = theme;
    this.folded?.setTheme(theme);
    this.paintLegend();
  }

  paintLegend() {
    const groups = this.folded?.groups ?? [];
    const kinds = Object.keys(KINDS).filter((kind) => groups.some((g) => g.kind === kind));
    const colours = palette(this.element.dataset.theme);
    const now = `${this.element.dataset.theme} ${kinds.join(" ")}`;
    if (now === this.legendOf) return;
    this.legendOf = now;
    this.legend.replaceChildren(
      ...kinds.map((kind) => {
        const dot = make("i", {});
        dot.style.background = colours[kind];
        return make("span", {}, dot, KINDS[kind]);
      }),
    );
  }

  dispose() {
    this.unwatch?.();
    this.folded?.dispose();
    this.flat.dispose();
    this.element.replaceChildren();
  }
}
