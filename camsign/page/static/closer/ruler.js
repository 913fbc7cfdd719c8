// The ruler: four marks on a picture, and the spread that follows from the ears' width.

import { h, s } from "../dom.js";
import { ask, get } from "../api.js";
import { alarm } from "../shared.js";
import { say } from "../said.js";

const MARKS = ["left ear", "right ear", "left beam", "right beam"];
const WORDS = {
  "left ear": "the tip of the ear on the left",
  "right ear": "the tip of the ear on the right",
  "left beam": "the outermost edge of the antlers on the left",
  "right beam": "the outermost edge of the antlers on the right",
};
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export class Ruler {
  on = false;
  #pane;
  #frame = null;
  #points = {};
  #at = 0;
  #cross = [0, 0];
  #stick = null;

  /** `buck()` gives the id of the buck that the measurement belongs to. */
  constructor(pane, buck) {
    this.#pane = pane;
    this.buck = buck;
    this.low = h("input", { type: "number", id: "ears-low", step: "0.5", min: "2", onchange: () => this.#measure() });
    this.high = h("input", { type: "number", id: "ears-high", step: "0.5", min: "2", onchange: () => this.#measure() });
    this.unit = h("span", {});
    this.ask = h("p", { class: "ask", role: "status" });
    this.result = h("p", { class: "result", role: "status" });
    this.keep = h("button", { type: "button", class: "main", disabled: true, onclick: () => this.#keep() }, "Keep this spread");
    this.element = h(
      "section",
      { class: "ruler", hidden: true, "aria-label": "Ruler" },
      this.ask,
      h("p", {}, h("label", { for: "ears-low" }, "Ears, tip to tip "), h("br", {}), this.low, h("label", { for: "ears-high" }, " to "), this.high, " ", this.unit),
      this.result,
      h("p", { class: "both" }, this.keep, h("button", { type: "button", onclick: () => this.clear() }, "Mark anew")),
      h("p", { class: "quiet" }, "For a head that faces the camera with its ears out. A range, not a measurement by tape."),
    );
    pane.element.addEventListener("pointerdown", (event) => this.#click(event), { capture: true });
    pane.element.addEventListener("moved", () => this.on && this.#draw());
  }

  async start(frame) {
    this.on = true;
    this.element.hidden = false;
    this.#frame = frame;
    this.clear();
    this.#stick ??= await get("/ruler");
    if (!this.low.value) [this.low.value, this.high.value] = [this.#stick.low, this.#stick.high];
    this.unit.textContent = this.#stick.unit;
  }

  stop() {
    this.on = false;
    this.element.hidden = true;
    this.#pane.marks.replaceChildren();
  }

  clear() {
    this.#points = {};
    this.#at = 0;
    this.#cross = [this.#pane.width / 2, this.#pane.height / 2];
    this.result.textContent = "";
    this.keep.disabled = true;
    this.#tell();
    this.#draw();
  }

  /** Moves the cross with the arrows; Enter sets the mark. Says whether the key was for the ruler. */
  key(event) {
    if (!this.on || event.ctrlKey || event.metaKey || event.altKey) return false;
    const way = ARROWS[event.key];
    if (way) {
      const step = (event.shiftKey ? 20 : 2) / Math.min(1, this.#pane.scale);
      this.#cross = [this.#cross[0] + way[0] * step, this.#cross[1] + way[1] * step];
      this.#draw();
      return true;
    }
    if (event.key === "Enter" && !event.target.closest("button, input, select")) {
      this.#set(this.#cross);
      return true;
    }
    return false;
  }

  #click(event) {
    if (!this.on || event.button !== 0 || event.shiftKey) return;
    event.preventDefault();
    event.stopPropagation();
    this.#set(this.#pane.toPicture(event.clientX, event.clientY));
  }

  #set(point) {
    this.#points[MARKS[this.#at]] = point;
    this.#cross = point;
    this.#at = (this.#at + 1) % MARKS.length;
    this.#tell();
    this.#draw();
    this.#measure();
  }

  #tell() {
    const done = Object.keys(this.#points).length;
    const next = MARKS[this.#at];
    this.ask.textContent = done === MARKS.length ? `All four are marked. A click moves ${WORDS[next]}.` : `${done + 1} of 4: click ${WORDS[next]} (or arrows, then Enter).`;
  }

  #body() {
    const unit = this.#stick.unit_m;
    return { marks: this.#points, low_m: Number(this.low.value) * unit, high_m: Number(this.high.value) * unit };
  }

  async #measure() {
    if (Object.keys(this.#points).length < MARKS.length) return;
    try {
      const answer = await ask("/ruler", this.#body());
      this.result.textContent = `Spread ${answer.words}`;
      this.keep.disabled = false;
    } catch (e) {
      this.result.textContent = `${e.message}.`;
      this.keep.disabled = true;
    }
  }

  async #keep() {
    const buck_id = this.buck();
    if (!buck_id) return alarm("Choose below whose spread this is.");
    const answer = await say("/ruler", { ...this.#body(), buck_id, frame: this.#frame });
    if (answer) this.result.textContent = `Kept for ${answer.buck}: ${answer.words}`;
    return undefined;
  }

  #draw() {
    const size = 1 / this.#pane.scale;
    const drawn = MARKS.filter((name) => this.#points[name]).map((name) => dot(this.#points[name], name.endsWith("ear"), size));
    const lines = [["left ear", "right ear"], ["left beam", "right beam"]].filter(([a, b]) => this.#points[a] && this.#points[b]);
    this.#pane.marks.replaceChildren(
      ...lines.map(([a, b]) => line(this.#points[a], this.#points[b], a.endsWith("ear"))),
      ...drawn,
      cross(this.#cross, size),
    );
  }
}

/** @param {number[]} a @param {number[]} b */
function line(a, b, ears) {
  return s("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: ears ? "ears" : "beams", "vector-effect": "non-scaling-stroke" });
}

/** @param {number[]} at */
function dot([x, y], ears, size) {
  const r = 5 * size;
  const shape = ears ? s("circle", { cx: x, cy: y, r }) : s("rect", { x: x - r, y: y - r, width: 2 * r, height: 2 * r });
  shape.setAttribute("class", ears ? "ears" : "beams");
  shape.setAttribute("vector-effect", "non-scaling-stroke");
  return shape;
}

/** @param {number[]} at */
function cross([x, y], size) {
  const r = 14 * size;
  return s("path", { d: `M${x - r} ${y}H${x + r}M${x} ${y - r}V${y + r}`, class: "cross", "vector-effect": "non-scaling-stroke" });
}
