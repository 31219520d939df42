// The members of an assembly: each body's buffers once, a transform for each place, two draw calls a member.

import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DoubleSide,
  FrontSide,
  Group,
  LineBasicMaterial,
  LineSegments,
  Matrix4,
  Mesh,
  MeshLambertMaterial,
  Vector3,
} from "three";
import { boxOf, colours, corners, model, typed } from "./mesh.js";
import { carried, reaching, stretched } from "./movement.js";
import { nearest } from "./pick.js";

const THROUGH = ["existing", "tool", "gauge"]; // one sees through what is not the work itself
const LINKS = { clash: "section", weld: "hover", mate: "hover" };

/** Return the 16 numbers of three.js from a frame's origin and axes, 12 numbers. */
export function matrixOf([ox, oy, oz, ax, ay, az, bx, by, bz, cx, cy, cz]) {
  return new Matrix4().set(ax, bx, cx, ox, ay, by, cy, oy, az, bz, cz, oz, 0, 0, 0, 1);
}

// Back faces are seen only where a section opens a sheet; painted plain in the same call, they read as the cut.
function sheetMaterial(options) {
  const made = new MeshLambertMaterial({
    flatShading: true,
    side: DoubleSide,
    polygonOffset: true,
    polygonOffsetFactor: 1,
    polygonOffsetUnits: 1,
    ...options,
  });
  const cut = { value: new Color() };
  made.userData.cut = cut;
  made.onBeforeCompile = (shader) => {
    shader.uniforms.cutColour = cut;
    shader.fragmentShader = shader.fragmentShader
      .replace("void main() {", "uniform vec3 cutColour;\nvoid main() {")
      .replace("#include <opaque_fragment>", "#include <opaque_fragment>\nif (!gl_FrontFacing) gl_FragColor.rgb = cutColour;");
  };
  return made;
}

/** The bodies of an assembly at their places. */
export class Members {
  constructor() {
    this.group = new Group();
    this.bodies = new Map();
    this.list = [];
    this.hidden = new Set();
    this.links = [];
    this.movements = [];
    this.amounts = new Map();
    this.apart = 0;
    this.now = 0;
    this.done = 1;
    this.sheet = {
      own: sheetMaterial({ vertexColors: true }),
      through: sheetMaterial({ vertexColors: true, transparent: true, opacity: 0.45, side: FrontSide }),
      mark: sheetMaterial({}),
      hover: sheetMaterial({}),
      section: sheetMaterial({}),
    };
    this.line = new LineBasicMaterial({ transparent: true, opacity: 0.75 });
  }

  get on() {
    return this.list.length > 0;
  }

  /**
   * Show bodies {key: arrays} at members [{name, label, kind, body, at, away}], which movements (see movement.js) may
   * carry; a body of a known key stays as it is, and so does how far something has been moved.
   */
  set({ bodies, members, movements = [] }) {
    for (const m of this.list) this.slack(m);
    this.movements = movements;
    const amounts = movements.map((m) => [m.name, Math.min(Math.max(this.amounts.get(m.name) ?? 0, m.low), m.high)]);
    this.amounts = new Map(amounts);
    for (const [key, body] of this.bodies) {
      if (key in bodies) continue;
      body.sheet.dispose();
      body.lines.dispose();
      this.bodies.delete(key);
    }
    for (const [key, data] of Object.entries(bodies)) if (!this.bodies.has(key)) this.bodies.set(key, this.body(data));
    this.group.clear();
    this.list = members.map((m) => {
      const body = this.bodies.get(m.body);
      const [sheet, lines] = [new Mesh(body.sheet, this.sheet.own), new LineSegments(body.lines, this.line)];
      for (const o of [sheet, lines]) o.matrixAutoUpdate = o.matrixWorldAutoUpdate = false;
      this.group.add(sheet, lines);
      const track = m.track && typed(Float32Array, m.track).slice();
      return { ...m, track, key: `member:${m.name}`, shape: body, home: matrixOf(m.at), place: new Matrix4(), longer: 0, sheet, lines };
    });
    this.lay();
    this.look("", "");
  }

  body(raw) {
    const data = model({
      ...raw,
      groupOf: raw.group_of,
      groups: raw.groups.map(([name, kind]) => ({ name, kind })),
    });
    const [sheet, lines] = [new BufferGeometry(), new BufferGeometry()];
    sheet.setAttribute("position", new BufferAttribute(corners(data), 3));
    lines.setAttribute("position", new BufferAttribute(data.edges.slice(), 3));
    sheet.boundingSphere = lines.boundingSphere = data.ball;
    const body = { data, sheet, lines };
    this.paintBody(body);
    return body;
  }

  paintBody({ data, sheet }) {
    if (this.palette) sheet.setAttribute("color", new BufferAttribute(colours(data, this.palette), 4, true));
  }

  /** Take the colours of a theme. */
  paint(palette) {
    this.palette = palette;
    this.line.color.set(palette.line);
    for (const name of ["mark", "hover", "section"]) this.sheet[name].color.set(palette[name]);
    for (const m of Object.values(this.sheet)) m.userData.cut.value.set(palette.section);
    for (const body of this.bodies.values()) this.paintBody(body);
    this.lay();
  }

  /** Cut all members with planes, null for whole ones. */
  clip(planes) {
    for (const m of [...Object.values(this.sheet), this.line]) m.clippingPlanes = planes;
  }

  /** Draw the members apart by a share of their ways out, 0 to 1. */
  pull(share) {
    this.apart = share;
    this.lay();
  }

  /** Put the members together in their order, as far as a share of it, 0 to 1; returns the one that moves, or null. */
  put(share) {
    this.done = share;
    this.lay();
    return share < 1 ? (this.list.find((m) => m.turn === Math.floor(share * this.list.length)) ?? null) : null;
  }

  /** Move what one movement moves, by degrees or mm from where it is drawn. */
  move(name, amount) {
    this.amounts.set(name, amount);
    this.lay();
  }

  // Carry members along their movements, and let struts follow.
  carry() {
    for (const movement of this.movements) {
      const amount = this.amounts.get(movement.name) ?? 0;
      const move = carried(movement, amount);
      const named = new Set(movement.members);
      for (const m of this.list) if (amount && named.has(m.name)) m.place.premultiply(move);
      for (const strut of movement.struts ?? []) {
        const m = this.list.find((one) => one.name === strut.member);
        if (!m) continue;
        this.slack(m);
        if (amount) this.stretch(m, strut, move);
      }
    }
  }

  // A strut that is not as long as it was drawn gets lines and triangles of its own.
  stretch(m, strut, move) {
    const { place, length } = reaching(m.home, strut.length, move);
    m.place.copy(place);
    m.longer = length - strut.length;
    [m.sheet.geometry, m.lines.geometry] = [m.shape.sheet, m.shape.lines].map((g) => stretched(g, strut.body, m.longer));
  }

  slack(m) {
    if (m.sheet.geometry === m.shape.sheet) return;
    for (const g of [m.sheet.geometry, m.lines.geometry]) g.dispose();
    [m.sheet.geometry, m.lines.geometry, m.longer] = [m.shape.sheet, m.shape.lines, 0];
  }

  lay() {
    for (const m of this.list) m.place.copy(m.home);
    this.carry();
    for (const m of this.list) {
      // Its own turn takes one step of the order: before, it is apart; after, it is in its place.
      const due = m.turn === undefined ? 0 : m.turn + 1 - this.done * this.list.length;
      const out = Math.max(this.apart, Math.min(Math.max(due, 0), 1));
      const away = m.away.map((v) => v * out);
      for (let k = 0; k < 3; k++) m.place.elements[12 + k] += away[k];
      for (const o of [m.sheet, m.lines]) {
        o.matrix.copy(m.place);
        o.matrixWorld.copy(m.place);
      }
    }
  }

  /** Show one picture of members that have a place for each ("track", 12 numbers), or are there in some only. */
  frame(n) {
    this.now = n;
    for (const m of this.list) if (m.track) m.home.copy(matrixOf([...m.track.subarray(12 * n, 12 * n + 12)]));
    this.lay();
    this.hide(this.hidden);
  }

  /** Hide the members of these names. */
  hide(names) {
    this.hidden = new Set(names);
    for (const m of this.list) m.sheet.visible = m.lines.visible = this.seen(m);
  }

  seen(m) {
    return !this.hidden.has(m.name) && (m.from ?? 0) <= this.now && this.now <= (m.to ?? Infinity);
  }

  /** Mark the member of one key strongly and of another lightly; clashes, and what meets the marked one, are lit. */
  look(marked, pointed) {
    const lit = new Map();
    for (const { a, b, kind } of this.links) {
      const mine = [a, b].some((name) => `member:${name}` === marked);
      if (kind === "clash" || mine) for (const name of [a, b]) if (lit.get(name) !== "section") lit.set(name, LINKS[kind]);
    }
    for (const m of this.list) {
      const own = THROUGH.includes(m.kind) ? "through" : "own";
      const how = m.key === marked ? "mark" : m.key === pointed ? "hover" : (lit.get(m.name) ?? own);
      m.sheet.material = this.sheet[how];
    }
    this.hide(this.hidden);
  }

  /** Return the box round all members that are shown, null for none. */
  box() {
    const points = [];
    const p = new Vector3();
    for (const m of this.list) {
      if (!this.seen(m) || !m.shape.data.box) continue;
      const [low, [x1, y1, z1]] = m.shape.data.box;
      const high = [x1, y1, z1 + m.longer];
      for (let i = 0; i < 8; i++) {
        p.set(i & 1 ? high[0] : low[0], i & 2 ? high[1] : low[1], i & 4 ? high[2] : low[2]).applyMatrix4(m.place);
        points.push(p.x, p.y, p.z);
      }
    }
    return boxOf(points);
  }

  /** Return the nearest shown member on a ray {origin, direction, keep}, or null. */
  at(ray) {
    return this.hit(ray).found;
  }

  /** Return how far along a ray the nearest shown member is, Infinity for none. */
  reach(ray) {
    return this.hit(ray).limit;
  }

  hit({ origin, direction, keep }) {
    let found = null;
    let limit = Infinity;
    const back = new Matrix4();
    for (const m of this.list) {
      if (!this.seen(m)) continue;
      back.copy(m.place).invert();
      const from = new Vector3(...origin).applyMatrix4(back);
      const along = new Vector3(...direction).transformDirection(back);
      if (!passes(m.sheet.geometry.boundingSphere, from, along)) continue;
      const p = new Vector3();
      const kept = keep && ((x, y, z) => keep(...p.set(x, y, z).applyMatrix4(m.place).toArray()));
      const soup = m.sheet.geometry.getAttribute("position").array;
      const hit = nearest(soup, from.toArray(), along.toArray(), kept, limit);
      if (hit) [found, limit] = [m, hit.distance];
    }
    return { found, limit };
  }

  /** Return the ends of the lines of all shown members in space, 3 numbers each. */
  ends() {
    const p = new Vector3();
    return this.list.flatMap((m) => {
      if (!this.seen(m)) return [];
      const edges = m.lines.geometry.getAttribute("position").array;
      const out = [];
      for (let i = 0; i < edges.length; i += 3) out.push(...p.set(edges[i], edges[i + 1], edges[i + 2]).applyMatrix4(m.place).toArray());
      return out;
    });
  }

  /** Return the middle of a member in space. */
  middle(member) {
    return member.sheet.geometry.boundingSphere.center.clone().applyMatrix4(member.place);
  }

  /** Give the GPU's memory back. */
  dispose() {
    for (const m of this.list) this.slack(m);
    for (const { sheet, lines } of this.bodies.values()) [sheet, lines].forEach((g) => g.dispose());
    for (const m of [...Object.values(this.sheet), this.line]) m.dispose();
  }
}

function passes(ball, from, along) {
  const to = ball.center.clone().sub(from);
  return to.lengthSq() - to.dot(along) ** 2 <= ball.radius ** 2;
}
