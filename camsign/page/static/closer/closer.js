// Looking closer at frames: zoom, light, frame to frame, a reference picture beside, the ruler.

import { h, mark } from "../dom.js";
import { get } from "../api.js";
import { alarm, sign } from "../shared.js";
import { say } from "../said.js";
import { Keys } from "../keys.js";
import { Pane } from "./pane.js";
import { Beside } from "./beside.js";
import { Ruler } from "./ruler.js";

const FAR = 120; // CSS pixels that one key press moves the picture

export class Closer {
  #frames = [];
  #at = 0;
  #how = {};
  outlined = false;

  constructor() {
    this.pane = new Pane("The picture, full size");
    this.beside = new Beside();
    this.ruler = new Ruler(this.pane, () => this.buck.value);
    this.facts = h("p", { class: "facts", role: "status" });
    this.tags = h("p", { class: "tags" });
    this.brightness = slider("Brightness", 0.4, 4, () => this.#light());
    this.contrast = slider("Contrast", 0.4, 4, () => this.#light());
    this.buck = h("select", { id: "closer-buck" });
    this.#make();
    this.keys = this.#keys();
  }

  #make() {
    this.dialog = h(
      "dialog",
      { class: "closer", "aria-label": "Look closer" },
      h("header", {}, this.facts, this.tags, this.#button("Keys", "?", () => this.keys.help.showModal()), this.#button("Close", "Esc", () => this.dialog.close())),
      h("div", { class: "panes" }, this.pane.element, this.beside.element, this.ruler.element),
      this.#tools(),
    );
    this.dialog.addEventListener("close", () => this.#closed());
    document.body.append(this.dialog);
  }

  #tools() {
    this.outlineButton = this.#toggle("What moved", "H", () => this.outline());
    this.besideButton = this.#toggle("Compare", "X", () => this.compare());
    this.rulerButton = this.#toggle("Ruler", "M", () => this.measure());
    return h(
      "footer",
      {},
      h("div", { role: "group", "aria-label": "Zoom" }, this.#button("Zoom in", "+", () => this.pane.nearer()), this.#button("Zoom out", "−", () => this.pane.farther()), this.#button("Full size", "O", () => this.pane.original()), this.#button("Whole picture", "Shift+O", () => this.pane.fit())),
      h("div", { role: "group", "aria-label": "Light" }, this.brightness.label, this.contrast.label, this.#button("Reset", "=", () => this.#asTaken())),
      h("div", { role: "group", "aria-label": "Compare and measure" }, this.outlineButton, this.besideButton, this.rulerButton, h("label", { for: "closer-buck" }, "Buck "), this.buck, this.#button("Keep as reference picture", "K", () => this.#choose())),
    );
  }

  #button(words, key, run) {
    return h("button", { type: "button", onclick: run }, words, " ", h("kbd", {}, key));
  }

  #toggle(words, key, run) {
    const button = this.#button(words, key, run);
    button.setAttribute("aria-pressed", "false");
    return button;
  }

  /** Opens on `frames[at]`. `how`: {words(frame), tags(frame), moved(frame), digit(n)}. */
  async open(frames, at, how = {}) {
    this.#frames = frames;
    this.#how = how;
    this.dialog.showModal();
    this.pane.element.focus();
    this.#goTo(at);
    const { bucks } = await get("/sort/words");
    this.buck.replaceChildren(h("option", { value: "" }, "choose…"), ...bucks.map((one) => h("option", { value: one.buck_id }, one.buck)));
    this.#guess();
  }

  #closed() {
    if (this.ruler.on) this.measure();
    this.#how.closed?.(this.#frames[this.#at]);
  }

  #goTo(at) {
    if (!this.#frames[at]) return;
    this.#at = at;
    const frame = this.#frames[at];
    this.#say();
    this.pane.show(frame.frame, this.facts.textContent).then(() => this.ruler.on && this.ruler.start(frame.frame));
    this.#outline();
    this.tell();
    this.#guess();
    this.#how.moved?.(frame);
  }

  /** Outlines what is new in the picture, on wish. */
  #outline() {
    const box = this.#frames[this.#at]?.box;
    this.outlineButton.hidden = box === undefined;
    this.pane.outline(this.outlined && box ? box : null);
    this.outlineButton.setAttribute("aria-pressed", String(this.outlined));
    if (this.outlined && !box) this.facts.textContent += " · nothing new stands out here";
  }

  outline() {
    if (this.outlineButton.hidden) return;
    this.outlined = !this.outlined;
    this.#say();
    this.#outline();
  }

  #say() {
    const frame = this.#frames[this.#at];
    this.facts.textContent = `${this.#how.words?.(frame) ?? ""} · ${this.#at + 1} of ${this.#frames.length}`;
  }

  /** Shows the tags of the present frame. */
  tell() {
    const frame = this.#frames[this.#at];
    const tags = frame?.tags ?? [];
    this.tags.replaceChildren(...tags.map((tag) => h("span", { class: "chip" }, mark(tag.mark), h("bdi", {}, tag.words))));
  }

  #guess() {
    const tagged = this.#frames[this.#at]?.tags?.find((tag) => tag.buck_id);
    const buck = this.#how.buck_id ?? tagged?.buck_id;
    if (buck) this.buck.value = buck;
  }

  #light() {
    this.pane.light(this.brightness.value, this.contrast.value);
  }

  #asTaken() {
    this.brightness.value = 1;
    this.contrast.value = 1;
    this.#light();
  }

  #step(which, factor) {
    which.value = which.value * factor;
    this.#light();
  }

  async compare() {
    if (this.beside.on) this.beside.stop();
    else await this.beside.start(this.buck.value).catch((e) => alarm(e.message));
    this.besideButton.setAttribute("aria-pressed", String(this.beside.on));
  }

  measure() {
    if (this.ruler.on) this.ruler.stop();
    else this.ruler.start(this.#frames[this.#at].frame).catch((e) => alarm(e.message));
    this.rulerButton.setAttribute("aria-pressed", String(this.ruler.on));
  }

  async #choose() {
    const buck_id = this.buck.value;
    if (!buck_id) {
      this.buck.focus();
      return alarm("Choose first whose reference picture this is.");
    }
    const answer = await say("/references", { buck_id, frame: this.#frames[this.#at].frame });
    if (!answer) return;
    sign(`saved: reference picture of ${answer.buck}`, "done");
    this.facts.textContent = `Reference picture of ${answer.buck}: kept.`;
  }

  #keys() {
    const pan = (dx, dy) => this.pane.move(dx * FAR, dy * FAR);
    const keys = new Keys(
      [
        ["Go", [
          { keys: ["ArrowLeft", "ArrowRight"], words: "picture by picture", run: (e) => this.#goTo(this.#at + (e.key === "ArrowLeft" ? -1 : 1)) },
          { keys: [..."123456789"], shown: ["1 … 9"], words: "the buck with that number, and stay", run: (e) => this.#how.digit?.(Number(/\d/.exec(e.code)[0])) },
          { keys: ["0", "D", "Y", "I", "P"], words: "nothing there, doe, fawn, unknown buck, person, and stay", run: (e) => this.#how.common?.(e.code.startsWith("Digit") || e.code.startsWith("Numpad") ? "0" : e.key.toUpperCase()) },
          { keys: ["A"], words: "the same as last, and stay", run: () => this.#how.same?.() },
          { keys: ["U", "R"], words: "undo, redo", run: (e) => (e.key.toUpperCase() === "U" ? this.#how.undo?.() : this.#how.redo?.()) },
        ]],
        ["Zoom", [
          { keys: ["+", "-"], words: "zoom in, out (or the wheel)", run: (e) => (e.key === "+" ? this.pane.nearer() : this.pane.farther()) },
          { keys: ["O"], words: "full size", run: () => this.pane.original() },
          { keys: ["Shift+O"], words: "the whole picture", run: () => this.pane.fit() },
          { keys: ["Shift+ArrowLeft", "Shift+ArrowRight"], words: "look to the left, to the right (or drag)", run: (e) => pan(e.key === "ArrowLeft" ? 1 : -1, 0) },
          { keys: ["Shift+ArrowUp", "Shift+ArrowDown"], words: "look up, down", run: (e) => pan(0, e.key === "ArrowUp" ? 1 : -1) },
        ]],
        ["Light", [
          { keys: ["Q", "Shift+Q"], words: "brighter, darker", run: (e) => this.#step(this.brightness, e.shiftKey ? 1 / 1.15 : 1.15) },
          { keys: ["C", "Shift+C"], words: "more contrast, less", run: (e) => this.#step(this.contrast, e.shiftKey ? 1 / 1.15 : 1.15) },
          { keys: ["="], words: "reset the light", run: () => this.#asTaken() },
        ]],
        ["Compare and measure", [
          { keys: ["H"], words: "outline what moved, or no longer", run: () => this.outline() },
          { keys: ["X"], words: "compare with a reference picture", run: () => this.compare() },
          { keys: ["ArrowUp", "ArrowDown"], words: "compare: another buck", run: (e) => this.beside.otherBuck(e.key === "ArrowUp" ? -1 : 1) },
          { keys: [",", "."], words: "compare: another picture of him", run: (e) => this.beside.otherPicture(e.key === "," ? -1 : 1) },
          { keys: ["M"], words: "ruler: measure the spread from the ears' width", run: () => this.measure() },
          { keys: ["K"], words: "keep as reference picture of the chosen buck", run: () => this.#choose() },
        ]],
      ],
      this.dialog,
    );
    keys.first = (event) => this.ruler.key(event);
    return keys;
  }
}

/** A slider on a scale of factors, 1 in the middle. */
function slider(words, low, high, run) {
  const input = h("input", { type: "range", min: Math.log(low), max: Math.log(high), step: 0.02, value: 0, oninput: run });
  const out = h("output", {}, "100%");
  return {
    label: h("label", {}, words, " ", input, " ", out),
    get value() {
      const factor = Math.exp(Number(input.value));
      out.textContent = `${Math.round(factor * 100)}%`;
      return factor;
    },
    set value(factor) {
      input.value = Math.log(factor);
    },
  };
}
