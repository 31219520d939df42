// Pointer, wheel and key events of one element as: turn, shift, zoom, point at, press.

const STILL = 4; // px: a press that moved less is a pick

/**
 * Listen on an element and call the handlers of `act`:
 * drag(dx, dy, shifted) and zoom(factor, x, y) in px of the element, point(x, y) or point(null), press(x, y),
 * key(event) returning whether it used the key. Returns a function that stops listening.
 */
export function gestures(element, act) {
  const down = new Map();
  let travelled = 0;
  const stop = new AbortController();
  const on = (name, f, options = {}) => element.addEventListener(name, f, { signal: stop.signal, ...options });
  const place = (e) => {
    const r = element.getBoundingClientRect();
    return [e.clientX - r.left, e.clientY - r.top];
  };
  const spread = () => {
    const [a, b] = [...down.values()];
    return { size: Math.hypot(a[0] - b[0], a[1] - b[1]), x: (a[0] + b[0]) / 2, y: (a[1] + b[1]) / 2 };
  };

  on("pointerdown", (e) => {
    if (!down.size) travelled = 0;
    down.set(e.pointerId, place(e));
    element.setPointerCapture(e.pointerId);
    element.focus({ preventScroll: true });
    if (e.button === 1) e.preventDefault();
  });
  on("pointermove", (e) => {
    const before = down.get(e.pointerId);
    const now = place(e);
    if (!before) return act.point?.(...now);
    travelled += Math.hypot(now[0] - before[0], now[1] - before[1]);
    if (down.size === 2) {
      const old = spread();
      down.set(e.pointerId, now);
      const s = spread();
      if (old.size && s.size) act.zoom?.(old.size / s.size, s.x, s.y);
      act.drag?.(s.x - old.x, s.y - old.y, true);
    } else if (down.size === 1) {
      down.set(e.pointerId, now);
      if (travelled >= STILL) act.drag?.(now[0] - before[0], now[1] - before[1], e.shiftKey || (e.buttons & 6) !== 0);
    }
  });
  const up = (e) => {
    const was = down.delete(e.pointerId);
    if (was && e.type === "pointerup" && travelled < STILL && e.button === 0) act.press?.(...place(e));
  };
  on("pointerup", up);
  on("pointercancel", up);
  on("pointerleave", () => act.point?.(null));
  on("contextmenu", (e) => e.preventDefault());
  on(
    "wheel",
    (e) => {
      // A page is scrolled past a view; only one that has been clicked, or Ctrl with the wheel, zooms.
      if (document.activeElement !== element && !e.ctrlKey && !e.metaKey) return;
      e.preventDefault();
      act.zoom?.(Math.exp(Math.min(Math.max(e.deltaY * (e.deltaMode ? 20 : 1), -200), 200) / 500), ...place(e));
    },
    { passive: false },
  );
  on("keydown", (e) => {
    if (e.altKey || e.ctrlKey || e.metaKey) return;
    if (act.key?.(e)) {
      e.preventDefault();
      e.stopPropagation();
    }
  });
  return () => stop.abort();
}
