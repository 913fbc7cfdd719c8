// The ring of the compass on which the wind is turned by hand: dragged, tapped, or by the arrow keys.

import { bearingWords, compass, s } from "../dom.js";

const R = 52;
const STEP = 5;
const point = (deg, r) => [r * Math.sin((deg * Math.PI) / 180), -r * Math.cos((deg * Math.PI) / 180)];

export class Ring {
  from = null; // where the wind comes from [deg true]; null until somebody says so

  /** `turned(deg)` is called while the ring turns. */
  constructor(svg, turned) {
    this.svg = svg;
    this.turned = turned;
    this.#draw();
    svg.addEventListener("pointerdown", (event) => {
      svg.setPointerCapture(event.pointerId);
      svg.focus({ preventScroll: true });
      this.#to(event);
      event.preventDefault();
    });
    svg.addEventListener("pointermove", (event) => svg.hasPointerCapture(event.pointerId) && this.#to(event));
    svg.addEventListener("keydown", (event) => this.#key(event));
  }

  /** Shows a wind without telling anybody. */
  show(deg) {
    this.from = deg === null ? null : ((Math.round(deg) % 360) + 360) % 360;
    const set = this.from !== null;
    this.hand.setAttribute("visibility", set ? "visible" : "hidden");
    this.letters.textContent = set ? compass(this.from) : "Wind?";
    this.degrees.textContent = set ? `${this.from}°` : "turn the ring";
    this.svg.setAttribute("aria-valuenow", this.from ?? 0);
    this.svg.setAttribute("aria-valuetext", set ? `from ${bearingWords(this.from)}` : "not set");
    if (set) this.hand.setAttribute("transform", `rotate(${this.from})`);
  }

  #turn(deg) {
    this.show(deg);
    this.turned(this.from);
  }

  #to(event) {
    const box = this.svg.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left - box.width / 2, event.clientY - box.top - box.height / 2];
    if (Math.hypot(x, y) < 8) return;
    const deg = (Math.atan2(x, -y) * 180) / Math.PI;
    this.#turn(Math.round(deg / STEP) * STEP);
  }

  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const by = { ArrowRight: STEP, ArrowUp: STEP, ArrowLeft: -STEP, ArrowDown: -STEP, PageUp: 45, PageDown: -45 }[event.key];
    if (by === undefined && event.key !== "Home") return;
    event.preventDefault();
    event.stopPropagation();
    this.#turn(by === undefined ? 0 : (this.from ?? 0) + by);
  }

  #draw() {
    const marks = Array.from({ length: 16 }, (_, i) => {
      const [deg, long] = [i * 22.5, i % 2 ? 4 : 7];
      const [[x1, y1], [x2, y2]] = [point(deg, R), point(deg, R - long)];
      return s("line", { class: "tick", x1, y1, x2, y2 });
    });
    const letters = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"].map((word, i) => {
      const [x, y] = point(i * 45, R + 14);
      return s("text", { class: word.length === 1 ? "point" : "point half", x, y: y + 4 }, word);
    });
    this.letters = s("text", { class: "letters", y: 3 });
    this.degrees = s("text", { class: "degrees", y: 20 });
    // The hand lies on the ring where the wind comes in; the arrow across is where it blows on.
    this.hand = s("g", { class: "hand" },
      s("path", { class: "on", d: `M0 ${R - 16}V${R - 3}M-5 ${R - 8}L0 ${R - 2}L5 ${R - 8}` }),
      s("path", { class: "grip", d: `M0 ${-R + 23}L-12 ${-R + 1}H12Z` }));
    this.svg.append(s("circle", { class: "track", r: R }), ...marks, ...letters, this.hand, this.letters, this.degrees);
    this.show(null);
  }
}
