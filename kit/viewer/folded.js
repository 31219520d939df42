// The folded part in space: a canvas that draws a model, says what one points at, and can be told what to mark.

import {
  BackSide,
  BufferAttribute,
  BufferGeometry,
  DirectionalLight,
  DoubleSide,
  FrontSide,
  Group,
  HemisphereLight,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshBasicMaterial,
  MeshLambertMaterial,
  Plane,
  Scene,
  Vector3,
  WebGLRenderer,
} from "three";
import { Field } from "./field.js";
import { gestures } from "./gestures.js";
import { Measure } from "./measure.js";
import { Members } from "./members.js";
import { byGroup, colours, corners, cornersOf, handle, middle, model, plugs, sameGroups, trianglesOf } from "./mesh.js";
import { Turntable, VIEWS } from "./orbit.js";
import { palette } from "./palette.js";
import { nearest } from "./pick.js";
import { short } from "./ramp.js";

const BARE = ["panel", "edge", "bought"]; // what is no feature of its own: every kind of form is one

/**
 * View of a folded part. Events on `element`, all bubbling CustomEvents:
 * "tinbook:hover" and "tinbook:pick" with detail {name, kind, label} or {name: ""},
 * "tinbook:drawn" with detail {stamp} once the geometry of that stamp has gone to the GPU.
 */
export class FoldedView {
  constructor(element) {
    this.element = element;
    this.data = model({});
    this.theme = "light";
    this.stamp = 0;
    this.section = { axis: "", at: 0.5, flip: false };
    this.marked = "";
    this.pointed = "";
    this.build();
  }

  build() {
    this.renderer = new WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
    this.renderer.setPixelRatio(Math.min(devicePixelRatio || 1, 2));
    this.canvas = this.renderer.domElement;
    this.canvas.tabIndex = 0;
    this.canvas.className = "tb-canvas";
    this.canvas.setAttribute("role", "img");
    this.tip = document.createElement("div");
    this.tip.className = "tb-tip";
    this.tip.hidden = true;
    this.element.append(this.canvas, this.tip);

    this.table = new Turntable(() => this.redraw());
    this.scene = new Scene();
    this.lamp = new DirectionalLight(0xffffff, 1.7);
    this.scene.add(new HemisphereLight(0xffffff, 0x8a8f96, 1.5), this.lamp, this.lamp.target);

    this.cut = new Plane();
    const offset = { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 };
    this.sheet = new Mesh(
      new BufferGeometry(),
      new MeshLambertMaterial({ vertexColors: true, flatShading: true, side: DoubleSide, ...offset }),
    );
    // Where a section opens the sheet one sees the inside of its skins: painted plain, they read as the cut face.
    this.inside = new Mesh(this.sheet.geometry, new MeshBasicMaterial({ side: BackSide, ...offset }));
    this.inside.visible = false;
    this.lines = new LineSegments(new BufferGeometry(), new LineBasicMaterial({ transparent: true, opacity: 0.75 }));
    this.marks = new Group();
    this.field = new Field(() => this.redraw());
    this.members = new Members();
    this.measure = new Measure(this);
    const drawn = [this.sheet, this.inside, this.lines, this.marks, this.field.group, this.members.group];
    this.scene.add(...drawn, this.measure.group);

    this.deaf = gestures(this.canvas, {
      drag: (dx, dy, shifted) => this.drag(dx, dy, shifted),
      zoom: (factor, x, y) => this.zoom(factor, x, y),
      point: (x, y) => this.point(x, y),
      press: (x, y) => this.press(x, y),
      key: (e) => this.key(e),
    });
    this.sizes = new ResizeObserver(() => this.resize());
    this.sizes.observe(this.element);
    this.resize();
    this.setTheme(this.theme);
  }

  /** Show a model (see mesh.js); the camera stays unless the part would leave the picture. */
  setModel(data, stamp = 0) {
    const before = this.data;
    const first = !before.box;
    if (this.members.on) this.members.set({ bodies: {}, members: [] });
    this.data = model(data);
    this.stamp = stamp;
    this.fresh = true;
    this.lists = this.soup = this.plugs = null;
    this.fill(this.sheet.geometry, "position", corners(this.data, this.room(this.sheet, "position", 9)), 3);
    if (!sameGroups(before, this.data)) this.paint();
    // A copy: the bytes of a message belong to whoever sent it and are written over here next time.
    this.fill(this.lines.geometry, "position", this.data.edges.slice(), 3);
    if (first) this.table.fit(this.data.box);
    else this.table.follow(this.data.box);
    this.measure.clear();
    this.showField();
    if (first) this.redraw();
    else this.drawNow();
  }

  /** Show an assembly (see members.js) in place of a part; one without members makes way for a part. */
  setMembers(scene, stamp = 0) {
    const first = !this.data.box;
    this.members.set(scene);
    const groups = this.members.list.map((m) => ({ name: m.key, kind: m.kind, label: m.label }));
    this.data = { ...model({}), groups, box: this.members.box() };
    this.stamp = stamp;
    this.fresh = true;
    for (const m of [this.sheet, this.lines]) m.geometry.deleteAttribute("position");
    if (first) this.table.fit(this.data.box);
    else this.table.follow(this.data.box);
    this.measure.clear();
    this.showField();
    this.redraw();
  }

  /** The groups whose kinds one sees: of a part, or of all bodies of an assembly. */
  get groups() {
    return this.members.on ? [...this.members.bodies.values()].flatMap((b) => b.data.groups) : this.data.groups;
  }

  /** Draw the members of an assembly apart, 0 to 1, and keep them in the picture. */
  pull(share) {
    this.members.pull(share);
    this.data.box = this.members.box();
    if (!this.table.holds(this.data.box)) this.table.fit(this.data.box);
    this.measure.clear();
    this.placeSection();
    this.redraw();
  }

  /** Put the members of an assembly together in their order, 0 to 1, and mark the one that moves. */
  put(share) {
    const moving = this.members.put(share);
    this.pull(this.members.apart);
    this.hover(moving?.key ?? "");
  }

  /** Move what one movement of an assembly moves, and keep it in the picture. */
  move(name, amount) {
    this.members.move(name, amount);
    this.pull(this.members.apart);
  }

  /** Hide members by name. */
  hide(names) {
    this.members.hide(names);
    this.redraw();
  }

  /** Light what meets what [{a, b, kind}]. */
  setLinks(links) {
    this.members.links = links;
    this.mark();
    this.redraw();
  }

  /** Colour the part by a result (see field.js) in place of its kinds; null for the part as it is. */
  setField(field) {
    this.tip.hidden = true;
    this.field.set(field);
    if (this.field.on && !matchMedia("(prefers-reduced-motion: reduce)").matches) this.swing();
    this.showField();
    this.redraw();
  }

  /** Let a mode shape swing; it waits while nobody can see it. */
  swing() {
    this.field.swing(() => {
      const r = this.canvas.getBoundingClientRect();
      return r.bottom > 0 && r.top < innerHeight && !document.hidden;
    });
  }

  showField() {
    const { on, data } = this.field;
    this.sheet.visible = !on && !this.members.on;
    this.members.group.visible = !on;
    this.lines.visible = !this.members.on;
    this.lines.material.opacity = on ? 0.25 : 0.75;
    // Without colours the part lies on a dark edge; coloured it stands before the page.
    const p = palette(this.theme);
    this.lines.material.color.set(on ? p.ink : p.line);
    this.field.setInk(p.ink);
    const said = on ? ` Coloured by ${data.title}, ${short(data.low)} to ${short(data.high)} ${data.unit}.` : "";
    this.canvas.setAttribute("aria-label", this.words() + said);
    this.placeSection();
    this.mark();
  }

  words() {
    if (this.members.on) return `Assembly of ${this.members.list.length} members. Arrow keys turn it, N and P step through them.`;
    // By name: a fold, or a hole over a fold, lies in several groups.
    const kinds = new Map(this.data.groups.map((g) => [g.name, g.kind]));
    const counts = {};
    for (const kind of kinds.values()) if (!BARE.includes(kind)) counts[kind] = (counts[kind] ?? 0) + 1;
    const list = Object.entries(counts).map(([kind, n]) => `${n} ${kind}${n > 1 ? "s" : ""}`);
    return `Folded part, ${list.join(", ") || "no features"}. Arrow keys turn it, N and P step through its features.`;
  }

  // The array that a geometry already has, when the new model needs one of the same length.
  room(mesh, name, per) {
    const old = mesh.geometry.getAttribute(name)?.array;
    return old?.length === this.data.groupOf.length * per ? old : undefined;
  }

  fill(geometry, name, array, size, normalized = false) {
    const old = geometry.getAttribute(name);
    if (old?.array.length === array.length) {
      if (old.array !== array) old.array.set(array);
      old.needsUpdate = true;
    } else {
      geometry.dispose();
      geometry.setAttribute(name, new BufferAttribute(array, size, normalized));
    }
    geometry.boundingSphere = this.data.ball;
  }

  paint() {
    const colour = colours(this.data, palette(this.theme), this.room(this.sheet, "color", 12));
    this.fill(this.sheet.geometry, "color", colour, 4, true);
  }

  /** Turn to "light" or "dark". */
  setTheme(theme) {
    this.theme = theme;
    const p = palette(theme);
    this.inside.material.color.set(p.section);
    this.measure.paint(p);
    this.members.paint(p);
    this.paint();
    this.showField();
    this.redraw();
  }

  /** Mark everything of that name ("" for nothing), as if it had been picked, without an event. */
  highlight(name) {
    this.marked = name ?? "";
    this.mark();
    this.redraw();
  }

  /** Mark lightly what another view points at. */
  hover(name) {
    if (this.pointed === (name ?? "")) return;
    this.pointed = name ?? "";
    this.mark();
    this.redraw();
  }

  /** Cut the picture across "x", "y" or "z" ("" for no cut) at a fraction of the part's size. */
  setSection(section) {
    Object.assign(this.section, section);
    this.placeSection();
    this.mark();
    this.redraw();
  }

  placeSection() {
    const { axis, at, flip } = this.section;
    const k = "xyz".indexOf(axis);
    const on = axis !== "" && k >= 0 && this.data.box !== null;
    this.inside.visible = on && !this.field.on && !this.members.on;
    const side = on ? FrontSide : DoubleSide;
    if (this.sheet.material.side !== side) Object.assign(this.sheet.material, { side, needsUpdate: true });
    this.renderer.localClippingEnabled = on;
    if (on) {
      const [low, high] = this.data.box;
      const where = low[k] + (high[k] - low[k]) * at;
      const normal = new Vector3().setComponent(k, flip ? 1 : -1);
      this.cut.set(normal, flip ? -where : where);
    }
    for (const m of [this.sheet, this.inside, this.lines]) m.material.clippingPlanes = on ? [this.cut] : null;
    this.field.clip(on ? [this.cut] : null);
    this.members.clip(on ? [this.cut] : null);
  }

  /** Look from one of VIEWS, or ("fit") only bring the whole part into the picture. */
  look(name) {
    if (name !== "fit") this.table.look(name);
    this.table.fit(this.data.box);
  }

  mark() {
    for (const m of this.marks.children) {
      m.geometry.dispose();
      m.material.dispose();
    }
    this.marks.clear();
    if (this.members.on) return this.members.look(this.marked, this.pointed);
    const p = palette(this.theme);
    if (this.pointed && this.pointed !== this.marked) this.overlay(this.pointed, p.hover, 0.45);
    if (this.marked) this.overlay(this.marked, p.mark, 0.8);
  }

  overlay(name, colour, opacity) {
    const group = this.data.groups.find((g) => g.name === name);
    if (!group) return;
    const shape = new BufferGeometry();
    const soup = handle(this.data, trianglesOf(this.data, name), group.kind);
    shape.setAttribute("position", new BufferAttribute(soup, 3));
    const clippingPlanes = this.sheet.material.clippingPlanes;
    const common = { color: colour, transparent: true, side: DoubleSide, depthWrite: false, clippingPlanes };
    // Faint through the sheet, strong in front: a feature on the far side can still be found.
    this.marks.add(
      new Mesh(shape, new MeshBasicMaterial({ ...common, opacity: opacity * 0.35, depthTest: false })),
      new Mesh(shape, new MeshBasicMaterial({ ...common, opacity })),
    );
  }

  // Lists of triangles by group and the plugs of holes, worked out when first asked for.
  index() {
    if (!this.lists) {
      this.lists = byGroup(this.data);
      this.plugs = plugs(this.data, this.lists);
      this.soup = corners(this.data);
    }
    return { lists: this.lists, plugs: this.plugs, soup: this.soup };
  }

  // The ray through a point of the canvas in px, and what the section leaves of it; null without a picture.
  ray(x, y) {
    const { clientWidth: w, clientHeight: h } = this.canvas;
    if (!w || !h || !this.data.box) return null;
    const camera = this.table.camera;
    const far = new Vector3((2 * x) / w - 1, 1 - (2 * y) / h, 0.5).unproject(camera);
    const on = this.section.axis !== "";
    const n = this.cut.normal;
    return {
      origin: camera.position.toArray(),
      direction: far.sub(camera.position).normalize().toArray(),
      keep: on ? (px, py, pz) => n.x * px + n.y * py + n.z * pz + this.cut.constant >= 0 : null,
    };
  }

  /** Return what the coloured result is under a point of the canvas in px, in words, "" for nothing. */
  valueAt(x, y) {
    const ray = this.ray(x, y);
    const hit = ray && nearest(this.field.corners(), ray.origin, ray.direction, ray.keep);
    if (!hit) return "";
    const { over, high, unit, swings } = this.field.data;
    const value = this.field.value(hit.index);
    if (over && value > high) return over;
    return unit ? `${short(value)} ${unit}` : `${Math.round(value * 100)} % of the greatest${swings ? " swing" : ""}`;
  }

  /** Return how far along a ray the metal is, Infinity for none; the air of a hole is none. */
  reach(ray) {
    if (this.members.on) return this.members.reach(ray);
    return nearest(this.index().soup, ray.origin, ray.direction, ray.keep)?.distance ?? Infinity;
  }

  /** Return the group under a point of the canvas in px, or null. */
  at(x, y) {
    const ray = this.ray(x, y);
    if (!ray) return null;
    if (this.members.on) {
      const member = this.members.at(ray);
      return member && this.data.groups[this.members.list.indexOf(member)];
    }
    const { soup, plugs } = this.index();
    const { origin, direction, keep } = ray;
    const hit = nearest(soup, origin, direction, keep);
    let found = hit ? this.data.groupOf[hit.index] : -1;
    let limit = hit?.distance ?? Infinity;
    plugs.forEach((p, i) => {
      const through = p && nearest(p, origin, direction, keep, limit);
      if (through) [found, limit] = [i, through.distance];
    });
    return this.data.groups[found] ?? null;
  }

  point(x, y) {
    this.waiting = x === null ? null : [x, y];
    if (this.looking) return;
    this.looking = requestAnimationFrame(() => {
      this.looking = 0;
      const group = this.waiting && this.at(...this.waiting);
      if (this.field.on) this.say(this.waiting && !this.field.running ? this.valueAt(...this.waiting) : "", this.waiting);
      else this.show(group, this.waiting);
      const name = group?.name ?? "";
      if (name === this.pointed) return;
      this.hover(name);
      this.tell("hover", group);
    });
  }

  press(x, y) {
    if (this.measure.on) return this.measure.press(x, y);
    const group = this.at(x, y);
    this.pick(group?.name === this.marked ? null : group);
  }

  pick(group) {
    this.highlight(group?.name ?? "");
    this.tell("pick", group);
  }

  tell(what, group) {
    const detail = group ? { name: group.name, kind: group.kind, label: group.label ?? "" } : { name: "" };
    this.element.dispatchEvent(new CustomEvent(`tinbook:${what}`, { bubbles: true, detail }));
  }

  show(group, place) {
    this.say(group?.name ? group.label || group.name : "", place ?? (group?.name ? this.project(group) : null));
  }

  say(text, place) {
    this.tip.hidden = !text;
    if (this.tip.hidden) return;
    // As text, never as markup: names come from a user's file.
    this.tip.textContent = text;
    const { clientWidth: w, clientHeight: h } = this.element;
    const [x, y] = place;
    this.tip.style.left = `${Math.max(4, Math.min(x + 14, w - this.tip.offsetWidth - 4))}px`;
    this.tip.style.top = `${Math.max(4, Math.min(y + 14, h - this.tip.offsetHeight - 4))}px`;
  }

  // Where the middle of a group is in the picture, px.
  project(group) {
    const member = this.members.list[this.data.groups.indexOf(group)];
    if (member) return this.onCanvas(this.members.middle(member));
    const list = this.index().lists[this.data.groups.indexOf(group)] ?? [];
    if (!list.length) return [8, 8];
    return this.onCanvas(new Vector3(...middle(cornersOf(this.data, list))));
  }

  onCanvas(point) {
    const p = point.project(this.table.camera);
    return [((p.x + 1) / 2) * this.canvas.clientWidth, ((1 - p.y) / 2) * this.canvas.clientHeight];
  }

  drag(dx, dy, shifted) {
    this.tip.hidden = true;
    const h = this.canvas.clientHeight || 1;
    if (shifted) this.table.pan(dx / h, -dy / h);
    else this.table.orbit((-dx / h) * 3.5, (dy / h) * 3.5);
  }

  zoom(factor, x, y) {
    const { clientWidth: w, clientHeight: h } = this.canvas;
    this.table.zoom(factor, (2 * x) / w - 1, 1 - (2 * y) / h);
  }

  key(e) {
    const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (arrow && e.shiftKey) this.table.pan(arrow[0] * 0.05, arrow[1] * 0.05);
    else if (arrow) this.table.orbit(arrow[0] * 0.13, arrow[1] * 0.13);
    else if (e.key === "+" || e.key === "=") this.table.zoom(0.85);
    else if (e.key === "-") this.table.zoom(1 / 0.85);
    else if (e.key === "0" || e.key === "Home") this.look("fit");
    else if (VIEWS[Number(e.key) - 1]) this.look(VIEWS[Number(e.key) - 1][0]);
    else if (e.key === "n" || e.key === "p") this.step(e.key === "n" ? 1 : -1);
    else if (e.key === "m") this.measure.turn(!this.measure.on);
    else if (e.key === "Enter" && this.measure.on) this.measure.takeMarked();
    else if (e.key === "Escape" && this.measure.on) this.measure.turn(false);
    else if (e.key === "Escape" && this.marked) this.pick(null), (this.tip.hidden = true);
    else return false;
    return true;
  }

  step(by) {
    const list = this.data.groups.filter((g) => g.name && (this.members.on || !BARE.includes(g.kind)));
    if (!list.length) return;
    const now = list.findIndex((g) => g.name === this.marked);
    const next = now < 0 && by < 0 ? list.length - 1 : (now + by + list.length) % list.length;
    this.pick(list[next]);
    this.show(list[next], null);
  }

  resize() {
    const { clientWidth: w, clientHeight: h } = this.element;
    if (!w || !h) return;
    this.renderer.setSize(w, h, false);
    this.table.camera.aspect = w / h;
    // Fitted anew, because the first size of an element that is being laid out may be a few px.
    if (!this.table.own) this.table.fit(this.data.box);
    this.table.place();
  }

  redraw() {
    if (this.frame || this.gone) return;
    this.frame = requestAnimationFrame(() => {
      this.frame = 0;
      this.draw();
    });
  }

  // What changes while a slider moves goes to the GPU without waiting for the next frame, once in each frame.
  drawNow() {
    if (this.drawn || this.gone || document.hidden) return this.redraw();
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    this.drawn = requestAnimationFrame(() => (this.drawn = 0));
    this.draw();
  }

  draw() {
    this.lamp.position.copy(this.table.camera.position);
    const { x, y } = this.table.axes();
    this.lamp.position.addScaledVector(x, -this.table.distance * 0.35).addScaledVector(y, this.table.distance * 0.45);
    this.lamp.target.position.copy(this.table.target);
    this.measure.placeText();
    this.renderer.render(this.scene, this.table.camera);
    if (!this.fresh) return;
    this.fresh = false;
    this.element.dispatchEvent(new CustomEvent("tinbook:drawn", { bubbles: true, detail: { stamp: this.stamp } }));
  }

  /** Give the GPU's memory and all listeners back. */
  dispose() {
    this.gone = true;
    for (const due of [this.frame, this.drawn, this.looking]) cancelAnimationFrame(due);
    this.deaf();
    this.field.dispose();
    this.members.dispose();
    this.measure.dispose();
    this.table.hold();
    this.sizes.disconnect();
    for (const m of [this.sheet, this.inside, this.lines, ...this.marks.children]) {
      m.geometry.dispose();
      m.material.dispose();
    }
    this.renderer.dispose();
    this.renderer.forceContextLoss();
    this.element.replaceChildren();
  }
}
