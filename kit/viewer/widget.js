// Between a notebook's widget model and the views: the only file here that knows of widgets.

import { Film } from "./film.js";
import { together, typed } from "./mesh.js";
import { Pair } from "./pair.js";

const POINTS = ["x", "y", "z"];
const EDGES = ["edges_x", "edges_y", "edges_z"];
const SHAPE = [...POINTS, ...EDGES, "triangles", "group_of", "groups", "labels"];
const SCENE = ["bodies", "members", "rows", "movements"];
const NARROW = 1 << 16; // up to so many points are numbered by 16 bits

function shape(model) {
  const labels = model.get("labels");
  const positions = together(POINTS.map((name) => model.get(name)));
  return {
    positions,
    triangles: typed(positions.length > 3 * NARROW ? Uint32Array : Uint16Array, model.get("triangles")),
    groupOf: model.get("group_of"),
    edges: together(EDGES.map((name) => model.get(name))),
    groups: model.get("groups").map(([name, kind], i) => ({ name, kind, label: labels[i] ?? name })),
    stamp: model.get("stamp"),
  };
}

const FIELD = ["field_points", "field_triangles", "field_moves", "field_values", "field"];

function field(model) {
  const about = model.get("field");
  if (!about.title) return null;
  const part = (name) => model.get(`field_${name}`);
  return {
    ...about,
    points: part("points"),
    triangles: part("triangles"),
    moves: part("moves"),
    values: part("values"),
  };
}

const STEP = ["bodies", "members", "frames", "angles", "words", "first", "last", "stamp"];

function mountFilm(model, host) {
  const film = new Film(host, { step: (by) => model.send({ step: by }) }, { theme: model.get("theme") });
  host.tinbookFilm = film;
  const keep = (e) => (e.target.dataset.lmSuppressShortcuts = "true");
  host.addEventListener("focusin", keep);
  const show = () => film.set(Object.fromEntries(STEP.map((name) => [name, model.get(name)])));
  show();
  model.on("change:stamp", show);
  return () => {
    model.off("change:stamp", show);
    film.dispose();
    host.remove();
  };
}

/** Show a widget model in an element; returns the function that clears it away. */
export function mount(model, el) {
  const host = document.createElement("div");
  host.style.setProperty("--tb-height", `${model.get("height")}px`);
  el.append(host);
  if (model.get("frames") !== undefined) return mountFilm(model, host);
  // A notebook must not take the arrow keys meant for the views or for the sliders beside them; some of its
  // shortcuts look at the focused element itself, so that is what has to carry the mark.
  const ours = el.closest(".tinbook-bench") ?? host;
  const keep = (e) => (e.target.dataset.lmSuppressShortcuts = "true");
  ours.addEventListener("focusin", keep);
  const pair = new Pair(host, { theme: model.get("theme") });
  host.tinbookPair = pair; // so that a page's own script, or a test, can reach the views
  const show = () => {
    if (model.get("members")?.length) {
      pair.setMembers(Object.fromEntries(SCENE.map((name) => [name, model.get(name)])), model.get("stamp"));
    } else pair.update(shape(model));
  };
  show();
  pair.update({ svg: model.get("svg") });
  pair.setLinks(model.get("links") ?? []);
  pair.highlight(model.get("highlight"));
  pair.setNote(model.get("note"));

  pair.setField(field(model));

  // One message may change several traits: draw once, after all of them are in.
  const once = (work) => {
    let due = false;
    return () => {
      if (due) return;
      due = true;
      queueMicrotask(() => {
        due = false;
        work();
      });
    };
  };
  // The flat pattern is drawn after the folded part's next picture: reading its text must not hold that up.
  const afterPicture = (work) => requestAnimationFrame(() => setTimeout(work));
  const reflat = once(() => afterPicture(() => pair.update({ svg: model.get("svg") })));
  const reshape = once(show);
  const recolour = once(() => pair.setField(field(model)));
  const heard = [
    ...[...SHAPE, ...SCENE].map((name) => [`change:${name}`, reshape]),
    ["change:links", () => pair.setLinks(model.get("links"))],
    ...FIELD.map((name) => [`change:${name}`, recolour]),
    ["change:svg", reflat],
    ["change:highlight", () => pair.highlight(model.get("highlight"))],
    ["change:note", () => pair.setNote(model.get("note"))],
    ["change:theme", () => pair.setTheme(model.get("theme"))],
    ["msg:custom", (message) => message?.copy && navigator.clipboard?.writeText(message.copy).catch(() => {})],
  ];
  for (const [name, f] of heard) model.on(name, f);
  host.addEventListener("tinbook:pick", (e) => {
    model.set("highlight", e.detail.name);
    model.set("picked", e.detail);
    model.save_changes();
  });
  return () => {
    for (const [name, f] of heard) model.off(name, f);
    ours.removeEventListener("focusin", keep);
    pair.dispose();
    host.remove();
  };
}
