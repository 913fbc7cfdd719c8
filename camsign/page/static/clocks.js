// Clocks against the sun: findings in words, the picture behind each, and one button that fixes it.

import { dayWords, h, many, s } from "./dom.js";
import { get } from "./api.js";
import { alarm } from "./shared.js";
import { say } from "./said.js";

const [WIDE, TALL, LEFT, BOTTOM] = [460, 250, 40, 34];
const [LOW, HIGH] = [-75, 75];
const px = (hour) => LEFT + (hour / 24) * (WIDE - LEFT - 10);
const py = (height) => 24 + ((HIGH - Math.max(LOW, Math.min(HIGH, height))) / (HIGH - LOW)) * (TALL - BOTTOM - 24);

const titles = { off: "clock wrong", "clock or hang date": "clock or hang date wrong", "date set back": "date went back" };

/** One finding. `applied` is called when it was put right. */
export function finding(one, applied) {
  const plots = h("div", {});
  const off = one.attention;
  const show = h("button", { type: "button", onclick: () => plot(one, plots, show) }, "Show the chart behind it");
  const right = one.proposed.length
    ? h("button", { type: "button", class: "main", onclick: () => apply(one, right, applied) }, "Fix clock")
    : null;
  const up = one.up_from
    ? h("button", { type: "button", class: "main", onclick: () => wasUp(one, up, applied) }, `It was up since ${dayWords(one.up_from)}`)
    : null;
  const elsewhere = location.pathname === "/cards" ? h("a", { href: "/map" }, "Its dates, on the map") : h("a", { href: "/cards#clocks" }, "Clocks, on Cards");
  const disagree = one.verdict === "clock or hang date" ? elsewhere : null;
  return h(
    "article",
    { class: "finding", data: { camera: one.camera } },
    h("h3", {}, h("bdi", {}, one.camera), h("span", { class: off ? "off" : "quiet" }, titles[one.verdict] ?? `clock ${one.verdict}`), h("span", { class: "quiet" }, `pictures of ${dayWords(one.from)} to ${dayWords(one.until)}`)),
    h("p", {}, `${one.why[0].toUpperCase()}${one.why.slice(1)}${one.remedy ? "" : `, going by ${many(one.frames, "picture")} in ${many(one.bursts, "burst")}`}.`),
    one.remedy ? h("p", { class: "quiet" }, one.remedy, disagree && " ", disagree) : null,
    one.proposed.map((words) => h("p", {}, `${words}.`)),
    h("p", { class: "buttons" }, right, up, show),
    byHand(one, applied),
    plots,
  );
}

/** One right time, known by a picture of a watch or a person's word, sets the clock. */
function byHand(one, applied) {
  const time = (name, value) => h("input", { type: "datetime-local", step: "1", name, value, required: true });
  const send = async (event) => {
    event.preventDefault();
    const days = one.ends ? { first: one.ends[0], last: one.ends[1] } : one.whole ? { deployment: one.deployment } : { from: one.from, until: one.until };
    const answer = await say("/cards/clocks/set", { ...Object.fromEntries(new FormData(event.target)), camera: one.camera, ...days });
    if (answer) applied(one);
  };
  return h(
    "details",
    {},
    h("summary", {}, "Set it by hand"),
    h(
      "form",
      { class: "line outage", onsubmit: send },
      h("label", {}, "Camera showed ", time("shown", one.shown)),
      h("label", {}, "True time ", time("true", "")),
      h("button", { type: "submit" }, "Set clock"),
    ),
  );
}

async function wasUp(one, button, applied) {
  button.disabled = true;
  if (await say("/say/deployment/correct", { deployment: one.deployment, from: one.up_from })) applied(one);
  else button.disabled = false;
}

async function apply(one, button, applied) {
  button.disabled = true;
  if (await say("/cards/clocks/apply", { camera: one.camera, deployment: one.deployment })) applied(one);
  else button.disabled = false;
}

async function plot(one, place, button) {
  button.disabled = true;
  const got = await get(`/cards/clocks/${encodeURIComponent(one.camera)}/plot`).catch((e) => alarm(e.message));
  button.remove();
  const mine = got?.plots.find((p) => p.from === one.from && p.until === one.until) ?? got?.plots[0];
  if (!mine) return place.append(h("p", { class: "quiet" }, "It has no frames with both a time and a place."));
  const changes = mine.hours_before.some((hour, i) => hour !== mine.hours_after[i]);
  return place.append(
    h(
      "div",
      { class: "plots" },
      panel("as it is read now", mine.light, mine.hours_before, mine.height_before, "Filled dots: pictures in color. Open triangles: infrared or dark. The band is civil twilight. With the clock right, color and infrared switch at the same sun height, morning and evening."),
      changes ? panel("as proposed", mine.light, mine.hours_after, mine.height_after, "The same pictures after the correction.") : null,
    ),
  );
}

function panel(title, light, hours, heights, caption) {
  const marks = light.map((lit, i) => {
    const [x, y] = [px(hours[i]), py(heights[i])];
    return lit ? s("circle", { class: "colour", cx: x, cy: y, r: 2.6 }) : s("path", { class: "infrared", d: `M${x - 3} ${y - 2.4}h6l-3 5.2Z` });
  });
  const grid = [0, 6, 12, 18, 24].map((hour) => [s("path", { class: "grid", d: `M${px(hour)} 24V${TALL - BOTTOM}` }), s("text", { x: Math.min(px(hour), WIDE - 16), y: TALL - BOTTOM + 16 }, `${hour} h`)]);
  const heights_ = [-60, -30, 0, 30, 60].map((deg) => [s("path", { class: "grid", d: `M${LEFT} ${py(deg)}H${WIDE - 10}` }), s("text", { x: LEFT - 18, y: py(deg) + 4 }, `${deg}°`)]);
  const label = `Height of the sun against the time of day, ${title}: ${many(light.filter(Boolean).length, "picture")} in color, ${many(light.filter((v) => !v).length, "picture")} not.`;
  return h(
    "figure",
    {},
    s(
      "svg",
      { viewBox: `0 0 ${WIDE} ${TALL}`, role: "img", "aria-label": label },
      s("rect", { class: "twilight", x: LEFT, width: WIDE - LEFT - 10, y: py(0), height: py(-6) - py(0) }),
      grid, heights_, marks,
      s("text", { class: "title", x: LEFT, y: 15 }, title),
      s("text", { x: (WIDE + LEFT) / 2, y: TALL - 3 }, "time of day by the clock [hours]"),
      s("text", { transform: `translate(11 ${(TALL - BOTTOM + 24) / 2}) rotate(-90)` }, "sun above the horizon [degrees]"),
    ),
    h("figcaption", {}, caption),
  );
}
