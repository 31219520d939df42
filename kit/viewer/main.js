// Everything the bundles offer.

export { FlatView } from "./flat.js";
export { FoldedView } from "./folded.js";
export { Pair } from "./pair.js";
export { mount } from "./widget.js";
