// A window onto a plane: pan and zoom by mouse, fingers, wheel and keys. Knows nothing of what is drawn.

const SLOP_PX = 4;

export class View {
  x = 0;
  y = 0;
  k = 1; // pixels per unit of the plane
  #pointers = new Map();
  #moved = false;
  #frame = 0;

  /**
   * `element` gets the pointer; `changed` is called at most once a frame; `clicked(px, py, event)` when the
   * pointer did not move; `up` is 1 where the plane's y runs upwards, -1 where it runs down (a picture).
   */
  constructor(element, { changed, clicked = () => {}, up = 1, least = 1e-4, most = 20, grab = () => null }) {
    Object.assign(this, { element, changed, clicked, up, least, most, grab });
    element.addEventListener("pointerdown", (e) => this.#down(e));
    element.addEventListener("pointermove", (e) => this.#move(e));
    for (const end of ["pointerup", "pointercancel"]) element.addEventListener(end, (e) => this.#end(e));
    element.addEventListener("wheel", (e) => this.#wheel(e), { passive: false });
    element.addEventListener("keydown", (e) => this.#key(e));
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

  at(event) {
    const box = this.element.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  #down(event) {
    if (event.button) return;
    const point = this.at(event);
    this.#moved = false;
    this.#pointers.set(event.pointerId, { point, start: point, held: this.grab(event, point) });
    this.element.setPointerCapture(event.pointerId);
    this.element.focus({ preventScroll: true });
  }

  #move(event) {
    const one = this.#pointers.get(event.pointerId);
    if (!one) return;
    const before = one.point;
    one.point = this.at(event);
    if (Math.hypot(one.point[0] - one.start[0], one.point[1] - one.start[1]) > SLOP_PX) this.#moved = true;
    if (!this.#moved) return;
    if (one.held) return void one.held.move(...one.point);
    if (this.#pointers.size === 1) return void this.pan(one.point[0] - before[0], one.point[1] - before[1]);
    const other = [...this.#pointers.entries()].find(([id]) => id !== event.pointerId)[1].point;
    const was = Math.hypot(before[0] - other[0], before[1] - other[1]);
    const is = Math.hypot(one.point[0] - other[0], one.point[1] - other[1]);
    if (was > 0) this.zoom(is / was, (one.point[0] + other[0]) / 2, (one.point[1] + other[1]) / 2);
    this.pan((one.point[0] - before[0]) / 2, (one.point[1] - before[1]) / 2);
  }

  #end(event) {
    const one = this.#pointers.get(event.pointerId);
    if (!one) return;
    this.#pointers.delete(event.pointerId);
    if (this.#moved) one.held?.done();
    else if (event.type === "pointerup") this.clicked(...one.point, event, one.held);
  }

  #wheel(event) {
    event.preventDefault();
    const step = event.deltaMode === 1 ? event.deltaY * 16 : event.deltaY;
    this.zoom(Math.exp(-Math.max(-240, Math.min(240, step)) / 420), ...this.at(event));
  }

  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target !== this.element) return;
    const step = event.shiftKey ? 240 : 60;
    const moves = { ArrowLeft: [step, 0], ArrowRight: [-step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
    if (moves[event.key]) this.pan(...moves[event.key]);
    else if (event.key === "+" || event.key === "=") this.zoom(1.4);
    else if (event.key === "-") this.zoom(1 / 1.4);
    else return;
    event.preventDefault();
  }
}
