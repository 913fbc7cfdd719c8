// How far the card at hand is sorted, in percent.

import { $, h } from "../dom.js";
import { get } from "../api.js";
import { onNews } from "../live.js";

const SOON_MS = 400;

export class Done {
  #board;
  #cards = new Map();
  #soon = null;

  constructor(board) {
    this.#board = board;
    board.on("cursor", () => this.#show());
    onNews("changes", () => this.#askSoon()); // only of what is on the disk
    this.#askSoon();
  }

  #askSoon() {
    if (this.#soon) return;
    this.#soon = setTimeout(async () => {
      this.#soon = null;
      const got = await get("/sort/done").catch(() => null); // that camsign is gone is told elsewhere
      if (got) this.#cards = new Map(got.cards.map((one) => [one.card, one]));
      this.#show();
    }, SOON_MS);
  }

  #show() {
    const one = this.#cards.get(this.#board.cursor?.strip.card);
    const place = $("#done");
    place.hidden = !one;
    if (!one) return;
    // Never a hundred before it is all of it.
    const share = Math.floor((100 * one.tagged) / one.frames);
    place.replaceChildren(`This ${one.camera} card: ${share}% sorted `, h("progress", { value: one.tagged, max: one.frames, "aria-hidden": "true" }));
  }
}
