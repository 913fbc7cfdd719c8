// The picture beside: reference pictures of a buck, the buck and the picture chosen with the arrows.

import { h, dayOf } from "../dom.js";
import { get } from "../api.js";
import { Pane } from "./pane.js";

export class Beside {
  on = false;
  #bucks = [];
  #buck = 0;
  #picture = 0;

  constructor() {
    this.pane = new Pane("Reference picture");
    this.words = h("p", { class: "beside-words", role: "status" });
    this.element = h("div", { class: "beside", hidden: true }, this.words, this.pane.element);
  }

  /** Opens with the pictures of `buck_id`, if he has any. */
  async start(buck_id) {
    this.on = true;
    this.element.hidden = false;
    this.#bucks = (await get("/references")).bucks;
    const at = this.#bucks.findIndex((one) => one.buck_id === buck_id);
    if (at >= 0) this.#buck = at;
    this.#buck = Math.max(0, Math.min(this.#buck, this.#bucks.length - 1));
    this.#picture = 0;
    this.#show();
  }

  stop() {
    this.on = false;
    this.element.hidden = true;
  }

  get buck_id() {
    return this.on ? this.#bucks[this.#buck]?.buck_id : undefined;
  }

  otherBuck(step) {
    if (!this.#bucks.length) return;
    this.#buck = (this.#buck + step + this.#bucks.length) % this.#bucks.length;
    this.#picture = 0;
    this.#show();
  }

  otherPicture(step) {
    const pictures = this.#bucks[this.#buck]?.pictures ?? [];
    if (!pictures.length) return;
    this.#picture = (this.#picture + step + pictures.length) % pictures.length;
    this.#show();
  }

  #show() {
    const buck = this.#bucks[this.#buck];
    this.pane.element.hidden = !buck;
    if (!buck) {
      this.words.textContent = "No buck has a reference picture yet. Choose one below: “Keep as reference picture”.";
      return;
    }
    const picture = buck.pictures[this.#picture];
    const when = picture.at ? dayOf(picture.at) : "no time";
    this.words.replaceChildren(
      h("strong", {}, h("bdi", {}, buck.buck)),
      ` ${picture.camera ?? ""}, ${when} · picture ${this.#picture + 1} of ${buck.pictures.length}, buck ${this.#buck + 1} of ${this.#bucks.length}`,
    );
    this.pane.show(picture.frame, `${buck.buck}, ${when}`);
  }
}
