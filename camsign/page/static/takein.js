// The take-in list: what a handheld's file holds, row by row, before any of it is taken.

import { $, $$, dayOf, h, many } from "./dom.js";
import { ask, upload } from "./api.js";
import { alarm, calm, sign } from "./shared.js";
import { say } from "./said.js";

const TITLES = { cameras: "Cameras", places: "Places", areas: "Areas", sign: "Sign", walks: "Walked paths", sits: "Sits", not_understood: "Not understood" };
const KEEP = "Just a note";

let now = null; // what the server made of the file
let chosen = null; // what was turned around, and what rows were said to be

export const takeInKeys = [
  ["The list from the woods", [
    { keys: ["T"], words: "flip the row you are on end for end", run: () => turnHere() },
    { keys: ["Shift+T"], words: "turn all rows around", run: () => now && turnAll() },
    { keys: ["ArrowDown"], words: "next row", run: () => step(1) },
    { keys: ["ArrowUp"], words: "the row before", run: () => step(-1) },
  ]],
];

/** Sends a file's bytes to be sorted, and shows the list. */
export async function send(file) {
  sign(`reading ${file.name} …`);
  try {
    const got = await upload("/woods/file", file);
    calm();
    chosen = { turned: new Set(), turn_all: false, guesses: false, kinds: {} };
    show(got);
  } catch (e) {
    alarm(`${file.name}: ${e.message}`);
  }
  sign("");
  $("#file").value = "";
}

/** @returns {HTMLElement | null} */
function focused() {
  return document.activeElement instanceof HTMLElement ? document.activeElement : null;
}

function spoken() {
  return { turned: [...chosen.turned], turn_all: chosen.turn_all, guesses: chosen.guesses, kinds: chosen.kinds };
}

/** Sorts the file once more by what was chosen; the row that was worked on keeps the focus. */
async function again(row = null) {
  const part = focused()?.dataset.part ?? "row";
  try {
    show(await ask("/woods/file/again", { token: now.token, ...spoken() }));
    calm();
  } catch (e) {
    alarm(e.message);
    return;
  }
  const there = row === null ? null : $(`#sorted [data-row="${row}"]`);
  if (there) (part === "row" ? there : ($(`[data-part="${part}"]`, there) ?? there)).focus();
}

function turn(row) {
  if (!chosen.turned.delete(row)) chosen.turned.add(row);
  return again(row);
}

function turnAll() {
  chosen.turn_all = !chosen.turn_all;
  const here = /** @type {HTMLElement | null} */ (focused()?.closest("#sorted [data-row]") ?? null);
  return again(here ? Number(here.dataset.row) : null);
}

function turnHere() {
  const here = /** @type {HTMLElement | null} */ (focused()?.closest("#sorted [data-row]") ?? null);
  if (here?.dataset.way) turn(Number(here.dataset.row));
}

function step(by) {
  const rows = $$("#sorted [data-row]");
  const at = rows.indexOf(focused()?.closest("#sorted [data-row]"));
  rows[Math.min(rows.length - 1, Math.max(0, at + by))]?.focus();
}

function show(got) {
  now = got;
  const groups = Object.entries(got.groups).filter(([, group]) => group.all);
  const fresh = groups.reduce((n, [, group]) => n + group.new, 0);
  const ways = got.groups.sign.rows.some((row) => row.way);
  const guesses = got.groups.not_understood.rows.filter((row) => row.guess).length;
  const twins = h("input", { type: "checkbox" });
  twins.checked = true;
  const take = h("button", { type: "button", class: "main", onclick: () => takeFile(twins.checked) }, "Save these");
  const leave = h("button", { type: "button", onclick: () => $("#sorted").replaceChildren() }, "Cancel");
  $("#sorted").replaceChildren(
    h("p", {}, h("strong", {}, h("bdi", {}, got.file)), fresh ? ` holds ${many(fresh, "thing")} that the logbook does not have yet.` : " holds nothing that the logbook does not have already."),
    ways ? h("p", { class: "ways" }, "Check which way each rub says he was headed. ", h("kbd", {}, "T"), " flips it end for end. ", h("button", { type: "button", "aria-pressed": `${chosen.turn_all}`, onclick: turnAll }, "Turn all around ", h("kbd", {}, "Shift+T"))) : "",
    h("div", { class: "takein" }, groups.map(([what, group]) => groupOf(what, group, got.kinds, guesses))),
    got.twins && fresh ? h("label", { class: "check" }, twins, ` Leave out ${many(got.twins, "sign")} that another device has noted already, by place and day`) : "",
    lines(`${many(got.left_out.length, "line")} left out, and why`, got.left_out),
    lines("How it was read", got.notes),
    h("p", { class: "buttons" }, fresh ? take : "", leave),
  );
}

function lines(title, all) {
  return all.length ? h("details", {}, h("summary", {}, title), h("ul", { class: "reasons" }, all.map((line) => h("li", {}, line)))) : "";
}

function groupOf(what, group, kinds, guesses) {
  const more = group.all > group.rows.length ? h("p", { class: "quiet" }, `and ${group.all - group.rows.length} more`) : "";
  const help = what === "not_understood" ? h("p", { class: "quiet" }, "Kept as notes unless you say what they are. ", guesses ? h("button", { type: "button", onclick: () => {
    chosen.guesses = true;
    again();
  } }, `Take the ${many(guesses, "guess").replace(/guesss$/, "guesses")}`) : "") : "";
  const title = `${TITLES[what]}: ${group.all}${group.new === group.all ? "" : `, ${group.new} new`}`;
  return h("section", {}, h("h3", {}, title), help, h("ul", { "aria-label": TITLES[what] }, group.rows.map((row) => rowOf(what, row, kinds))), more);
}

function rowOf(what, row, kinds) {
  const name = h("span", { class: "name" }, h("bdi", {}, row.name || row.kind || "(no name)"), row.why ? h("small", { class: "quiet" }, row.why) : "");
  const day = h("span", { class: "quiet day" }, row.state === "new" ? (row.day ? dayOf(row.day) : "") : row.state === "asked" ? "" : row.state);
  const way = h("span", { class: "way" }, row.way || (what === "sign" && kinds.going.includes(row.kind) ? h("span", { class: "quiet" }, "no direction in the name") : ""));
  const turns = what === "sign" && row.way;
  const button = turns ? h("button", { type: "button", data: { part: "turn" }, "aria-label": `Turn ${row.name} around`, onclick: () => turn(row.row) }, "Turn") : "";
  return h("li", { tabindex: "0", data: { row: row.row, ...(turns ? { way: row.way } : {}) }, title: row.at }, name, kindOf(what, row, kinds), way, button, day);
}

/** What a row is, to be chosen anew; a walked path is one. */
function kindOf(what, row, kinds) {
  if (what === "walks") return h("span", { class: "kind quiet" }, "walked path");
  if (what === "sits") return h("span", { class: "kind quiet" }, "sit");
  if (row.state === "known") return h("span", { class: "kind quiet" }, row.kind || "note");
  const outline = row.what === "outline" || row.outline;
  const empty = row.guess ? `${row.guess}?` : outline ? "Which area?" : KEEP;
  const groups = outline ? [["Areas", kinds.areas]] : [["Sign", kinds.sign], ["Places", kinds.places], ["Areas", kinds.areas], ["Other", ["camera"]]];
  const option = (kind) => h("option", { value: kind, selected: kind === row.kind && what !== "not_understood" }, kind);
  const blank = what === "not_understood" ? h("option", { value: "", selected: true }, empty) : "";
  const note = outline || (what === "not_understood" && !row.guess) ? "" : h("option", { value: "nothing" }, KEEP);
  const select = h("select", { class: "kind", data: { part: "kind" }, "aria-label": `What ${row.name || "this row"} is`, onchange: () => {
    chosen.kinds[row.row] = select.value;
    again(row.row);
  } }, blank, groups.map(([title, of]) => h("optgroup", { label: title }, of.map(option))), note);
  return select;
}

async function takeFile(as_one) {
  const answer = await say("/woods/file/take", { token: now.token, as_one, ...spoken() });
  if (!answer) return;
  $("#sorted").replaceChildren(
    h("div", { class: "result" }, h("h3", {}, `Saved: ${answer.saved === "nothing" ? "nothing new" : answer.saved}`), answer.refused.length ? h("p", {}, "Left out:") : "", answer.refused.length ? h("ul", {}, answer.refused.map((line) => h("li", {}, line))) : "", h("p", {}, h("a", { href: "/map" }, "See them on the map"))),
  );
}
