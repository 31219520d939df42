// A result on the part: a surface coloured in bands of a value, drawn moved, and swinging where it is a mode shape.

import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DataTexture,
  DoubleSide,
  Group,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshLambertMaterial,
  NearestFilter,
  SRGBColorSpace,
} from "three";
import { boxOf, typed } from "./mesh.js";
import { BANDS, BEYOND, place, round } from "./ramp.js";

const SEEN = 0.07; // of the part's diagonal: how far the largest movement is drawn
const PERIOD = 1.8; // s of a swing

/** Return the sides that belong to one triangle only, as pairs of points: where the sheet ends. */
export function borders(triangles) {
  const seen = new Map();
  for (let i = 0; i < triangles.length; i += 3) {
    for (let k = 0; k < 3; k++) {
      const a = triangles[i + k];
      const b = triangles[i + ((k + 1) % 3)];
      const key = a < b ? a * 4294967296 + b : b * 4294967296 + a;
      seen.set(key, seen.has(key) ? null : [a, b]);
    }
  }
  return Uint32Array.from([...seen.values()].filter(Boolean).flat());
}

function bands() {
  const texels = new Uint8Array([...BANDS, BEYOND].flatMap((hex) => [...bytesOf(hex), 255]));
  const made = new DataTexture(texels, BANDS.length + 1, 1);
  // Sharp edges between bands are lines of equal value.
  Object.assign(made, { colorSpace: SRGBColorSpace, magFilter: NearestFilter, minFilter: NearestFilter });
  made.needsUpdate = true;
  return made;
}

function bytesOf(hex) {
  const n = Number.parseInt(hex.slice(1), 16);
  return [n >> 16, (n >> 8) & 255, n & 255];
}

/** The coloured surface. `changed` is called when it must be drawn again. */
export class Field {
  constructor(changed) {
    this.changed = changed;
    this.on = false;
    this.running = false;
    this.group = new Group();
    this.map = bands();
    const offset = { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 };
    // Mostly its own light: a colour must look like the legend's, with just enough shade to see the form.
    const look = { map: this.map, emissiveMap: this.map, emissive: 0xffffff, emissiveIntensity: 0.72, color: 0x929292 };
    this.sheet = new Mesh(
      new BufferGeometry(),
      new MeshLambertMaterial({ ...look, side: DoubleSide, flatShading: true, ...offset }),
    );
    this.rim = new LineSegments(new BufferGeometry(), new LineBasicMaterial());
    this.group.add(this.sheet, this.rim);
    // It moves: what was in the picture once need not be there now.
    this.sheet.frustumCulled = this.rim.frustumCulled = false;
    this.group.visible = false;
  }

  /** Show a field {points, triangles, moves, values, title, unit, low, high, over, swings}, or none. */
  set(data) {
    this.hold();
    this.soup = null;
    this.on = Boolean(data?.triangles);
    this.group.visible = this.on;
    this.data = this.on
      ? {
          ...data,
          points: typed(Float32Array, data.points).slice(),
          triangles: typed(Uint32Array, data.triangles).slice(),
          moves: typed(Float32Array, data.moves).slice(),
          values: typed(Float32Array, data.values).slice(),
        }
      : null;
    for (const m of [this.sheet, this.rim]) m.geometry.dispose();
    if (!this.on) return;
    const { points, triangles, moves, values, low, high, over } = this.data;
    this.at = new Float32Array(points.length);
    const position = new BufferAttribute(this.at, 3);
    const uv = new Float32Array(values.length * 2);
    values.forEach((v, i) => (uv[2 * i] = place(v, low, high, Boolean(over))));
    this.sheet.geometry = new BufferGeometry();
    this.sheet.geometry.setAttribute("position", position);
    this.sheet.geometry.setAttribute("uv", new BufferAttribute(uv, 2));
    this.sheet.geometry.setIndex(new BufferAttribute(triangles, 1));
    this.rim.geometry = new BufferGeometry();
    this.rim.geometry.setAttribute("position", position);
    this.rim.geometry.setIndex(new BufferAttribute(borders(triangles), 1));
    this.scale = this.factor(points, moves);
    this.move(1);
  }

  // How many times as large as it is the movement is drawn.
  factor(points, moves) {
    const [low, high] = boxOf(points);
    const far = Math.hypot(...high.map((v, k) => v - low[k])) * SEEN;
    let most = 0;
    for (let i = 0; i < moves.length; i += 3) most = Math.max(most, Math.hypot(moves[i], moves[i + 1], moves[i + 2]));
    if (!most) return 0;
    return this.data.swings || !this.data.unit ? far / most : round(far / most);
  }

  /** Draw the points moved by a share of the movement, -1 to 1. */
  move(share) {
    const { points, moves } = this.data;
    const k = this.scale * share;
    for (let i = 0; i < points.length; i++) this.at[i] = points[i] + k * moves[i];
    this.share = share;
    this.soup = null;
    for (const m of [this.sheet, this.rim]) m.geometry.attributes.position.needsUpdate = true;
    this.changed();
  }

  /** Let a mode shape swing. */
  swing(seen = () => true) {
    if (!this.on || !this.data.swings || this.running) return;
    this.running = true;
    let start = null;
    const step = (now) => {
      if (!this.running) return;
      start ??= now - (PERIOD * 1000) / 4; // from where it is shown at rest
      if (seen()) this.move(Math.sin(((now - start) / 1000 / PERIOD) * 2 * Math.PI));
      this.frame = requestAnimationFrame(step);
    };
    this.frame = requestAnimationFrame(step);
  }

  /** Hold still, fully out. */
  hold() {
    if (!this.running) return;
    this.running = false;
    cancelAnimationFrame(this.frame);
    if (this.on) this.move(1);
  }

  /** Corners of the triangles as they are drawn now, 9 numbers each. */
  corners() {
    if (!this.soup) {
      const { triangles } = this.data;
      this.soup = new Float32Array(triangles.length * 3);
      for (let i = 0; i < triangles.length; i++) this.soup.set(this.at.subarray(3 * triangles[i], 3 * triangles[i] + 3), 3 * i);
    }
    return this.soup;
  }

  /** Mean value of a triangle. */
  value(index) {
    const { triangles, values } = this.data;
    return [0, 1, 2].reduce((sum, k) => sum + values[triangles[3 * index + k]], 0) / 3;
  }

  setInk(colour) {
    this.rim.material.color = new Color(colour);
  }

  clip(planes) {
    for (const m of [this.sheet, this.rim]) m.material.clippingPlanes = planes;
  }

  dispose() {
    this.running = false;
    cancelAnimationFrame(this.frame);
    for (const m of [this.sheet, this.rim]) {
      m.geometry.dispose();
      m.material.dispose();
    }
    this.map.dispose();
  }
}
