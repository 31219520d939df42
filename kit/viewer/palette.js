// Colours by kind of feature, one set for light pages and one for dark ones.
// Kinds differ in lightness as well as in hue, so that they stay apart without colour vision.

const LIGHT = {
  panel: "#bcc6cd",
  fold: "#dd9a33",
  hem: "#c9772b",
  bead: "#3c958e",
  hole: "#b8437b",
  edge: "#87929b",
  weld: "#6b5bb5",
  bought: "#a39b8b",
  other: "#a9b0a4",
  line: "#2a3137",
  ink: "#23292e",
  mark: "#1f63e0",
  hover: "#5b8ff0",
  section: "#d0512f",
};

const DARK = {
  panel: "#8794a0",
  fold: "#efb154",
  hem: "#e08d45",
  bead: "#52c2b6",
  hole: "#f283b4",
  edge: "#5f6b75",
  weld: "#a498ee",
  bought: "#9a927f",
  other: "#7f8a7c",
  line: "#0b0f12",
  ink: "#cfd6da",
  mark: "#58a6ff",
  hover: "#8fc1ff",
  section: "#ff7f57",
};

/** Words for the legend, in the order in which it shows them. */
export const KINDS = {
  panel: "panel",
  fold: "fold",
  hem: "hem",
  bead: "bead",
  hole: "hole",
  weld: "weld",
  bought: "bought item",
};

/** Return the colour table of a theme, "light" or "dark". */
export function palette(theme) {
  return theme === "dark" ? DARK : LIGHT;
}
