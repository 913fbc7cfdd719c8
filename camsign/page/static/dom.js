// Small helpers. Text only ever goes in as text, so that no name can become markup.

const SVG = "http://www.w3.org/2000/svg";

/** Makes an element: h("button", {class: "x", onclick: f, "aria-label": "…"}, child, "text"). */
export function h(tag, props = {}, ...children) {
  return fill(document.createElement(tag), props, children);
}

/** The same for SVG. */
export function s(tag, props = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), props, children);
}

function fill(element, props, children) {
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "data") Object.assign(element.dataset, value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false));
  return element;
}

/** A dialog with a heading and a button that closes it. */
export function dialog(name, id, title, ...children) {
  const close = h("button", { type: "button", class: "close", onclick: () => made.close() }, "Close ", h("kbd", {}, "Esc"));
  const made = h("dialog", { class: name, "aria-labelledby": id }, close, h("h2", { id }, title), ...children);
  return made;
}

/** @param {string} selector @param {ParentNode} [root] @returns {any} */
export const $ = (selector, root = document) => root.querySelector(selector);
/** @param {string} selector @param {ParentNode} [root] @returns {any[]} */
export const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];

/** "1 frame", "12 frames". */
export function many(n, word) {
  return `${n.toLocaleString("en")} ${word}${n === 1 ? "" : "s"}`;
}

const SHAPES = {
  buck: () => s("circle", { cx: 6, cy: 6, r: 5.4 }),
  animal: () => s("rect", { x: 1.2, y: 1.2, width: 9.6, height: 9.6 }),
  people: () => s("path", { d: "M6 0 12 6 6 12 0 6Z" }),
  nothing: () => s("rect", { x: 0, y: 4.4, width: 12, height: 3.2 }),
  unknown: () => s("path", { d: "M6 .6 11.8 11H.2Z" }),
};

/** The mark of what a tag is about; its shape says the same as its color. */
export function mark(kind) {
  const shape = (SHAPES[kind] ?? SHAPES.unknown)();
  return s("svg", { class: `mark ${kind}`, viewBox: "0 0 12 12", "aria-hidden": "true" }, shape);
}

/** What the table calls a light, as people say it. */
export const lightWords = (light) => (light === "colour" ? "color" : light);

const DAY = new Intl.DateTimeFormat("en", { weekday: "short", day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });

/** "Fri, Oct 3, 2025" of an ISO time with offset: the day at the place, whatever zone the browser is in. */
export function dayOf(iso) {
  return DAY.format(new Date(`${iso.slice(0, 10)}T00:00:00Z`));
}

/** "6:42:07 PM" or "6:42 PM" of an ISO time, at the place; "18:42" in a metric logbook. */
export function clockOf(iso, seconds = false) {
  const rest = iso.slice(13, seconds ? 19 : 16);
  if (document.documentElement.dataset.clock === "24") return iso.slice(11, 13) + rest;
  const hour = Number(iso.slice(11, 13));
  return `${hour % 12 || 12}${rest} ${hour < 12 ? "AM" : "PM"}`;
}

const SHORT = new Intl.DateTimeFormat("en", { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });

/** "Oct 3, 2025" of an ISO day; nothing of nothing. */
export const dayWords = (iso) => (iso ? SHORT.format(new Date(`${iso.slice(0, 10)}T00:00:00Z`)) : "");

const POINTS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];

/** The nearest of the 16 compass points of a bearing in degrees. */
export function compass(deg) {
  return POINTS[Math.round((((deg % 360) + 360) % 360) / 22.5) % 16];
}

/** A bearing as people read it, letters first: "SW (217°)". */
export const bearingWords = (deg) => `${compass(deg)} (${Math.round(((deg % 360) + 360) % 360) % 360}°)`;

/** Degrees of a bearing while it is typed, for the drawing alone; magnetic ones are not drawn. */
export function degreesOf(said) {
  const words = said.trim().toUpperCase().replace(/[°T]$/, "");
  const point = POINTS.indexOf(words);
  if (point >= 0) return point * 22.5;
  return words !== "" && Number.isFinite(Number(words)) ? Number(words) : null;
}
