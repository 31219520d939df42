// A hit of the fold sequence played: the part in the machine, from laid in to formed.

import { choice, make } from "./elements.js";
import { FoldedView } from "./folded.js";
import { VIEWS } from "./orbit.js";
import css from "./style.css";
import { watchTheme } from "./theme.js";

const LASTS = 2600; // ms of a hit
const FRONT = Math.PI / 3; // from the operator's side, a little from the right
const STILLS = 4; // with reduced motion a hit is shown in so many jumps

/**
 * The view in `element`. `act.step(by)` is called by the buttons for the step before and after, and at the end of a
 * step while it plays on; it returns whether there is such a step. `options.tools` false: a page that has none to show.
 */
export class Film {
  constructor(element, act, options = {}) {
    this.element = element;
    this.act = act;
    this.playing = false;
    element.classList.add("tb-pair", "tb-film");
    const stage = make("div", { className: "tb-stage" });
    const bar = make("div", { className: "tb-bar" });
    this.said = make("div", { className: "tb-words" });
    this.said.setAttribute("role", "status");
    element.append(
      make("style", { textContent: css }),
      make("div", { className: "tb-side tb-space" }, bar, stage, this.said),
    );
    this.view = new FoldedView(stage);
    this.view.table.azimuth = FRONT;
    this.fill(bar, options.tools ?? true);
    this.unwatch = null;
    if ((options.theme ?? "auto") === "auto") this.unwatch = watchTheme(element, (t) => this.applyTheme(t));
    else this.applyTheme(options.theme);
  }

  fill(bar, withTools) {
    const button = (text, title, press) => {
      const e = make("button", { type: "button", textContent: text, title, onclick: press });
      e.setAttribute("aria-label", title);
      return e;
    };
    this.back = button("◂ step", "the step before", () => this.turn(-1));
    this.play = button("play", "play the steps", () => this.run(!this.playing));
    this.play.setAttribute("aria-pressed", "false");
    this.on = button("step ▸", "the step after", () => this.turn(1));
    this.far = make("input", { type: "range", min: 0, max: 1, step: 1, value: 0 });
    this.far.setAttribute("aria-label", "how far the fold is formed");
    this.far.oninput = () => {
      this.run(false);
      this.show(Number(this.far.value));
    };
    const tools = make("input", { type: "checkbox", checked: true });
    tools.onchange = () => this.view.hide(tools.checked ? [] : this.tools());
    this.toolBox = tools;
    const look = choice("look from", [["", "look from …"], ...VIEWS.map(([name]) => [name, name])], (name) => {
      if (name) this.view.look(name);
      look.value = "";
    });
    bar.append(this.back, this.play, this.on, this.far);
    if (withTools) bar.append(make("label", { className: "tb-layer" }, tools, "tools"));
    bar.append(look);
  }

  tools() {
    return this.view.members.list.filter((m) => m.kind !== "part").map((m) => m.name);
  }

  /** Show a step {bodies, members, frames, angles, words, first, last, stamp} as it is laid in; it plays on if it plays. */
  set(step) {
    this.step = step;
    this.view.members.now = 0;
    this.view.setMembers(step, step.stamp);
    this.view.hide(this.toolBox.checked ? [] : this.tools());
    if (!this.view.table.own) this.fit();
    this.far.max = step.frames - 1;
    this.back.disabled = step.first;
    this.on.disabled = step.last;
    this.show(0);
    if (this.playing) this.run(true);
  }

  // The whole hit stays in the picture: the camera holds still while it plays.
  fit() {
    const { view, step } = this;
    const boxes = [0, (step.frames - 1) >> 1, step.frames - 1].map((n) => {
      view.members.frame(n);
      return view.members.box();
    });
    const low = [0, 1, 2].map((k) => Math.min(...boxes.map((b) => b[0][k])));
    const high = [0, 1, 2].map((k) => Math.max(...boxes.map((b) => b[1][k])));
    view.data.box = [low, high];
    view.table.fit(view.data.box);
  }

  /** Show one picture of the step. */
  show(n) {
    this.at = n;
    this.view.members.frame(n);
    this.view.redraw();
    this.far.value = n;
    const turned = `turned ${this.step.angles[n].toFixed(1)}°`;
    this.far.setAttribute("aria-valuetext", turned);
    this.said.textContent = `${this.step.words}; ${turned}`;
  }

  turn(by) {
    if (this.playing) this.run(false);
    this.act.step(by);
  }

  /** Play from where it is, or hold. */
  run(on) {
    this.playing = on;
    this.play.setAttribute("aria-pressed", String(on));
    this.said.setAttribute("aria-live", on ? "off" : "polite");
    cancelAnimationFrame(this.due);
    clearTimeout(this.later);
    if (!on) return;
    if (this.at >= this.step.frames - 1 && this.step.last) this.show(0);
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) this.jump();
    else this.roll();
  }

  roll() {
    let start = null;
    const last = this.step.frames - 1;
    const from = this.at;
    const tick = (now) => {
      start ??= now;
      const n = Math.min(last, from + Math.floor(((now - start) / LASTS) * last));
      if (n !== this.at) this.show(n);
      if (n < last) this.due = requestAnimationFrame(tick);
      else this.later = setTimeout(() => this.next(), LASTS / 4);
    };
    this.due = requestAnimationFrame(tick);
  }

  jump() {
    const last = this.step.frames - 1;
    const n = Math.min(last, Math.round((Math.floor((this.at * STILLS) / last + 1e-9) + 1) * (last / STILLS)));
    this.show(n);
    this.later = setTimeout(() => (n < last ? this.jump() : this.next()), LASTS / STILLS);
  }

  // Played to its end, a step is followed by the next one, which comes from the kernel.
  next() {
    if (!this.playing) return;
    if (this.step.last) this.run(false);
    else this.act.step(1);
  }

  applyTheme(theme) {
    this.element.dataset.theme = theme;
    this.view.setTheme(theme);
  }

  dispose() {
    this.run(false);
    this.unwatch?.();
    this.view.dispose();
    this.element.replaceChildren();
  }
}
