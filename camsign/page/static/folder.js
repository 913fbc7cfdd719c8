// A folder with pictures: chosen from a list, or dropped.

import { dialog, h } from "./dom.js";
import { ask } from "./api.js";
import { alarm } from "./shared.js";

const ENOUGH = 4; // so many files tell one folder from another

export class Chooser {
  /** `chosen(path)`: a folder was chosen. */
  constructor(chosen) {
    this.chosen = chosen;
    this.where = h("p", { class: "where", dir: "auto" });
    this.list = h("ul", { class: "folders" });
    this.places = h("p", { class: "buttons" });
    this.take = h("button", { type: "button", class: "main", onclick: () => this.#take() }, "Look in this folder");
    this.dialog = dialog("chooser", "chooser-title", "Which folder?", this.places, this.where, this.list, h("p", {}, this.take));
    document.querySelector("#main").append(this.dialog);
  }

  async open(path = "") {
    if (await this.#show(path)) this.dialog.showModal();
  }

  async #show(path) {
    try {
      const got = await ask("/woods/folders", { path });
      this.path = got.path;
      this.where.replaceChildren(h("bdi", {}, got.path));
      const go = (to, words) => h("li", {}, h("button", { type: "button", class: "plain", onclick: () => this.#show(to) }, words));
      const up = got.up ? [go(got.up, "↑ up one folder")] : [];
      const all = got.folders.map((one) => go(one.path, h("bdi", {}, one.name)));
      this.list.replaceChildren(...up, ...(all.length ? all : [h("li", { class: "quiet" }, "No folders in here.")]));
      this.places.replaceChildren(...got.places.map((one) => h("button", { type: "button", title: one.path, onclick: () => this.#show(one.path) }, h("bdi", {}, one.name))));
      return true;
    } catch (e) {
      alarm(`${e.message}.`);
      return false;
    }
  }

  #take() {
    this.dialog.close();
    this.chosen(this.path);
  }
}

/** The folder among what was dropped, if there is one. */
export function droppedFolder(transfer) {
  const entries = [...(transfer.items ?? [])].map((item) => item.webkitGetAsEntry?.());
  return entries.find((entry) => entry?.isDirectory) ?? null;
}

/** Asks where a dropped folder lies: the browser tells its name and its files, but no path. */
export async function pathOf(folder) {
  const files = [];
  await gather(folder, folder.fullPath, files);
  return (await ask("/woods/dropped", { name: folder.name, files })).path;
}

async function gather(folder, root, files) {
  const entries = await new Promise((done, failed) => folder.createReader().readEntries(done, failed));
  for (const entry of entries) {
    if (files.length >= ENOUGH) return;
    if (entry.isDirectory) await gather(entry, root, files);
    else {
      const file = await new Promise((done, failed) => entry.file(done, failed));
      files.push({ path: entry.fullPath.slice(root.length + 1), bytes: file.size });
    }
  }
}
