// A window onto a plane: where a place lies on the screen, and the reverse. Knows nothing of what is drawn.

import { Gestures } from "../gestures.js";

export class View {
  x = 0;
  y = 0;
  k = 1; // pixels per unit of the plane
  #frame = 0;

  /**
   * `element` gets the pointer; `changed` is called at most once a frame; `clicked(px, py, event)` when the
   * pointer did not move; `up` is 1 where the plane's y runs upwards, -1 where it runs down (a picture).
   */
  constructor(element, { changed, clicked = () => {}, up = 1, least = 1e-4, most = 20, grab = () => null }) {
    this.element = element;
    this.changed = changed;
    this.up = up;
    this.least = least;
    this.most = most;
    const [pan, zoom] = [(dx, dy) => this.pan(dx, dy), (by, px, py) => this.zoom(by, px, py)];
    this.gestures = new Gestures(element, { pan, zoom, clicked, grab });
    new ResizeObserver(() => this.soon()).observe(element);
  }

  get width() {
    return this.element.clientWidth;
  }

  get height() {
    return this.element.clientHeight;
  }

  toScreen(x, y) {
    return [this.width / 2 + (x - this.x) * this.k, this.height / 2 - this.up * (y - this.y) * this.k];
  }

  toPlane(px, py) {
    return [this.x + (px - this.width / 2) / this.k, this.y - (this.up * (py - this.height / 2)) / this.k];
  }

  /** Draws at the next frame, once, however often it is asked. */
  soon() {
    if (!this.#frame) {
      this.#frame = requestAnimationFrame(() => {
        this.#frame = 0;
        this.changed();
      });
    }
  }

  zoom(by, px = this.width / 2, py = this.height / 2) {
    const [x, y] = this.toPlane(px, py);
    this.k = Math.min(this.most, Math.max(this.least, this.k * by));
    const [nx, ny] = this.toPlane(px, py);
    this.x += x - nx;
    this.y += y - ny;
    this.soon();
  }

  pan(dx, dy) {
    this.x -= dx / this.k;
    this.y += (this.up * dy) / this.k;
    this.soon();
  }

  /** Shows a box of the plane with a margin in pixels. */
  fit(x0, y0, x1, y1, margin = 70, nearest = this.most) {
    this.x = (x0 + x1) / 2;
    this.y = (y0 + y1) / 2;
    const wide = Math.max(40, this.width - 2 * margin) / Math.max(x1 - x0, 1e-9);
    const tall = Math.max(40, this.height - 2 * margin) / Math.max(y1 - y0, 1e-9);
    this.k = Math.min(nearest, this.most, Math.max(this.least, Math.min(wide, tall)));
    this.soon();
  }

  /** Where a pointer is, in pixels from the window's corner. */
  at(event) {
    return this.gestures.at(event);
  }
}
