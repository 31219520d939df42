// The page side of controls.py: a form of controls, or a row of buttons. It needs no library and no build.

const STYLE = `
.tb-form, .tb-buttons { font: 13px/1.35 system-ui, sans-serif; color: var(--jp-ui-font-color1, #23292e); }
.tb-form { container-type: inline-size; min-width: 0; padding-right: 8px; }
.tb-form fieldset { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 380px), 1fr)); gap: 0 20px;
  border: 0; margin: 0 0 6px; padding: 0; min-width: 0; }
.tb-form legend { grid-column: 1 / -1; padding: 0; font-size: 12px; font-weight: 600; color: var(--jp-ui-font-color1, #4a5258); }
.tb-field { display: grid; grid-template-columns: 104px minmax(180px, 1fr) 76px; gap: 0 8px; align-items: center;
  min-height: 28px; margin: 1px 0; }
.tb-field label { overflow-wrap: anywhere; }
.tb-field .tb-wide { grid-column: 2 / 4; width: 100%; }
.tb-field input[type="range"] { width: 100%; min-width: 180px; height: 24px; margin: 0; accent-color: #1f63e0; }
.tb-field input[type="text"], .tb-field select { box-sizing: border-box; min-width: 0; height: 26px; padding: 0 6px;
  font: inherit; color: inherit; background: var(--jp-layout-color0, #fff);
  border: 1px solid var(--jp-border-color1, #8a939a); border-radius: 3px; }
.tb-field input[type="text"].tb-number { width: 76px; text-align: right; font-variant-numeric: tabular-nums; }
.tb-field input[type="checkbox"] { width: 24px; height: 24px; margin: 0; accent-color: #1f63e0; }
.tb-field [aria-invalid="true"] { border: 2px solid var(--jp-error-color1, #c62828); }
.tb-problem { grid-column: 1 / -1; color: var(--jp-error-color1, #c62828); overflow-wrap: break-word; margin: 1px 0 4px; }
.tb-how { grid-column: 2 / 4; font-size: 12px; opacity: 0.85; }
@container (max-width: 379px) {
  .tb-field { grid-template-columns: minmax(0, 1fr) 76px; }
  .tb-field label { grid-column: 1 / -1; }
  .tb-field .tb-wide, .tb-how { grid-column: 1 / -1; }
  .tb-field input[type="range"] { min-width: 0; }
}
.tb-buttons { display: flex; flex-wrap: wrap; gap: 6px; margin: 4px 0; }
.tb-buttons button { min-height: 28px; padding: 2px 10px; font: inherit; color: inherit; cursor: pointer;
  background: var(--jp-layout-color2, #eceeec); border: 1px solid var(--jp-border-color1, #8a939a); border-radius: 3px; }
.tb-buttons button:disabled { opacity: 0.55; cursor: default; }
.tb-buttons button[aria-expanded="true"] { background: var(--jp-layout-color3, #d5d9d6); }
.tb-form :focus-visible, .tb-buttons :focus-visible { outline: 2px solid var(--jp-brand-color1, #1f63e0); outline-offset: 1px; }
`;

// A page may load this source once for each form: names of elements must differ all the same.
const OWN = Math.random().toString(36).slice(2, 8);
let count = 0;

function make(tag, properties = {}, ...children) {
  const { attributes = {}, ...own } = properties;
  const e = Object.assign(document.createElement(tag), own);
  for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, value);
  e.append(...children);
  return e;
}

/** Return a number as text: no more digits than it needs. */
export function plain(value) {
  return String(Number(Number(value).toFixed(4)));
}

/** Return the value `steps` steps of a slider further, on the grid of the steps and inside the range. */
export function stepped({ low, high, step }, value, steps, fine = 1) {
  const unit = step * fine;
  const place = (value - low) / unit;
  const on = Math.abs(place - Math.round(place)) < 1e-6;
  const next = on ? Math.round(place) + steps : steps > 0 ? Math.floor(place) + steps : Math.ceil(place) + steps;
  return Math.min(Math.max(Number((low + next * unit).toFixed(9)), low), high);
}

function number(item, give, type) {
  const { low, high, step, label, unit } = item;
  const slider = make("input", { type: "range", className: "tb-slider", min: low, max: high, step: "any" });
  slider.setAttribute("aria-label", `${label}, slider`);
  const text = make("input", { type: "text", className: "tb-number", inputMode: "decimal", autocomplete: "off" });
  const put = typing(text, type);
  const show = (value) => {
    slider.value = value;
    slider.setAttribute("aria-valuetext", `${plain(value)} ${unit ?? ""}`.trim());
    put(plain(value));
  };
  const go = (value) => {
    show(value);
    give(value);
  };
  slider.oninput = () => go(stepped(item, Math.round((slider.value - low) / step) * step + low, 0));
  slider.onkeydown = (e) => {
    if (e.altKey || e.ctrlKey || e.metaKey) return;
    const way = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[e.key];
    const fine = e.shiftKey && item.kind === "length" ? 0.1 : 1;
    if (way) go(stepped(item, Number(slider.value), way, fine));
    else if (e.key === "Home") go(low);
    else if (e.key === "End") go(high);
    else return;
    e.preventDefault();
    e.stopPropagation();
  };
  return { main: text, parts: [slider, text], show };
}

// A text is used once it is complete, not after every letter: at Enter, which a notebook may keep from the browser, or
// when the field is left. Returns what shows a value, which is nothing that was typed.
function typing(text, type) {
  let last = null;
  const done = () => {
    if (text.value === last) return;
    last = text.value;
    type(text.value);
  };
  text.onchange = done;
  text.onkeydown = (e) => {
    if (e.key !== "Enter") return;
    e.stopPropagation();
    done();
  };
  return (value) => (last = text.value = value);
}

function choice(item, give) {
  const list = make("select", { className: "tb-wide" });
  list.append(...item.choices.map((words, i) => make("option", { value: i, textContent: words })));
  list.onchange = () => give(Number(list.value));
  return { main: list, parts: [list], show: (i) => (list.value = i) };
}

function flag(item, give) {
  const box = make("input", { type: "checkbox" });
  box.onchange = () => give(box.checked);
  return { main: box, parts: [box], show: (on) => (box.checked = on) };
}

function words(item, give, type) {
  const text = make("input", { type: "text", className: "tb-wide", autocomplete: "off" });
  return { main: text, parts: [text], show: typing(text, type) };
}

const KINDS = { length: number, count: number, choice, switch: flag, text: words };

function field(model, item, listen) {
  const id = `tb-${OWN}-${++count}`;
  const [shown, typed] = [`shown_${item.name}`, `typed_${item.name}`];
  const give = (value) => {
    model.set(shown, value);
    model.save_changes();
  };
  let times = model.get(typed)?.[1] ?? 0;
  const type = (text) => {
    model.set(typed, [text, ++times]);
    model.save_changes();
  };
  const made = KINDS[item.kind](item, give, type);
  const problem = make("div", { className: "tb-problem", id: `${id}-problem`, hidden: true });
  problem.setAttribute("role", "alert");
  const hint = item.unit ? `${item.hint}; a unit may be typed, as 26 1/4 in` : item.hint;
  const help = make("span", { id: `${id}-hint`, hidden: true, textContent: hint });
  made.main.id = id;
  made.main.title = hint;
  made.main.setAttribute("aria-describedby", `${id}-hint ${id}-problem`);
  const label = make("label", { htmlFor: id, textContent: item.label });
  const row = make("div", { className: "tb-field" }, label, ...made.parts, help, problem);
  row.dataset.name = item.name;
  const update = () => {
    const text = model.get("problems")[item.name] ?? "";
    problem.textContent = text;
    problem.hidden = !text;
    if (text) made.main.setAttribute("aria-invalid", "true");
    else made.main.removeAttribute("aria-invalid");
    // What was typed and refused stays in its field, so that it can be mended.
    if (!text) made.show(model.get(shown));
  };
  listen(`change:${shown}`, update);
  listen("change:problems", update);
  update();
  made.show(model.get(shown));
  return row;
}

function form(model, root, listen) {
  const groups = new Map();
  for (const item of model.get("items")) groups.set(item.group, [...(groups.get(item.group) ?? []), item]);
  for (const [name, items] of groups) {
    const rows = items.map((item) => field(model, item, listen));
    root.append(make("fieldset", {}, make("legend", { textContent: name }), ...rows));
  }
}

function buttons(model, root, listen) {
  for (const { name, hint, opens } of model.get("items")) {
    const e = make("button", { type: "button", textContent: name });
    if (hint) e.title = hint;
    e.onclick = () => model.send({ press: name });
    const update = () => {
      e.disabled = model.get("off").includes(name);
      if (opens) e.setAttribute("aria-expanded", String(model.get("out").includes(name)));
    };
    listen("change:off", update);
    listen("change:out", update);
    update();
    root.append(e);
  }
}

export default {
  render({ model, el }) {
    const root = make("div", { className: model.get("what") === "form" ? "tb-form" : "tb-buttons" });
    root.append(make("style", { textContent: STYLE }));
    const heard = [];
    const listen = (name, f) => {
      model.on(name, f);
      heard.push([name, f]);
    };
    (model.get("what") === "form" ? form : buttons)(model, root, listen);
    // A notebook must not take keys meant for a control; some of its shortcuts look at the focused element itself.
    root.addEventListener("focusin", (e) => (e.target.dataset.lmSuppressShortcuts = "true"));
    el.append(root);
    return () => {
      for (const [name, f] of heard) model.off(name, f);
      root.remove();
    };
  },
};
