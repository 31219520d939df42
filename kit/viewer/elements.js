// Small helpers for elements of a page.

/** Make an element with children. */
export function make(tag, properties = {}, ...children) {
  const e = Object.assign(document.createElement(tag), properties);
  e.append(...children);
  return e;
}

/** Make a list to choose from. */
export function choice(title, options, changed) {
  const e = make("select", { title, onchange: () => changed(e.value) });
  e.setAttribute("aria-label", title);
  e.append(...options.map(([value, text]) => make("option", { value, textContent: text })));
  return e;
}
