// A picture of the user's own beneath the map: chosen, pinned by points that are known, dimmed.

import { $, h, many, s } from "../dom.js";
import { get, upload } from "../api.js";
import { alarm, sign } from "../shared.js";
import { say, showTurns } from "../said.js";
import { fitPins, worst } from "./fit.js";
import { atText, panel, sure } from "./forms.js";
import { lengthWords } from "./furniture.js";
import { stretch, toPlane } from "./plane.js";
import { Closer, reliefOn } from "./relief.js";
import { View } from "./view.js";

const DIM = "camsign-underlay-dim";
const SNAP_PX = 13;

export class Underlay {
  pinning = null; // the picture that is being pinned
  pictures = [];
  #closer;
  #waiting = null; // a point of the picture whose place is still to be said

  constructor(sheet) {
    this.sheet = sheet;
    this.view = sheet.view;
    this.#closer = new Closer(this.view);
  }

  async load() {
    const got = await get("/map/pictures");
    this.pictures = await Promise.all(got.pictures.filter((one) => one.here).map(withSize));
    this.view.soon();
  }

  draw() {
    const { view } = this;
    const shown = this.pinning ? this.pictures.filter((one) => one.id === this.pinning.id).map(() => this.pinning) : this.pictures;
    const images = shown.flatMap((one) => {
      const m = one.width ? fitPins(onPlane(one.pins)) : null;
      if (!m) return [];
      const k = view.k;
      const matrix = [m.a * k, -m.b * k, m.c * k, -m.d * k, view.width / 2 + (m.e - view.x) * k, view.height / 2 - (m.f - view.y) * k];
      return [s("image", { href: `/map/pictures/${one.id}/file`, width: one.width, height: one.height, opacity: this.dim, transform: `matrix(${matrix.join(" ")})`, data: { underlay: one.id } })];
    });
    this.sheet.layer("ground").replaceChildren(...this.#relief(), ...images);
    if (this.pinning) this.#drawPins();
  }

  /** The lay of the land, where an elevation file was taken in. */
  #relief() {
    const { relief } = this.sheet.land ?? {};
    if (!relief) return [];
    const both = [reliefOn(this.view, relief), this.#closer.on(relief)];
    return both.filter(Boolean).map((one) => s("image", { preserveAspectRatio: "none", ...one }));
  }

  get dim() {
    return Number(localStorage.getItem(DIM) ?? 0.6);
  }

  begin(state, hint) {
    this.state = state;
    this.hint = hint;
    this.#showList();
  }

  leave() {
    this.pinning = null;
    this.#waiting = null;
    $("#source").hidden = true;
    $("#source").replaceChildren();
    this.sheet.layer("draft").replaceChildren();
    this.view.soon();
  }

  // -------------------------------------------------------------- the list

  #showList() {
    this.leave();
    this.hint("");
    const file = h("input", { type: "file", accept: "image/jpeg,image/png", onchange: () => file.files[0] && this.#send(file.files[0]) });
    const dim = h("input", { type: "range", min: 0.1, max: 1, step: 0.05, value: this.dim, oninput: () => {
      localStorage.setItem(DIM, dim.value);
      this.view.soon();
    } });
    const rows = this.pictures.map((one) => h("li", { class: "form" }, h("strong", {}, h("bdi", {}, one.name)), h("p", { class: "note" }, one.pins.length > 1 ? `pinned by ${many(one.pins.length, "point")}` : "not pinned yet: not shown"), h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => this.#pin(one) }, "Pin it"), sure("Take it away", "Take this picture away", () => this.#remove(one)))));
    panel(
      h("h2", {}, "Background picture"),
      h("p", { class: "note" }, "A picture of your own, such as a scanned map or a drawing. Pin two points you know, better three or four far apart, and it goes under everything else. It stays in the logbook."),
      h("form", { onsubmit: (event) => event.preventDefault() }, h("label", {}, "Choose a JPEG or PNG", file), this.pictures.length ? h("label", {}, "How bright it is", dim) : ""),
      rows.length ? h("ul", {}, rows) : "",
      h("div", { class: "buttons" }, h("button", { type: "button", onclick: this.state.leave }, "Done ", h("kbd", {}, "Esc"))),
    );
  }

  async #send(file) {
    sign(`keeping ${file.name} …`);
    try {
      const got = await upload("/map/pictures", file);
      sign(`saved: ${got.what}`, "done");
      showTurns(got);
      await this.load();
      const one = this.pictures.find((picture) => picture.id === got.id);
      if (one) this.#pin(one);
    } catch (e) {
      sign("");
      alarm(`${file.name}: ${e.message}`);
    }
  }

  async #remove(one) {
    if (!(await say("/say/underlay/remove", { underlay: one.id }))) return;
    await this.load();
    this.#showList();
  }

  // -------------------------------------------------------------- pinning

  #pin(one) {
    this.pinning = { ...one, pins: one.pins.map((pin) => [...pin]) };
    this.#waiting = null;
    const image = s("image", { href: `/map/pictures/${one.id}/file`, width: one.width, height: one.height });
    const marks = s("g");
    const svg = s("svg", { tabindex: "0", role: "group", "aria-label": `${one.name}: click a point that you know. Arrow keys move it, plus and minus zoom.` }, image, marks);
    $("#source").replaceChildren(svg);
    $("#source").hidden = false;
    this.source = { marks, image, view: new View(svg, { up: -1, least: 0.01, most: 30, changed: () => this.#drawPins(), clicked: (px, py) => this.#clickedPicture(px, py) }) };
    this.source.view.fit(0, 0, one.width, one.height, 10);
    this.#showPins();
  }

  #clickedPicture(px, py) {
    this.#waiting = this.source.view.toPlane(px, py);
    this.#showPins();
  }

  /** A click on the map says where the waiting point lies; near a mark it is taken for that mark. */
  clickedMap(px, py) {
    const one = this.sheet.hit(px, py);
    const [sx, sy] = one && !one.on ? this.view.toScreen(...(one.at ? one.at[0] : [one.x, one.y])) : [Infinity, 0];
    const exact = Math.hypot(sx - px, sy - py) < SNAP_PX;
    const at = exact ? (one.lat === undefined ? [one.points[0][1], one.points[0][0]] : [one.lat, one.lon]) : this.sheet.place(px, py);
    this.#place(...at);
  }

  #place(lat, lon) {
    if (!this.#waiting) return this.hint("First click a point of the picture that you know");
    this.pinning.pins.push([...this.#waiting, lat, lon]);
    this.#waiting = null;
    this.view.soon();
    return this.#showPins();
  }

  #showPins() {
    const one = this.pinning;
    const place = h("input", { type: "text", placeholder: "44.610000,-71.220000", autocomplete: "off" });
    const typed = h("form", { onsubmit: (event) => {
      event.preventDefault();
      const [lat, lon] = place.value.split(",").map(Number);
      if (Number.isFinite(lat) && Number.isFinite(lon) && Math.abs(lat) < 85) this.#place(lat, lon);
    } }, h("label", {}, "or type where it is", place), h("button", { type: "submit" }, "Save pin"));
    const rows = one.pins.map((pin, i) => h("li", {}, h("span", {}, `${i + 1}: ${atText([pin[2], pin[3]])}`), h("button", { type: "button", class: "plain", "aria-label": `Delete pin ${i + 1}`, onclick: () => this.#drop(i) }, "delete pin")));
    panel(
      h("h2", {}, "Pin ", h("bdi", {}, one.name)),
      h("p", {}, this.#waiting ? "Now click this point on the map. A click on a camera, sign or place takes its exact spot." : "Click a point in the picture that you know: a stand, a bend of the road, a corner."),
      this.#waiting ? typed : "",
      rows.length ? h("ol", { class: "corners" }, rows) : "",
      h("p", { class: "note", role: "status" }, this.#words()),
      h("div", { class: "buttons" }, h("button", { type: "button", class: "main", disabled: one.pins.length < 2, onclick: () => this.#save() }, "Keep these pins"), h("button", { type: "button", onclick: () => this.#showList() }, "Leave them")),
    );
    this.hint(this.#waiting ? "Where does it lie? Click it here" : "");
    this.#drawPins();
  }

  #words() {
    const pins = onPlane(this.pinning.pins);
    const m = fitPins(pins);
    if (!m) return "Two pins at least are needed, better far apart.";
    if (pins.length === 2) return "It is under the map now. A third pin shows how well the first two fit.";
    const m_ = worst(pins, m) / stretch(this.pinning.pins[0][2]);
    return `The pins agree within ${lengthWords(m_, this.state.land.units)}. A pin that is far off is in the wrong spot: drop it.`;
  }

  #drop(index) {
    this.pinning.pins.splice(index, 1);
    this.view.soon();
    this.#showPins();
  }

  #drawPins() {
    if (!this.pinning || !this.source) return;
    const { view, image, marks } = this.source;
    const [x0, y0] = view.toScreen(0, 0);
    image.setAttribute("transform", `translate(${x0} ${y0}) scale(${view.k})`);
    const all = this.pinning.pins.map((pin, i) => [view.toScreen(pin[0], pin[1]), `${i + 1}`]);
    if (this.#waiting) all.push([view.toScreen(...this.#waiting), "?"]);
    marks.replaceChildren(...all.flatMap(pinMark));
    const there = this.pinning.pins.map((pin, i) => [this.view.toScreen(...toPlane(pin[2], pin[3])), `${i + 1}`]);
    this.sheet.layer("draft").replaceChildren(...there.flatMap(pinMark));
  }

  async #save() {
    if (!(await say("/say/underlay/pin", { underlay: this.pinning.id, pin: this.pinning.pins }))) return;
    this.pinning = null;
    await this.load();
    this.#showList();
  }
}

function pinMark([[x, y], words]) {
  return [s("circle", { class: "pin", cx: x, cy: y, r: 6 }), s("text", { class: "pin-words", x, y: y - 10 }, words)];
}

const onPlane = (pins) => pins.map(([x, y, lat, lon]) => [x, y, ...toPlane(lat, lon)]);

function withSize(one) {
  return new Promise((done) => {
    const image = new Image();
    image.onload = () => done({ ...one, width: image.naturalWidth, height: image.naturalHeight });
    image.onerror = () => done({ ...one, width: 0, height: 0 });
    image.src = `/map/pictures/${one.id}/file`;
  });
}
