// The page's words stand in page.html, in one list; here they are looked up. Texts go into the page as text only.

const list = new Map();
for (const word of document.getElementById("words").content.querySelectorAll("[data-word]")) {
  list.set(word.dataset.word, word.textContent.replace(/\s+/g, " ").trim());
}

/** The word of this key, with %1 filled in. */
export function word(key, filling = "") {
  return (list.get(key) ?? key).replace("%1", filling);
}

/** Set an element's text, only when it is another: what stands still is not laid out again. */
export function setText(element, text) {
  const next = text ?? "";
  if (element.textContent !== next) element.textContent = next;
}

/** Make an SVG element with attributes. */
export function svg(name, attributes = {}) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

/** A figure as one text: 6.21 ± 0.02 : 1. */
export function figureText(figure) {
  if (!figure || figure.text === null) return "";
  return figure.text + (figure.pm ? ` ± ${figure.pm}` : "") + (figure.unit ? ` ${figure.unit}` : "");
}
