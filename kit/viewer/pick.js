// What lies under a ray: plain arrays, no scene graph.

/**
 * Return the nearest triangle hit by a ray, {index, distance}, or null.
 * `soup` holds 9 numbers a triangle; `keep(x, y, z)` may refuse a point that a section has cut away.
 */
export function nearest(soup, origin, direction, keep = null, limit = Infinity) {
  const [ox, oy, oz] = origin;
  const [dx, dy, dz] = direction;
  let best = null;
  let far = limit;
  for (let t = 0, index = 0; t < soup.length; t += 9, index++) {
    const ax = soup[t];
    const ay = soup[t + 1];
    const az = soup[t + 2];
    const ux = soup[t + 3] - ax;
    const uy = soup[t + 4] - ay;
    const uz = soup[t + 5] - az;
    const vx = soup[t + 6] - ax;
    const vy = soup[t + 7] - ay;
    const vz = soup[t + 8] - az;
    const px = dy * vz - dz * vy;
    const py = dz * vx - dx * vz;
    const pz = dx * vy - dy * vx;
    const det = ux * px + uy * py + uz * pz;
    if (det > -1e-12 && det < 1e-12) continue;
    const sx = ox - ax;
    const sy = oy - ay;
    const sz = oz - az;
    const a = (sx * px + sy * py + sz * pz) / det;
    if (a < 0 || a > 1) continue;
    const qx = sy * uz - sz * uy;
    const qy = sz * ux - sx * uz;
    const qz = sx * uy - sy * ux;
    const b = (dx * qx + dy * qy + dz * qz) / det;
    if (b < 0 || a + b > 1) continue;
    const d = (vx * qx + vy * qy + vz * qz) / det;
    if (d <= 0 || d >= far) continue;
    if (keep && !keep(ox + d * dx, oy + d * dy, oz + d * dz)) continue;
    far = d;
    best = { index, distance: d };
  }
  return best;
}
