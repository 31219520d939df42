// Orbit, pan and zoom about an upright z axis, by mouse, touch and keyboard.

import { PerspectiveCamera, Vector3 } from "three";

const RIGHT_ANGLE = Math.PI / 2;

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

/** Camera on a turntable: where it looks (target), from how far, and from which side. */
export class Turntable {
  constructor(changed) {
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
    this.target.addScaledVector(x, -right * h).addScaledVector(y, -up * h);
    this.place();
  }

  /** Zoom by a factor (below 1 is nearer), keeping the point under (x, y) in -1..1 where it is. */
  zoom(factor, x = 0, y = 0) {
    const h = Math.tan((this.camera.fov * Math.PI) / 360) * this.distance * (1 - factor);
    const axes = this.axes();
    this.target.addScaledVector(axes.x, x * h * this.camera.aspect).addScaledVector(axes.y, y * h);
    this.distance *= factor;
    this.place();
  }

  /** Show a whole box [[x, y, z], [x, y, z]] with a margin. */
  fit(box, margin = 1.08) {
    if (!box) return;
    this.target.set(...box[0].map((v, k) => (v + box[1][k]) / 2));
    this.distance = this.needed(box) * margin;
    this.place();
  }

  /** Whether the whole box is in the picture. */
  holds(box) {
    return !box || this.needed(box) <= this.distance * 1.02;
  }

  // Smallest distance from the target at which every corner of the box is inside the picture.
  needed(box) {
    const { x, y, z } = this.axes();
    const tall = Math.tan((this.camera.fov * Math.PI) / 360);
    const wide = tall * this.camera.aspect;
    const p = new Vector3();
    let d = 1;
    for (let i = 0; i < 8; i++) {
      p.set(box[i & 1][0], box[(i >> 1) & 1][1], box[(i >> 2) & 1][2]).sub(this.target);
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
