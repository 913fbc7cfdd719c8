// What every page has in its head: the quiet sign, alarms, long work.

import { $, $$, h, s } from "./dom.js";
import { ask, get } from "./api.js";
import { onNews } from "./live.js";

const READ_MS = 1000; // a mistake's words stay at least so long, however fast the user goes on
let begun = 0; // when what is under way was said
let alarmed = Infinity; // when a mistake was told of that a later success puts right

/** Shows the quiet sign. state: "" (under way) or "done" (saved). */
export function sign(words, state = "") {
  if (state !== "done") begun = performance.now();
  else if (begun > alarmed + READ_MS) calm();
  const place = $("#sign");
  place.className = state;
  place.title = words;
  place.replaceChildren(state === "done" ? tick() : "", words);
}

function tick() {
  return s(
    "svg",
    { viewBox: "0 0 16 16", width: 15, height: 15, "aria-hidden": "true" },
    s("path", { d: "M2 8.5 6.3 13 14 3.5", fill: "none", stroke: "currentColor", "stroke-width": 2.4 }),
  );
}

/**
 * Shows what went wrong: over an open dialog too. It stays until the user has read it; what was refused
 * (not `lasting`) also goes when something said later succeeds.
 */
export function alarm(words, lasting = false) {
  alarmed = lasting ? Infinity : performance.now();
  const place = $("#alarm");
  const dialog = $$("dialog[open]").at(-1);
  if (dialog) {
    dialog.append(place);
    dialog.addEventListener("close", () => $("#jobs").after(place), { once: true });
  } else if (place.closest("dialog")) $("#jobs").after(place);
  place.replaceChildren(h("p", {}, words), h("button", { type: "button", onclick: calm }, "I have read this"));
  place.hidden = false;
}

export function calm() {
  $("#alarm").hidden = true;
}

const jobs = new Map();

function showJob(job) {
  if (job.state === "running") jobs.set(job.job, job);
  else jobs.delete(job.job);
  if (job.state === "failed") alarm(`${job.title}: ${job.words}`, true);
  const place = $("#jobs");
  place.replaceChildren(...[...jobs.values()].map(jobLine));
  place.hidden = jobs.size === 0;
}

function jobLine(job) {
  const share = job.total ? { value: job.done, max: job.total } : {};
  const left = job.left_s ? `about ${span(job.left_s)} left` : "";
  return h("p", {}, job.title, h("progress", { ...share, "aria-label": job.title }), left);
}

/** "40 s", "3 min". */
export function span(seconds) {
  return seconds < 90 ? `${Math.max(1, Math.round(seconds))} s` : `${Math.round(seconds / 60)} min`;
}

let lost = false;
onNews("lost", () => {
  lost = $("#alarm").hidden; // what was refused just now says more, and stays
  if (lost) alarm("camsign does not answer. Start it again; what was marked as saved is safe.", true);
});
onNews("hello", async () => {
  if (lost) calm();
  lost = false;
  for (const job of (await get("/jobs")).jobs) if (job.state === "running") showJob(job);
});
onNews("job", showJob);
onNews("trouble", (news) => alarm(news.what, true));

/** Lists what of the logbook could not be read: something strange may come while a page is open. */
onNews("changes", async () => {
  const { heading, lines } = await get("/unread");
  const place = $("#unread");
  place.hidden = !heading;
  $("summary", place).textContent = heading;
  $("ul", place).replaceChildren(...lines.map((line) => h("li", {}, line)));
});

/** Another logbook: every open page begins anew, so that nothing is said into the wrong one. */
$("#logbooks")?.addEventListener("change", async (event) => {
  const choice = event.currentTarget;
  choice.disabled = true;
  sign(`Opening ${choice.selectedOptions[0].text}`);
  try {
    await ask("/switch", { logbook: choice.value });
    location.assign("/");
  } catch (refused) {
    for (const option of choice.options) option.selected = option.defaultSelected;
    choice.disabled = false;
    alarm(refused.message);
  }
});
onNews("switched", () => location.assign("/"));
