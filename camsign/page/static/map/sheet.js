// Draws the land into the map's SVG, in pixels, anew for every view. All sign of a kind is one path, so
// that thousands cost little; what was hit is found by distance, not by the browser.

import { $$, s } from "../dom.js";
import { covered, spread } from "../labels.js";
import { KINDS, arrow, cameraMark, placeMark, signMark, wedge } from "./marks.js";
import { stretch, toLatLon, toPlane } from "./plane.js";

const NEAR_PX = 13;
const ARROWS_UP_TO = 700; // more arrows than this on the sheet would hide one another
const NAMES_UP_TO = 60;
const BESIDE_PX = 24; // a camera without room for its name may share that of one this near
const SIGN_UP_TO = 400; // so many marks of sign a name steps aside for

export class Sheet {
  hidden = new Set(); // kinds that are switched off
  chosen = null;
  clusters = [];
  sign = [];
  cameras = [];
  reading = { lines: [], proposed: [] };
  shown = []; // pixels of the sign that is drawn
  #layers = {};

  constructor(svg, view, land) {
    this.svg = svg;
    this.view = view;
    this.land = land;
    for (const name of ["grid", "ground", "areas", "ways", "clusters", "lines", "wedges", "arrows", "sign", "places", "cameras", "names", "chosen", "draft"]) {
      this.#layers[name] = s("g", { class: `layer-${name}` });
      svg.append(this.#layers[name]);
    }
  }

  layer(name) {
    return this.#layers[name];
  }

  /** Shows the days from one number to another. */
  setDays(first, last) {
    const { sign, cameras } = this.land.within(first, last);
    this.sign = sign;
    this.cameras = cameras;
    this.view.soon();
  }

  draw() {
    const { view, land } = this;
    const seen = (x, y, out = 30) => {
      const [px, py] = view.toScreen(x, y);
      return px > -out && py > -out && px < view.width + out && py < view.height + out ? [px, py] : null;
    };
    this.#drawAreas();
    this.#drawSign(seen);
    this.#drawCameras(seen);
    this.#drawPlaces(seen);
    this.#drawClusters();
    this.#drawReading();
    this.#drawChosen();
    this.#spreadNames();
    const stands = land.cameras.length + land.sign.length + land.areas.length + land.places.length;
    this.svg.dataset.drawn = `${stands}`;
  }

  /** Names of areas, then of stands, cameras, proposals, clusters and ways in: none lies on another or on a camera. */
  #spreadNames() {
    const all = ["names", "places", "cameras", "lines", "clusters"].flatMap((layer) => $$("text", this.#layers[layer]));
    const names = [...all.filter((text) => !text.dataset.way), ...all.filter((text) => text.dataset.way)];
    const stands = this.hidden.has("places") ? [] : this.land.places.filter((one) => one.at.length === 1).map((one) => one.at[0]);
    const cameras = this.hidden.has("cameras") ? [] : (this.cameras ?? []).map((one) => [one.x, one.y]);
    const marks = [...cameras, ...stands].map(([x, y]) => this.view.toScreen(x, y));
    const sign = this.shown.slice(0, SIGN_UP_TO).map(([x, y]) => [x - 5, y - 5, x + 5, y + 5]);
    const hidden = covered(this.svg, $$(".north, .zoom, .scale", this.svg.parentElement));
    const taken = [...marks.map(([x, y]) => [x - 9, y - 9, x + 9, y + 9]), ...hidden];
    const soft = [...this.#smallAreas(), ...sign];
    const own = new Map(names.map((name) => [name, ["x", "y"].map((axis) => Number(name.getAttribute(axis)))]));
    spread(names, taken, { soft });
    if (!this.#share($$("text", this.#layers.cameras), own)) return;
    const left = names.filter((name) => name.isConnected);
    for (const name of left) ["x", "y"].forEach((axis, i) => name.setAttribute(axis, own.get(name)[i]));
    spread(left, taken, { soft });
  }

  /** Adds a camera's name without room to that of one beside it; says whether it did. */
  #share(cameras, own) {
    const [without, seen] = ["hidden", "visible"].map((how) => cameras.filter((one) => one.getAttribute("visibility") === how));
    const far = (one, other) => Math.hypot(own.get(one)[0] - own.get(other)[0], own.get(one)[1] - own.get(other)[1]);
    const pairs = without.map((one) => [one, seen.find((other) => far(one, other) < BESIDE_PX)]).filter(([, beside]) => beside);
    for (const [one, beside] of pairs) {
      beside.textContent += `, ${one.textContent}`;
      one.remove();
    }
    return pairs.length > 0;
  }

  /** Boxes of areas that a name would cover whole. */
  #smallAreas() {
    if (this.hidden.has("areas")) return [];
    const boxes = this.land.areas.map((one) => {
      const [xs, ys] = [0, 1].map((i) => one.around.map((corner) => this.view.toScreen(...corner)[i]));
      return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
    });
    return boxes.filter(([left, , right]) => right - left < 90);
  }

  #drawAreas() {
    const names = [];
    const made = (this.hidden.has("areas") ? [] : this.land.areas).map((one) => {
      const [x, y] = this.view.toScreen(one.x, one.y);
      const heights = one.around.map(([ax, ay]) => this.view.toScreen(ax, ay)[1]);
      const [top, deep] = [Math.min(...heights), Math.max(...heights) - Math.min(...heights)];
      const wide = Math.abs(Math.max(...one.around.map((p) => p[0])) - Math.min(...one.around.map((p) => p[0]))) * this.view.k;
      const above = top - 8 > 14;
      const name = label(x, Math.max(18, above ? top - 8 : y), `${one.name}`, wide > 120 ? one.kind : "");
      if (above) Object.assign(name.dataset, { wide, deep });
      if (wide > 26 || this.land.areas.length <= NAMES_UP_TO) names.push(name);
      return s("path", { class: `area ${one.kind}${this.chosen === one ? " chosen" : ""}`, d: this.outline(one.on) });
    });
    this.#layers.areas.replaceChildren(...made);
    this.#layers.names.replaceChildren(...names);
  }

  outline(rings, close = "Z") {
    return rings.map((ring) => `M${ring.map(([x, y]) => this.view.toScreen(x, y).map((v) => v.toFixed(1)).join(" ")).join("L")}${close}`).join("");
  }

  #drawSign(seen) {
    const paths = Object.fromEntries(KINDS.map((kind) => [kind, ""]));
    const radius = this.view.k > 0.25 ? 6.5 : this.view.k > 0.06 ? 5.2 : 3.6;
    let arrows = "";
    const there = [];
    const taken = new Set(); // marks that would lie on one another to a few pixels are drawn once
    for (const one of this.sign ?? []) {
      if (this.hidden.has(one.kind)) continue;
      const at = seen(one.x, one.y);
      if (!at) continue;
      const cell = `${one.kind}${at[0] >> 2},${at[1] >> 2}`;
      if (taken.has(cell)) continue;
      taken.add(cell);
      there.push([one, at]);
      paths[one.kind] = (paths[one.kind] ?? "") + signMark(one.kind, ...at, radius);
    }
    this.shown = there.map(([, at]) => at);
    if (there.length <= ARROWS_UP_TO && this.view.k > 0.04) {
      for (const [one, at] of there) if (one.travel !== null) arrows += arrow(...at, one.travel, radius, radius + 15);
    }
    this.#layers.sign.replaceChildren(...Object.entries(paths).filter(([, d]) => d).map(([kind, d]) => s("path", { class: `sign ${kind}`, d })));
    this.#layers.arrows.replaceChildren(arrows ? s("path", { class: "heading", d: arrows }) : "");
  }

  #drawCameras(seen) {
    const [wedges, marks] = [[], []];
    const names = new Map();
    for (const one of this.hidden.has("cameras") ? [] : this.cameras ?? []) {
      const at = seen(one.x, one.y, 60);
      if (!at) continue;
      if (one.facing !== null) wedges.push(s("path", { class: "wedge", d: wedge(...at, one.facing) }));
      marks.push(s("path", { class: `camera${one.until ? " down" : ""}`, d: cameraMark(...at) }));
      const key = at.map((v) => Math.round(v / 14)).join(",");
      if (!names.has(key)) names.set(key, [at, new Set()]);
      names.get(key)[1].add(one.camera);
    }
    this.#layers.wedges.replaceChildren(...wedges);
    const words = names.size <= NAMES_UP_TO ? [...names.values()].map(([[x, y], who]) => label(x, y + 24, [...who].join(", "))) : [];
    this.#layers.cameras.replaceChildren(...marks, ...words);
  }

  #drawPlaces(seen) {
    const [ways, marks] = [[], []];
    for (const one of this.hidden.has("places") ? [] : this.land.places) {
      if (one.at.length > 1) ways.push(s("path", { class: "way", d: this.outline([one.at], "") }));
      const at = seen(...one.at[0]);
      if (!at) continue;
      if (one.at.length === 1) marks.push(s("path", { class: "place", d: placeMark(one.kind, ...at) }));
      const name = label(at[0], at[1] + 24, one.name);
      if (one.at.length > 1) name.dataset.way = "yes";
      marks.push(name);
    }
    this.#layers.ways.replaceChildren(...ways);
    this.#layers.places.replaceChildren(...marks);
  }

  #drawClusters() {
    this.#layers.clusters.replaceChildren(
      ...this.clusters.flatMap((one) => {
        const [x, y] = this.view.toScreen(one.x, one.y);
        const r = Math.max(16, one.radius_m * stretch(one.lat) * this.view.k + 14);
        return [s("circle", { class: "cluster", cx: x, cy: y, r }), label(x, y - r - 5, `${one.signs} fresh`)];
      }),
    );
  }

  /** Lines of rubs, carried on beyond both ends, and the regions that rubs head away from. */
  #drawReading() {
    const screen = ([lat, lon]) => this.pixel(lat, lon);
    const lines = this.reading.lines.flatMap((one) => {
      const at = [one.from, ...one.points, one.to].map(screen);
      const d = at.map(([x, y], i) => `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");
      return [s("path", { class: "rub-line", d }), s("path", { class: "rub-line-head", d: arrow(...at.at(-1), one.heading, -1, 1) })];
    });
    const regions = this.reading.proposed.flatMap((one) => {
      const [x, y] = this.pixel(one.lat, one.lon);
      const k = stretch(one.lat) * this.view.k;
      const marks = [s("circle", { class: "proposed", cx: x, cy: y, r: one.radius_m * k }), s("path", { class: "proposed-middle", d: `M${x - 6} ${y}h12M${x} ${y - 6}v12` })];
      if (one.region_m) marks.push(s("ellipse", { class: "region", cx: x, cy: y, rx: one.region_m[0] * k, ry: one.region_m[1] * k, transform: `rotate(${one.region_deg - 90} ${x} ${y})` }));
      if (!one.known_as) marks.push(label(x, y + one.radius_m * k + 18, `${one.kind}?`));
      return marks;
    });
    this.#layers.lines.replaceChildren(...lines, ...regions);
  }

  #drawChosen() {
    const one = this.chosen;
    const at = one && !one.on ? this.view.toScreen(...(one.at ? one.at[0] : [one.x, one.y])) : null;
    this.#layers.chosen.replaceChildren(at ? s("circle", { class: "chosen-ring", cx: at[0], cy: at[1], r: 17 }) : "");
  }

  /** What lies at a pixel: the nearest mark, else the smallest area around it. */
  hit(px, py) {
    let [best, least] = [null, NEAR_PX];
    const offer = (one, x, y, favor) => {
      const [sx, sy] = this.view.toScreen(x, y);
      const off = Math.hypot(sx - px, sy - py) - favor;
      if (off < least) [best, least] = [one, off];
    };
    for (const one of this.sign ?? []) if (!this.hidden.has(one.kind)) offer(one, one.x, one.y, 0);
    if (!this.hidden.has("cameras")) for (const one of this.cameras ?? []) offer(one, one.x, one.y, 2);
    if (!this.hidden.has("places")) for (const one of this.land.places) offer(one, ...one.at[0], 2);
    if (best || this.hidden.has("areas")) return best;
    const [x, y] = this.view.toPlane(px, py);
    return this.land.areas.filter((one) => one.on.reduce((odd, ring) => odd !== inside(ring, x, y), false)).sort((a, b) => size(a) - size(b))[0] ?? null;
  }

  /** [lat, lon] of a pixel. */
  place(px, py) {
    return toLatLon(...this.view.toPlane(px, py));
  }

  pixel(lat, lon) {
    return this.view.toScreen(...toPlane(lat, lon));
  }
}

export function label(x, y, words, below = "") {
  const text = s("text", { x: x.toFixed(1), y: y.toFixed(1) }, short(words));
  if (below) text.append(s("tspan", { class: "quiet small" }, ` · ${below}`));
  return text;
}

const short = (words) => (words.length > 34 ? `${words.slice(0, 33)}…` : words);
const size = (one) => {
  const [xs, ys] = [one.around.map((p) => p[0]), one.around.map((p) => p[1])];
  return (Math.max(...xs) - Math.min(...xs)) * (Math.max(...ys) - Math.min(...ys));
};

function inside(ring, x, y) {
  let odd = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [[ax, ay], [bx, by]] = [ring[i], ring[j]];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) odd = !odd;
  }
  return odd;
}
