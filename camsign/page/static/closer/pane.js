// One picture that can be zoomed, moved and lit, with marks drawn over it in its own pixels.

import { h, s } from "../dom.js";
import { Gestures } from "../gestures.js";

const NEAREST = 8; // CSS pixels for one of the picture's
const STEP = 1.25;

export class Pane {
  scale = 1;
  x = 0;
  y = 0;
  #fitted = true;
  #box = null;
  #lit = { brightness: 1, contrast: 1 };

  constructor(label) {
    this.image = h("img", { alt: "", draggable: "false" });
    this.marks = s("svg", { "aria-hidden": "true" });
    this.around = s("svg", { "aria-hidden": "true", class: "around" });
    this.words = h("p", { class: "lost", hidden: true });
    this.element = h("div", { class: "pane", role: "group", "aria-label": label, tabindex: 0 }, this.image, this.around, this.marks, this.words);
    const [pan, zoom] = [(dx, dy) => this.move(dx, dy), (by, px, py) => this.zoom(by, px, py)];
    this.gestures = new Gestures(this.element, { pan, zoom, keys: false });
    new ResizeObserver(() => this.#fitted && this.fit()).observe(this.element);
  }

  get width() {
    return this.image.naturalWidth;
  }

  get height() {
    return this.image.naturalHeight;
  }

  /** Shows a frame's original; zoom and place stay if the next picture has the same size. */
  async show(frame, alt) {
    const next = new Image();
    this.showing = frame;
    next.src = `/picture/${frame}`;
    try {
      await next.decode();
    } catch {
      if (this.showing === frame) this.#tell("This picture is not on this machine, or a browser cannot show it.");
      return;
    }
    if (this.showing !== frame) return;
    const same = next.naturalWidth === this.width && next.naturalHeight === this.height;
    this.image.src = next.src;
    this.image.alt = alt;
    this.#tell("");
    await this.image.decode().catch(() => null);
    if (!same || this.#fitted) this.fit();
    this.element.dispatchEvent(new CustomEvent("shown"));
  }

  #tell(words) {
    this.words.textContent = words;
    this.words.hidden = !words;
    this.image.hidden = Boolean(words);
  }

  /** The whole picture. */
  fit() {
    if (!this.width) return;
    const { clientWidth, clientHeight } = this.element;
    this.scale = Math.min(clientWidth / this.width, clientHeight / this.height);
    this.x = (clientWidth - this.width * this.scale) / 2;
    this.y = (clientHeight - this.height * this.scale) / 2;
    this.#apply();
    this.#fitted = true;
  }

  /** One pixel of the picture on one of the screen, about the middle of what is seen. */
  original() {
    this.zoom(1 / devicePixelRatio / this.scale);
  }

  /** Nearer or farther about a point of the pane [CSS pixels], by default its middle. */
  zoom(factor, x = this.element.clientWidth / 2, y = this.element.clientHeight / 2) {
    const scale = Math.min(NEAREST, Math.max(0.02, this.scale * factor));
    this.x = x - ((x - this.x) * scale) / this.scale;
    this.y = y - ((y - this.y) * scale) / this.scale;
    this.scale = scale;
    this.#apply();
  }

  nearer() {
    this.zoom(STEP);
  }

  farther() {
    this.zoom(1 / STEP);
  }

  move(dx, dy) {
    this.x += dx;
    this.y += dy;
    this.#apply();
  }

  /** Outlines a region, given as shares of the picture: left, top, width, height; null for none. */
  outline(box) {
    this.#box = box;
    this.#frame();
  }

  #frame() {
    if (!this.#box || !this.width || !(this.scale > 0)) return this.around.replaceChildren();
    const [x, y, wide, tall] = this.#box;
    const [w, h] = [this.width, this.height];
    return this.around.replaceChildren(s("rect", { x: x * w, y: y * h, width: wide * w, height: tall * h, rx: 6 / this.scale, "stroke-width": 2.5 / this.scale }));
  }

  light(brightness, contrast) {
    this.#lit = { brightness, contrast };
    this.image.style.filter = `brightness(${brightness}) contrast(${contrast})`;
  }

  get lit() {
    return this.#lit;
  }

  /** Where a point of the screen lies in the picture [its own pixels]. */
  toPicture(clientX, clientY) {
    const box = this.element.getBoundingClientRect();
    return [(clientX - box.left - this.x) / this.scale, (clientY - box.top - this.y) / this.scale];
  }

  #apply() {
    this.#fitted = false;
    const place = `translate(${this.x}px, ${this.y}px) scale(${this.scale})`;
    this.image.style.transform = place;
    this.image.style.imageRendering = this.scale * devicePixelRatio > 2 ? "pixelated" : "auto";
    this.marks.style.transform = place;
    this.marks.setAttribute("width", `${this.width}`);
    this.marks.setAttribute("height", `${this.height}`);
    this.around.style.transform = place;
    this.around.setAttribute("width", `${this.width}`);
    this.around.setAttribute("height", `${this.height}`);
    this.#frame();
    this.element.dispatchEvent(new CustomEvent("moved"));
  }
}
