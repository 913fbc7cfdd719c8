// Draws strips and loads them as the user comes near.

import { $, h, s, mark, many, dayOf, clockOf, compass, lightWords } from "../dom.js";
import { get } from "../api.js";
import { words } from "./stage.js";

const TITLES = {
  untagged: "Not tagged yet",
  partly: "Partly tagged",
  tagged: "Tagged",
  empty: "Likely empty",
};
const OPEN = new Set(["untagged", "partly"]);
const AT_ONCE = 24;
const SHOWN = 24; // tiles of a long strip before it is unfolded

export class Strips {
  #board;
  #place;
  #list = null;
  #tiles = new Map();
  #target = new Set();
  #cursorTile = null;
  #watch;
  nothing = (_part) => {}; // what the button of the likely-empty visits does
  whole = true; // every visit is listed, none is filtered out

  constructor(board, place) {
    this.#board = board;
    this.#place = place;
    this.#watch = new IntersectionObserver((seen) => this.#near(seen), { root: place, rootMargin: "3000px" });
    board.on("cursor", () => this.#showCursor());
    board.on("target", () => this.#showTarget());
    board.on("tags", (ids) => this.#showTags(ids));
  }

  /** Shows a list anew. `answer` is what /sort/list gave. */
  async show(answer, onlyPart) {
    this.#watch.disconnect();
    this.#tiles.clear();
    this.#target.clear();
    this.#cursorTile = null;
    this.#list = answer.list;
    this.#board.clear();
    for (const [name, counts] of Object.entries(answer.parts)) {
      const open = OPEN.has(name) || onlyPart === name || Object.keys(answer.parts).length === 1;
      this.#board.parts.push({ name, open, frames: counts.frames, total: counts.strips, strips: [] });
    }
    this.#place.replaceChildren(...this.#board.parts.map((part) => this.#part(part)));
    if (!this.#board.parts.length) this.#place.append(h("p", { class: "none" }, "No visit fits this filter."));
    const first = this.#board.parts[0];
    if (first?.open) this.#take(first, answer.begun);
    const open = this.#board.parts.find((part) => part.open);
    if (open && !open.strips.length) await this.load(open);
    this.#showLeft();
  }

  /** What is still without a tag of each part; and what to do when nothing is. */
  #showLeft() {
    for (const part of this.#board.parts) {
      if (part.name === "tagged") continue;
      const done = part.strips.filter((strip) => strip.frames.every((f) => f.tags.length));
      const tagged = part.name === "partly" ? done.flatMap((s) => s.frames) : part.strips.flatMap((s) => s.frames).filter((f) => f.tags.length);
      part.left = part.total - done.length;
      part.counts.textContent = part.left ? `${many(part.left, "visit")}, ${many(part.frames - tagged.length, "picture")}` : "none left";
      this.#showBulk(part);
    }
    const open = this.#board.parts.filter((part) => OPEN.has(part.name));
    const any = this.#board.parts.length > 0;
    $("#all-sorted").hidden = !any || open.some((part) => part.left);
    const empty = this.part("empty")?.left;
    const rest = empty ? ` but ${many(empty, "visit")} that may be empty, at the end (E shows them).` : ".";
    $("#all-sorted-words").textContent = `${this.whole ? "All sorted" : "All that is listed here is sorted"}${rest}`;
  }

  /** Offers to tag what is shown of the likely-empty visits and has no tag, where there is any. */
  #showBulk(part) {
    if (!part.bulk) return;
    const open = part.strips.filter((strip) => strip.frames.some((f) => !f.tags.length)).length;
    part.bulk.hidden = !part.open || !open;
    part.bulk.firstElementChild.textContent = `Tag ${open === 1 ? "this visit" : `these ${open} visits`} as nothing there`;
  }

  #part(part) {
    part.list = h("ol", { class: "strips" });
    part.end = h("li", { class: "end" });
    part.list.append(part.end);
    part.list.hidden = !part.open;
    part.button = h(
      "button",
      { type: "button", class: "fold", "aria-expanded": String(part.open), onclick: () => this.fold(part) },
      h("span", { class: "arrow", "aria-hidden": "true" }, "▸"),
      TITLES[part.name],
      h("span", { class: "quiet" }, `${many(part.total, "visit")}, ${many(part.frames, "picture")}`),
    );
    part.counts = part.button.lastElementChild;
    if (part.name === "empty") {
      part.bulk = h("button", { type: "button", class: "bulk", hidden: true, onclick: () => this.nothing(part) }, h("span", {}), " ", h("kbd", {}, "N"));
    }
    part.end.ends = part;
    if (part.open) this.#watch.observe(part.end);
    return h("section", { class: `part ${part.name}` }, h("h3", {}, part.button), part.bulk, part.list);
  }

  /** Folds or unfolds a part. */
  async fold(part) {
    part.open = !part.open;
    part.button.setAttribute("aria-expanded", String(part.open));
    part.list.hidden = !part.open;
    this.#showBulk(part);
    if (part.open) {
      this.#watch.observe(part.end);
      await this.load(part);
    } else {
      this.#watch.unobserve(part.end);
    }
  }

  part(name) {
    return this.#board.parts.find((part) => part.name === name);
  }

  #near(seen) {
    for (const one of seen) if (one.isIntersecting) this.load(one.target.ends);
  }

  /** Loads more of a part, unless it is all here; one request at a time. */
  load(part) {
    if (part.strips.length >= part.total || !part.open) return Promise.resolve();
    part.loading ??= this.#load(part).finally(() => {
      part.loading = null;
    });
    return part.loading;
  }

  async #load(part) {
    const list = this.#list;
    const count = Math.min(AT_ONCE, part.total - part.strips.length);
    const answer = await get("/sort/strips", { list, part: part.name, at: part.strips.length, count });
    if (list === this.#list) this.#take(part, answer.strips);
  }

  #take(part, strips) {
    if (!strips.length) part.total = part.strips.length;
    for (const strip of strips) {
      this.#board.add(part, strip);
      part.end.before(this.#strip(strip));
    }
    this.#watch.unobserve(part.end);
    if (part.strips.length < part.total) this.#watch.observe(part.end);
    this.#showLeft();
    if (!this.#board.cursor) this.#board.goTo(this.#board.order[0]?.frames[0]);
  }

  /** Shows the visit at a place of a part, loading up to it. */
  async reach(name, at) {
    const part = this.part(name);
    if (!part) return null;
    if (!part.open) await this.fold(part);
    while (part.strips.length <= at && part.strips.length < part.total) await this.load(part);
    return part.strips[at]?.frames[0] ?? null;
  }

  get list() {
    return this.#list;
  }

  /** The part on the way from one frame to another, null for the end, of which not every visit is here. */
  gap(from, to) {
    const open = this.#board.parts.filter((part) => part.open);
    const [a, b] = [from.strip, to?.strip].map((strip) => (strip ? open.indexOf(strip.inPart) : open.length));
    return open.slice(a, b).find((part) => part.strips.length < part.total) ?? null;
  }

  /** Makes sure that strips behind the cursor are there before they are needed. */
  ahead() {
    const strip = this.#board.cursor?.strip;
    if (strip && strip.nth > strip.inPart.strips.length - 12) return this.load(strip.inPart);
    return Promise.resolve();
  }

  #strip(strip) {
    const first = strip.frames.find((f) => f.at);
    const last = strip.frames.findLast((f) => f.at);
    strip.head = h("p", { class: "tags" });
    strip.tiles = h("ol", { class: `tiles ${strip.wide ? "wide" : ""}` });
    this.#fill(strip, strip.frames.length > SHOWN + 6 ? SHOWN : Infinity);
    const doubt = strip.frames.find((f) => f.doubt)?.doubt;
    strip.element = h(
      "li",
      { class: "strip" },
      h(
        "header",
        {},
        h("h4", {}, strip.camera, " ", first ? h("time", { datetime: first.at }, when(first, last)) : "no time"),
        lights(strip),
        doubt && h("p", { class: "doubt" }, doubtMark(), doubt),
        strip.head,
      ),
      strip.tiles,
    );
    this.#showHead(strip);
    return strip.element;
  }

  #fill(strip, shown) {
    const frames = strip.frames.slice(0, shown);
    strip.tiles.replaceChildren(...frames.map((frame, i) => this.#item(frame, frame.burst !== frames[i - 1]?.burst)));
    strip.shown = frames.length;
    const more = strip.frames.length - frames.length;
    if (more > 0) {
      strip.tiles.append(
        h("li", { class: "more" }, h("button", { type: "button", onclick: () => this.unfold(strip) }, `and ${many(more, "more picture")}`)),
      );
    }
  }

  /** Draws all tiles of a long strip. */
  unfold(strip) {
    this.#fill(strip, Infinity);
    this.#showTarget(true);
    this.#showCursor();
  }

  /** A tile; the first of a burst says when the burst began. */
  #item(frame, starts) {
    const time = starts && frame.place > 0 && frame.at && h("span", { class: "begun", "aria-hidden": "true" }, clockOf(frame.at));
    return h("li", { class: starts ? "starts" : null }, this.#tile(frame), time);
  }

  #tile(frame) {
    const image = h("img", { src: `/thumb/${frame.frame}`, alt: "", decoding: "async", width: 320, height: 240 });
    image.addEventListener("error", () => image.replaceWith(lost(frame)), { once: true });
    const tile = h(
      "button",
      { type: "button", class: "tile", tabindex: -1, "aria-pressed": "false", data: { frame: frame.frame } },
      image,
      h("span", { class: "told" }),
    );
    this.#tiles.set(frame.frame, tile);
    this.#showTile(frame, tile);
    return tile;
  }

  #showTile(frame, tile) {
    tile.classList.toggle("pending", Boolean(frame.pending));
    tile.lastElementChild.replaceChildren(...told(frame.tags));
    const shown = tile.lastElementChild.textContent || "no tag";
    const rest = frame.tags.slice(1).map((t) => t.words);
    tile.setAttribute("aria-label", [words(frame), lightWords(frame.light), shown, ...rest].filter(Boolean).join(", "));
  }

  #showTags(ids) {
    const strips = new Set();
    for (const id of ids) {
      const frame = this.#board.frames.get(id);
      if (!frame) continue;
      strips.add(frame.strip);
      const tile = this.#tiles.get(id);
      if (tile) this.#showTile(frame, tile);
    }
    for (const strip of strips) this.#showHead(strip);
    this.#showLeft();
  }

  #showHead(strip) {
    const counts = new Map();
    for (const frame of strip.frames) {
      for (const tag of frame.tags) {
        const kept = counts.get(tag.subject) ?? { tag, n: 0 };
        kept.n += 1;
        counts.set(tag.subject, kept);
      }
    }
    const chips = [...counts.values()].map(({ tag, n }) =>
      h("span", { class: "chip" }, mark(tag.mark), h("bdi", {}, tag.words), tag.travel_deg !== null && tag.travel_deg !== undefined && h("span", { class: "quiet" }, ` to ${compass(tag.travel_deg)}`), n < strip.frames.length && h("span", { class: "quiet" }, ` ${n} of ${strip.frames.length}`)),
    );
    strip.head.replaceChildren(...chips);
  }

  #showCursor() {
    const frame = this.#board.cursor;
    if (frame.place >= frame.strip.shown) return this.unfold(frame.strip);
    const tile = this.#tiles.get(frame.frame);
    if (this.#cursorTile && this.#cursorTile !== tile) {
      this.#cursorTile.tabIndex = -1;
      this.#cursorTile.removeAttribute("aria-current");
      this.#cursorTile.closest(".strip")?.classList.remove("current");
    }
    this.#cursorTile = tile;
    tile.tabIndex = 0;
    tile.setAttribute("aria-current", "true");
    frame.strip.element.classList.add("current");
    bring(frame.strip.element, tile, this.#place);
    this.#settle(frame, tile);
    const here = document.activeElement;
    if (here === document.body || this.#place.contains(here)) tile.focus({ preventScroll: true });
  }

  /** Strips far off have a guessed height until they are drawn; then the scrolling has to follow. */
  #settle(frame, tile, rounds = 4) {
    requestAnimationFrame(() => {
      if (frame !== this.#board.cursor || !rounds) return;
      bring(frame.strip.element, tile, this.#place);
      this.#settle(frame, tile, rounds - 1);
    });
  }

  #showTarget(anew = false) {
    const now = new Set(this.#board.target.map((f) => f.frame));
    const old = anew ? new Set() : this.#target;
    for (const id of old) if (!now.has(id)) this.#tiles.get(id)?.classList.remove("target");
    for (const id of now) if (!old.has(id)) this.#tiles.get(id)?.classList.add("target");
    const selected = this.#board.selection;
    for (const id of new Set([...old, ...now])) {
      this.#tiles.get(id)?.setAttribute("aria-pressed", String(selected.has(id)));
    }
    this.#target = now;
  }
}

/** Scrolls the list, and nothing else, so that the strip, or at least its tile, is in view. */
function bring(strip, tile, root) {
  const view = root.getBoundingClientRect();
  const whole = strip.getBoundingClientRect();
  const box = whole.height < view.height - 24 ? whole : tile.getBoundingClientRect();
  if (box.top < view.top + 12) root.scrollTop -= view.top + 12 - box.top;
  else if (box.bottom > view.bottom - 12) root.scrollTop += box.bottom - view.bottom + 12;
}

function when(first, last) {
  const from = clockOf(first.at);
  const to = clockOf(last.at);
  const span = first.at.slice(0, 10) === last.at.slice(0, 10) ? to : `${dayOf(last.at)} ${to}`;
  return `${dayOf(first.at)}, ${from}${from === span ? "" : `–${span}`}`;
}

function lights(strip) {
  const kinds = [...new Set(strip.frames.map((f) => f.light).filter(Boolean).map(lightWords))];
  return h("p", { class: "lights" }, kinds.join(" and "));
}

function doubtMark() {
  return s("svg", { class: "doubtful", viewBox: "0 0 12 12", "aria-hidden": "true" }, s("path", { d: "M6 1 11.4 11H.6ZM6 4.6v3M6 8.8v.9" }));
}

function told(tags) {
  if (!tags.length) return [];
  const rest = tags.length > 1 ? ` +${tags.length - 1}` : "";
  const [tag] = tags;
  const count = tag.count > 1 ? `${tag.count} × ` : "";
  return [mark(tag.mark), h("bdi", {}, `${count}${tag.words}`), `${rest}${tag.unsure ? " ?" : ""}`];
}

function lost(frame) {
  const words = frame.kind === "jpeg" || frame.kind === "png" ? "no picture" : frame.kind;
  return h("span", { class: "lost" }, words);
}
