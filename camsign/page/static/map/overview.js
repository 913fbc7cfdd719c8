// Beside the map when nothing is chosen: what is shown, switched on and off, and lists that lead there.

import { dayWords as inWords, h, many, s } from "../dom.js";
import { KINDS, PLURAL, cameraMark, placeMark, signMark } from "./marks.js";
import { dayWords } from "./time.js";

const MOST = 40;

/** The panel's children. `act`: choose(thing), toggle(kind), fresh(days). */
export function overview(land, sheet, fresh, act) {
  if (!land.cameras.length && !land.sign.length && !land.areas.length && !land.places.length) return [nothing()];
  return [legend(land, sheet, act), freshPart(fresh, act), readingPart(land, sheet, act), ...lists(land, sheet, act)].filter(Boolean);
}

function nothing() {
  return h("div", { class: "form" }, h("h2", {}, "Nothing is on the map yet"), h("p", {}, "Hang a camera, add sign or draw an area with the buttons above the map; or drop the file of your handheld on the page ", h("a", { href: "/woods" }, "From the woods"), "."));
}

const icon = (...children) => s("svg", { viewBox: "-11 -11 22 22", "aria-hidden": "true" }, ...children);

export function iconOf(one) {
  if (one.camera) return icon(s("path", { class: `camera${one.until ? " down" : ""}`, d: cameraMark(0, 0) }));
  if (one.looks) return icon(s("path", { class: `sign ${one.kind}`, d: signMark(one.kind, 0, 0, 8) }));
  if (one.on) return icon(s("rect", { class: `area ${one.kind}`, x: -9, y: -7, width: 18, height: 14 }));
  return icon(s("path", { class: "place", d: placeMark(one.kind, 0, 0) }));
}

function legend(land, sheet, act) {
  const counts = new Map();
  for (const one of sheet.sign ?? []) counts.set(one.kind, (counts.get(one.kind) ?? 0) + 1);
  const kinds = KINDS.filter((kind) => land.sign.some((one) => one.kind === kind));
  const rows = kinds.map((kind) => toggle(kind, PLURAL[kind], counts.get(kind) ?? 0, icon(s("path", { class: `sign ${kind}`, d: signMark(kind, 0, 0, 8) })), sheet, act));
  rows.push(toggle("cameras", "camera spots", sheet.cameras?.length ?? 0, icon(s("path", { class: "camera", d: cameraMark(0, 0) })), sheet, act));
  if (land.areas.length) rows.push(toggle("areas", "areas", land.areas.length, icon(s("rect", { class: "area bedding", x: -9, y: -7, width: 18, height: 14 })), sheet, act));
  if (land.places.length) rows.push(toggle("places", "places", land.places.length, icon(s("path", { class: "place", d: placeMark("stand", 0, 0) })), sheet, act));
  const read = "An arrow points the way he was headed. A camera with a dashed outline was taken down.";
  return h("section", { "aria-labelledby": "shown" }, h("h2", { id: "shown" }, "Shown"), h("ul", {}, rows.map((row) => h("li", {}, row))), h("p", { class: "more" }, read));
}

function toggle(kind, words, n, picture, sheet, act) {
  const box = h("input", { type: "checkbox", onchange: () => act.toggle(kind, box.checked) });
  box.checked = !sheet.hidden.has(kind);
  return h("label", { class: "row" }, box, picture, h("span", { class: "name" }, words), h("span", { class: "quiet" }, `${n}`));
}

function freshPart(fresh, act) {
  if (!fresh.last) return null;
  const select = h("select", { "aria-label": "Days back", onchange: () => act.fresh(Number(select.value)) }, [3, 7, 10, 14, 30].map((n) => h("option", { value: n }, `${n} days`)));
  select.value = `${fresh.days}`;
  const rows = fresh.clusters.slice(0, 12).map((one) => {
    const kinds = Object.entries(one.kinds).map(([kind, n]) => (n === 1 ? `1 ${kind}` : `${n} ${PLURAL[kind] ?? kind}`)).join(", ");
    return h("li", {}, h("button", { type: "button", class: "row", onclick: () => act.choose(one) }, icon(s("circle", { class: "cluster", r: 8 })), h("span", { class: "name", title: kinds }, kinds), h("span", { class: "quiet" }, inWords(one.newest))));
  });
  const none = `No cluster of fresh sign: no ${fresh.least} within ${fresh.apart} of each other.`;
  return h(
    "section",
    { "aria-labelledby": "fresh" },
    h("h2", { id: "fresh" }, "Fresh sign, close together"),
    h("p", { class: "more" }, "Fresh sign and bright rubs from the ", select, ` before ${dayWords(fresh.last)} (your newest).`),
    rows.length ? h("ul", {}, rows) : h("p", { class: "more" }, none),
  );
}

/** What rubs say: lines and points that they head away from, worked out when asked for. */
function readingPart(land, sheet, act) {
  if (!land.sign.some((one) => one.kind === "rub" && one.travel !== null)) return null;
  const { lines, proposed, asked, busy } = sheet.reading;
  const ask = h("button", { type: "button", disabled: busy, onclick: act.read }, busy ? "Working it out …" : asked ? "Hide it" : "Work it out");
  const of = (one) => h("li", { class: "proposal" },
    h("button", { type: "button", class: "row", onclick: () => act.choose({ cluster: true, lat: one.lat, lon: one.lon, radius_m: one.radius_m }) }, icon(s("circle", { class: "proposed", r: 8 })), h("span", { class: "name" }, one.known_as ? h("bdi", {}, one.known_as) : `${one.kind}, proposed`)),
    one.known_as ? "" : h("ul", { class: "reasons" }, one.why.map((line) => h("li", {}, line))),
    one.known_as ? "" : h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => act.take(one) }, "Make it an area")));
  const line = (one) => h("li", {}, h("button", { type: "button", class: "row", onclick: () => act.go(one.points) }, icon(s("path", { class: "rub-line", d: "M-9 6 9 -6" })), h("span", { class: "name", title: one.words }, one.words)));
  return h(
    "section",
    { "aria-labelledby": "reading" },
    h("h2", { id: "reading" }, "What the rubs say"),
    h("p", { class: "more" }, "Rubs one after another make a line. Rubs pointing away from one spot on all sides can mean a bed there."),
    asked ? h("p", { class: "more" }, told(lines.length, proposed)) : "",
    asked && proposed.length ? h("ul", {}, proposed.slice(0, 12).map(of)) : "",
    asked && lines.length ? h("ul", {}, lines.slice(0, 12).map(line)) : "",
    h("div", { class: "buttons" }, ask),
  );
}

/** What the rubs of all seasons point to, in a line. */
function told(lines, proposed) {
  const known = proposed.filter((one) => one.known_as).map((one) => one.known_as);
  const all = known.length === proposed.length;
  const drawn = all ? ` you've already drawn: ${known.join(", ")}` : known.length ? `; you've already drawn ${known.join(", ")}` : "";
  const spots = proposed.length ? `The rubs point to ${many(proposed.length, "spot")}${drawn}. Dashed oval: where the center should be (95% sure).` : "The rubs point to no spot.";
  return `${many(lines, "rub line")} in all seasons. ${spots}`;
}

function lists(land, sheet, act) {
  const byName = (a, b) => nameOf(a).localeCompare(nameOf(b), undefined, { numeric: true });
  return [
    list("Areas", land.areas, act, (one) => one.kind),
    list("Cameras", [...(sheet.cameras ?? [])].sort(byName), act, (one) => (one.until ? `until ${inWords(one.until)}` : "still up")),
    list("Places", land.places, act, (one) => one.kind),
  ];
}

export const nameOf = (one) => one.camera ?? one.name ?? one.kind;

function list(title, all, act, aside) {
  if (!all.length) return null;
  const rows = all.slice(0, MOST).map((one) => h("li", {}, h("button", { type: "button", class: "row", onclick: () => act.choose(one, true) }, iconOf(one), h("span", { class: "name" }, h("bdi", {}, nameOf(one))), h("span", { class: "quiet" }, aside(one)))));
  const more = all.length > MOST ? h("p", { class: "more" }, `and ${all.length - MOST} more: choose them on the map`) : null;
  return h("section", {}, h("h2", {}, title), h("ul", {}, rows), more);
}
