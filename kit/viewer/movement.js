// What moves in an assembly: the same arithmetic as the kit's own, so that a drag needs no kernel.

import { BufferAttribute, BufferGeometry, Matrix4, Sphere, Vector3 } from "three";

const BEYOND = 1e-3; // mm: a corner this much past the end of a strut's body belongs to its rod

/** Return the rigid move of a movement {kind, at, axis} by degrees about its axis, or by mm along it. */
export function carried({ kind, at, axis }, amount) {
  const way = new Vector3(...axis);
  if (kind === "slide") return new Matrix4().makeTranslation(way.multiplyScalar(amount));
  const there = new Vector3(...at);
  const back = new Matrix4().makeTranslation(there.clone().negate());
  const turn = new Matrix4().makeRotationAxis(way, (amount * Math.PI) / 180);
  return new Matrix4().makeTranslation(there).multiply(turn).multiply(back);
}

/** Return where a strut stands whose own origin a move carries off while (0, 0, length) stays, and its new length. */
export function reaching(home, length, move) {
  const top = new Vector3().setFromMatrixPosition(home).applyMatrix4(move);
  const foot = new Vector3(0, 0, length).applyMatrix4(home);
  const z = foot.sub(top);
  const long = z.length();
  z.normalize();
  const x = new Vector3().setFromMatrixColumn(home, 0);
  x.addScaledVector(z, -x.dot(z)).normalize();
  const place = new Matrix4().makeBasis(x, z.clone().cross(x), z).setPosition(top);
  return { place, length: long };
}

/** Return a copy of a geometry that is longer by some mm: everything past `end` along z is shifted. */
export function stretched(geometry, end, longer) {
  const made = new BufferGeometry();
  const points = geometry.getAttribute("position").array.slice();
  for (let i = 2; i < points.length; i += 3) if (points[i] > end + BEYOND) points[i] += longer;
  made.setAttribute("position", new BufferAttribute(points, 3));
  const colour = geometry.getAttribute("color");
  if (colour) made.setAttribute("color", colour.clone());
  const { center, radius } = geometry.boundingSphere;
  made.boundingSphere = new Sphere(center.clone(), radius + Math.abs(longer));
  return made;
}
