// Colours by kind of feature, one set for light pages and one for dark ones.
// Any two kinds, the mark and the section are at least 15 apart by CIEDE2000, for an eye with all cones and for one that
// lacks a kind of them; tests/infra/test_viewer_colours.py computes it.

const LIGHT = {
  panel: "#bcc6cd",
  fold: "#a67838",
  hem: "#ef9f3b",
  bead: "#0d8e8f",
  hole: "#9d3961",
  edge: "#87929b",
  weld: "#5e4da8",
  bought: "#a79f8b",
  other: "#7fb8f1",
  line: "#2a3137",
  ink: "#23292e",
  mark: "#7f72f3",
  hover: "#5b8ff0",
  section: "#a80000",
};

const DARK = {
  panel: "#8794a0",
  fold: "#ffe200",
  hem: "#d56d04",
  bead: "#89e2cf",
  hole: "#ad3b9e",
  edge: "#5f6b75",
  weld: "#c1c7ff",
  bought: "#948876",
  other: "#5b6661",
  line: "#0b0f12",
  ink: "#cfd6da",
  mark: "#3295ff",
  hover: "#8fc1ff",
  section: "#ffa884",
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
