// What is folded is asked for when it is opened, so that the first screen does not wait for it.

import { $$, h } from "./dom.js";

/** Asks for one part; what the server gives is its own page, with every name escaped there. */
export async function load(place) {
  place.setAttribute("aria-busy", "true");
  const query = new URLSearchParams();
  for (const name of ["season", "phase", "last", "from", "to", "buck", "day"]) if (place.dataset[name]) query.set(name, place.dataset[name]);
  if (place.dataset.sit) query.set("part", place.dataset.sit);
  try {
    const answer = await fetch(`${place.dataset.part}?${query}`, { headers: { accept: "text/html" } });
    const text = await answer.text();
    const page = new DOMParser().parseFromString(text, "text/html");
    if (answer.ok) place.replaceChildren(...page.body.childNodes);
    else place.replaceChildren(...[...page.querySelectorAll("main p")].slice(0, 2));
  } catch {
    place.replaceChildren(h("p", {}, "camsign does not answer. Start it again, then load this page anew."));
  }
  place.setAttribute("aria-busy", "false");
}

/** Wires every fold of the page; one that is open already is asked for now. */
export function folds() {
  for (const fold of $$("details.fold")) {
    const place = fold.querySelector("[data-folded]");
    const open = () => fold.open && "folded" in place.dataset && (delete place.dataset.folded, load(place));
    fold.addEventListener("toggle", open);
    open();
  }
}
