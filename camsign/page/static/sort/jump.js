// Jumps to the visit nearest to a day.

import { $, dialog, h } from "../dom.js";
import { alarm } from "../shared.js";

export class Jump {
  /** `to(day)`: goes there. */
  constructor(to) {
    this.input = h("input", { type: "date", name: "day", required: true });
    const go = (event) => {
      event.preventDefault();
      this.dialog.close();
      to(this.input.value).catch((e) => alarm(e.message));
    };
    this.dialog = dialog("jump", "jump-title", "Go to a day",
      h("form", { onsubmit: go }, h("label", {}, "Day ", this.input), h("button", { type: "submit", class: "main" }, "Go there")));
    $("#main").append(this.dialog);
  }

  /** Opens with the day where the user is. */
  open(day) {
    if (day) this.input.value = day;
    this.dialog.showModal();
    this.input.focus();
  }
}
