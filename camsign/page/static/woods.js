// From the woods: the handheld's file, cards in the reader, clocks.

import { $, $$, clockOf, dayOf, dayWords, h, many } from "./dom.js";
import { ask, get } from "./api.js";
import { alarm, calm, sign, span } from "./shared.js";
import { sayBack } from "./place.js";
import { onNews } from "./live.js";
import { say, undoable } from "./said.js";
import { send, takeInKeys } from "./takein.js";
import { finding } from "./clocks.js";
import { Chooser, droppedFolder, pathOf } from "./folder.js";

const LOOK_EVERY_MS = 4000;
undoable(takeInKeys);

// ---------------------------------------------------------------- the handheld's file

const drop = $("#drop");
for (const kind of ["dragenter", "dragover"]) {
  drop.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
}
for (const kind of ["dragleave", "drop"]) drop.addEventListener(kind, () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => {
  event.preventDefault();
  if (droppedFolder(event.dataTransfer)) return; // the page itself takes it
  if (event.dataTransfer.files[0]) send(event.dataTransfer.files[0]);
});
// What misses the field must not replace the page; a folder may be dropped anywhere.
for (const kind of ["dragover", "drop"]) window.addEventListener(kind, (event) => event.preventDefault());
window.addEventListener("drop", async (event) => {
  const folder = droppedFolder(event.dataTransfer);
  if (!folder) return;
  sign("looking …");
  const path = await pathOf(folder).catch((e) => alarm(`${e.message}.`));
  sign("");
  if (path) await lookIn(path);
});
$("#file").addEventListener("change", () => {
  if ($("#file").files[0]) send($("#file").files[0]);
});

// ---------------------------------------------------------------- cards

const running = new Map(); // job -> the card's article
let named = []; // cards in folders that were named by hand
const paths = new Set(); // those folders
const results = new Map(); // a card's token -> what came of taking it in
let shown = "";

async function look() {
  if (document.hidden || running.size) return;
  const got = await get("/woods/cards").catch(() => null);
  if (got && !running.size) showCards(got.cards);
}

function showCards(cards) {
  const all = [...cards, ...named.filter((one) => !cards.some((card) => card.token === one.token))];
  const now = JSON.stringify(all);
  if (now === shown) return;
  shown = now;
  const articles = all.flatMap((card) => [card.taken ? null : cardOf(card), results.get(card.token)].filter(Boolean));
  for (const [token, result] of results) if (!all.some((card) => card.token === token)) $("#taken").append(result);
  const ready = all.filter((card) => isReady(card));
  const everyone = ready.length > 1 ? [h("p", {}, h("button", { type: "button", class: "main", id: "all-cards", onclick: loadAll }, `Load all ${ready.length} cards`), h("span", { class: "quiet" }, ` as ${ready.map((card) => card.camera).join(", ")}`))] : [];
  articles.unshift(...everyone);
  $("#found").replaceChildren(...(all.length ? articles : [h("p", { class: "quiet" }, "No card is in the reader. Put one in; it shows up here by itself.")]));
}

/** Whether a card can be loaded without another question. */
const isReady = (card) => card.camera && !card.all_known && !card.taken && !results.has(card.token);

let rest = null; // the tokens of cards that are loaded one after the other, by one button

function loadAll() {
  rest = $$("#found .card:has(button[data-yes])").map((article) => article.dataset.token);
  loadNext();
}

function loadNext() {
  while (rest?.length && !running.size) {
    const yes = $(`#found .card[data-token="${rest.shift()}"] button[data-yes]`);
    if (yes) return yes.click();
  }
  return null;
}

function cardOf(card) {
  const picture = h("img", { src: `/woods/peek/${card.token}`, alt: "The first picture on the card", onerror: () => picture.replaceWith(h("div", { class: "none" }, "no picture to show")) });
  const input = h("input", { type: "text", name: "camera", list: "known-cameras", maxlength: 60, autocomplete: "off", dir: "auto", required: true });
  const article = h("article", { class: "card", data: { token: card.token } });
  const other = h("form", { onsubmit: (event) => {
    event.preventDefault();
    take(card, article, input.value.trim());
  } }, h("label", {}, card.camera ? "No, it is" : "The camera's name, such as CAM07", input), h("button", { type: "submit", class: card.camera ? "" : "main" }, "Load it as this camera"));
  article.append(
    picture,
    h(
      "div",
      { class: "words-of" },
      h("h3", {}, card.all_known && card.camera ? [h("bdi", {}, card.camera), "'s card, loaded before"] : card.camera ? ["Looks like ", h("bdi", {}, card.camera), ": yes?"] : card.several.length ? "More than one camera's pictures" : "Which camera is this card from?"),
      h("p", {}, `${card.why.charAt(0).toUpperCase()}${card.why.slice(1)}.`),
      h("p", {}, h("bdi", {}, card.where), card.first ? `, ${card.first === card.last ? dayOf(card.first) : `${dayOf(card.first)} to ${dayOf(card.last)}`} by its clock` : ""),
      h("p", { class: "quiet" }, `${many(card.files, "file")}, ${size(card.bytes)}${card.all_known ? "; the pictures looked at are in the logbook already" : card.some_known ? "; some of its pictures are in the logbook already" : ""}`),
      card.camera ? h("p", {}, h("button", { type: "button", class: card.all_known ? "" : "main", data: card.all_known ? {} : { yes: "yes" }, onclick: () => take(card, article, "") }, card.all_known ? "Load what is new on it" : "Yes, load it")) : "",
      card.several.length ? h("p", {}, h("button", { type: "button", class: "main", onclick: () => take(card, article, "") }, "Load each as its own camera")) : other,
      named.includes(card) ? h("p", {}, h("button", { type: "button", onclick: () => putAway(card) }, "Not this one")) : "",
    ),
  );
  return article;
}

/** A folder that was named by hand is no longer shown. */
function putAway(card) {
  named = named.filter((one) => one !== card);
  paths.delete(card.asked);
  shown = "";
  look();
}

/** Asks anew whose the named folders are: what was taken in may tell. */
async function askAgain() {
  for (const path of paths) {
    const got = await ask("/woods/folder", { path }).catch(() => null);
    const anew = new Map(got?.cards.map((card) => [card.token, { ...card, asked: path }]));
    named = named.map((one) => (one.taken ? one : (anew.get(one.token) ?? one)));
  }
  shown = "";
}

function size(bytes) {
  return bytes < 1e9 ? `${Math.max(1, Math.round(bytes / 1e6))} MB` : `${(bytes / 1e9).toFixed(1)} GB`;
}

const copying = (words) => [h("h3", {}, "Copying; leave the card in"), h("progress", { "aria-label": "Copying" }), h("p", { class: "quiet" }, words)];

async function take(card, article, camera) {
  for (const button of article.querySelectorAll("button")) button.disabled = true;
  try {
    const { job } = await ask("/woods/take", { token: card.token, camera });
    calm();
    running.set(job, article);
    foldResults();
    $(".words-of", article).replaceChildren(...copying("beginning …"));
    // It may be over before the news of it could be heard.
    const now = (await get("/jobs")).jobs.find((one) => one.job === job);
    if (now) heard(now);
  } catch (e) {
    alarm(e.message);
    for (const button of article.querySelectorAll("button")) button.disabled = false;
  }
}

async function heard(job) {
  if (!job.title.startsWith("Taking in ")) return;
  const article = running.get(job.job);
  if (job.state === "running") {
    if (!article) return;
    const bar = $("progress", article);
    if (bar && job.total) {
      bar.max = job.total;
      bar.value = job.done;
      const left = job.left_s ? `, about ${span(job.left_s)} left` : "";
      $("p", article).textContent = `${job.done.toLocaleString("en")} of ${many(job.total, "file")}${left}`;
    }
    return;
  }
  running.delete(job.job);
  const { token } = article?.dataset ?? {};
  if (told.has(job.job)) return;
  if (job.state === "failed") told.add(job.job);
  if (job.state === "failed") put(h("div", { class: "result keep" }, h("h3", {}, "Keep the card: it was not loaded"), whichCard(job), h("p", {}, job.words)), article);
  else if (job.result) showResult(job, article);
  if (article) {
    if (job.state === "done") named = named.map((one) => ({ ...one, taken: one.taken || one.token === token }));
    await askAgain();
  }
  await look();
  loadNext();
}

/** The hour on this computer's clock at seconds of the Unix clock. */
function hourOf(seconds) {
  const at = new Date(seconds * 1000);
  return clockOf(new Date(at.getTime() - at.getTimezoneOffset() * 60_000).toISOString());
}

/** What was said of the cards before must not be read as said of the one that is being copied. */
function foldResults() {
  for (const one of $$(".result:not(.keep)")) one.open = false;
}

function whichCard(job) {
  return h("p", {}, h("bdi", {}, job.title.replace(/^Taking in /, "")));
}

/** Puts what came of a card where its button was pressed, else at the top. */
function put(result, article) {
  const token = article?.dataset.token;
  if (token) {
    results.get(token)?.remove();
    results.set(token, result);
    article.replaceWith(result);
  } else $("#taken").prepend(result);
  result.scrollIntoView({ block: "nearest" });
}

const told = new Set();
const daysOf = (first, last) => (dayWords(first) === dayWords(last) ? dayWords(first) : `${dayWords(first)} to ${dayWords(last)}`);

function showResult(job, article = null) {
  if (told.has(job.job)) return;
  told.add(job.job);
  const r = job.result;
  const cards = r.cards.map((c) => h("li", {}, h("bdi", {}, c.camera), `: ${many(c.frames, "picture")}, ${c.new.toLocaleString("en")} new${c.first ? `, ${daysOf(c.first, c.last)}` : ""}`));
  const since = r.since.flatMap((one) => sinceLines(one).map((line) => h("li", {}, h("bdi", {}, one.camera), `: ${line}`)));
  const refused = r.refused_all ? h("details", {}, h("summary", {}, `${many(r.refused_all, "file")} not taken, and why`), h("ul", {}, r.refused.map((one) => h("li", {}, h("bdi", {}, one.file), `: ${one.why}`)))) : "";
  const named = [...new Set(r.cards.map((c) => c.camera).filter(Boolean))];
  const whose = new Intl.ListFormat("en", { type: "conjunction" }).format(named);
  const verdict = r.safe_to_wipe ? `SAFE TO WIPE (${hourOf(job.begun + r.seconds)})` : "NOT SAFE TO WIPE: keep the card";
  put(
    h(
      "details",
      { class: r.safe_to_wipe ? "result" : "result keep", open: true },
      h("summary", {}, h("h3", {}, whose ? [h("bdi", {}, whose), named.length > 1 ? "'s cards: " : "'s card: "] : "", verdict)),
      whichCard(job),
      h("p", { class: "quiet" }, r.safe_to_wipe ? "Every picture on it is in the logbook, read back and compared." : ""),
      h("p", { class: "quiet" }, r.second_copy),
      r.reasons.length ? h("ul", {}, r.reasons.map((line) => h("li", {}, line))) : "",
      h("ul", {}, cards, r.held.map((line) => h("li", {}, line)), since, r.warnings.map((line) => h("li", {}, line))),
      (r.too_late ?? []).map(tooLate),
      refused,
      h("p", { class: "buttons" }, h("a", { class: "button main", href: "/sort" }, "Sort its pictures"), h("span", { class: "quiet" }, `${many(r.new, "picture")} in ${Math.max(1, Math.round(r.seconds))} s`)),
    ),
    article,
  );
  for (const one of r.since) judge(one.camera);
}

/** Its pictures begin before the day it was said to hang: mostly that day is the one of the form. */
function tooLate(one) {
  const button = h("button", { type: "button", class: "main", onclick: async () => {
    const said = await say("/say/deployment/correct", { deployment: one.deployment, from: one.first });
    if (!said) return;
    delete place.dataset.late;
    place.replaceChildren(h("bdi", {}, one.camera), `: up since ${dayWords(one.first)}.`);
    judge(one.camera);
  } }, `It was up since ${dayWords(one.first)}`);
  const older = `${one.frames.toLocaleString("en")} of its pictures ${one.frames === 1 ? "is" : "are"} older, the first from ${dayWords(one.first)}. Was it up since then, or is its clock off? `;
  const clock = h("a", { href: "/cards#clocks" }, "See its clock on Cards");
  const place = h("p", { class: "attention", data: { late: one.camera } }, "You hung ", h("bdi", {}, one.camera), ` on ${dayWords(one.hung)}, but ${older}`, button, " ", clock);
  return place;
}

function sinceLines(one) {
  const since = one.last_check ? `since its last check on ${dayWords(one.last_check)}` : "first card";
  const nights = many(one.nights, "night");
  const worked = one.nights_watched ? `worked ${one.nights_watched} of ${nights}` : `too few pictures to tell on which of ${nights} it worked`;
  const lines = [one.nights ? `${since}, ${worked}` : since];
  if (one.silent.length) lines.push(`quiet longer than it should be: ${one.silent.map(dayWords).join(", ")}`);
  for (const gap of one.nothing) lines.push(`Nothing ${gap.first === gap.last ? "on" : "from"} ${daysOf(gap.first, gap.last)}: a card not loaded, or was the camera down?`);
  if (one.stopped) lines.push(`it stopped before the card was pulled (last picture ${dayWords(one.stopped)}, ${clockOf(one.stopped)}): look at its batteries, card and lens`);
  if (one.card_full) lines.push("its card was full: use a larger one, or come more often");
  return lines;
}

// ---------------------------------------------------------------- clocks

async function judge(camera) {
  const got = await get(`/cards/clocks/${encodeURIComponent(camera)}`).catch((e) => alarm(e.message));
  if (!got) return;
  for (const old of $$("#clocks > *")) if (old.dataset.camera === camera) old.remove();
  const asked = $$("[data-late]").some((one) => one.dataset.late === camera);
  const odd = got.findings.filter((one) => one.attention && !(asked && one.up_from));
  if (asked && !odd.length) return;
  const made = odd.map((one) => finding(one, () => judge(camera)));
  const dark = unsure(camera, got.findings);
  if (!made.length && !dark.length) dark.push(h("p", { data: { camera } }, h("bdi", {}, camera), ": clock looks right."));
  $("#clocks").append(...made, ...dark);
}

/** A line for each stretch of pictures whose light says too little of its camera's clock. */
function unsure(camera, findings) {
  const line = (days, why) => h("p", { data: { camera } }, h("bdi", {}, camera), `${days}: can't tell yet if its clock is right.${why} Look at a picture and check its time by eye.`);
  if (!findings.length) return [line("", "")];
  const dark = findings.filter((one) => !one.attention && one.verdict !== "right");
  return dark.map((one) => line(findings.length > 1 ? `, ${daysOf(one.from, one.until)}` : "", ` ${one.why[0].toUpperCase()}${one.why.slice(1)}.`));
}

/** What is wrong with a clock, or can't be told, stands here, also after the pages were closed. */
async function judgeAll() {
  for (const { value } of $$("#known-cameras option")) {
    const got = await get(`/cards/clocks/${encodeURIComponent(value)}`).catch(() => null);
    if ($$("#clocks > *").some((one) => one.dataset.camera === value)) continue;
    const odd = (got?.findings ?? []).filter((one) => one.attention);
    const dark = got?.findings.length ? unsure(value, got.findings) : [];
    $("#clocks").append(...odd.map((one) => finding(one, () => judge(value))), ...dark);
  }
}
judgeAll();

// ---------------------------------------------------------------- going on

$("#folder").addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = $("#folder button");
  button.disabled = true;
  await lookIn(`${new FormData(event.target).get("path")}`);
  button.disabled = false;
});
const chooser = new Chooser(lookIn);
$("#choose-folder").addEventListener("click", () => chooser.open());

/** Looks for cards in a folder that was named, chosen or dropped. */
async function lookIn(path) {
  sign("looking …");
  try {
    const got = await ask("/woods/folder", { path });
    paths.add(path);
    named = [...got.cards.map((card) => ({ ...card, asked: path })), ...named.filter((one) => !got.cards.some((card) => card.token === one.token))];
    shown = "";
    calm();
    await look();
    $("#found").scrollIntoView({ block: "nearest" });
  } catch (e) {
    alarm(e.message);
  }
  sign("");
}

const askHome = sayBack($("#home").elements.home, $("#shown"));
$("#home").addEventListener("submit", (event) => {
  event.preventDefault();
  askHome("Yes, move home", async (home) => {
    try {
      await ask("/home", { home, sure: home });
      location.reload();
    } catch (e) {
      alarm(e.message);
    }
  });
});

async function count() {
  const c = await get("/woods/counts").catch(() => null);
  if (!c) return;
  $("#known-cameras").replaceChildren(...c.cameras.map((name) => h("option", { value: name })));
  $("#counts").textContent = c.in_logbook;
  $("#left").textContent = c.left;
  $("#no-card").hidden = !c.no_card.length;
  $("#no-card").textContent = `${c.no_card.map((one) => `You ${one.moved ? "moved" : "took down"} ${one.camera} on ${dayWords(one.down)}: its ${one.is_first ? "first card" : "card from before"} isn't loaded (${dayWords(one.first)} to ${dayWords(one.last)})`).join("; ")}. Have it? Load it; until then those nights count for nothing.`;
  $("#sort").hidden = !c.any_card;
  $("#sort").classList.toggle("main", c.untagged > 0);
}

onNews("job", heard);
onNews("changes", count);
onNews("hello", comeBack);
$("#main").dataset.ready = "yes";

/** Cards that are being taken in, or were, since the program was started. */
async function comeBack() {
  const jobs = (await get("/jobs")).jobs.filter((one) => one.title.startsWith("Taking in "));
  for (const job of jobs) {
    if (job.state === "running" && !running.has(job.job)) {
      const article = h("article", { class: "card" }, h("div", { class: "none" }), h("div", { class: "words-of" }, copying(job.title)));
      running.set(job.job, article);
      $("#found").replaceChildren(article);
    } else if (job.state === "done" && job.result) showResult(job);
  }
  if (running.size) foldResults();
}

await comeBack();
await count();
await look();
setInterval(look, LOOK_EVERY_MS);

