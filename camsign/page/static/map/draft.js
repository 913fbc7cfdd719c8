// What is being drawn: a point, a circle, a path or an outline, with handles that can be dragged.

import { s } from "../dom.js";
import { arrow, wedge } from "./marks.js";
import { stretch, toLatLon, toPlane } from "./plane.js";

const CLOSE_PX = 12;

export class Draft {
  mode = null; // point, circle, path, outline
  rings = [[]]; // corners on the plane
  radius_m = 150;
  bearing = null;
  wedge = false;

  constructor(sheet) {
    this.sheet = sheet;
    this.view = sheet.view;
    this.changed = (/** @type {Draft} */ _draft) => {};
    this.begun = () => {};
  }

  get busy() {
    return this.mode !== null;
  }

  begin(mode, { rings = [[]], radius_m = 150, changed = () => {} } = {}) {
    Object.assign(this, { mode, rings, radius_m, changed, bearing: null, wedge: false });
    this.begun();
    this.sheet.svg.classList.add("picking");
    this.tell();
  }

  end() {
    this.mode = null;
    this.rings = [[]];
    this.sheet.svg.classList.remove("picking");
    this.view.soon();
  }

  tell() {
    this.changed(this);
    this.view.soon();
  }

  /** The first corner as [lat, lon], or null. */
  get at() {
    return this.rings[0][0] ? toLatLon(...this.rings[0][0]) : null;
  }

  /** Corners as [lat, lon]: of one ring, or of all. */
  corners(all = false) {
    const rings = this.rings.map((ring) => ring.map(([x, y]) => toLatLon(x, y)));
    return all ? rings.filter((ring) => ring.length) : rings[0];
  }

  put(lat, lon) {
    const corner = toPlane(lat, lon);
    if (this.mode === "point" || this.mode === "circle") this.rings = [[corner]];
    else this.rings[0].push(corner);
    this.tell();
  }

  drop(index, ring = 0) {
    this.rings[ring].splice(index, 1);
    this.tell();
  }

  clicked(px, py, event) {
    const at = event.target.dataset ?? {};
    if (at.between !== undefined) {
      const [ring, index] = at.between.split(",").map(Number);
      this.rings[ring].splice(index + 1, 0, this.view.toPlane(px, py));
      return this.tell();
    }
    if (at.handle !== undefined) return undefined;
    const last = this.rings[0].at(-1);
    if (last && event.detail > 1) {
      const [lx, ly] = this.view.toScreen(...last);
      if (Math.hypot(lx - px, ly - py) < CLOSE_PX) return undefined;
    }
    return this.put(...toLatLon(...this.view.toPlane(px, py)));
  }

  /** Holds a handle under the pointer, if there is one. */
  grab(event) {
    const at = event.target.dataset?.handle;
    if (!this.busy || at === undefined) return null;
    const [ring, index] = at.split(",").map(Number);
    return {
      move: (px, py) => {
        this.rings[ring][index] = this.view.toPlane(px, py);
        this.tell();
      },
      done: () => this.tell(),
    };
  }

  draw() {
    const layer = this.sheet.layer("draft");
    if (!this.busy) return layer.replaceChildren();
    const made = [];
    if (this.mode === "circle" && this.at) {
      const [x, y] = this.view.toScreen(...this.rings[0][0]);
      made.push(s("circle", { class: "draft", cx: x, cy: y, r: this.radius_m * stretch(this.at[0]) * this.view.k }));
    } else if (this.mode === "outline" || this.mode === "path") {
      const closed = this.mode === "outline" && this.rings[0].length > 2;
      const full = this.rings.filter((ring) => ring.length);
      if (full.length) made.push(s("path", { class: `draft${closed ? "" : " open"}`, "fill-rule": "evenodd", d: this.sheet.outline(full, closed ? "Z" : "") }));
    }
    if (this.mode === "point" && this.at && this.bearing !== null) {
      const at = this.view.toScreen(...this.rings[0][0]);
      made.push(s("path", this.wedge ? { class: "draft", d: wedge(...at, this.bearing, 44) } : { class: "draft-arrow", d: arrow(...at, this.bearing, 9, 34) }));
    }
    this.rings.forEach((ring, r) => made.push(...this.#handles(ring, r)));
    return layer.replaceChildren(...made);
  }

  #handles(ring, r) {
    const at = ring.map(([x, y]) => this.view.toScreen(x, y));
    const made = [];
    const steps = this.mode === "outline" && ring.length > 2 ? ring.length : this.mode === "path" || this.mode === "outline" ? ring.length - 1 : 0;
    for (let i = 0; i < steps; i += 1) {
      const [a, b] = [at[i], at[(i + 1) % at.length]];
      if (Math.hypot(a[0] - b[0], a[1] - b[1]) < 34) continue;
      made.push(s("circle", { class: "handle between", cx: (a[0] + b[0]) / 2, cy: (a[1] + b[1]) / 2, r: 5, data: { between: `${r},${i}` } }));
    }
    at.forEach(([x, y], i) => made.push(s("circle", { class: "handle", cx: x, cy: y, r: 7, data: { handle: `${r},${i}` } })));
    return made;
  }
}
