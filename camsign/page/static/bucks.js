// Forms of the bucks' pages: sent as JSON, then the page is shown anew.

import { $, $$ } from "./dom.js";
import { folds } from "./folds.js";
import { alarm } from "./shared.js";
import { again, say, undoable } from "./said.js";
import { Closer } from "./closer/closer.js";

const buck_id = $("main").dataset.buck;

async function sayForm(form) {
  /** @type {Record<string, any>} */
  const value = { ...Object.fromEntries([...new FormData(form)].filter(([, v]) => v !== "")), buck: buck_id };
  if (form.id === "split") {
    value.frames = $$("input[data-frames]:checked", form).flatMap((box) => box.dataset.frames.split(" "));
    if (!value.frames.length) return alarm("Choose the visits that show the other one.");
  }
  const answer = await say(form.dataset.post, value);
  if (answer) again(answer, `/bucks/${answer.id}`);
  return null;
}

async function drop(address, value) {
  const answer = await say(address, value);
  if (answer) again(answer);
}

for (const form of $$("form[data-post]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    sayForm(form);
  });
  form.addEventListener("invalid", (event) => {
    const field = /** @type {HTMLInputElement} */ (event.target);
    const words = field.labels?.[0]?.firstChild?.textContent?.replace("(required)", "").trim();
    alarm(`Not saved: ${words}: ${field.validity.valueMissing ? "fill it in" : field.validationMessage}`);
  }, true);
}

for (const button of $$("[data-drop]")) {
  button.addEventListener("click", () => drop("/references", { buck_id, frame: button.dataset.drop, drop: true }));
}
for (const button of $$("[data-measurement]")) {
  button.addEventListener("click", () => drop("/ruler/drop", { measurement: button.dataset.measurement }));
}

if (buck_id) {
  const closer = new Closer();
  const pictures = $$(".picture[data-frame]");
  const frames = pictures.map((one) => ({ frame: one.dataset.frame, words: one.dataset.words }));
  pictures.forEach((one, at) => one.addEventListener("click", () => closer.open(frames, at, { words: (f) => f.words, buck_id })));
}

folds();
undoable();
