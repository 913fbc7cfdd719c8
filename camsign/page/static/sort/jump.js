// Jumps to the visit nearest to a day.

import { $, h } from "../dom.js";
import { alarm } from "../shared.js";

export class Jump {
  /** `to(day)`: goes there. */
  constructor(to) {
    this.input = h("input", { type: "date", name: "day", required: true });
    this.dialog = h(
      "dialog",
      { class: "jump", "aria-labelledby": "jump-title" },
      h("button", { type: "button", class: "close", onclick: () => this.dialog.close() }, "Close ", h("kbd", {}, "Esc")),
      h("h2", { id: "jump-title" }, "Go to a day"),
      h("form", { onsubmit: (event) => {
        event.preventDefault();
        this.dialog.close();
        to(this.input.value).catch((e) => alarm(e.message));
      } }, h("label", {}, "Day ", this.input), h("button", { type: "submit", class: "main" }, "Go there")),
    );
    $("#main").append(this.dialog);
  }

  /** Opens with the day where the user is. */
  open(day) {
    if (day) this.input.value = day;
    this.dialog.showModal();
    this.input.focus();
  }
}
