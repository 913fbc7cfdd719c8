// Tonight: which stand on which wind. The scent turns at once; the ranks come from the server.

import { $, $$, bearingWords, h } from "../dom.js";
import { get } from "../api.js";
import { folds, load } from "../folds.js";
import { onNews } from "../live.js";
import { Land } from "../map/land.js";
import { say, undoable } from "../said.js";
import { alarm, calm } from "../shared.js";
import { Ring } from "./ring.js";
import { capital, pocketCard, standRow } from "./rows.js";
import { Sheet } from "./sheet.js";

const WIDE = window.matchMedia("(min-width: 861px)");
const main = $("#main");
const form = $("#asked");
const unit = main.dataset.speed;
const perMs = unit === "mph" ? 1 / 0.44704 : 3.6;

let answer = null;
let open = null; // the stand whose why is shown
let step = null; // the step of the sit whose scent is drawn; null: when he comes
let picked = false; // a stand was chosen by hand; until then the best one is shown
let asking = false; // one question is on its way
let again = false; // and what is asked has changed meanwhile

const land = new Land();
const ring = new Ring($("#ring"), turned);
let sheet = null;

// ---------------------------------------------------------------- asking

function asked() {
  const value = Object.fromEntries(new FormData(form));
  if (ring.from === null) return { day: value.day, part: value.part };
  return { ...value, speed: value.speed || 0, from: ring.from };
}

function turned() {
  if (!form.elements.speed.value) form.elements.speed.value = unit === "mph" ? 5 : 8;
  drawScent();
  ask();
}

/** Asks at once, or as soon as the question on its way is answered: the ring turns faster than that. */
async function ask() {
  again = asking;
  if (asking) return;
  asking = true;
  /** @type {any} */
  const question = asked();
  main.setAttribute("aria-busy", "true");
  try {
    const got = await get("/tonight/answer", question);
    calm();
    history.replaceState(null, "", `?${new URLSearchParams(question)}`);
    take(got);
  } catch (e) {
    alarm(`${capital(e.message)}.`);
  }
  asking = false;
  if (again) await ask();
  else main.removeAttribute("aria-busy");
}

function take(got) {
  answer = got;
  $("#verdict").textContent = got.verdict;
  $("#todo").replaceChildren(got.todo, got.link ? h("a", { href: got.link.href }, got.link.words) : "");
  main.dataset.state = got.state;
  main.toggleAttribute("data-bare", !land.areas.length && !land.places.length); // no map of nothing
  const rows = got.stands ?? [];
  const ranked = got.state !== "nobody"; // where nothing can be told, their order says nothing
  rows.forEach((row, i) => Object.assign(row, { rank: ranked ? i + 1 : null, sit: got.state === "sit" && row.id === got.top }));
  $("#ranks-title").textContent = ranked ? "Stands, best first" : "Your stands (not ranked)";
  $("#ranks-title").classList.toggle("unseen", ranked);
  sheet.stands = new Map(rows.map((row) => [row.id, row]));
  if (got.relief !== undefined) sheet.relief = got.relief;
  if (got.wind) showWind(got.wind);
  const because = [got.because, got.rivals].filter(Boolean);
  $("#because").textContent = because.join(" ");
  $("#because").hidden = !because.length;
  $("#card").hidden = got.state !== "sit";
  if (!picked || open === null || !sheet.stands.has(sheet.chosen)) sheet.chosen = got.top ?? null;
  if (!picked && WIDE.matches && got.state === "sit") open = sheet.chosen;
  showRows();
  main.dataset.ready = "yes";
}

function showWind(wind) {
  if (ring.from !== null || wind.from === null) return;
  ring.show(wind.from);
  form.elements.speed.value = Math.round(wind.speed_ms * perMs);
  if (wind.cloud !== null) form.elements.cloud.value = wind.cloud < 0.25 ? 0 : wind.cloud < 0.75 ? 50 : 100;
}

// ---------------------------------------------------------------- showing

function showRows() {
  const rows = answer.stands ?? [];
  const held = /** @type {HTMLElement | null} */ (document.activeElement?.closest("#stands li"))?.dataset.id;
  $("#stands").replaceChildren(...rows.map((row) => standRow(row, row.id === open, { toggle, print, going })));
  if (held) $(`#stands li[data-id="${CSS.escape(held)}"] .head`)?.focus();
  const notes = [...(answer.why ?? []), ...(answer.cautions ?? [])].map((line) => h("li", {}, `${capital(line)}.`));
  $("#notes").replaceChildren(...(rows.length ? [h("ul", {}, notes), h("details", {}, h("summary", {}, "How this was figured"), h("p", {}, `${capital(answer.method)}.`))] : []));
  const steps = answer.steps ?? [];
  $("#hour").hidden = !steps.length || !sheet?.chosen;
  $("#step").max = Math.max(0, steps.length - 1);
  drawScent();
}

/** The chosen stand's scent at the hour shown, blown along by the wind as the ring stands now. */
function drawScent() {
  if (!sheet) return;
  const row = sheet.stands.get(sheet.chosen);
  const at = row ? Math.min(step ?? row.comes_step, row.airs.length - 1) : 0;
  const air = row?.airs[at];
  sheet.going = row?.going_deg ?? null;
  sheet.scent = null;
  if (air) {
    const toward = ring.from === null || air.toward === null ? air.toward : (ring.from + 180) % 360;
    sheet.scent = { ...air, toward, line: air.stream === null ? null : row.streams[air.stream] };
    $("#step").value = at;
    $("#step").setAttribute("aria-valuetext", answer.steps[at]);
    $("#hour-words").textContent = `Scent from ${row.stand} at ${answer.steps[at]}`;
  }
  sheet.view.soon();
}

function choose(id) {
  picked = true;
  sheet.chosen = id;
  step = null;
}

function toggle(id) {
  open = open === id ? null : id;
  choose(id);
  showRows();
}

function pick(id) {
  open = id;
  choose(id);
  showRows();
  $(`#stands li[data-id="${CSS.escape(id)}"]`)?.scrollIntoView({ block: "nearest" });
}

/** Keeps what is said of the stand one goes to, so that the season's review can hold it against what happened. */
function going(row) {
  const question = Object.entries(asked()).map(([name, value]) => [name, String(value)]);
  say("/tonight/plan", { ...Object.fromEntries(question), stand: row.id });
}

function fillCard(row) {
  const speed = form.elements.speed.value || 0;
  const wind = ring.from === null ? "calm or variable" : `from ${bearingWords(ring.from)}, ${speed} ${unit}`;
  $("#pocket").replaceChildren(...pocketCard(answer, row, wind));
}

function print(row) {
  fillCard(row);
  window.print();
}

// The browser's own menu prints the card, too.
window.addEventListener("beforeprint", () => {
  if (!$("#pocket").hasChildNodes() && best()) fillCard(best());
});

// ---------------------------------------------------------------- what is wired

form.addEventListener("input", ask);
form.addEventListener("submit", (event) => event.preventDefault());
$("#last")?.addEventListener("click", () => {
  form.elements.day.value = $("#last").dataset.day;
  ask();
});
$("#card").addEventListener("click", () => print(answer.stands.find((row) => row.id === answer.top) ?? best()));
$("#step").addEventListener("input", () => {
  step = Number($("#step").value);
  drawScent();
});
$("form[data-post]").addEventListener("submit", async (event) => {
  event.preventDefault();
  const journal = /** @type {HTMLFormElement} */ (event.currentTarget);
  const answer = await say(journal.dataset.post, Object.fromEntries([...new FormData(journal)].filter(([, value]) => value !== "")));
  if (answer) journal.reset(); // the list above follows by the news of it
});
onNews("changes", async () => {
  await land.load();
  ask();
  for (const place of $$(".fold[open] > [data-part]")) load(about(place));
});

// A next camera is about the day and the sit that are asked for.
function about(place) {
  Object.assign(place.dataset, { day: form.elements.day.value, sit: form.elements.part.value });
  return place;
}
for (const place of $$(".fold > [data-part]")) place.closest("details").addEventListener("toggle", () => about(place), { capture: true });
$("#fold-sits").addEventListener("click", (event) => {
  const button = /** @type {HTMLElement} */ (event.target).closest("[data-remove]");
  if (button) say("/say/sit/remove", { sit: /** @type {HTMLElement} */ (button).dataset.remove });
});
$(".journal").addEventListener("toggle", () => {
  const stand = /** @type {HTMLInputElement} */ ($(".journal [name=stand]"));
  stand.value ||= sheet?.stands.get(sheet.chosen)?.stand ?? "";
});
folds();

const best = () => answer?.stands?.find((row) => row.id === open) ?? answer?.stands?.find((row) => row.id === answer.top);
undoable([
  ["Tonight", [
    { keys: ["W"], words: "go to the ring; arrows turn the wind by 5°, Page Up and Page Down by 45°", run: () => $("#ring").focus() },
    { keys: ["1", "2", "3", "4", "5", "6", "7", "8", "9"], shown: ["1 … 9"], words: "the stand of that rank, and why", run: (event) => answer?.stands?.[Number(event.key) - 1] && toggle(answer.stands[Number(event.key) - 1].id) },
    { keys: ["P"], words: "print the pocket card of the open stand, or of the best", run: () => best() && print(best()) },
    { keys: ["M"], words: "go to the map; arrows move it, + and - zoom", run: () => $("#land").focus() },
    { keys: ["0"], words: "show everything", run: () => sheet.fit() },
  ]],
]);

const given = new URLSearchParams(location.search);
for (const name of ["day", "part", "speed", "cloud"]) if (given.get(name)) form.elements[name].value = given.get(name);
if (given.get("from")) ring.show(Number(given.get("from")));
await land.load();
sheet = new Sheet($("#land"), land, pick);
await ask();
