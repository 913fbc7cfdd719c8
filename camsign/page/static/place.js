// Says back where a typed place lies, on a small map of the world, so that a forgotten minus is seen at once.

import { $, h, s } from "./dom.js";
import { get } from "./api.js";
import { alarm } from "./shared.js";

const PAUSE_MS = 350;
let land = null;

/**
 * Watches a field and shows in `into` what it was understood as. Gives what asks whether that is the place:
 * `ask(yes, go)` goes on with the place as typed once the button `yes` is pressed.
 */
export function sayBack(field, into) {
  let asked = 0;
  let question = null;
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
  const show = async () => {
    const mine = ++asked;
    const home = field.value.trim();
    if (!home) return into.replaceChildren();
    try {
      land ??= (await get("/first/world")).land;
      const got = await get("/first/place", { home, zone });
      if (mine !== asked) return null;
      into.replaceChildren(...told(got, change, question && questioned(home)));
      if (question) into.scrollIntoView({ block: "nearest" });
    } catch (e) {
      if (mine === asked) into.replaceChildren(h("p", { class: "quiet" }, `${e.message}.`));
      if (question) alarm(`${e.message}.`);
    }
    return null;
  };
  const change = (home) => {
    field.value = home;
    show();
  };
  const questioned = (home) => {
    const { yes, go } = question;
    const no = () => {
      question = null;
      field.focus();
      show();
    };
    return h("p", { class: "buttons" }, h("strong", {}, "Is this the place?"), " ",
      h("button", { type: "button", class: "yes", onclick: () => go(home) }, yes), " ", h("button", { type: "button", onclick: no }, "No, change it"));
  };
  let timer = 0;
  field.addEventListener("input", () => {
    question = null;
    clearTimeout(timer);
    timer = setTimeout(show, PAUSE_MS);
  });
  return (yes, go) => {
    question = { yes, go };
    clearTimeout(timer);
    // Of a likely slip the mended place is at hand: Enter twice must not take the slip.
    show().then(() => $(".attention button, button.yes", into)?.focus());
  };
}

const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

function told(got, change, question) {
  const mend = got.meant && h("p", { class: "attention" }, `${capital(got.doubt)}. Did you mean `, h("button", { type: "button", onclick: () => change(got.meant) }, got.meant), "?");
  return [
    s("svg", { viewBox: "0 0 360 150", class: "world", role: "img", "aria-label": `Map of the world with a mark at ${got.where}` },
      s("path", { class: "world-land", d: land }),
      s("path", { class: "world-lines", d: "M180 0V150M0 90H360" }),
      s("path", { class: "world-cross", d: `M${got.x - 14} ${got.y}H${got.x - 5}M${got.x + 5} ${got.y}H${got.x + 14}M${got.x} ${got.y - 14}V${got.y - 5}M${got.x} ${got.y + 5}V${got.y + 14}` }),
      s("circle", { class: "world-dot", cx: got.x, cy: got.y, r: 3.5 })),
    h("div", {}, h("p", {}, capital(got.where)), mend || "", question || ""),
  ];
}
