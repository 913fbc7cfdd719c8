// Pages that are shown anew after something was said: the quiet sign outlives the reload; undo and redo.

import { $ } from "./dom.js";
import { ask } from "./api.js";
import { alarm, sign } from "./shared.js";
import { Keys } from "./keys.js";

const SAID = "camsign-said";

/** Shows whether anything can be taken back or said again. */
export function showTurns(answer) {
  if (answer?.undo !== undefined && $("#undo")) {
    $("#undo").disabled = !answer.undo;
    $("#redo").disabled = !answer.redo;
  }
}

/**
 * Says something; gives the answer, or null after an alarm. The page may then be loaded anew. `words` go
 * before what was said.
 */
export async function say(address, value = {}, words = "") {
  sign("saving …");
  try {
    const answer = await ask(address, value);
    sign(`${words || "saved"}: ${answer.what ?? "done"}`, "done");
    showTurns(answer);
    return answer;
  } catch (e) {
    sign("");
    alarm(`Not saved: ${e.message}.`);
    return null;
  }
}

/** Loads the page, or that of an address, anew and shows there that `answer` is on the disk. */
export function again(answer, address = "", words = "saved") {
  sessionStorage.setItem(SAID, `${words}: ${answer.what ?? "done"}`);
  if (address) location.assign(address);
  else location.reload();
}

/**
 * Wires undo and redo, by button and by key; `groups` are more keys of the page. The sign tells which of both
 * was done, here and after the page was `shown` anew.
 */
export function undoable(groups = [], shown = again) {
  const turn = async (address, words) => {
    const answer = await say(address, {}, words);
    if (answer) shown(answer, "", words);
  };
  $("#undo")?.addEventListener("click", () => turn("/undo", "undone"));
  $("#redo")?.addEventListener("click", () => turn("/redo", "redone"));
  const said = sessionStorage.getItem(SAID);
  if (said) {
    sign(said, "done");
    sessionStorage.removeItem(SAID);
  }
  return new Keys([
    ...groups,
    ["Change", [
      { keys: ["U", "Ctrl+Z"], words: "undo your last change", run: () => turn("/undo", "undone") },
      { keys: ["R", "Ctrl+Y", "Ctrl+Shift+Z"], words: "redo it", run: () => turn("/redo", "redone") },
    ]],
  ]);
}
