// The sorting page: wires the board, what shows it, and what the user presses.

import { $, dayWords } from "../dom.js";
import { get } from "../api.js";
import { alarm } from "../shared.js";
import { onNews } from "../live.js";
import { Board } from "./board.js";
import { Strips } from "./strips.js";
import { Stage, words } from "./stage.js";
import { Saying } from "./saying.js";
import { COMMON, Who } from "./who.js";
import { Combobox } from "./combobox.js";
import { Travel } from "./travel.js";
import { Done } from "./done.js";
import { Jump } from "./jump.js";
import { Keys } from "../keys.js";
import { Closer } from "../closer/closer.js";

const board = new Board();
const strips = new Strips(board, $("#parts"));
new Stage(board);
const saying = new Saying(board);
const box = new Combobox(board, inTurn(choose));
const who = new Who(board, saying, inTurn(choose), () => box.open());
const travel = new Travel();
const closer = new Closer();
new Done(board);
const jump = new Jump(goDay);
strips.nothing = nothing;

let held = null; // what a key asked for and is not here yet

/** Keys that were pressed until this is here wait for it, in their order: none is lost, none hits the wrong visit. */
function hold(work) {
  const mine = work.catch((e) => alarm(e.message)).finally(() => {
    if (held === mine) held = null;
  });
  held = mine;
  return mine;
}

let line = Promise.resolve();
let waiting = 0;

/** Makes of what a key or button does something that runs in its turn. */
function inTurn(run) {
  return (...given) => {
    if (!held && !waiting) return run(...given);
    waiting += 1;
    line = line.then(async () => {
      while (held) await held;
      waiting -= 1;
      return run(...given);
    }).catch((e) => alarm(e.message));
    return line;
  };
}

/** Goes where `find` says; where visits on the way there are not loaded yet, loads them first. */
function goTo(find) {
  const [from, frame] = [board.cursor, find()];
  const part = from && strips.gap(from, frame);
  if (!part) return board.goTo(frame);
  const before = part.strips.length;
  return hold(strips.load(part).then(() => (part.strips.length > before ? goTo(find) : board.goTo(frame))));
}

/** Tags as the buck on a digit; one who is still being asked about is waited for. */
function digit(n, stay = false, waits = true) {
  if (who.slots[n]) return choose(who.slots[n], stay);
  if (waits && who.behind) return hold(who.caughtUp().then(() => digit(n, stay, false)));
  return alarm(`No buck is on ${n + 1} here: press W and type his name.`);
}

/** Says a tag of everything in reach, then goes on unless the user wants to stay. */
function choose(one, stay = false) {
  if (!one) return;
  const frames = board.target;
  const answer = saying.tag(frames, one);
  if (one.said.new_buck) answer.then(() => who.refresh());
  if (!stay) goOn(frames);
}

/** Says once more what was said last, of what is in reach now. */
function same(stay = false) {
  const last = saying.lastSaid;
  if (!last) return alarm("Tag something first; then A tags the next one the same.");
  // Which way he went is each visit's own.
  return choose({ said: { ...last.said, travel: undefined }, shown: { ...last.shown, travel_deg: null } }, stay);
}

/** Tags all likely-empty visits that are shown as nothing, in one act that one undo takes back. */
function nothing(part = strips.part("empty")) {
  if (!part) return alarm("No visit here looks empty: go through them one by one.");
  if (!part.open) return alarm("Show the visits that look empty (E) and look them over; then N tags them all as nothing.");
  const frames = part.strips.flatMap((strip) => strip.frames).filter((frame) => !frame.tags.length);
  if (!frames.length) return alarm("Every visit shown that looks empty has a tag.");
  return saying.tag(frames, COMMON[0]);
}

function goDay(day) {
  return hold(toDay(day));
}

async function toDay(day) {
  const { part, at } = await get("/sort/nearest", { list: strips.list, day });
  if (!part) return alarm("No visit shown here has a day.");
  const frame = await strips.reach(part, at);
  if (frame) board.goTo(frame);
  return null;
}

function goOn(frames) {
  const selecting = board.selection.size > 0;
  if (selecting) board.clearSelection();
  goTo(() => board.nextOpen(frames, selecting));
  strips.ahead();
}

/** Fills the filter in from the address, as other pages lead here: /sort?camera=CAM01&tagged=no. */
function fromAddress() {
  for (const [name, value] of new URLSearchParams(location.search)) {
    const field = $("#filter").elements[name];
    if (field) field.value = value;
  }
}

async function show() {
  const form = new FormData($("#filter"));
  const answer = await get("/sort/list", Object.fromEntries(form));
  $("#filter-words").textContent = inWords();
  strips.whole = ![...form].some(([name, value]) => value && name !== "order");
  const onlyPart = { yes: "tagged", partly: "partly", no: "untagged" }[form.get("tagged")];
  await strips.show(answer, onlyPart);
}

/** Says what the filter lets through. */
function inWords() {
  const { camera, area, buck, from, to, light, tagged, doubt, order } = $("#filter").elements;
  const chosen = (field) => field?.value && field.selectedOptions[0].textContent.trim();
  const days = [from.value && `from ${dayWords(from.value)}`, to.value && `to ${dayWords(to.value)}`].filter(Boolean).join(" ");
  const tags = { no: "no tag yet", partly: "partly tagged", yes: "tagged" }[tagged.value];
  const said = [camera.value, chosen(area), chosen(buck), days, chosen(light), tags, chosen(doubt)].filter(Boolean);
  return `${said.join(", ") || "every visit"}, ${order.selectedOptions[0].textContent}`;
}

/** Lists at once what the filter says. */
function filtered() {
  const asked = new URLSearchParams([...new FormData($("#filter"))].flatMap(([name, value]) => (value ? [[name, `${value}`]] : [])));
  history.replaceState(null, "", asked.size ? `?${asked}` : location.pathname);
  hold(show());
}

function openFilter() {
  if ($("#filter-fold").open) return closeFilter();
  $("#filter-fold").open = true;
  return $("#filter select").focus();
}

/** Folds the filter, and the keys are the visits' again. */
function closeFilter() {
  $("#filter-fold").open = false;
  $(".tile[aria-current]")?.focus({ preventScroll: true });
}

/** Says the last tag again with something changed. */
function amend(change) {
  const last = saying.lastSaid;
  if (!last) return alarm("Tag something first; then this changes that tag.");
  const frames = last.ids.map((id) => board.frames.get(id)).filter(Boolean);
  const now = { said: { ...last.said, ...change.said }, shown: { ...last.shown, ...change.shown } };
  return saying.tag(frames, now, last);
}

function count(step) {
  const last = saying.lastSaid;
  if (last?.said.buck_id || last?.said.new_buck) return alarm("A named buck is one animal.");
  const n = Math.max(1, (last?.shown.count ?? 1) + step);
  return amend({ said: { count: n }, shown: { count: n } });
}

function unsure() {
  const now = !saying.lastSaid?.shown.unsure;
  return amend({ said: { sure: now ? "unsure" : "sure" }, shown: { unsure: now } });
}

function goes() {
  const last = saying.lastSaid;
  if (!last) return alarm("Tag something first; then say which way it goes.");
  const strip = board.frames.get(last.ids[0])?.strip;
  const ways = new Set(last.ids.map((id) => board.frames.get(id)?.way).filter(Boolean));
  const way = ways.size === 1 ? [...ways][0] : null;
  // The user looks at the visit that is asked about, and comes back to where the next tag goes.
  const [asked, before] = [board.frames.get(last.ids[0]), board.cursor];
  board.goTo(asked, true);
  return travel.open(strip?.facing_deg ?? null, `${last.shown.words}:`, way, {
    done: (text) => amend({ said: { travel: text }, shown: {} }),
    left: () => board.cursor === asked && board.goTo(before, true),
  });
}

async function turn(work) {
  const answer = await work;
  const frame = answer?.frames.map((id) => board.frames.get(id)).find(Boolean);
  if (frame) board.goTo(board.inOrder(answer.frames)[0]);
}

const undo = () => hold(turn(saying.undo()));
const redo = () => hold(turn(saying.redo()));
const go = (steps) => board.cursor && goTo(() => board.frameAt(steps));

function goStrip(steps) {
  if (!board.cursor) return;
  const from = board.cursor;
  const there = () => {
    const strip = board.stripAt(steps);
    return strip === from.strip ? null : strip?.frames[0];
  };
  if (Math.abs(steps) > 5) board.goTo(there()); // the first or last that is here
  else goTo(there);
  strips.ahead();
}

/** Goes on to what is not tagged; behind the last visit it begins anew at the top. */
function goOpen() {
  const last = board.cursor?.strip.frames.at(-1);
  if (last) goTo(() => {
    const next = board.nextOpen([last]);
    if ((next && !next.tags.length) || strips.gap(board.cursor, null)) return next;
    return board.firstOpen() ?? next;
  });
  strips.ahead();
}

/** Looks closer at the visit's frames, beginning where the user is. */
function look() {
  if (!board.cursor) return;
  const { strip, place } = board.cursor;
  closer.open(strip.frames, place, {
    words,
    moved: (frame) => board.goTo(frame, true),
    digit: (n) => digit(n - 1, true),
    common: (key) => choose(COMMON[key], true),
    same: () => same(true),
    undo,
    redo,
    closed: (frame) => frame && board.goTo(frame, true),
  });
}

async function foldEmpty() {
  const part = strips.part("empty");
  if (!part) return alarm("No visit here looks empty: go through them one by one.");
  await hold(strips.fold(part));
  const frame = part.open ? part.strips[0]?.frames[0] : board.order[0]?.frames[0];
  if (frame) board.goTo(frame);
}

const digits = [..."123456789"];
const digitOf = (event) => Number(/\d/.exec(event.code)[0]) - 1;
const AT_ONCE = new Set(["J", "W", "L", "Enter"]); // what is typed next goes into what they open
/** @type {[string, any[]][]} */
const groups = [
  ["Go", [
    { keys: ["ArrowLeft", "ArrowRight"], words: "picture by picture", run: (e) => go(e.key === "ArrowLeft" ? -1 : 1) },
    { keys: ["ArrowUp", "ArrowDown"], words: "visit by visit", run: (e) => goStrip(e.key === "ArrowUp" ? -1 : 1) },
    { keys: ["PageUp", "PageDown"], words: "five visits on or back", run: (e) => goStrip(e.key === "PageUp" ? -5 : 5) },
    { keys: ["Home", "End"], words: "first or last visit", run: (e) => goStrip(e.key === "Home" ? -1e9 : 1e9) },
    { keys: ["G"], words: "the next visit with a picture not tagged yet", run: goOpen },
    { keys: ["J"], words: "go to a day", run: () => jump.open(board.cursor?.at?.slice(0, 10)) },
    { keys: ["E"], words: "show or hide visits that look empty", run: foldEmpty },
  ]],
  ["What the next tag is for", [
    { keys: ["F"], words: "this picture", run: () => board.setReach("frame") },
    { keys: ["B"], words: "this burst", run: () => board.setReach("burst") },
    { keys: ["V"], words: "this visit", run: () => board.setReach("visit") },
    { keys: [" "], words: "select or unselect these pictures", run: () => board.toggle(board.around(board.cursor, board.reach)) },
    { keys: ["Shift+ArrowLeft", "Shift+ArrowRight"], words: "select one picture more", run: (e) => board.extendTo(board.frameAt(e.key === "ArrowLeft" ? -1 : 1)) },
    { keys: ["Shift+ArrowUp", "Shift+ArrowDown"], words: "select one visit more", run: (e) => board.extendTo(e.key === "ArrowUp" ? board.stripAt(-1)?.frames[0] : board.stripAt(1)?.frames.at(-1)) },
    { keys: ["Ctrl+A"], words: "select every visit on the page", run: () => board.toggle(board.order.flatMap((strip) => strip.frames)) },
    { keys: ["Escape"], words: "unselect all", run: () => board.clearSelection() },
  ]],
  ["Say who or what", [
    { keys: digits, shown: ["1 … 9"], words: "the buck with that number, then next", run: (e) => digit(digitOf(e)) },
    { keys: digits.map((d) => `Shift+${d}`), shown: ["Shift+1 … 9"], words: "the same, but stay here", run: (e) => digit(digitOf(e), true) },
    { keys: ["0"], words: "nothing there", run: () => choose(COMMON[0]) },
    { keys: ["D", "Y", "I", "P"], words: "doe, fawn, a buck you don't know, person", run: (e) => choose(COMMON[e.key.toUpperCase()]) },
    { keys: ["Shift+D", "Shift+Y", "Shift+I", "Shift+P"], shown: ["Shift+D …"], words: "the same, but stay here", run: (e) => choose(COMMON[e.key.toUpperCase()], true) },
    { keys: ["A"], words: "the same as last, then next", run: () => same() },
    { keys: ["Shift+A"], words: "the same as last, and stay", run: () => same(true) },
    { keys: ["N"], words: "nothing, for every visit shown that looks empty", run: () => nothing() },
    { keys: ["W", "/"], words: "type any buck, new buck, animal, number", run: () => box.open() },
    { keys: ["Delete", "Backspace"], words: "take every tag off", run: () => saying.untag(board.target) },
  ]],
  ["Change the last tag", [
    { keys: ["T"], words: "which way it goes, with an arrow key", run: goes },
    { keys: ["+", "-"], words: "one animal more or fewer", run: (e) => count(e.key === "+" ? 1 : -1) },
    { keys: ["S"], words: "not sure, or sure after all", run: unsure },
    { keys: ["U", "Ctrl+Z"], words: "undo your last change", run: undo },
    { keys: ["R", "Ctrl+Y", "Ctrl+Shift+Z"], words: "redo it", run: redo },
  ]],
  ["Look", [
    { keys: ["L"], words: "choose which visits to show; Esc closes it", run: openFilter },
    { keys: ["Enter", "Z"], words: "closer: zoom, light, what moved, reference pictures, ruler", run: look },
  ]],
];
const queued = (one) => (AT_ONCE.has(one.keys[0]) ? one : { ...one, run: inTurn(one.run) });
const keys = new Keys(groups.map(([title, entries]) => [title, entries.map(queued)]));

$("#keys-button").addEventListener("click", () => keys.help.showModal());
$("#undo").addEventListener("click", undo);
$("#redo").addEventListener("click", redo);
$("#filter-fold").addEventListener("keydown", (event) => {
  if (event.key !== "Escape" || !$("#filter-fold").open) return;
  event.preventDefault();
  closeFilter();
});
$("#filter").addEventListener("submit", (event) => {
  event.preventDefault();
  closeFilter();
});
$("#filter").addEventListener("change", filtered);
$("#filter").addEventListener("reset", () => setTimeout(filtered)); // when the fields are empty
$("#parts").addEventListener("click", (event) => {
  const frame = board.frames.get(event.target.closest(".tile")?.dataset.frame);
  if (!frame) return;
  if (event.shiftKey) board.extendTo(frame);
  else if (event.ctrlKey || event.metaKey) {
    board.goTo(frame, true);
    board.toggle([frame]);
  } else board.goTo(frame);
});

onNews("changes", (news) => {
  if (news.things.includes("buck")) who.refresh();
});
board.on("tags", () => closer.dialog.open && closer.tell());

fromAddress();
hold(show());
