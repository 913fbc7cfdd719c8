// Which way it goes: an arrow key across the picture, or a compass word. Arrows need to know where the
// camera looks.

import { h, compass } from "../dom.js";

// Across the picture as one sees it, from where the camera looks: up is away from it.
const TURNS = { ArrowUp: 0, ArrowRight: 90, ArrowDown: 180, ArrowLeft: 270 };

export class Travel {
  #facing = null;
  #done = (/** @type {string} */ _bearing) => {};
  #left = () => {};

  constructor() {
    this.words = h("p", {});
    this.input = h("input", { id: "travel-input", type: "text", maxlength: 12, autocomplete: "off", onkeydown: (e) => this.#typed(e) });
    this.dialog = h(
      "dialog",
      { class: "travel", "aria-labelledby": "travel-title", onkeydown: (e) => this.#key(e), oncancel: () => this.#leave(), onclose: () => this.#leave() },
      h("button", { type: "button", class: "close", onclick: () => this.#leave() }, "Close ", h("kbd", {}, "Esc")),
      h("h2", { id: "travel-title" }, "Which way does it go?"),
      this.words,
      h("p", { class: "arrows" }, ...Object.keys(TURNS).map((key) => this.#button(key))),
      h("label", { for: "travel-input" }, "Or a bearing such as NE, 45, 120M (magnetic): "),
      this.input,
    );
    document.body.append(this.dialog);
  }

  #button(key) {
    const [sign, words] = { ArrowUp: ["↑", "away"], ArrowRight: ["→", "to the right"], ArrowDown: ["↓", "toward the camera"], ArrowLeft: ["←", "to the left"] }[key];
    return h("button", { type: "button", data: { key }, onclick: () => this.#turn(key) }, h("kbd", {}, sign), " ", words);
  }

  /**
   * Asks; `done` gets a bearing as text, `left` is called once, when the question is gone. `way`: left or
   * right, as estimated from the pictures.
   */
  open(facing, what, way, { done, left }) {
    this.#facing = facing;
    this.#done = done;
    this.#left = left;
    this.input.value = "";
    this.words.textContent =
      facing === null
        ? `${what} Where this camera looks is not known, so arrows mean nothing here: type a bearing.`
        : `${what} The camera looks ${compass(facing)}.`;
    if (way) this.words.textContent += ` From picture to picture it seems to go to the ${way} (estimated).`;
    for (const button of this.dialog.querySelectorAll(".arrows button")) button.disabled = facing === null;
    this.dialog.showModal();
    if (facing === null) this.input.focus();
    else this.dialog.querySelector(`[data-key="${{ left: "ArrowLeft", right: "ArrowRight" }[way] ?? "ArrowUp"}"]`).focus();
  }

  #key(event) {
    if (!(event.key in TURNS) || event.target === this.input || this.#facing === null) return;
    event.preventDefault();
    this.#turn(event.key);
  }

  /** At once, not when the browser tells of it: the next key may come before that. */
  #leave() {
    const left = this.#left;
    this.#left = () => {};
    if (this.dialog.open) this.dialog.close();
    left();
  }

  #turn(key) {
    this.#leave();
    this.#done(`${Math.round((this.#facing + TURNS[key]) % 360)}T`);
  }

  #typed(event) {
    if (event.key !== "Enter" || !this.input.value.trim()) return;
    event.preventDefault();
    this.#leave();
    this.#done(this.input.value.trim());
  }
}
