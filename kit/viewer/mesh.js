// From raw arrays to what the GPU draws. No sizes or names are known here, only groups of triangles.

import { Color, Sphere, Vector3 } from "three";

/** Return a typed array over bytes that came as a DataView, an ArrayBuffer or a typed array already. */
export function typed(Type, data) {
  if (data instanceof Type) return data;
  if (!data) return new Type(0);
  const buffer = data.buffer ?? data;
  const start = data.byteOffset ?? 0;
  const length = Math.floor(data.byteLength / Type.BYTES_PER_ELEMENT);
  // Bytes out of a message need not start at a multiple of four.
  if (start % Type.BYTES_PER_ELEMENT) return new Type(buffer.slice(start, start + length * Type.BYTES_PER_ELEMENT));
  return new Type(buffer, start, length);
}

/** Return points (n*3) from the bytes of their three coordinates. */
export function together(columns) {
  const [x, y, z] = columns.map((c) => typed(Float32Array, c));
  const out = new Float32Array(3 * x.length);
  for (let i = 0, o = 0; i < x.length; i++) {
    out[o++] = x[i];
    out[o++] = y[i];
    out[o++] = z[i];
  }
  return out;
}

/** Return the model as typed arrays: positions (n*3), triangles (m*3), groupOf (m), edges (k*6), groups. */
export function model(data) {
  const made = {
    positions: typed(Float32Array, data.positions),
    triangles: data.triangles instanceof Uint16Array ? data.triangles : typed(Uint32Array, data.triangles),
    groupOf: typed(Uint32Array, data.groupOf),
    edges: typed(Float32Array, data.edges),
    groups: data.groups ?? [],
  };
  made.box = boxOf(made.positions);
  made.ball = ballRound(made.box);
  return made;
}

// A ball round the whole box, so that nobody has to look for one at every point again.
function ballRound(box) {
  if (!box) return null;
  const [low, high] = box.map((corner) => new Vector3(...corner));
  return new Sphere(low.clone().add(high).multiplyScalar(0.5), low.distanceTo(high) / 2);
}

/** Whether two models have the same groups of the same kinds on the same triangles, told without looking at each. */
export function sameGroups(a, b) {
  const [p, q] = [a.groupOf, b.groupOf];
  return (
    p.buffer === q.buffer &&
    p.byteOffset === q.byteOffset &&
    p.length === q.length &&
    a.groups.length === b.groups.length &&
    a.groups.every((g, i) => g.kind === b.groups[i].kind)
  );
}

/** Return [[xmin, ymin, zmin], [xmax, ymax, zmax]], or null without points. */
export function boxOf(positions) {
  if (!positions.length) return null;
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < positions.length; i += 3) {
    for (let k = 0; k < 3; k++) {
      const v = positions[i + k];
      if (v < low[k]) low[k] = v;
      if (v > high[k]) high[k] = v;
    }
  }
  return [low, high];
}

/** Fill `target` (m*9) with the corners of every triangle, so that each can have its own colour. */
export function corners({ positions, triangles }, target = new Float32Array(triangles.length * 3)) {
  for (let i = 0, o = 0; i < triangles.length; i++) {
    const p = triangles[i] * 3;
    target[o++] = positions[p];
    target[o++] = positions[p + 1];
    target[o++] = positions[p + 2];
  }
  return target;
}

/** Fill `target` (m*12) with one colour a triangle, from the kind of its group. */
export function colours({ groupOf, groups }, palette, target = new Uint8Array(groupOf.length * 12)) {
  const table = groups.map((g) => linear(palette[g.kind] ?? palette.other));
  const spare = linear(palette.other);
  for (let i = 0, o = 0; i < groupOf.length; i++) {
    const c = table[groupOf[i]] ?? spare;
    for (let k = 0; k < 3; k++) {
      target[o++] = c[0];
      target[o++] = c[1];
      target[o++] = c[2];
      target[o++] = 255;
    }
  }
  return target;
}

// Colours of vertices are taken as linear light.
function linear(hex) {
  const c = new Color(hex);
  return [c.r, c.g, c.b].map((v) => Math.round(v * 255));
}

/** Return what one points at or marks: the triangles of a list, for a hole the plug in its air, 9 numbers each. */
export function handle(data, list, kind) {
  const own = cornersOf(data, list);
  return kind === "hole" ? plug(own) : own;
}

/** Return the handle of each hole at the place of its first group: one that lies over a fold has several. */
export function plugs(data, lists) {
  const places = new Map();
  data.groups.forEach((g, i) => {
    if (g.kind === "hole") places.set(g.name, [...(places.get(g.name) ?? []), i]);
  });
  const out = data.groups.map(() => null);
  for (const all of places.values()) out[all[0]] = handle(data, all.flatMap((i) => lists[i]), "hole");
  return out;
}

/** Return the index of each triangle by group: an array of arrays. */
export function byGroup({ groupOf, groups }) {
  const lists = groups.map(() => []);
  for (let i = 0; i < groupOf.length; i++) lists[groupOf[i]]?.push(i);
  return lists;
}

/** Return the index of each triangle of a name. */
export function trianglesOf({ groupOf, groups }, name) {
  const own = groups.map((g) => g.name === name);
  const list = [];
  for (let i = 0; i < groupOf.length; i++) if (own[groupOf[i]]) list.push(i);
  return list;
}

/** Return the corners of some triangles (list of indices), 9 numbers each. */
export function cornersOf({ positions, triangles }, list) {
  const out = new Float32Array(list.length * 9);
  let o = 0;
  for (const i of list) {
    for (let k = 0; k < 3; k++) {
      const p = triangles[3 * i + k] * 3;
      out[o++] = positions[p];
      out[o++] = positions[p + 1];
      out[o++] = positions[p + 2];
    }
  }
  return out;
}

/**
 * Return triangles that close a hole, 9 numbers each: the wall's edges joined to the mean of its corners, which lies
 * near the sheet even where the wall goes round a bend. A hole is air, so without them nobody could point at it.
 */
function plug(wall) {
  const points = wall.length / 3;
  if (!points) return wall;
  const c = [0, 0, 0];
  for (let i = 0; i < wall.length; i++) c[i % 3] += wall[i] / points;
  const out = new Float32Array(wall.length * 3);
  let o = 0;
  for (let t = 0; t < wall.length; t += 9) {
    for (let k = 0; k < 3; k++) {
      const a = t + 3 * k;
      const b = t + 3 * ((k + 1) % 3);
      out.set(c, o);
      out.set(wall.subarray(a, a + 3), o + 3);
      out.set(wall.subarray(b, b + 3), o + 6);
      o += 9;
    }
  }
  return out;
}

/** Return the middle of the box round some corners. */
export function middle(points) {
  const [low, high] = boxOf(points);
  return low.map((v, k) => (v + high[k]) / 2);
}
