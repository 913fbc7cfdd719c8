// Where do you hunt? Starts the logbook, then goes on to the first evening.

import { $, $$ } from "./dom.js";
import { ask } from "./api.js";
import { sayBack } from "./place.js";
import { alarm } from "./shared.js";

const form = $("#start");
const zone = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
form.elements.tz.value = zone;

const askBack = sayBack(form.elements.home, $("#shown"));

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  /** @type {Record<string, any>} */
  const value = Object.fromEntries(new FormData(form));
  if (!value.home.trim() && $("#zone").hidden) {
    $("#zone").hidden = false;
    form.elements.tz.focus();
    return;
  }
  if (value.home.trim()) askBack("Yes, start the logbook", (home) => start({ ...value, home, sure: home }));
  else await start(value);
});

async function start(value) {
  const buttons = /** @type {HTMLButtonElement[]} */ ($$("button", form));
  for (const button of buttons) button.disabled = true;
  try {
    await ask("/first", value);
    location.assign("/woods");
  } catch (e) {
    for (const button of buttons) button.disabled = false;
    alarm(e.message);
  }
}
