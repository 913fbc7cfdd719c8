// Parts of a page whose answers may take a while: each comes by itself and takes its place.

import { $$ } from "./dom.js";
import { folds, load } from "./folds.js";
import { undoable } from "./said.js";

undoable();

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

folds();

const named = () => (location.hash ? document.querySelector(`[id="${CSS.escape(location.hash.slice(1))}"]`) : null);
const fold = /** @type {HTMLDetailsElement | null} */ (named()?.closest("details.fold") ?? null);
if (fold) fold.open = true;
await Promise.all($$("[data-part]:not([data-folded])").map(load));
// Only now does the place exist that the address points to.
named()?.scrollIntoView();
