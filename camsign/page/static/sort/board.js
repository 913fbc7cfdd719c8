// What is on the sorting page: strips and frames, where the user is, what the next tag would reach.

export const REACHES = ["frame", "burst", "visit"];

/** What people call a reach. */
export const reachWords = (reach) => (reach === "frame" ? "picture" : reach);

export class Board {
  parts = []; // in order: { name, open, strips: [...] }
  strips = new Map();
  frames = new Map(); // by id: { frame, strip, place, tags, pending, ... }
  cursor = null; // a frame
  selection = new Set(); // frame ids
  anchor = null;
  reach = "visit";
  #listeners = new Map();

  /** Calls back on "cursor", "target" (selection or reach), "tags" (with frame ids). */
  on(what, listener) {
    if (!this.#listeners.has(what)) this.#listeners.set(what, []);
    this.#listeners.get(what).push(listener);
  }

  tell(what, value) {
    for (const listener of this.#listeners.get(what) ?? []) listener(value);
  }

  clear() {
    this.parts = [];
    this.strips.clear();
    this.frames.clear();
    this.cursor = null;
    this.anchor = null;
    this.selection.clear();
  }

  add(part, strip) {
    strip.frames.forEach((frame, place) => {
      frame.strip = strip;
      frame.place = place;
      this.frames.set(frame.frame, frame);
    });
    this.strips.set(strip.strip, strip);
    strip.inPart = part;
    strip.nth = part.strips.length;
    part.strips.push(strip);
  }

  /** The strips that can be gone through, in order. */
  get order() {
    return this.parts.filter((part) => part.open).flatMap((part) => part.strips);
  }

  /** The frames that a tag would reach now. */
  get target() {
    if (this.selection.size) return this.inOrder(this.selection);
    return this.cursor ? this.around(this.cursor, this.reach) : [];
  }

  around(frame, reach) {
    if (reach === "frame") return [frame];
    const all = frame.strip.frames;
    return reach === "burst" ? all.filter((f) => f.burst === frame.burst) : all;
  }

  inOrder(ids) {
    const found = [...ids].map((id) => this.frames.get(id)).filter(Boolean);
    const nth = new Map(this.order.map((strip, i) => [strip, i]));
    return found.sort((a, b) => (nth.get(a.strip) ?? 0) - (nth.get(b.strip) ?? 0) || a.place - b.place);
  }

  goTo(frame, keepSelection = false) {
    if (!frame) return;
    if (!keepSelection) this.anchor = null;
    this.cursor = frame;
    this.tell("cursor");
    this.tell("target");
  }

  /** The frame `steps` further on or back from the cursor, over the ends of strips. */
  frameAt(steps) {
    const { strip, place } = this.cursor;
    const within = strip.frames[place + steps];
    if (within) return within;
    const beside = this.stripAt(Math.sign(steps));
    return beside && (steps > 0 ? beside.frames[0] : beside.frames.at(-1));
  }

  /** The strip `steps` further on or back. */
  stripAt(steps) {
    const order = this.order;
    const at = order.indexOf(this.cursor.strip);
    return order[Math.min(order.length - 1, Math.max(0, at + steps))] ?? null;
  }

  setReach(reach) {
    this.reach = reach;
    this.tell("target");
  }

  clearSelection() {
    this.selection.clear();
    this.anchor = null;
    this.tell("target");
  }

  toggle(frames) {
    const all = frames.every((f) => this.selection.has(f.frame));
    for (const f of frames) all ? this.selection.delete(f.frame) : this.selection.add(f.frame);
    this.tell("target");
  }

  /** Selects everything from where extending began to `frame`, and goes there. */
  extendTo(frame) {
    if (!frame) return;
    this.anchor ??= this.cursor;
    const order = this.order;
    const nth = new Map(order.map((strip, i) => [strip, i]));
    const key = (f) => nth.get(f.strip) * 1e6 + f.place;
    const [from, to] = [key(this.anchor), key(frame)].sort((a, b) => a - b);
    this.selection = new Set();
    for (const strip of order.slice(Math.floor(from / 1e6), Math.floor(to / 1e6) + 1)) {
      for (const f of strip.frames) {
        if (key(f) >= from && key(f) <= to) this.selection.add(f.frame);
      }
    }
    this.goTo(frame, true);
  }

  /** Where to go on after a tag: the next thing of this reach that has no tag, else simply the next. */
  nextOpen(frames, selecting = false) {
    const last = frames.at(-1) ?? this.cursor;
    const reach = selecting ? "visit" : this.reach;
    const rest = last.strip.frames.slice(last.place + 1);
    if (reach !== "visit") {
      const open = rest.find((f) => !f.tags.length);
      if (open) return open;
    }
    const order = this.order;
    const after = order.slice(order.indexOf(last.strip) + 1);
    const strip = after.find((one) => one.frames.some((f) => !f.tags.length)) ?? after[0];
    return strip?.frames.find((f) => !f.tags.length) ?? strip?.frames[0] ?? null;
  }

  /** The first frame without a tag of all that are here, or null. */
  firstOpen() {
    return this.order.flatMap((strip) => strip.frames).find((f) => !f.tags.length) ?? null;
  }
}
