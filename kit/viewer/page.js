// The same views for a page without a notebook: a classic script that sets `tinbookViewer`.

export { Film } from "./film.js";
export { FlatView } from "./flat.js";
export { FoldedView } from "./folded.js";
export { Pair } from "./pair.js";
export { BANDS, BEYOND } from "./ramp.js";

/** Return bytes from base64 text, as a page carries its arrays. */
export function bytes(text) {
  return Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
}
