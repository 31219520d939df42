// Light or dark: whatever the page around the view shows.

function luminance(colour) {
  const parts = colour.match(/[\d.]+/g)?.map(Number);
  if (!parts || parts.length < 3 || (parts.length > 3 && parts[3] < 0.1)) return null;
  return (0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]) / 255;
}

/** Return "light" or "dark" from the first opaque background behind an element. */
export function themeBehind(element) {
  for (let e = element?.parentElement; e; e = e.parentElement) {
    const value = luminance(getComputedStyle(e).backgroundColor);
    if (value !== null) return value < 0.45 ? "dark" : "light";
  }
  return matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
}

/** Call `changed(theme)` now and whenever the page turns; returns a function that stops it. */
export function watchTheme(element, changed) {
  let last = "";
  const look = () => {
    const theme = themeBehind(element);
    if (theme !== last) changed((last = theme));
  };
  // A page may swap its style sheet after it has set the attribute: look once more a little later.
  const soon = () => {
    look();
    setTimeout(look, 300);
  };
  const observer = new MutationObserver(soon);
  for (const e of [document.documentElement, document.body]) observer.observe(e, { attributes: true });
  const media = matchMedia("(prefers-color-scheme: dark)");
  media.addEventListener("change", soon);
  look();
  return () => {
    observer.disconnect();
    media.removeEventListener("change", soon);
  };
}
