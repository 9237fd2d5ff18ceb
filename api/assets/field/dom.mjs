// Making parts of a page. Texts stay texts: nothing typed or answered ever becomes markup.

const SVG = "http://www.w3.org/2000/svg";
const SIGNS = {
  fits: '<path d="M1.5 8.5L6 13L14.5 3" fill="none" stroke="currentColor" stroke-width="2.4"/>',
  waits: '<path d="M2 14H14M2 10H14" stroke="currentColor" stroke-width="2" fill="none"/><path d="M3 6H3.1M8 6H8.1M13 6H13.1" stroke="currentColor" stroke-width="2.4" stroke-linecap="round"/>',
  asks: '<path d="M4 5.4A4 4 0 1 1 9.6 9C8.4 9.6 8 10.2 8 11.2" fill="none" stroke="currentColor" stroke-width="2"/><path d="M7 13H9V15H7Z" fill="currentColor"/>',
  barred: '<path d="M1.5 1.5H14.5V14.5H1.5Z" fill="none" stroke="currentColor" stroke-width="2"/><path d="M4 8H12" stroke="currentColor" stroke-width="3"/>',
};

const TAG = /(\S*\w-\w\S*)/;

/** Tags keep together where they fit (`.tag` in the style): none is broken at its hyphens. */
const whole = (part) => (typeof part === "string" && TAG.test(part) ? part.split(TAG).map((text, at) => (at % 2 ? tagged(text) : text)) : [part]);

function tagged(text) {
  const made = document.createElement("span");
  made.className = "tag";
  made.textContent = text;
  return made;
}

/** An element with its properties (`class`, `aria-…`, `data-…` as attributes) and what is in it. */
export function el(tag, properties = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name in made && !name.includes("-")) made[name] = value;
    else if (value !== false && value != null) made.setAttribute(name, value);
  }
  made.append(...inside.flat().filter((part) => part != null && part !== false).flatMap(whole));
  return made;
}

/** A drawn sign; the word beside it says the same. */
export function sign(name) {
  const drawn = document.createElementNS(SVG, "svg");
  for (const [key, value] of Object.entries({ class: "sign", viewBox: "0 0 16 16", "aria-hidden": "true" })) {
    drawn.setAttribute(key, value);
  }
  drawn.innerHTML = SIGNS[name];
  return drawn;
}

/** Choices of which one is taken; each `{value, text, books}`. */
export function choices(name, offered, taken, down = true) {
  const one = ({ value, text, books }) =>
    el(
      "label",
      {},
      el("input", { type: "radio", name, value, checked: value === taken }),
      el("span", {}, text, books && el("br"), books),
    );
  return el("div", { class: down ? "pick down" : "pick" }, offered.map(one));
}
