// The forms beside the map: what is said of a camera, a sign, an area, a place. Which fields a form has, and
// their words, comes from the server's table of things.

import { $, degreesOf, h } from "../dom.js";
import { say } from "../said.js";

/** A label with its field. */
export function field(words, input, note = "") {
  return h("label", {}, words, input, note && h("span", { class: "note" }, note));
}

export function text(name, props = {}) {
  return h("input", { type: "text", name, autocomplete: "off", dir: "auto", maxlength: 200, ...props });
}

export function choice(name, words, chosen = "", props = {}) {
  const made = h("select", { name, ...props }, words.map((one) => (Array.isArray(one) ? one : [one, one])).map(([value, shown]) => h("option", { value }, shown)));
  made.value = chosen || made.options[0]?.value;
  return made;
}

/** A box to tick; with a `value` that is sent, else true. */
export function check(name, words, value = "on") {
  const box = h("input", { type: "checkbox", name, value });
  return h("label", { class: "check" }, box, words);
}

/** A day and, if known, the time of day, sent as one text. */
export function moment(name, words, { day = "", time = "", required = false } = {}) {
  return h(
    "div",
    { class: "pair", data: { moment: name } },
    field(words, h("input", { type: "date", name: `${name}-day`, value: day, required })),
    field("Time", h("input", { type: "time", name: `${name}-time`, value: time })),
  );
}

const today = () => {
  const now = new Date();
  return new Date(now.getTime() - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10);
};

/** What a form says: texts that are not empty, ticked boxes as true, days and times together. */
function values(form) {
  const out = {};
  for (const [name, value] of new FormData(form)) if (value !== "") out[name] = value;
  for (const box of form.querySelectorAll("input[type=checkbox]")) {
    if (box.value === "on") out[box.name] = box.checked; // else FormData has its word
  }
  for (const pair of form.querySelectorAll("[data-moment]")) {
    const name = pair.dataset.moment;
    const [day, time] = [out[`${name}-day`], out[`${name}-time`]];
    delete out[`${name}-day`];
    delete out[`${name}-time`];
    if (day) out[name] = time ? `${day} ${time}` : day;
  }
  return out;
}

/** The input of one field of the table, with what stands in it. */
export function inputOf(one, value, state, { note = one.note, more = {} } = {}) {
  const props = { maxlength: one.most, placeholder: one.hint, value: value ?? "", required: one.needed, ...more };
  if (one.sort === "flag") return check(one.name, one.label);
  if (one.sort === "text" && one.choices.length) return check(one.name, one.label, one.choices[0]);
  if (one.sort === "when") {
    const [day, time] = `${value || (one.needed ? today() : "")} `.split(" ");
    return moment(one.name, one.label, { day, time, required: one.needed });
  }
  if (one.sort === "day") return field(one.label, h("input", { type: "date", name: one.name, value: value || today(), required: one.needed }), note);
  if (one.sort === "choice") return field(one.label, choice(one.name, one.needed || value ? one.choices : [["", "not sure"], ...one.choices], value ?? ""), note);
  const input = text(one.name, props);
  if (one.sort === "bearing" || one.sort === "heading") input.addEventListener("input", () => aim(state.draft, one, input.value));
  return field(one.label, input, note);
}

/** Draws a bearing while it is typed: where a camera looks, or which way the deer was headed. */
function aim(draft, one, said) {
  const deg = degreesOf(said);
  draft.wedge = one.name === "facing";
  draft.bearing = one.name === "bare" && deg !== null ? (deg + 180) % 360 : deg;
  draft.tell();
}

/**
 * The form by which a verb of the table is said. `given`: what stands; it is sent only where it was changed.
 * `own`: inputs made elsewhere, by field; `drawn`: what they send. `also`: sent in any case. `skip`: fields left
 * out. `kind`: of a thing whose kind is not asked for.
 */
export function saying(verb, state, { title = verb.title, given = {}, own = {}, also = {}, skip = [], notes = {}, hints = {}, kind = "", drawn = (_sent) => ({}) } = {}) {
  const parts = verb.fields
    .filter((one) => !skip.includes(one.name) && (!kind || !one.only || one.only === kind))
    .map((one) => [one, own[one.name] ?? inputOf(one, given[one.name], state, { note: notes[one.name], more: hints[one.name] })]);
  const submit = async (event) => {
    event.preventDefault();
    const sent = values(made);
    const value = { ...sent, ...drawn(sent) };
    for (const [name, stood] of Object.entries(given)) if (value[name] === `${stood ?? ""}`) delete value[name];
    const answer = await say(verb.to, { ...value, ...also });
    if (answer) await state.reload(answer.id, answer.read_as);
  };
  const made = h("form", { onsubmit: submit }, h("h2", {}, title), parts.map(([, part]) => part),
    h("div", { class: "buttons" }, h("button", { type: "submit", class: "main" }, verb.button), h("button", { type: "button", onclick: state.leave }, "Cancel ", h("kbd", {}, "Esc"))));
  const chooser = made.querySelector("select[name=kind]");
  const fit = () => {
    for (const [one, part] of parts) {
      if (!one.only || kind) continue;
      part.hidden = chooser.value !== one.only;
      if (part.hidden) part.querySelector("input, select").value = "";
    }
  };
  chooser?.addEventListener("change", fit);
  fit();
  return made;
}

/** The button that takes a thing away, asked twice. */
export function removal(verb, state, named, name = "") {
  return sure(verb.title, name ? `Remove ${name}` : verb.button, async () => {
    if (await say(verb.to, named)) await state.reload(null);
  });
}

/** A latitude and longitude as one text. */
export const atText = ([lat, lon]) => `${lat.toFixed(6)},${lon.toFixed(6)}`;

/** The field of a place: typed, or filled by a click on the map. */
export function where(draft, words = "Where (click on the map, or type)") {
  const input = text("at", { placeholder: "44.610000,-71.220000", required: true });
  input.addEventListener("change", () => {
    const [lat, lon] = input.value.split(",").map(Number);
    if (Number.isFinite(lat) && Number.isFinite(lon) && Math.abs(lat) <= 85) draft.put(lat, lon);
  });
  return { label: field(words, input), show: () => {
    if (draft.at) input.value = atText(draft.at);
  } };
}

/** The corners of a path or an outline as a list, each with a button that drops it. */
export function corners(draft, how = "Click the corners in turn") {
  const list = h("ol", { class: "corners" });
  const typed = text("", { placeholder: "44.610000,-71.220000", "aria-label": "A corner as latitude,longitude" });
  const add = h("button", { type: "button", onclick: () => {
    const [lat, lon] = typed.value.split(",").map(Number);
    if (!Number.isFinite(lat) || !Number.isFinite(lon)) return typed.focus();
    typed.value = "";
    return draft.put(lat, lon);
  } }, "Add it");
  const show = () => {
    const rows = draft.rings.flatMap((ring, r) => draft.corners(true)[r]?.map((at, i) => [at, i, r]) ?? []);
    list.replaceChildren(...rows.map(([at, i, r]) => h("li", {}, atText(at), h("button", { type: "button", class: "plain", "aria-label": `Delete corner ${i + 1}`, onclick: () => draft.drop(i, r) }, "delete corner"))));
  };
  const words = h("p", { class: "note" }, `${how}; drag a corner to move it, click a small dot to put one between.`);
  return { label: h("div", { class: "form" }, words, list, h("div", { class: "pair" }, field("or type a corner", typed), add)), show };
}

/** A button that asks once more before it does what cannot be meant lightly. */
export function sure(words, again, run) {
  const button = h("button", { type: "button", onclick: () => {
    if (button.dataset.asked) return run();
    button.dataset.asked = "yes";
    button.classList.add("danger");
    button.textContent = again;
    return undefined;
  } }, words);
  return button;
}

/** What the next click on the map is for, on the map itself. */
export function hint(words) {
  $("#hint").textContent = words;
  $("#hint").hidden = !words;
}

export const panel = (...children) => {
  const place = $("#panel");
  place.replaceChildren(...children.filter(Boolean));
  place.scrollTop = 0;
  return place;
};
