// The list of parts beside an assembly: a row marks its members and hides them; what the marked one meets is named.

import { make } from "./elements.js";

const WORDS = { clash: "clashes with", weld: "is welded to", mate: "is bolted or pinned to" };

/**
 * A list of parts in `element`. `act.pick(key)` is called when a member is chosen, `act.hide(names)` with all hidden
 * names whenever they change.
 */
export class Parts {
  constructor(element, act) {
    this.element = element;
    this.act = act;
    this.rows = [];
    this.links = [];
    this.hidden = new Set();
    this.marked = "";
  }

  /** Show rows [{item, quantity, text, mass, members: [names]}]. */
  set(rows) {
    this.rows = rows;
    const known = new Set(rows.flatMap((r) => r.members));
    for (const name of this.hidden) if (!known.has(name)) this.hidden.delete(name);
    this.draw();
  }

  /** Take what meets what [{a, b, kind, text}]. */
  setLinks(links) {
    this.links = links;
    this.draw();
  }

  /** Mark a member by its key, "member:NAME", "" for none. */
  mark(key) {
    const name = key.startsWith("member:") ? key.slice(7) : "";
    if (name === this.marked) return;
    this.marked = name;
    this.draw();
    this.element.querySelector(".tb-row-marked")?.scrollIntoView({ block: "nearest" });
  }

  draw() {
    const focus = document.activeElement?.dataset?.part;
    this.element.replaceChildren(make("ul", { className: "tb-rows" }, ...this.rows.map((r) => this.row(r))));
    if (focus) [...this.element.querySelectorAll("[data-part]")].find((e) => e.dataset.part === focus)?.focus();
  }

  row(row) {
    const shown = make("input", { type: "checkbox", checked: !row.members.every((n) => this.hidden.has(n)) });
    shown.setAttribute("aria-label", `show ${row.text}`);
    shown.dataset.part = `show ${row.item}`;
    shown.onchange = () => {
      for (const name of row.members) this.hidden[shown.checked ? "delete" : "add"](name);
      this.act.hide(this.hidden);
    };
    const mine = row.members.includes(this.marked);
    const text = make("button", { type: "button", className: "tb-part" });
    text.dataset.part = `row ${row.item}`;
    text.setAttribute("aria-pressed", String(mine));
    text.append(make("b", { textContent: row.item }), make("span", { textContent: ` ${row.quantity} × ${row.text}` }));
    if (row.mass) text.append(make("small", { textContent: ` ${row.mass}` }));
    // Pressed again and again the row steps through its members, then marks none.
    text.onclick = () => {
      const next = row.members[row.members.indexOf(this.marked) + 1];
      this.act.pick(next ? `member:${next}` : "");
    };
    const item = make("li", { className: mine ? "tb-row-marked" : "" }, shown, text);
    if (mine) item.append(make("div", { className: "tb-member", textContent: this.marked }), ...this.meets());
    return item;
  }

  meets() {
    const own = this.links.filter((l) => l.a === this.marked || l.b === this.marked);
    return own.map((l) => {
      const other = l.a === this.marked ? l.b : l.a;
      const go = make("button", { type: "button", className: `tb-link tb-link-${l.kind}` });
      go.textContent = `${WORDS[l.kind]} ${other}${l.text ? `: ${l.text}` : ""}`;
      go.onclick = () => this.act.pick(`member:${other}`);
      return go;
    });
  }
}
