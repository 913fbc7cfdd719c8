// The keys of a page or of a dialog, in one table: what is shown by ? is what works.

import { dialog, h } from "./dom.js";

const OFF = "camsign-keys-off";

export class Keys {
  #groups;
  #within;
  first = (/** @type {KeyboardEvent} */ _event) => false; // is offered a key before the table
  #byKey = new Map();

  /**
   * `groups`: [[title, [{keys: ["U", "Ctrl+Z"], shown, words, run}]]], letters in capitals. `within`: the
   * dialog in which they work; by default the page, while no dialog is open.
   */
  constructor(groups, within = null) {
    this.#within = within;
    this.#groups = [...groups, ["These keys", [{ keys: ["?"], words: "show them", run: () => this.help.showModal() }]]];
    for (const [, entries] of this.#groups) {
      for (const entry of entries) for (const key of entry.keys) this.#byKey.set(key, entry);
    }
    this.#makeHelp();
    document.addEventListener("keydown", (event) => this.#pressed(event));
    if (!within && !document.querySelector("#keys-button")) this.#showButton();
  }

  /** A page that has no button for its keys gets one. */
  #showButton() {
    const open = { type: "button", id: "keys-button", "aria-haspopup": "dialog", onclick: () => this.help.showModal() };
    document.querySelector(".top .aside")?.append(h("button", open, "Keys ", h("kbd", {}, "?")));
  }

  #pressed(event) {
    if (event.defaultPrevented || event.isComposing) return;
    const open = [...document.querySelectorAll("dialog[open]")];
    if (this.#within ? !this.#within.open || open.length > 1 : open.length) return;
    const at = event.target;
    if (at.closest?.("input:not([type=range]), select, textarea, video")) return;
    if (at.type === "range" && event.key.startsWith("Arrow")) return;
    if (this.first(event)) return event.preventDefault();
    if ((event.key === "Enter" || event.key === " ") && at.closest?.("button, a") && !at.closest(".tile")) return;
    const entry = this.#byKey.get(nameOf(event));
    if (!entry || (this.off && isSingle(nameOf(event)))) return;
    event.preventDefault();
    entry.run(event);
  }

  get off() {
    return localStorage.getItem(OFF) === "yes";
  }

  #makeHelp() {
    const box = h("input", { type: "checkbox", onchange: () => localStorage.setItem(OFF, box.checked ? "" : "yes") });
    box.checked = !this.off;
    const title = `keys-title${document.querySelectorAll("dialog.keys").length || ""}`;
    this.help = dialog("keys", title, "Keys",
      h("div", { class: "groups" }, ...this.#groups.map(([title, entries]) => group(title, entries))),
      h("label", { class: "check" }, box, " Single keys work right away (turn off for voice typing)"));
    document.body.append(this.help);
  }
}

function group(title, entries) {
  const rows = entries.flatMap((e) => [h("dt", {}, ...keysOf(e)), h("dd", {}, e.words)]);
  return h("section", {}, h("h3", {}, title), h("dl", {}, ...rows));
}

const SIGNS = { ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", " ": "Space" };

function keysOf(entry) {
  return (entry.shown ?? entry.keys).flatMap((key, i) => {
    const words = key.split(/(?<=.)\+/).map((part) => SIGNS[part] ?? part).join(" + ");
    return i ? [" ", h("kbd", {}, words)] : [h("kbd", {}, words)];
  });
}

function isSingle(name) {
  return name.length === 1 && name !== "?" && name !== " ";
}

/** The name of a key press: "U", "Ctrl+Z", "Shift+ArrowLeft", "3", "Shift+3", "?". */
export function nameOf(event) {
  const digit = /^(?:Digit|Numpad)(\d)$/.exec(event.code)?.[1];
  const mods = [(event.ctrlKey || event.metaKey) && "Ctrl", event.altKey && "Alt"].filter(Boolean);
  if (event.key === "?" || event.key === "/" || event.key === "+" || event.key === "-") return [...mods, event.key].join("+");
  if (event.shiftKey) mods.push("Shift");
  const key = digit ?? (event.key.length === 1 ? event.key.toUpperCase() : event.key);
  return [...mods, key].join("+");
}
