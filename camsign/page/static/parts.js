// Parts of a page whose answers may take a while: each comes by itself and takes its place.

import { $$, h } from "./dom.js";
import { undoable } from "./said.js";

undoable();

/** Asks for one part; what the server gives is its own page, with every name escaped there. */
async function load(place) {
  place.setAttribute("aria-busy", "true");
  const query = new URLSearchParams();
  for (const name of ["season", "phase", "last", "from", "to", "buck"]) if (place.dataset[name]) query.set(name, place.dataset[name]);
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

// Whose visits: only that part is asked for anew.
document.addEventListener("click", (event) => {
  /** @type {HTMLAnchorElement | null} */
  const link = event.target instanceof Element ? event.target.closest(".whose a") : null;
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const place = /** @type {HTMLElement} */ (link.closest("[data-part]"));
  place.dataset.buck = link.dataset.buck;
  history.replaceState(null, "", link.href);
  load(place).then(() => $$(".whose [aria-current]", place)[0]?.focus());
});

// What is folded is asked for when it is opened, so that the first screen does not wait for it.
for (const fold of $$("details.fold")) {
  const place = fold.querySelector("[data-folded]");
  const open = () => fold.open && "folded" in place.dataset && (delete place.dataset.folded, load(place));
  fold.addEventListener("toggle", open);
  open();
}

const named = () => (location.hash ? document.querySelector(`[id="${CSS.escape(location.hash.slice(1))}"]`) : null);
const fold = /** @type {HTMLDetailsElement | null} */ (named()?.closest("details.fold") ?? null);
if (fold) fold.open = true;
await Promise.all($$("[data-part]:not([data-folded])").map(load));
// Only now does the place exist that the address points to.
named()?.scrollIntoView();
