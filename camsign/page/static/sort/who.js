// Who it is: the bucks most likely here on the digits, other words on letters, and a box for all.

import { $, $$, h, mark, many } from "../dom.js";
import { get } from "../api.js";
import { REACHES, reachWords } from "./board.js";

const PAUSE_MS = 50;
const PATIENCE_MS = 20_000;

const PLAIN = { count: 1, travel_deg: null, unsure: false };

/** A tag that is a word alone: what goes to the server, how it looks, and the words of its button. */
const ofWord = (said, kind, label = said) => ({ said: { said }, shown: { subject: `said:${said}`, words: said, mark: kind, ...PLAIN }, label });

/** Tags that have a letter of their own. Words as the command line knows them. */
export const COMMON = {
  0: ofWord("nothing", "nothing", "nothing there"),
  D: ofWord("doe", "animal"),
  Y: ofWord("fawn", "animal"),
  I: ofWord("buck", "animal", "unknown buck"),
  P: ofWord("person", "people"),
};

export class Who {
  #board;
  #saying;
  #choose;
  #asked = null;
  #asking = false;
  #again = false;
  #faces = {};
  slots = Array(9).fill(null); // the tags on digits 1…9

  /** `choose({said, shown})` is called when the user picks somebody. */
  constructor(board, saying, choose, openBox) {
    this.#board = board;
    this.#saying = saying;
    this.#choose = choose;
    $("#common").append(
      ...Object.entries(COMMON).map(([key, one]) =>
        h("button", { type: "button", onclick: () => choose(one) }, h("kbd", {}, key), mark(one.shown.mark), one.label),
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
      reachWords(reach),
    );
  }

  #showTarget() {
    const { selection, reach, target } = this.#board;
    const n = many(target.length, "picture");
    $("#target").textContent = selection.size ? `Next tag: your selection, ${n}` : reach === "frame" ? "Next tag: this picture" : `Next tag: this ${reach}, ${n}`;
    for (const button of $("#reach").children) {
      button.setAttribute("aria-pressed", String(button.dataset.reach === reach && !selection.size));
    }
  }

  /** Asks who is likely here, once a strip, and on which digits they are. */
  async #ask(anew = false) {
    const strip = this.#board.cursor?.strip.strip;
    if (!strip || (strip === this.#asked && !anew)) return;
    this.#asked = strip;
    $("#likely").classList.add("behind"); // what was said of the visit before is not of this one
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

  /** Whether the digits are still those of the visit before. */
  get behind() {
    return $("#likely").dataset.strip !== this.#board.cursor?.strip.strip;
  }

  /** Waits until the digits are this visit's; not for ever, if nobody answers. */
  async caughtUp() {
    for (const end = performance.now() + PATIENCE_MS; this.behind && performance.now() < end; ) {
      await new Promise((done) => setTimeout(done, PAUSE_MS));
    }
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
    const ones = slots.map((id) => now.get(id));
    this.slots = ones.map((one) => one && { said: { buck_id: one.buck_id }, shown: shownBuck(one) });
    // Odds beside a picture that looks empty would read as if he had been recognized in it.
    const quiet = this.#board.cursor?.strip.inPart.name === "empty";
    const best = likely[0]?.seen && !quiet ? likely[0].buck_id : null;
    $("#odds").hidden = quiet || !likely.some((one) => one.seen);
    // A narrow screen has room for one reason.
    $("#odds .narrow").replaceChildren(...(best ? [h("bdi", {}, likely[0].buck), `: ${parted(likely[0].why)[1]}. `] : []));
    const filled = ones.map((one, i) => one && this.#key(quiet ? { ...one, why: "" } : one, i, one.buck_id === best)).filter(Boolean);
    $("#likely").replaceChildren(...filled);
    $("#likely").dataset.strip = this.#asked;
    $("#likely").classList.remove("behind");
    if (!filled.length) {
      $("#likely").append(h("li", { class: "quiet none" }, "No buck has a name yet. Press W and type one."));
    }
  }

  #key(one, i, best) {
    const [odds, reason] = parted(one.why);
    return h(
      "li",
      {},
      h(
        "button",
        { type: "button", class: best ? "best" : "", title: best ? `the likeliest here: ${one.why}` : one.why, data: { buck: one.buck_id }, onclick: () => this.#choose(this.slots[i]) },
        h("kbd", {}, String(i + 1)),
        this.#face(one.buck_id),
        h("span", { class: "buck" }, h("bdi", {}, one.buck)),
        h("span", { class: "why" }, odds, h("span", { class: "reason" }, odds ? `: ${reason}` : reason)),
      ),
    );
  }
}

/** The odds, where there are any, and the reason for them. */
const parted = (why) => {
  const [, odds, reason] = why.match(/^(\d+ in \d+|nearly always|hardly ever): (.*)$/) ?? ["", "", why];
  return [odds, reason];
};

export function shownBuck(one) {
  return { subject: `buck:${one.buck_id}`, words: one.buck, mark: "buck", buck_id: one.buck_id, ...PLAIN };
}
