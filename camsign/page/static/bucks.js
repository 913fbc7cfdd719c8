// Forms of the bucks' pages: sent as JSON, then the page is shown anew.

import { $, $$ } from "./dom.js";
import { post } from "./api.js";
import { alarm } from "./shared.js";
import { undoable } from "./said.js";
import { Closer } from "./closer/closer.js";

const SAID = "camsign-said";
const buck_id = $("main").dataset.buck;

async function say(address, value) {
  try {
    const answer = await post(address, value);
    sessionStorage.setItem(SAID, `on disk · ${answer.what ?? answer.buck ?? "done"}`);
    return answer;
  } catch (e) {
    alarm(`Not noted: ${e.message}.`);
    return null;
  }
}

async function sayForm(form) {
  /** @type {Record<string, any>} */
  const value = Object.fromEntries([...new FormData(form)].filter(([, v]) => v !== ""));
  if (form.id === "split") {
    value.frames = $$("input[data-frames]:checked", form).flatMap((box) => box.dataset.frames.split(" "));
    if (!value.frames.length) return alarm("Choose the visits that show the other one.");
  }
  const answer = await say(form.dataset.post, { ...value, buck: buck_id });
  if (answer?.id) location.assign(`/bucks/${answer.id}`);
  return null;
}

for (const form of $$("form[data-post]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    sayForm(form);
  });
}

for (const button of $$("[data-drop]")) {
  button.addEventListener("click", async () => {
    if (await say("/references", { buck_id, frame: button.dataset.drop, drop: true })) location.reload();
  });
}
for (const button of $$("[data-measurement]")) {
  button.addEventListener("click", async () => {
    if (await say("/ruler/drop", { measurement: button.dataset.measurement })) location.reload();
  });
}

if (buck_id) {
  const closer = new Closer();
  const pictures = $$(".picture[data-frame]");
  const frames = pictures.map((one) => ({ frame: one.dataset.frame, words: one.dataset.words }));
  pictures.forEach((one, at) => one.addEventListener("click", () => closer.open(frames, at, { words: (f) => f.words, buck_id })));
}

undoable();
