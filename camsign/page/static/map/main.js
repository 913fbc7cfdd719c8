// The map page: what is drawn, chosen, added and put right.

import { $, $$, dayWords as inWords } from "../dom.js";
import { get } from "../api.js";
import { onNews } from "../live.js";
import { alarm } from "../shared.js";
import { say, undoable } from "../said.js";
import { areaForm, cameraForm, placeForm, showChosen, signForm } from "./chosen.js";
import { Draft } from "./draft.js";
import { hint, panel } from "./forms.js";
import { drawGrid, drawScale, lengthWords } from "./furniture.js";
import { Land, boxOf, circleOn, dayText } from "./land.js";
import { nameOf, overview } from "./overview.js";
import { toPlane } from "./plane.js";
import { Sheet } from "./sheet.js";
import { Time } from "./time.js";
import { Underlay } from "./underlay.js";
import { View } from "./view.js";

const FRESH_AFTER_MS = 150;
const NEAREST = 1.2; // pixels per plane meter when one thing is shown
const AROUND_HOME_M = 1500;

const land = new Land();
const svg = $("#map");
const view = new View(svg, { changed: draw, clicked, grab: (event) => draft.grab(event), least: 2e-5, most: 12 });
const sheet = new Sheet(svg, view, land);
const draft = new Draft(sheet);
const underlay = new Underlay(sheet);
const time = new Time(land, days);
const fresh = { days: 10, clusters: [], last: 0, least: 3, apart: "" };
const state = { land, draft, view, sheet, leave, reload };
draft.begun = () => (moves += 1);
let tool = null;
let freshTimer = 0;
let moves = 0; // what the user began since; an answer that comes late changes nothing under the hand

function draw() {
  sheet.draw();
  draft.draw();
  underlay.draw();
  const step = drawScale(view, land.units);
  drawGrid(view, sheet.layer("grid"), step, land.home ? toPlane(...land.home) : [0, 0]);
}

// ---------------------------------------------------------------- days

function days(first, last) {
  sheet.setDays(first, last);
  time.words(sheet.sign.length, new Set(sheet.cameras.map((one) => one.camera)).size);
  clearTimeout(freshTimer);
  freshTimer = setTimeout(askFresh, FRESH_AFTER_MS);
  if (!tool && !sheet.chosen) showOverview();
}

async function askFresh() {
  fresh.last = Math.min(time.last, newest(time.last));
  const got = await get("/map/fresh", { last: dayText(fresh.last), days: fresh.days }).catch((e) => alarm(e.message));
  if (!got) return;
  fresh.clusters = got.clusters.map((one) => ({ ...one, cluster: true }));
  for (const one of fresh.clusters) [one.x, one.y] = toPlane(one.lat, one.lon);
  fresh.least = got.least;
  fresh.apart = lengthWords(got.apart_m, land.units);
  sheet.clusters = fresh.clusters;
  view.soon();
  if (!tool && !sheet.chosen) showOverview();
}

/** The newest day up to `last` on which any sign was seen: fresh is counted back from there. */
function newest(last) {
  let found = -Infinity;
  for (const one of land.sign) for (const look of one.looks) if (look.day <= last && look.day > found) found = look.day;
  return Number.isFinite(found) ? found : last;
}

// ---------------------------------------------------------------- choosing

function showOverview() {
  const act = {
    choose,
    toggle: (kind, on) => {
      sheet.hidden[on ? "delete" : "add"](kind);
      view.soon();
    },
    go: (points) => fit(points.map(([lat, lon]) => toPlane(lat, lon))),
    read,
    take: async (one) => {
      const answer = await say("/map/proposals", { name: one.name });
      if (answer) await reload(answer.id);
    },
    fresh: (n) => {
      fresh.days = n;
      askFresh();
    },
  };
  const top = $("#panel").scrollTop;
  panel(...overview(land, sheet, fresh, act)).scrollTop = top;
}

/** Works out what the rubs of the season say, or hides it again. */
async function read() {
  if (sheet.reading.asked) sheet.reading = { lines: [], proposed: [] };
  else {
    sheet.reading = { lines: [], proposed: [], busy: true };
    showOverview();
    const got = await get("/map/lines").catch((e) => alarm(e.message));
    sheet.reading = got ? { ...got, asked: true } : { lines: [], proposed: [] };
  }
  view.soon();
  if (!tool && !sheet.chosen) showOverview();
}

function choose(one, go = false) {
  endTool();
  if (one.cluster) return fit([...circleOn(one.lat, one.lon, Math.max(60, one.radius_m))]);
  sheet.chosen = one;
  showChosen(one, state);
  if (go) fit(one.on ? one.around : one.at?.length > 1 ? one.at : circleOn(one.lat ?? one.points[0][1], one.lon ?? one.points[0][0], 250));
  view.soon();
  return undefined;
}

function fit(points) {
  const box = boxOf(points);
  if (box) view.fit(...box, 90, NEAREST);
}

function leave() {
  if (tool === "picture") underlay.leave();
  endTool();
  sheet.chosen = null;
  showOverview();
  view.soon();
}

function endTool() {
  moves += 1;
  tool = null;
  draft.end();
  hint("");
  for (const button of $$("[data-tool]")) button.setAttribute("aria-pressed", "false");
}

function clicked(px, py, event) {
  if (underlay.pinning) return underlay.clickedMap(px, py);
  if (draft.busy) return draft.clicked(px, py, event);
  const one = sheet.hit(px, py);
  return one ? choose(one) : leave();
}

const TOOLS = {
  camera: [cameraForm, "Click where the camera hangs"],
  sign: [signForm, "Click where the sign lies"],
  area: [areaForm, ""],
  place: [placeForm, ""],
  picture: [() => underlay.begin(state, hint), ""],
};

function use(name) {
  endTool();
  sheet.chosen = null;
  tool = name;
  $(`[data-tool=${name}]`).setAttribute("aria-pressed", "true");
  hint(TOOLS[name][1]);
  TOOLS[name][0](state);
}

for (const button of $$("[data-tool]")) button.addEventListener("click", () => use(button.dataset.tool));

// ---------------------------------------------------------------- what the pointer is over

svg.addEventListener("pointermove", (event) => {
  const tip = $("#tip");
  const one = event.buttons || draft.busy || underlay.pinning ? null : sheet.hit(...view.at(event));
  tip.hidden = !one;
  svg.classList.toggle("over", Boolean(one));
  if (!one) return;
  tip.textContent = tipOf(one);
  const [px, py] = view.at(event);
  tip.style.left = `${Math.min(px + 16, view.width - 240)}px`;
  tip.style.top = `${py + 18}px`;
});
svg.addEventListener("pointerleave", () => ($("#tip").hidden = true));

function tipOf(one) {
  if (one.camera) return `${one.camera}, ${one.until ? `until ${inWords(one.until)}` : `up since ${inWords(one.hung)}`}`;
  if (one.looks) return `${one.kind}, seen ${inWords(one.looks.at(-1).seen)}`;
  return `${nameOf(one)}, ${one.kind}`;
}

// ---------------------------------------------------------------- loading

async function load() {
  await land.load();
  await underlay.load();
  time.offer();
}

function everything() {
  const box = land.box();
  if (box) return view.fit(...box, 80, NEAREST);
  return land.home ? fit(circleOn(...land.home, AROUND_HOME_M)) : view.fit(-2e7, -1e7, 2e7, 1e7, 0);
}

/** Shows anew what stands now, with the thing of this id chosen. */
async function reload(id = null, note = "") {
  endTool();
  sheet.reading = { lines: [], proposed: [] };
  const begun = moves;
  await load();
  if (begun !== moves) return;
  sheet.chosen = null;
  const one = id && land.byId.get(id);
  const moved = one ? time.reveal(one) : "";
  if (one) choose(one);
  else showOverview();
  if (note || moved) hint([note, moved].filter(Boolean).join(". "));
  view.soon();
}

onNews("changes", async (news) => {
  const kept = ["deployment", "sign", "sighting", "area", "place"].some((thing) => news.things.includes(thing)) || news.frames === null;
  if (!kept || tool) return;
  const chosen = sheet.chosen?.id;
  await load();
  if (sheet.chosen) sheet.chosen = land.byId.get(chosen) ?? null;
  view.soon();
});

$("#nearer").addEventListener("click", () => view.zoom(1.6));
$("#farther").addEventListener("click", () => view.zoom(1 / 1.6));
$("#all").addEventListener("click", everything);

const keys = undoable([
  ["Say what is there", [
    { keys: ["C"], words: "hang a camera", run: () => use("camera") },
    { keys: ["S"], words: "add sign", run: () => use("sign") },
    { keys: ["A"], words: "draw an area", run: () => use("area") },
    { keys: ["P"], words: "add a place", run: () => use("place") },
    { keys: ["B"], words: "a background picture", run: () => use("picture") },
    { keys: ["Escape"], shown: ["Esc"], words: "leave it, choose nothing", run: leave },
  ]],
  ["Move", [
    { keys: ["M"], words: "go to the map; then arrows move it, + and - zoom", run: () => svg.focus() },
    { keys: ["0"], words: "show everything", run: everything },
  ]],
], () => reload());
$("#keys-button").addEventListener("click", () => keys.help.showModal());
// In a field Escape leaves the form too.
$("#panel").addEventListener("keydown", (event) => {
  if (event.key === "Escape" && event.target.closest("form")) leave();
});

// On paper the map is as wide as the page: drawn anew for it, so that its scale bar stays right.
let onScreen = 0; // pixels per unit of the plane, before printing
addEventListener("beforeprint", () => {
  const [wide, tall] = [view.width, view.height];
  onScreen = view.k;
  document.documentElement.classList.add("printing");
  view.k *= Math.min(view.width / wide, view.height / tall);
  draw();
});
addEventListener("afterprint", () => {
  document.documentElement.classList.remove("printing");
  view.k = onScreen;
  draw();
});

await load();
everything();
const wished = new URLSearchParams(location.search).get("id");
if (wished && land.byId.has(wished)) choose(land.byId.get(wished), true);
svg.dataset.ready = "yes";
