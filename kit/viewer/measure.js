// Two points measured: their distance, and its parts along the part's own axes.

import { BufferAttribute, BufferGeometry, Group, LineBasicMaterial, LineSegments, Points, PointsMaterial, Vector3 } from "three";
import { cornersOf, middle } from "./mesh.js";

const NEAR = 9; // px from a corner at which the corner is meant

/** Measures in a FoldedView; while it is on, a press sets a point instead of picking. */
export class Measure {
  constructor(view) {
    this.view = view;
    this.on = false;
    this.points = [];
    this.group = new Group();
    const options = { depthTest: false, transparent: true };
    this.line = new LineSegments(new BufferGeometry(), new LineBasicMaterial(options));
    this.dots = new Points(new BufferGeometry(), new PointsMaterial({ ...options, size: 9, sizeAttenuation: false }));
    for (const o of [this.line, this.dots]) {
      o.renderOrder = 2;
      o.frustumCulled = false;
      this.group.add(o);
    }
    this.text = document.createElement("div");
    this.text.className = "tb-measure";
    this.text.setAttribute("role", "status");
    this.text.hidden = true;
    view.element.append(this.text);
    this.onturn = () => {};
    this.show();
  }

  /** Begin or end measuring. */
  turn(on) {
    this.on = on;
    this.points = [];
    this.show();
    this.onturn(on);
    this.view.redraw();
  }

  /** Forget the points: they belong to another shape. */
  clear() {
    if (!this.points.length) return;
    this.points = [];
    this.show();
  }

  /** Set a point where the metal is seen, on a corner if one is near; a third point begins anew. */
  press(x, y) {
    const point = this.corner(x, y) ?? this.surface(x, y);
    if (point) this.add(point);
  }

  /** Set a point in the middle of the feature that is marked, for the keyboard. */
  takeMarked() {
    const { view } = this;
    const group = view.data.groups.findIndex((g) => g.name && g.name === view.marked);
    if (group < 0) return;
    const member = view.members.list[group];
    const list = member ? null : view.index().lists[group];
    this.add(member ? view.members.middle(member) : new Vector3(...middle(cornersOf(view.data, list))));
  }

  add(point) {
    if (this.points.length === 2) this.points = [];
    this.points.push(point);
    this.show();
    this.view.redraw();
  }

  /** Distance of the two points and its parts along x, y and z, mm; null before there are two. */
  get result() {
    if (this.points.length < 2) return null;
    const [a, b] = this.points;
    return { distance: a.distanceTo(b), parts: b.clone().sub(a).toArray().map(Math.abs) };
  }

  surface(x, y) {
    const ray = this.view.ray(x, y);
    const reach = ray ? this.view.reach(ray) : Infinity;
    if (!Number.isFinite(reach)) return null;
    return new Vector3(...ray.origin).addScaledVector(new Vector3(...ray.direction), reach);
  }

  // The nearest end of a drawn line that is seen: one behind the sheet, or cut away, is not meant.
  corner(x, y) {
    const { view } = this;
    const ends = view.members.on ? view.members.ends() : view.data.edges;
    const near = [];
    const p = new Vector3();
    for (let i = 0; i < ends.length; i += 3) {
      const [px, py] = view.onCanvas(p.set(ends[i], ends[i + 1], ends[i + 2]));
      const far = Math.hypot(px - x, py - y);
      if (far < NEAR) near.push([far, i]);
    }
    near.sort((a, b) => a[0] - b[0]);
    for (const [, i] of near) {
      const corner = new Vector3(ends[i], ends[i + 1], ends[i + 2]);
      if (this.seen(corner)) return corner;
    }
    return null;
  }

  seen(point) {
    const ray = this.view.ray(...this.view.onCanvas(point.clone()));
    if (!ray || (ray.keep && !ray.keep(point.x, point.y, point.z))) return false;
    const far = point.distanceTo(new Vector3(...ray.origin));
    return this.view.reach(ray) > far * (1 - 1e-4) - 0.05;
  }

  show() {
    const flat = new Float32Array(this.points.flatMap((p) => p.toArray()));
    for (const o of [this.line, this.dots]) {
      o.geometry.dispose();
      o.geometry = new BufferGeometry();
      o.geometry.setAttribute("position", new BufferAttribute(flat, 3));
    }
    this.line.visible = this.points.length === 2;
    this.dots.visible = this.points.length > 0;
    this.text.hidden = !this.on;
    const found = this.result;
    const [x, y, z] = (found?.parts ?? []).map((v) => v.toFixed(2));
    const asked = this.points.length ? "press the second point" : "press the first point, or Enter for the marked feature";
    this.text.textContent = found ? `${found.distance.toFixed(2)} mm (x ${x}, y ${y}, z ${z})` : asked;
  }

  /** Put the text beside the second point, as the camera stands. */
  placeText() {
    if (this.text.hidden) return;
    const last = this.points.at(-1);
    const [x, y] = last ? this.view.onCanvas(last.clone()) : [8, 8];
    const { clientWidth: w, clientHeight: h } = this.view.element;
    this.text.style.left = `${Math.max(4, Math.min(x + 12, w - this.text.offsetWidth - 4))}px`;
    this.text.style.top = `${Math.max(4, Math.min(y - 28, h - this.text.offsetHeight - 4))}px`;
  }

  paint(palette) {
    for (const o of [this.line, this.dots]) o.material.color.set(palette.mark);
  }

  dispose() {
    for (const o of [this.line, this.dots]) {
      o.geometry.dispose();
      o.material.dispose();
    }
  }
}
