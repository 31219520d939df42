// Everything the bundles offer.

export { Film } from "./film.js";
export { FlatView } from "./flat.js";
export { FoldedView } from "./folded.js";
export { Pair } from "./pair.js";
export { mount } from "./widget.js";
