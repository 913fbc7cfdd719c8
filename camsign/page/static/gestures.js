// Pan and zoom by mouse, fingers, wheel and keys, for whatever can be moved and brought nearer.

const SLOP_PX = 4;
const KEY_STEP = 60;

/**
 * @typedef {object} Moved what happens; places are pixels from the element's corner
 * @property {(dx: number, dy: number) => void} pan
 * @property {(by: number, px?: number, py?: number) => void} zoom
 * @property {(px: number, py: number, event: PointerEvent, held: any) => void} [clicked] the pointer did not move
 * @property {(event: PointerEvent, point: number[]) => any} [grab] something with move(px, py) and done(), or null
 * @property {boolean} [keys] whether arrows, + and - count; on by default
 */

export class Gestures {
  #pointers = new Map();
  #moved = false;

  /** @param {HTMLElement | SVGElement} element @param {Moved} moved */
  constructor(element, moved) {
    this.element = element;
    this.moved = moved;
    element.addEventListener("pointerdown", (/** @type {PointerEvent} */ e) => this.#down(e));
    element.addEventListener("pointermove", (/** @type {PointerEvent} */ e) => this.#move(e));
    for (const end of /** @type {const} */ (["pointerup", "pointercancel"])) {
      element.addEventListener(end, (/** @type {PointerEvent} */ e) => this.#end(e));
    }
    element.addEventListener("wheel", (/** @type {WheelEvent} */ e) => this.#wheel(e), { passive: false });
    if (moved.keys !== false) element.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => this.#key(e));
  }

  /** @param {PointerEvent | WheelEvent} event */
  at(event) {
    const box = this.element.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  /** @param {PointerEvent} event */
  #down(event) {
    if (event.button || event.defaultPrevented) return;
    const point = this.at(event);
    this.#moved = false;
    this.#pointers.set(event.pointerId, { point, start: point, held: this.moved.grab?.(event, point) ?? null });
    this.element.setPointerCapture(event.pointerId);
    this.element.focus({ preventScroll: true });
  }

  /** @param {PointerEvent} event */
  #move(event) {
    const one = this.#pointers.get(event.pointerId);
    if (!one) return;
    const before = one.point;
    one.point = this.at(event);
    if (Math.hypot(one.point[0] - one.start[0], one.point[1] - one.start[1]) > SLOP_PX) this.#moved = true;
    if (!this.#moved) return;
    if (one.held) return void one.held.move(...one.point);
    const [dx, dy] = [one.point[0] - before[0], one.point[1] - before[1]];
    const other = [...this.#pointers].find(([id]) => id !== event.pointerId)?.[1].point;
    if (other) this.#pinch(before, one.point, other);
    this.moved.pan(other ? dx / 2 : dx, other ? dy / 2 : dy);
  }

  /** Two fingers: nearer as they part, about the middle between them. */
  #pinch(before, now, other) {
    const was = Math.hypot(before[0] - other[0], before[1] - other[1]);
    const is = Math.hypot(now[0] - other[0], now[1] - other[1]);
    if (was > 0) this.moved.zoom(is / was, (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
  }

  /** @param {PointerEvent} event */
  #end(event) {
    const one = this.#pointers.get(event.pointerId);
    if (!one) return;
    this.#pointers.delete(event.pointerId);
    if (this.#moved) one.held?.done();
    else if (event.type === "pointerup") this.moved.clicked?.(one.point[0], one.point[1], event, one.held);
  }

  /** @param {WheelEvent} event */
  #wheel(event) {
    event.preventDefault();
    const step = event.deltaMode === 1 ? event.deltaY * 16 : event.deltaY;
    const [px, py] = this.at(event);
    this.moved.zoom(Math.exp(-Math.max(-240, Math.min(240, step)) / 420), px, py);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target !== this.element) return;
    const step = event.shiftKey ? 4 * KEY_STEP : KEY_STEP;
    const moves = { ArrowLeft: [step, 0], ArrowRight: [-step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
    if (moves[event.key]) this.moved.pan(moves[event.key][0], moves[event.key][1]);
    else if (event.key === "+" || event.key === "=") this.moved.zoom(1.4);
    else if (event.key === "-") this.moved.zoom(1 / 1.4);
    else return;
    event.preventDefault();
  }
}
