// Beside the map when something is chosen: what is known of it, and what can be said of it.

import { bearingWords, clockOf, dayWords, h } from "../dom.js";
import { load } from "../folds.js";
import { atText, choice, corners, field, hint, inputOf, panel, removal, saying, text, where } from "./forms.js";
import { lengthWords, smallWords } from "./furniture.js";
import { iconOf } from "./overview.js";

const bearing = bearingWords;
const when = (iso) => (iso ? `${iso.slice(0, 10)} ${iso.slice(11, 16)}` : "");
const moment = (iso) => `${dayWords(iso)}, ${clockOf(iso)}`;
const rows = (pairs) => h("dl", {}, pairs.filter(([, value]) => value !== null && value !== undefined && value !== "").flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)]));
const measureWords = (name, value, units) => (typeof value !== "number" ? value : name.endsWith("_m") ? smallWords(value, units) : name.endsWith("_deg") ? bearing(value) : value);
const ofMeasures = (all, units) => Object.entries(all).map(([name, value]) => `${name.replace(/_m$|_deg$/, "").replaceAll("_", " ")} ${measureWords(name, value, units)}`).join(", ");

/** Shows a thing. `state`: the page's: draft, land, reload(id), leave(). */
export function showChosen(one, state) {
  const back = h("button", { type: "button", onclick: state.leave }, "Back to the list ", h("kbd", {}, "Esc"));
  const head = (title) => h("h2", {}, iconOf(one), " ", h("bdi", {}, title));
  if (one.camera) return panel(back, head(one.camera), ...ofCamera(one, state));
  if (one.looks) return panel(back, head(one.kind), ...ofSign(one, state));
  if (one.on) return panel(back, head(one.name), ...ofArea(one, state));
  return panel(back, head(one.name), ...ofPlace(one, state));
}


// ---------------------------------------------------------------- cameras

function ofCamera(one, state) {
  const { correct, takedown, remove } = state.land.forms.deployment;
  const facts = rows([
    ["up since", moment(one.hung)],
    ["taken down", one.until ? moment(one.until) : "still up"],
    ["faces", one.facing === null ? "don't know" : bearing(one.facing)],
    ["where", atText([one.lat, one.lon])],
    ["its clock", one.clock === "hung" ? "set the day it was hung, never changed" : one.clock],
    ["note", one.note],
  ]);
  return [
    facts,
    h("p", {}, h("a", { href: `/cards#${encodeURIComponent(one.camera)}` }, "Its cards, quiet days and clock")),
    h("div", { class: "buttons" },
      h("button", { type: "button", onclick: () => cameraForm(state, one) }, correct.title),
      removal(remove, state, { deployment: one.id })),
    one.until ? null : saying(takedown, state, { also: { camera: one.camera }, skip: ["camera"] }),
  ];
}

/** Hangs a camera, or corrects where and when `one` hung. */
export function cameraForm(state, one = null) {
  const { draft } = state;
  const { hang, correct } = state.land.forms.deployment;
  const place = where(draft, one ? "Where (drag the handle, click, or type)" : undefined);
  draft.begin("point", { rings: [one ? [[one.x, one.y]] : []], changed: place.show });
  if (one) Object.assign(draft, { wedge: true, bearing: one.facing });
  const given = one && { ...one, at: atText([one.lat, one.lon]), from: when(one.hung), until: when(one.until) };
  const known = [...new Set(state.land.cameras.map((known_) => known_.camera))].sort();
  const names = h("datalist", { id: "camera-names" }, known.map((name) => h("option", { value: name })));
  panel(
    saying(one ? correct : hang, state, {
      title: one ? `Correct ${one.camera}` : hang.title,
      given: given ?? {},
      own: { at: place.label },
      also: one ? { deployment: one.id } : {},
      skip: one ? ["clock", "working", ...(one.until ? [] : ["still_hanging"])] : ["until"],
      hints: { camera: { list: "camera-names" } },
    }),
    names,
  );
  if (one) place.show();
}

// ---------------------------------------------------------------- sign

function ofSign(one, state) {
  const { again, move, remove } = state.land.forms.sign;
  const looks = [...one.looks].reverse().map((look) => h("li", {}, rows([
    ["seen", dayWords(look.seen)],
    ["made", `${dayWords(look.from)} to ${dayWords(look.to)}`],
    ["because", look.basis],
    ["look", look.state],
    ["measured", ofMeasures(look.measures, state.land.units)],
    ["note", look.note],
  ])));
  return [
    rows([["travel", one.travel === null ? "not known" : bearing(one.travel)], ["whose bed", one.kind !== "bed" ? "" : one.bed_of === "buck" || one.bed_of === "doe" ? `a ${one.bed_of}'s` : "not known"], ["tree", one.species], ["where", atText([one.lat, one.lon])], ["traditional", one.traditional ? "made in three seasons or more" : ""], ["note", one.note]]),
    one.kind === "rub" || one.kind === "scrape" ? whoMadeIt(one) : null,
    h("section", {}, h("h3", {}, one.looks.length > 1 ? `Seen ${one.looks.length} times` : "Seen once"), h("ol", {}, looks)),
    h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => moveSign(one, state) }, move.title), removal(remove, state, { sign: one.id })),
    saying(again, state, { kind: one.kind, also: { sign: one.id }, skip: ["travel", "bare"], given: { bed_of: one.bed_of } }),
  ];
}

/** Who likely made it: asked for when it is opened. */
function whoMadeIt(one) {
  const part = h("div", { class: "part", "data-part": `/map/signs/${encodeURIComponent(one.id)}/makers`, "aria-live": "polite" }, h("p", { class: "quiet" }, "Working it out …"));
  const fold = h("details", { class: "who-made" }, h("summary", {}, "Who made it?"), part);
  fold.addEventListener("toggle", () => load(part), { once: true });
  return fold;
}

function moveSign(one, state) {
  const place = where(state.draft, "Where (drag the handle, click, or type)");
  state.draft.begin("point", { rings: [[[one.x, one.y]]], changed: place.show });
  panel(saying(state.land.forms.sign.move, state, { title: `Move this ${one.kind}`, own: { at: place.label }, also: { sign: one.id } }));
  place.show();
}

export function signForm(state) {
  const place = where(state.draft);
  state.draft.begin("point", { changed: place.show });
  const long = state.land.units === "metric" ? "127 cm" : "50 in"; // common practice, no source
  panel(saying(state.land.forms.sign.add, state, { own: { at: place.label }, skip: ["seen_note"], notes: { bed_of: `${long} or longer: likely a buck's` } }));
}

// ---------------------------------------------------------------- areas

function ofArea(one, state) {
  const { set, remove } = state.land.forms.area;
  return [
    h("p", {}, h("a", { class: "button", href: `/areas/${encodeURIComponent(one.id)}` }, "See its answers")),
    rows([["kind", one.kind], ["middle", atText([one.lat, one.lon])], ["radius", one.radius_m ? lengthWords(one.radius_m, state.land.units) : ""], ["corners", one.radius_m ? "" : `${one.around.length}`], ["reach", `${lengthWords(state.land.reach_m, state.land.units)} around it`]]),
    h("div", { class: "buttons" },
      h("button", { type: "button", onclick: () => areaForm(state, one) }, set.title),
      removal(remove, state, { area: one.id }, one.name)),
  ];
}

/** Draws a new area, or changes `one`. */
export function areaForm(state, one = null) {
  const { draft } = state;
  const { add, set } = state.land.forms.area;
  const round = one ? Boolean(one.radius_m) : false;
  const shape = choice("", [["outline", "an outline, corner by corner"], ["circle", "a circle"]], round ? "circle" : "outline", { "aria-label": "Drawn as" });
  const list = corners(draft);
  const place = where(draft, "Its middle (click on the map, or type)");
  const radius = text("radius", { value: lengthWords(one?.radius_m ?? 150, state.land.units) });
  const around = field("Reaches around it", radius);
  const begin = () => {
    const circle = shape.value === "circle";
    const given = one && circle === round ? (circle ? [[[one.x, one.y]]] : one.on.map((ring) => [...ring])) : [[]];
    place.label.hidden = !circle;
    around.hidden = !circle;
    place.label.querySelector("input").required = circle;
    list.label.hidden = circle;
    if (!one) hint(circle ? "Click its middle" : "Click the corners in turn");
    draft.begin(circle ? "circle" : "outline", { rings: given, radius_m: one?.radius_m ?? 150, changed: () => (circle ? place.show() : list.show()) });
  };
  shape.addEventListener("change", begin);
  radius.addEventListener("input", () => {
    const m = meters(radius.value, state.land.units);
    if (m) draft.radius_m = m;
    draft.tell();
  });
  const made = saying(one ? set : add, state, {
    title: one ? `Change ${one.name}` : add.title,
    given: one ?? {},
    own: { at: [field("Drawn as", shape), place.label], radius: around, corners: list.label },
    also: one ? { area: one.id } : {},
    drawn: ({ at, radius: r }) => (draft.mode === "circle" ? { at, radius: r } : { at: "", radius: "", corners: draft.corners(true) }),
  });
  panel(made);
  begin();
  made.querySelector("[name=name]").focus({ preventScroll: true });
}

function meters(said, units) {
  const [, number, unit] = /^\s*([\d.]+)\s*([a-z]*)/i.exec(said) ?? [];
  const factor = { m: 1, km: 1000, ft: 0.3048, yd: 0.9144, mi: 1609.344 }[unit || (units === "metric" ? "m" : "yd")];
  return number && factor ? Number(number) * factor : null;
}

// ---------------------------------------------------------------- places

function ofPlace(one, state) {
  const { set, remove } = state.land.forms.place;
  return [
    rows([["kind", one.kind], ["where", atText([one.points[0][1], one.points[0][0]])], ["corners", one.points.length > 1 ? `${one.points.length}` : ""]]),
    h("div", { class: "buttons" },
      h("button", { type: "button", onclick: () => placeForm(state, one) }, set.title),
      removal(remove, state, { place: one.id }, one.name)),
  ];
}

export function placeForm(state, one = null) {
  const { draft } = state;
  const { add, set } = state.land.forms.place;
  const along = "Click along the way in, starting at the truck";
  const list = corners(draft, along);
  const place = where(draft);
  const kind = inputOf(add.fields.find((field_) => field_.name === "kind"), one?.kind, state);
  const isPath = () => (one ? one.points.length > 1 : kind.querySelector("select").value === "way in");
  const begin = () => {
    place.label.hidden = isPath();
    place.label.querySelector("input").required = !isPath();
    list.label.hidden = !isPath();
    if (!one) hint(isPath() ? along : "Click where it is");
    draft.begin(isPath() ? "path" : "point", { rings: [one ? [...one.at] : []], changed: () => (isPath() ? list.show() : place.show()) });
  };
  if (!one) kind.addEventListener("change", begin);
  panel(saying(one ? set : add, state, {
    title: one ? `Change ${one.name}` : add.title,
    given: one ? { name: one.name, kind: one.kind } : {},
    own: { kind, at: [place.label, list.label] },
    also: one ? { place: one.id } : {},
    drawn: () => ({ at: draft.corners() }),
  }));
  begin();
}
