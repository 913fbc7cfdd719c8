// The map of tonight: ground, bedding areas, ways in, stands, and the chosen stand's scent.

import { $, $$, s } from "../dom.js";
import { drawScale } from "../map/furniture.js";
import { covered, spread } from "../labels.js";
import { boxOf } from "../map/land.js";
import { arrow, fan, placeMark } from "../map/marks.js";
import { stretch, toPlane } from "../map/plane.js";
import { reliefOn } from "../map/relief.js";
import { View } from "../map/view.js";

const REACH_M = 400; // as far as scent is followed (camsign/air/spread.py)
const NEAR_M = 900; // a bed farther from every stand does not widen the view
const BAR_PX = 60;
const STREAM_M = 20; // a stream along the slope begins so wide and widens by a fifth of its way
const SPREADS = 0.2;
const n = (v) => v.toFixed(1);

export class Sheet {
  stands = new Map(); // a stand's id -> its row of the answer
  chosen = null;
  scent = null;
  going = null;
  relief = null;

  /** `picked(id)`: a stand on the map was chosen. */
  constructor(svg, land, picked) {
    this.svg = svg;
    this.land = land;
    this.picked = picked;
    this.ground = s("image", { preserveAspectRatio: "none" });
    this.fade = s("radialGradient", { id: "scent-fade", gradientUnits: "userSpaceOnUse" }, [[0, 0.62], [0.35, 0.42], [1, 0.14]].map(([offset, thick]) => s("stop", { class: "scent-stop", offset, "stop-opacity": thick })));
    this.layers = ["under", "scents", "marks"].map((name) => s("g", { class: name }));
    svg.append(s("defs", {}, this.fade), this.ground, ...this.layers);
    this.view = new View(svg, { changed: () => this.draw(), clicked: (x, y) => this.#clicked(x, y), most: 4 });
    this.fitted = false;
  }

  get places() {
    return this.land.places.filter((one) => one.kind === "stand" || one.kind === "way in");
  }

  get beds() {
    return this.land.areas.filter((one) => one.kind === "bedding");
  }

  /** Shows everything that matters tonight. */
  fit() {
    const stands = this.places.filter((one) => one.kind === "stand").flatMap((one) => one.at);
    const near = this.beds.filter((bed) => !stands.length || stands.some(([x, y]) => Math.hypot(bed.x - x, bed.y - y) < NEAR_M * stretch(bed.lat)));
    const points = [...this.places.flatMap((one) => one.at), ...near.flatMap((one) => one.around)];
    const box = boxOf(points);
    if (box && this.view.width) {
      this.view.fit(...box, Math.min(70, this.view.width / 9), 0.8);
      this.view.y -= BAR_PX / 2 / this.view.k; // the hour lies over the lower edge
      this.fitted = true;
    }
  }

  draw() {
    if (!this.fitted) this.fit();
    if (!this.fitted) return;
    drawScale(this.view, this.land.units);
    this.#drawGround();
    this.layers[0].replaceChildren(...this.beds.map((one) => this.#bed(one)), ...this.places.filter((one) => one.kind === "way in").map((one) => this.#way(one)));
    this.layers[1].replaceChildren(...this.#scent());
    const rank = (one) => this.stands.get(one.id)?.rank ?? Infinity; // the best one is named first
    const stands = this.places.filter((one) => one.kind === "stand").sort((a, b) => rank(a) - rank(b));
    this.layers[2].replaceChildren(...this.#names(), ...stands.map((one) => this.#stand(one)));
    const marks = stands.map((one) => this.view.toScreen(...one.at[0])).map(([x, y]) => [x - 14, y - 14, x + 14, y + 14]);
    this.#placeNames([...marks, ...this.#coming(), ...covered(this.svg, [$("#hour"), ...$$(".north, .scale", this.svg.parentElement)])]);
  }

  /** The chosen stand's name first, then that of the bed it is about, which is never left out. */
  #placeNames(taken) {
    const stands = $$(".stand text", this.layers[2]);
    const others = $$(":scope > text", this.layers[2]);
    const chosen = stands.filter((one) => one.parentElement.dataset.id === this.chosen);
    const bed = others.filter((one) => one.dataset.bed && one.dataset.bed === this.stands.get(this.chosen)?.area);
    const by = { level: 20, mark: 16 };
    let full = spread(bed, spread(chosen, taken, by));
    const hidden = bed.filter((one) => one.getAttribute("visibility") === "hidden");
    full = [...full, ...spread(hidden)];
    full = spread(stands.filter((one) => !chosen.includes(one)), full, by);
    spread(others.filter((one) => !bed.includes(one)), full);
  }

  /** Boxes along the arrow of his coming. */
  #coming() {
    const one = this.going === null ? null : this.land.byId.get(this.chosen);
    if (!one) return [];
    const [x, y] = this.view.toScreen(...one.at[0]);
    const a = (this.going * Math.PI) / 180;
    return [26, 40, 54, 66].map((r) => [x - Math.sin(a) * r, y + Math.cos(a) * r]).map(([px, py]) => [px - 7, py - 7, px + 7, py + 7]);
  }

  #drawGround() {
    const { relief, view } = this;
    this.ground.setAttribute("visibility", relief ? "visible" : "hidden");
    if (!relief) return;
    const { href, ...where } = reliefOn(view, relief);
    if (this.ground.getAttribute("href") !== href) this.ground.setAttribute("href", href);
    for (const [name, value] of Object.entries(where)) this.ground.setAttribute(name, n(value));
  }

  #path(points, closed) {
    return `M${points.map(([x, y]) => this.view.toScreen(x, y).map(n).join(" ")).join("L")}${closed ? "Z" : ""}`;
  }

  #bed(one) {
    return s("path", { class: "bed", d: one.on.map((ring) => this.#path(ring, true)).join("") });
  }

  #way(one) {
    const mine = this.chosen !== null && this.stands.get(this.chosen)?.way_in === one.name;
    return s("path", { class: mine ? "way mine" : "way", d: this.#path(one.at, false) });
  }

  #names() {
    const beds = this.beds.map((one) => {
      const [x, top] = this.view.toScreen(one.x, Math.max(...one.around.map((corner) => corner[1])));
      return s("text", { class: "quiet", x: n(x), y: n(top - 7), data: { bed: one.id } }, one.name);
    });
    const ways = this.places.filter((one) => one.kind === "way in").map((one) => {
      const [x, y] = this.view.toScreen(...one.at[0]);
      return s("text", { class: "small quiet", x: n(x), y: n(y + 16) }, one.name);
    });
    return [...beds, ...ways];
  }

  #stand(one) {
    const [x, y] = this.view.toScreen(...one.at[0]);
    const row = this.stands.get(one.id);
    const chosen = one.id === this.chosen;
    const words = row?.rank ? `${row.rank}. ${one.name}` : one.name;
    return s("g", { class: `stand${chosen ? " chosen" : ""}${row?.scent ? ` ${row.scent}` : ""}`, data: { id: one.id } },
      chosen && this.going !== null && s("path", { class: "comes", d: arrow(...this.#before(x, y), this.going, 0, 44) }),
      s("circle", { cx: n(x), cy: n(y), r: chosen ? 16 : 13 }),
      s("path", { d: placeMark("stand", x, y) }),
      s("text", { x: n(x), y: n(y - 20) }, words));
  }

  /** Where the arrow of his coming begins, so that it ends beside the stand. */
  #before(x, y) {
    const a = (this.going * Math.PI) / 180;
    return [x - Math.sin(a) * 64, y + Math.cos(a) * 64];
  }

  /** The stream of the wind and, where air slides along the slope, that one too; by their chances. */
  #scent() {
    const { scent } = this;
    const stand = this.land.byId.get(this.chosen);
    if (!scent || !stand) return [];
    const at = this.view.toScreen(stand.at[0][0], stand.at[0][1]);
    const perM = this.view.k * stretch(this.land.places.length ? stand.points[0][1] : 0);
    const windy = s("g", { class: "by-wind", opacity: n(1 - 0.7 * scent.share) });
    for (const [name, value] of Object.entries({ cx: at[0], cy: at[1], r: REACH_M * perM })) this.fade.setAttribute(name, n(value));
    const wide = scent.toward === null ? 180 : scent.half;
    if (scent.toward !== null && wide < 180) windy.append(s("path", { class: "doubt", d: fan(at, scent.toward, Math.min(180, wide + scent.doubt), REACH_M * perM) }));
    windy.append(s("path", { fill: "url(#scent-fade)", d: fan(at, scent.toward ?? 0, wide, REACH_M * perM) }));
    if (!scent.line || scent.share < 0.05) return [windy];
    return [windy, s("path", { class: "by-slope", "fill-opacity": n(0.15 + 0.4 * scent.share), d: this.#band(scent.line.map(([lat, lon]) => toPlane(lat, lon)), perM) })];
  }

  #band(points, perM) {
    const on = points.map(([x, y]) => this.view.toScreen(x, y));
    let along = 0;
    const sides = on.map(([x, y], i) => {
      const [[ax, ay], [bx, by]] = [on[Math.max(0, i - 1)], on[Math.min(on.length - 1, i + 1)]];
      if (i) along += Math.hypot(x - on[i - 1][0], y - on[i - 1][1]);
      const long = Math.hypot(bx - ax, by - ay) || 1;
      const half = STREAM_M * perM + SPREADS * along;
      return [(-(by - ay) / long) * half, ((bx - ax) / long) * half];
    });
    const left = on.map(([x, y], i) => `${n(x + sides[i][0])} ${n(y + sides[i][1])}`);
    const right = on.map(([x, y], i) => `${n(x - sides[i][0])} ${n(y - sides[i][1])}`).reverse();
    return `M${[...left, ...right].join("L")}Z`;
  }

  #clicked(px, py) {
    let best = [26, null];
    for (const one of this.places) {
      if (one.kind !== "stand") continue;
      const [x, y] = this.view.toScreen(...one.at[0]);
      const off = Math.hypot(x - px, y - py);
      if (off < best[0]) best = [off, one.id];
    }
    if (best[1]) this.picked(best[1]);
  }
}
