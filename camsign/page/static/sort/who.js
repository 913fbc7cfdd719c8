// Who it is: the bucks most likely here on the digits, other words on letters, and a box for all.

import { $, $$, h, mark, many } from "../dom.js";
import { get } from "../api.js";
import { REACHES } from "./board.js";

const PAUSE_MS = 50;

/** Tags that have a letter of their own. Words as the command line knows them. */
const COMMON = [
  { key: "0", said: "nothing", words: "nothing there", mark: "nothing" },
  { key: "D", said: "doe", words: "doe", mark: "animal" },
  { key: "Y", said: "fawn", words: "fawn", mark: "animal" },
  { key: "I", said: "buck", words: "unknown buck", mark: "animal" },
  { key: "P", said: "person", words: "person", mark: "people" },
];

export class Who {
  #board;
  #saying;
  #choose;
  #asked = null;
  #asking = false;
  #again = false;
  #faces = {};
  slots = Array(9).fill(null); // the bucks on digits 1…9

  /** `choose(said, shown)` is called when the user picks somebody. */
  constructor(board, saying, choose, openBox) {
    this.#board = board;
    this.#saying = saying;
    this.#choose = choose;
    $("#common").append(
      ...COMMON.map((one) =>
        h("button", { type: "button", onclick: () => this.common(one.key) }, h("kbd", {}, one.key), mark(one.mark), one.words),
      ),
      h("button", { type: "button", "aria-haspopup": "dialog", onclick: openBox }, h("kbd", {}, "W"), "anybody else …"),
    );
    $("#reach").append(...REACHES.map((reach) => this.#reachButton(reach)));
    this.#askFaces().catch(() => null); // without heads the names still serve
    board.on("cursor", () => this.#ask());
    board.on("target", () => this.#showTarget());
  }

  #reachButton(reach) {
    return h(
      "button",
      { type: "button", "aria-pressed": "false", data: { reach }, onclick: () => this.#board.setReach(reach) },
      h("kbd", {}, reach[0].toUpperCase()),
      reach,
    );
  }

  #showTarget() {
    const { selection, reach, target } = this.#board;
    const n = many(target.length, "picture");
    $("#target").textContent = selection.size ? `Next tag: your selection, ${n}` : `Next tag: this ${reach}, ${n}`;
    for (const button of $("#reach").children) {
      button.setAttribute("aria-pressed", String(button.dataset.reach === reach && !selection.size));
    }
  }

  /** Asks who is likely here, once a strip, and on which digits they are. */
  async #ask(anew = false) {
    const strip = this.#board.cursor?.strip.strip;
    if (!strip || (strip === this.#asked && !anew)) return;
    this.#asked = strip;
    await new Promise((done) => setTimeout(done, PAUSE_MS));
    if (strip !== this.#asked) return; // the user has gone on meanwhile
    if (this.#asking) {
      this.#again = true; // the answer under way is followed by another question
      return;
    }
    this.#asking = true;
    this.#again = false;
    try {
      const { likely, slots } = await get("/sort/likely", { strip, last: this.#saying.lastBucks });
      if (strip === this.#asked) this.#show(likely, slots);
    } finally {
      this.#asking = false;
    }
    if (this.#again) await this.#ask(true);
  }

  refresh() {
    this.#askFaces();
    return this.#ask(true);
  }

  async #askFaces() {
    this.#faces = (await get("/sort/faces")).faces;
    for (const image of $$("#likely img[data-face]")) image.replaceWith(this.#face(image.dataset.face) ?? "");
  }

  /** His head, so that a digit is known by who is on it. */
  #face(buck_id) {
    const frame = this.#faces[buck_id];
    return frame ? h("img", { src: `/head/${frame}`, alt: "", width: 40, height: 40, data: { face: buck_id } }) : null;
  }

  #show(likely, slots) {
    const now = new Map(likely.map((one) => [one.buck_id, one]));
    this.slots = slots.map((id) => now.get(id) ?? null);
    const best = likely[0]?.seen ? likely[0].buck_id : null;
    const filled = this.slots.map((one, i) => one && this.#key(one, i, one.buck_id === best)).filter(Boolean);
    $("#likely").replaceChildren(...filled);
    $("#likely").dataset.strip = this.#asked;
    if (!filled.length) {
      $("#likely").append(h("li", { class: "quiet none" }, "No buck has a name yet. Press W and type one."));
    }
  }

  #key(one, i, best) {
    return h(
      "li",
      {},
      h(
        "button",
        { type: "button", class: best ? "best" : "", title: best ? `the likeliest here: ${one.why}` : one.why, data: { buck: one.buck_id }, onclick: () => this.digit(i + 1) },
        h("kbd", {}, String(i + 1)),
        this.#face(one.buck_id),
        h("span", { class: "buck" }, h("bdi", {}, one.buck)),
        h("span", { class: "why" }, one.why),
      ),
    );
  }

  /** Tags with the buck on a digit. */
  digit(n, stay = false) {
    const one = this.slots[n - 1];
    if (!one) return;
    this.#choose({ buck_id: one.buck_id }, shownBuck(one), stay);
  }

  /** Tags with the word on a letter. */
  common(key, stay = false) {
    const one = COMMON.find((c) => c.key === key);
    this.#choose({ said: one.said }, saidShown(one.said, one.mark), stay);
  }
}

/** How a tag looks that is a word alone. */
export const saidShown = (said, kind) => ({ subject: `said:${said}`, words: said, mark: kind, count: 1, travel_deg: null, unsure: false });

export function shownBuck(one) {
  return { subject: `buck:${one.buck_id}`, words: one.buck, mark: "buck", buck_id: one.buck_id, count: 1, travel_deg: null, unsure: false };
}
