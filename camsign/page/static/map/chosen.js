// Beside the map when something is chosen: what is known of it, and what can be said of it.

import { bearingWords, h } from "../dom.js";
import { say } from "../said.js";
import { atText, check, choice, corners, field, form, moment, panel, sure, text, today, where } from "./forms.js";
import { lengthWords, smallWords } from "./furniture.js";
import { iconOf } from "./overview.js";

const bearing = bearingWords;
const when = (iso) => (iso ? `${iso.slice(0, 10)} ${iso.slice(11, 16)}` : "");
const rows = (pairs) => h("dl", {}, pairs.filter(([, value]) => value !== null && value !== undefined && value !== "").flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)]));
const measureWords = (name, value, units) => (typeof value !== "number" ? value : name.endsWith("_m") ? smallWords(value, units) : name.endsWith("_deg") ? bearing(value) : value);
const ofMeasures = (all, units) => Object.entries(all).map(([name, value]) => `${name.replace(/_m$|_deg$/, "").replaceAll("_", " ")} ${measureWords(name, value, units)}`).join(", ");

/** Shows a thing. `state`: the page's: draft, land, reload(id), leave(). */
export function showChosen(one, state) {
  const back = h("button", { type: "button", onclick: state.leave }, "All that is shown ", h("kbd", {}, "Esc"));
  const head = (title) => h("h2", {}, iconOf(one), " ", h("bdi", {}, title));
  if (one.camera) return panel(back, head(one.camera), ...ofCamera(one, state));
  if (one.looks) return panel(back, head(one.kind), ...ofSign(one, state));
  if (one.on) return panel(back, head(one.name), ...ofArea(one, state));
  return panel(back, head(one.name), ...ofPlace(one, state));
}

async function done(state, answer, gone = false) {
  if (answer) await state.reload(gone ? null : answer.id);
}

// ---------------------------------------------------------------- cameras

function ofCamera(one, state) {
  const facts = rows([
    ["hung", when(one.hung)],
    ["taken down", one.until ? when(one.until) : "still hangs"],
    ["looks towards", one.facing === null ? "not said" : bearing(one.facing)],
    ["where", atText([one.lat, one.lon])],
    ["its clock", one.clock === "hung" ? "as on the day it was hung" : one.clock],
    ["note", one.note],
  ]);
  const down = form("Take it down", [
    moment("on", "On", { day: today(), required: true }),
    check("working", "It was found working: that counts as a sign of life"),
  ], { words: "It is down", leave: state.leave, submit: async (sent) => done(state, await say("/map/cameras/takedown", { ...sent, camera: one.camera })) });
  return [
    facts,
    h("p", {}, h("a", { href: `/cards#${encodeURIComponent(one.camera)}` }, "Its cards, silent spells and clock")),
    h("div", { class: "buttons" },
      h("button", { type: "button", onclick: () => correctCamera(one, state) }, "Correct it"),
      sure("It never hung here", "Remove this deployment", async () => done(state, await say(`/map/cameras/${one.id}/remove`), true))),
    one.until ? null : down,
  ];
}

function correctCamera(one, state) {
  const { draft } = state;
  const place = where(draft, "Where (drag the handle, click, or type)");
  const [day, time] = [one.hung.slice(0, 10), one.hung.slice(11, 16)];
  draft.begin("point", { rings: [[[one.x, one.y]]], changed: place.show });
  draft.wedge = true;
  draft.bearing = one.facing;
  const facing = facingField(draft, one.facing);
  const fields = [place.label, moment("from", "Since", { day, time }), moment("until", "Until", one.until ? { day: one.until.slice(0, 10), time: one.until.slice(11, 16) } : {}), one.until ? check("still_hanging", "It still hangs there after all") : null, facing, field("Note", text("note", { value: one.note ?? "", maxlength: 2000 }))].filter(Boolean);
  const first = { at: atText([one.lat, one.lon]) };
  panel(form(`Correct ${one.camera}`, fields, { words: "Put it right", leave: state.leave, submit: async (sent) => {
    const changed = { ...sent };
    if (changed.at === first.at) delete changed.at;
    if (changed.from === `${day} ${time}`) delete changed.from;
    if (one.until && (changed.until === `${one.until.slice(0, 10)} ${one.until.slice(11, 16)}` || changed.still_hanging)) delete changed.until;
    if (changed.facing === `${one.facing}`) delete changed.facing;
    if (changed.note === one.note) delete changed.note;
    done(state, await say(`/map/cameras/${one.id}`, changed));
  } }));
  place.show();
}

function facingField(draft, value) {
  const input = text("facing", { value: value ?? "", placeholder: "NE, 45 or 60M" });
  input.addEventListener("input", () => {
    const deg = degreesOf(input.value);
    draft.wedge = true;
    draft.bearing = deg;
    draft.tell();
  });
  return field("Looks towards", input, "degrees true; M behind the number is magnetic");
}

const POINTS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];

/** Degrees of a bearing while it is typed, for the drawing alone; magnetic ones are not drawn. */
export function degreesOf(said) {
  const words = said.trim().toUpperCase().replace(/[°T]$/, "");
  const point = POINTS.indexOf(words);
  if (point >= 0) return point * 22.5;
  return words !== "" && Number.isFinite(Number(words)) ? Number(words) : null;
}

export function hangForm(state) {
  const { draft } = state;
  const place = where(draft);
  draft.begin("point", { changed: place.show });
  const fields = [field("Camera", text("camera", { required: true, list: "camera-names", maxlength: 60 }), "the ID on it; the same each time"), place.label, moment("from", "Since", { day: today(), required: true }), facingField(draft, null), check("clock_follows", "Cell camera: it sets its own clock by the network"), field("Note", text("note", { maxlength: 2000 })), names(state)];
  panel(form("Hang a camera", fields, { words: "It hangs", leave: state.leave, submit: async (sent) => done(state, await say("/map/cameras", sent)) }));
}

function names(state) {
  const known = [...new Set(state.land.cameras.map((one) => one.camera))].sort();
  return h("datalist", { id: "camera-names" }, known.map((name) => h("option", { value: name })));
}

// ---------------------------------------------------------------- sign

function ofSign(one, state) {
  const looks = [...one.looks].reverse().map((look) => h("li", {}, rows([
    ["seen", look.seen],
    ["made", `${look.from} to ${look.to}`],
    ["because", look.basis],
    ["look", look.state],
    ["measured", ofMeasures(look.measures, state.land.units)],
    ["note", look.note],
  ])));
  const again = form("Look at it again", [
    moment("seen", "Seen on", { day: today(), required: true }),
    field("Its look", text("state", { placeholder: "fresh, gray, absent" })),
    one.kind === "bed" ? field("Whose bed", choice("bed_of", BED_OF, one.bed_of ?? "")) : null,
    field("Note", text("seen_note", { maxlength: 2000 })),
  ].filter(Boolean), { words: "Note this look", leave: state.leave, submit: async (sent) => done(state, await say(`/map/sign/${one.id}/look`, dayOnly(sent))) });
  return [
    rows([["travel", one.travel === null ? "not known" : bearing(one.travel)], ["whose bed", one.kind !== "bed" ? "" : one.bed_of === "buck" || one.bed_of === "doe" ? `a ${one.bed_of}’s` : "not known"], ["tree", one.species], ["where", atText([one.lat, one.lon])], ["traditional", one.traditional ? "made in three seasons or more" : ""], ["note", one.note]]),
    h("section", {}, h("h3", {}, one.looks.length > 1 ? `Seen ${one.looks.length} times` : "Seen once"), h("ol", {}, looks)),
    h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => moveSign(one, state) }, "Move it"), sure("Remove it", "Remove this sign", async () => done(state, await say(`/map/sign/${one.id}/remove`), true))),
    again,
  ];
}

// Length tells: 50 in (127 cm) or longer is likely a buck's (common practice, no source).
const BED_OF = [["", "not sure"], ["buck", "a buck’s"], ["doe", "a doe’s"]];

const dayOnly = (sent) => ({ ...sent, seen: sent.seen?.slice(0, 10) });

function moveSign(one, state) {
  const place = where(state.draft, "Where (drag the handle, click, or type)");
  state.draft.begin("point", { rings: [[[one.x, one.y]]], changed: place.show });
  panel(form(`Move this ${one.kind}`, [place.label], { words: "It lies here", leave: state.leave, submit: async (sent) => done(state, await say(`/map/sign/${one.id}/move`, sent)) }));
  place.show();
}

export function signForm(state) {
  const { draft } = state;
  const place = where(draft);
  draft.begin("point", { changed: place.show });
  const kind = choice("kind", state.signKinds.map((one) => [one, one === "shed" ? "shed antler" : one]));
  const travel = text("travel", { placeholder: "NE, 45 or 60M" });
  const bare = text("bare", { placeholder: "SW" });
  const draw = () => {
    const looks = degreesOf(bare.value);
    draft.bearing = bare.value ? (looks === null ? null : (looks + 180) % 360) : degreesOf(travel.value);
    draft.tell();
  };
  travel.addEventListener("input", draw);
  bare.addEventListener("input", draw);
  const bareField = field("or its bare side looks", bare);
  const bedField = field("Whose bed", choice("bed_of", BED_OF, ""), state.land.units === "metric" ? "127 cm or longer: likely a buck’s" : "50 in or longer: likely a buck’s");
  bedField.hidden = true;
  kind.addEventListener("change", () => {
    bareField.hidden = kind.value !== "rub";
    bedField.hidden = kind.value !== "bed";
    if (bedField.hidden) bedField.querySelector("select").value = "";
    if (bareField.hidden) bare.value = "";
  });
  const fields = [
    field("Kind", kind), place.label, field("Seen on", h("input", { type: "date", name: "seen", value: today(), required: true })),
    h("div", { class: "pair" }, field("The deer went", travel), bareField), bedField,
    field("Its look", text("state", { placeholder: "fresh, gray …" })), field("Tree", text("species", { maxlength: 60 })), field("Note", text("note", { maxlength: 2000 })),
  ];
  panel(form("Add sign", fields, { words: "Note it", leave: state.leave, submit: async (sent) => {
    const answer = await say("/map/sign", sent);
    if (answer) await state.reload(answer.id, answer.read_as);
  } }));
}

// ---------------------------------------------------------------- areas

function ofArea(one, state) {
  return [
    h("p", {}, h("a", { class: "button", href: `/areas/${encodeURIComponent(one.id)}` }, "Ask what is known of it")),
    rows([["kind", one.kind], ["middle", atText([one.lat, one.lon])], ["radius", one.radius_m ? lengthWords(one.radius_m, state.land.units) : ""], ["corners", one.radius_m ? "" : `${one.around.length}`], ["reach", `${lengthWords(state.land.reach_m, state.land.units)} around it`]]),
    h("div", { class: "buttons" },
      h("button", { type: "button", onclick: () => areaForm(state, one) }, "Change it"),
      sure("Remove it", `Remove ${one.name}`, async () => done(state, await say(`/map/areas/${one.id}/remove`), true))),
  ];
}

/** Draws a new area, or changes `one`. */
export function areaForm(state, one = null) {
  const { draft } = state;
  const round = one ? Boolean(one.radius_m) : false;
  const shape = choice("", [["outline", "an outline, corner by corner"], ["circle", "a circle"]], round ? "circle" : "outline", { "aria-label": "Drawn as" });
  const list = corners(draft);
  const place = where(draft, "Its middle (click on the map, or type)");
  const radius = text("radius", { value: lengthWords(one?.radius_m ?? 150, state.land.units) });
  const show = () => (draft.mode === "circle" ? place.show() : list.show());
  const begin = () => {
    const circle = shape.value === "circle";
    const given = one && circle === round ? (circle ? [[[one.x, one.y]]] : one.on.map((ring) => [...ring])) : [[]];
    place.label.hidden = !circle;
    radius.parentElement.hidden = !circle;
    place.label.querySelector("input").required = circle;
    list.label.hidden = circle;
    draft.begin(circle ? "circle" : "outline", { rings: given, radius_m: one?.radius_m ?? 150, changed: show });
  };
  shape.addEventListener("change", begin);
  radius.addEventListener("input", () => {
    const m = metres(radius.value, state.land.units);
    if (m) draft.radius_m = m;
    draft.tell();
  });
  const name = text("name", { required: true, maxlength: 80, value: one?.name ?? "" });
  const kind = choice("kind", state.areaKinds, one?.kind);
  const fields = [field("Name", name), field("What they do there", kind), field("Drawn as", shape), place.label, field("Reaches around it", radius), list.label];
  panel(form(one ? `Change ${one.name}` : "Draw an area", fields, { words: one ? "Change it" : "This is the area", leave: state.leave, submit: async (sent) => {
    const value = { name: sent.name, kind: sent.kind, ...(draft.mode === "circle" ? { at: sent.at, radius: sent.radius } : { corners: draft.corners(true) }) };
    if (one) {
      if (value.name === one.name) delete value.name;
      if (value.kind === one.kind) delete value.kind;
    }
    done(state, await say(one ? `/map/areas/${one.id}` : "/map/areas", value));
  } }));
  begin();
  name.focus({ preventScroll: true });
}

function metres(said, units) {
  const [, number, unit] = /^\s*([\d.]+)\s*([a-z]*)/i.exec(said) ?? [];
  const factor = { m: 1, km: 1000, ft: 0.3048, yd: 0.9144, mi: 1609.344 }[unit || (units === "metric" ? "m" : "yd")];
  return number && factor ? Number(number) * factor : null;
}

// ---------------------------------------------------------------- places

function ofPlace(one, state) {
  return [
    rows([["kind", one.kind], ["where", atText([one.points[0][1], one.points[0][0]])], ["corners", one.points.length > 1 ? `${one.points.length}` : ""]]),
    h("div", { class: "buttons" },
      h("button", { type: "button", onclick: () => placeForm(state, one) }, "Change it"),
      sure("Remove it", `Remove ${one.name}`, async () => done(state, await say(`/map/places/${one.id}/remove`), true))),
  ];
}

export function placeForm(state, one = null) {
  const { draft } = state;
  const kind = choice("kind", state.placeKinds, one?.kind);
  const list = corners(draft);
  const place = where(draft);
  const isPath = () => (one ? one.points.length > 1 : kind.value === "way in");
  const begin = () => {
    place.label.hidden = isPath();
    place.label.querySelector("input").required = !isPath();
    list.label.hidden = !isPath();
    draft.begin(isPath() ? "path" : "point", { rings: [one ? [...one.at] : []], changed: () => (isPath() ? list.show() : place.show()) });
  };
  kind.addEventListener("change", begin);
  const fields = [field("Name", text("name", { required: true, maxlength: 80, value: one?.name ?? "" })), one ? null : field("Kind", kind), place.label, list.label].filter(Boolean);
  panel(form(one ? `Change ${one.name}` : "Add a place", fields, { words: one ? "Change it" : "Note it", leave: state.leave, submit: async (sent) => {
    const value = { name: sent.name, kind: sent.kind, ...(isPath() ? { corners: draft.corners() } : { at: sent.at }) };
    if (value.name === one?.name) delete value.name;
    done(state, await say(one ? `/map/places/${one.id}` : "/map/places", value));
  } }));
  begin();
}
