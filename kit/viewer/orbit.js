// Orbit, pan and zoom about an upright z axis, by mouse, touch and keyboard.

import { PerspectiveCamera, Vector3 } from "three";

const RIGHT_ANGLE = Math.PI / 2;
const MARGIN = 1.08; // of the distance at which a part just fills the picture
const LOOSE = 1.45; // so many times farther than needed, or so much off its middle, and a part is too small or aside
const GLIDE = 350; // ms

/** Standard views: name, azimuth and elevation in degrees from which one looks. */
export const VIEWS = [
  ["corner", -60, 32],
  ["above", -90, 90],
  ["below", -90, -90],
  ["front", -90, 0],
  ["rear", 90, 0],
  ["left", 180, 0],
  ["right", 0, 0],
];

/**
 * Camera on a turntable: where it looks (target), from how far, and from which side.
 * `own` says that the user has zoomed or shifted: from then on the part is no longer followed, until it is fitted again.
 */
export class Turntable {
  constructor(changed) {
    this.own = false;
    this.gliding = 0;
    this.camera = new PerspectiveCamera(26, 1, 1, 10000);
    this.target = new Vector3();
    this.distance = 1000;
    this.changed = changed;
    this.look("corner");
  }

  /** Look from a standard side, without moving target or distance. */
  look(name) {
    const view = VIEWS.find((v) => v[0] === name) ?? VIEWS[0];
    this.azimuth = (view[1] * Math.PI) / 180;
    this.elevation = (view[2] * Math.PI) / 180;
    this.place();
  }

  /** Turn by two angles in radians. */
  orbit(right, up) {
    this.azimuth += right;
    this.elevation = Math.min(Math.max(this.elevation + up, -RIGHT_ANGLE), RIGHT_ANGLE);
    this.place();
  }

  /** Move across the picture by fractions of its height. */
  pan(right, up) {
    const h = 2 * this.distance * Math.tan((this.camera.fov * Math.PI) / 360);
    const { x, y } = this.axes();
    this.hold();
    this.own = true;
    this.target.addScaledVector(x, -right * h).addScaledVector(y, -up * h);
    this.place();
  }

  /** Zoom by a factor (below 1 is nearer), keeping the point under (x, y) in -1..1 where it is. */
  zoom(factor, x = 0, y = 0) {
    const h = Math.tan((this.camera.fov * Math.PI) / 360) * this.distance * (1 - factor);
    const axes = this.axes();
    this.hold();
    this.own = true;
    this.target.addScaledVector(axes.x, x * h * this.camera.aspect).addScaledVector(axes.y, y * h);
    this.distance *= factor;
    this.place();
  }

  /** Show a whole box [[x, y, z], [x, y, z]] with a margin. */
  fit(box) {
    if (!box) return;
    this.hold();
    this.own = false;
    this.set(this.goal(box));
  }

  /** Come gently to a part that has grown out of the picture, or has become small in it; a view of one's own stays. */
  follow(box) {
    if (!box || (this.own && this.touches(box))) return;
    const goal = this.goal(box);
    const aside = this.target.distanceTo(goal.target) > 0.15 * this.distance;
    if (!this.own && this.holds(box) && this.distance < goal.distance * LOOSE && !aside) return;
    this.own = false;
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) return this.set(goal);
    this.hold();
    const from = { target: this.target.clone(), distance: this.distance };
    let start = null;
    const step = (now) => {
      start ??= now;
      const share = Math.min((now - start) / GLIDE, 1);
      const eased = share * share * (3 - 2 * share);
      this.set({
        target: from.target.clone().lerp(goal.target, eased),
        distance: from.distance * (goal.distance / from.distance) ** eased,
      });
      this.gliding = share < 1 ? requestAnimationFrame(step) : 0;
    };
    this.gliding = requestAnimationFrame(step);
  }

  /** End a movement of the camera where it is. */
  hold() {
    cancelAnimationFrame(this.gliding);
    this.gliding = 0;
  }

  set({ target, distance }) {
    this.target.copy(target);
    this.distance = distance;
    this.place();
  }

  // Where the camera looks, and from how far, with the whole box in the picture.
  goal(box) {
    const target = new Vector3(...box[0].map((v, k) => (v + box[1][k]) / 2));
    return { target, distance: this.needed(box, target) * MARGIN };
  }

  // Whether any corner of the box, or its middle, is in the picture.
  touches(box) {
    const p = new Vector3();
    for (let i = 0; i < 9; i++) {
      if (i < 8) p.set(box[i & 1][0], box[(i >> 1) & 1][1], box[(i >> 2) & 1][2]);
      else p.set(...box[0].map((v, k) => (v + box[1][k]) / 2));
      p.project(this.camera);
      if (Math.max(Math.abs(p.x), Math.abs(p.y)) < 1) return true;
    }
    return false;
  }

  /** Whether the whole box is in the picture. */
  holds(box) {
    return !box || this.needed(box) <= this.distance * 1.02;
  }

  // Smallest distance from the target at which every corner of the box is inside the picture.
  needed(box, target = this.target) {
    const { x, y, z } = this.axes();
    const tall = Math.tan((this.camera.fov * Math.PI) / 360);
    const wide = tall * this.camera.aspect;
    const p = new Vector3();
    let d = 1;
    for (let i = 0; i < 8; i++) {
      p.set(box[i & 1][0], box[(i >> 1) & 1][1], box[(i >> 2) & 1][2]).sub(target);
      d = Math.max(d, p.dot(z) + Math.abs(p.dot(x)) / wide, p.dot(z) + Math.abs(p.dot(y)) / tall);
    }
    return d;
  }

  // Right, up and towards the eye. Straight from above there still is an up.
  axes() {
    const [ca, sa, ce, se] = [
      Math.cos(this.azimuth),
      Math.sin(this.azimuth),
      Math.cos(this.elevation),
      Math.sin(this.elevation),
    ];
    return {
      x: new Vector3(-sa, ca, 0),
      y: new Vector3(-se * ca, -se * sa, ce),
      z: new Vector3(ce * ca, ce * sa, se),
    };
  }

  place() {
    const { y, z } = this.axes();
    this.camera.up.copy(y);
    this.camera.position.copy(this.target).addScaledVector(z, this.distance);
    this.camera.lookAt(this.target);
    this.camera.near = this.distance / 100;
    this.camera.far = this.distance * 20;
    this.camera.updateProjectionMatrix();
    this.camera.updateMatrixWorld();
    this.changed();
  }
}
