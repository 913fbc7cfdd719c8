// Says back where a typed place lies, on a small map of the world, so that a forgotten minus is seen at once.

import { h, s } from "./dom.js";
import { get } from "./api.js";

const PAUSE_MS = 350;
let land = null;

/** Watches a field and shows in `into` what it was understood as. */
export function sayBack(field, into) {
  let asked = 0;
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
  const show = async () => {
    const mine = ++asked;
    const home = field.value.trim();
    if (!home) return into.replaceChildren();
    try {
      land ??= (await get("/first/world")).land;
      const got = await get("/first/place", { home, zone });
      if (mine === asked) into.replaceChildren(...told(got, field, show));
    } catch (e) {
      if (mine === asked) into.replaceChildren(h("p", { class: "quiet" }, `${e.message}.`));
    }
    return null;
  };
  let timer = 0;
  field.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(show, PAUSE_MS);
  });
}

function told(got, field, show) {
  const mend = got.meant && h("p", { class: "attention" }, "That is the other side of the globe. Did you mean ", h("button", { type: "button", onclick: () => {
    field.value = got.meant;
    show();
  } }, got.meant), "?");
  return [
    s("svg", { viewBox: "0 0 360 150", class: "world", role: "img", "aria-label": `Map of the world with a mark at ${got.where}` },
      s("path", { class: "world-land", d: land }),
      s("path", { class: "world-lines", d: "M180 0V150M0 90H360" }),
      s("path", { class: "world-cross", d: `M${got.x - 14} ${got.y}H${got.x - 5}M${got.x + 5} ${got.y}H${got.x + 14}M${got.x} ${got.y - 14}V${got.y - 5}M${got.x} ${got.y + 5}V${got.y + 14}` }),
      s("circle", { class: "world-dot", cx: got.x, cy: got.y, r: 3.5 })),
    h("div", {}, h("p", {}, got.where), mend || ""),
  ];
}
