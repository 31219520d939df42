// Colours of a result: bands whose lightness only rises, from blue by mauve to sand, so that they keep their order
// without colour vision and in a grey print. Worked out in an even lightness scale; the one past the end is dark again.

export const BANDS = ["#13316d", "#353e7e", "#534c8e", "#705a9b", "#9a6398", "#c07188", "#db8476", "#eb9f69", "#f3bb6e", "#f6d97e"];

/** Colour of what lies beyond the last band. */
export const BEYOND = "#7d0c2c";

/** Return where in the row of all colours a value lies, 0 to 1; above `high` it is in the last place, BEYOND's. */
export function place(value, low, high, open) {
  const n = BANDS.length;
  const part = high > low ? (value - low) / (high - low) : 0;
  const most = open ? n + 0.999 : n - 0.001;
  return Math.min(Math.max(part * n, 0), most) / (n + 1);
}

/** Return a number for a legend: three digits, no more noughts than it needs. */
export function short(value) {
  if (!Number.isFinite(value)) return "";
  const size = Math.abs(value);
  if (size >= 99.95) return value.toFixed(0);
  return String(Number(value.toPrecision(3)));
}

/** Return the round factor (1, 2, 5, 10 …) next below one. */
export function round(factor) {
  if (!(factor > 1) || !Number.isFinite(factor)) return 1;
  const ten = 10 ** Math.floor(Math.log10(factor));
  return [5, 2, 1].find((k) => k * ten <= factor * 1.0001) * ten;
}
