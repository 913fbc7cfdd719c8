// Saying tags: shown at once as under way, marked as saved when the server has it in the journal.
// One after the other, so that they stand in the order in which they were said.

import { many } from "../dom.js";
import { ask } from "../api.js";
import { alarm, sign } from "../shared.js";
import { showTurns } from "../said.js";
import { onNews } from "../live.js";

const SOON_MS = 40;

export class Saying {
  #board;
  #last = Promise.resolve();
  #waiting = 0;
  #wanted = new Set();
  #soon = null;
  lastBucks = [];
  lastSaid = null;

  constructor(board) {
    this.#board = board;
    onNews("changes", (news) => this.#askSoon(news.frames ?? board.frames.keys()));
    onNews("hello", () => this.#askSoon(board.frames.keys()));
  }

  /**
   * Tags frames. `said` is what goes to the server; `shown` how the tag looks meanwhile; `before` is the
   * saying that this one changes, if any.
   */
  tag(frames, { said, shown }, before = null) {
    if (!frames.length) return Promise.resolve(null);
    const ids = frames.map((f) => f.frame);
    const saying = { ids, said, shown };
    this.lastSaid = saying;
    this.#tellBeside(frames, shown);
    if (said.buck_id) this.#wasSaid(said.buck_id);
    const apply = (tags) => (shown.mark === "nothing" ? [shown] : [...tags.filter((t) => t.mark !== "nothing" && t.subject !== shown.subject), shown]);
    const body = () => {
      // A buck who was made by the saying before is made once only.
      if (said.new_buck && before?.said.buck_id) this.#isMade(saying, before.said.buck_id);
      return { ...saying.said, frames: ids };
    };
    const answer = this.#say(ids, "/sort/tag", body, `${many(ids.length, "picture")} tagged ${shown.mark === "nothing" ? "nothing there" : shown.words}`, apply);
    return answer.then((got) => {
      if (got?.buck_id) this.#isMade(saying, got.buck_id);
      return got;
    });
  }

  /** Says that a buck comes beside another, who stays: both may be in the picture, or one be wrong. */
  #tellBeside(frames, shown) {
    if (shown.mark !== "buck") return;
    const others = (frame) => frame.tags.filter((tag) => tag.mark === "buck" && tag.words !== shown.words).map((tag) => tag.words);
    const shared = frames.filter((frame) => others(frame).length);
    if (!shared.length) return;
    const names = [...new Set(shared.flatMap(others))];
    alarm(`Now ${names.join(", ")} and ${shown.words} are ${names.length > 1 ? "all" : "both"} on ${many(shared.length, "picture")}. Only ${shown.words} there? Press U, then Delete, then tag him again.`);
  }

  /** From now on a saying speaks of the buck by his id, not as of a new one. */
  #isMade(saying, buck_id) {
    saying.said = { ...saying.said, new_buck: undefined, buck_id };
    saying.shown = { ...saying.shown, subject: `buck:${buck_id}`, buck_id };
    this.#wasSaid(buck_id);
  }

  #wasSaid(buck_id) {
    this.lastBucks = [buck_id, ...this.lastBucks.filter((b) => b !== buck_id)].slice(0, 9);
  }

  /** Takes every tag off frames. */
  untag(frames) {
    if (!frames.length) return Promise.resolve(null);
    const ids = frames.map((f) => f.frame);
    return this.#say(ids, "/sort/untag", () => ({ frames: ids }), `${many(ids.length, "picture")} untagged`, () => []);
  }

  undo = () => this.#say([], "/undo?soon=1", () => ({}), "undone"); // what then stands comes as news
  redo = () => this.#say([], "/redo?soon=1", () => ({}), "redone");

  /**
   * Says something of frames behind all that was said before. `apply` makes a frame's tags as they will be; until
   * the server has noted it, they may fall back. Of no frames, `words` go before what the server says it did.
   * @returns {Promise<any>}
   */
  #say(ids, address, body, words, apply = (tags) => tags) {
    for (const frame of this.#frames(ids)) {
      if (!frame.pending) frame.stood = frame.tags;
      frame.tags = apply(frame.tags);
    }
    this.#pending(ids, 1);
    sign("writing …");
    this.#waiting += 1;
    const done = this.#last.then(async () => {
      try {
        const answer = await ask(address, body());
        for (const frame of this.#frames(ids)) frame.stood = apply(frame.stood ?? []);
        showTurns(answer);
        if (!ids.length) sign(`${words}: ${answer.what}`, "done");
        else if (this.#waiting === 1) sign(`saved: ${words}`, "done");
        return answer;
      } catch (e) {
        sign("");
        alarm(ids.length ? `Not saved, and taken off again here: ${words}. ${e.message}.` : `${e.message}.`);
        for (const frame of this.#frames(ids)) frame.tags = frame.stood ?? [];
        if (e.status) this.#askSoon(ids);
        return null;
      } finally {
        this.#pending(ids, -1);
        this.#waiting -= 1;
      }
    });
    this.#last = done.catch(() => null);
    return done;
  }

  #frames(ids) {
    return ids.map((id) => this.#board.frames.get(id)).filter(Boolean);
  }

  /** Whether nothing was said of a frame since `asked`, so that the answer is not older than it. */
  #settled(id, asked) {
    const frame = this.#board.frames.get(id);
    return frame && !frame.pending && !(frame.noted > asked);
  }

  #pending(ids, step) {
    for (const frame of this.#frames(ids)) {
      frame.pending = (frame.pending ?? 0) + step;
      frame.noted = performance.now();
    }
    if (ids.length) this.#board.tell("tags", ids);
  }

  /** Asks soon what stands on frames that are shown here, and shows it; what is wanted meanwhile goes along. */
  #askSoon(ids) {
    for (const id of ids) this.#wanted.add(id);
    if (this.#soon) return;
    this.#soon = setTimeout(async () => {
      const here = [...this.#wanted].filter((id) => this.#board.frames.has(id));
      this.#wanted.clear();
      this.#soon = null;
      try {
        for (let at = 0; at < here.length; at += 5000) {
          const asked = performance.now();
          const answer = await ask("/sort/frames", { frames: here.slice(at, at + 5000) });
          const settled = Object.entries(answer.frames).filter(([id]) => this.#settled(id, asked));
          for (const [id, tags] of settled) this.#board.frames.get(id).tags = tags;
          this.#board.tell("tags", settled.map(([id]) => id));
        }
      } catch (e) {
        alarm(e.message);
      }
    }, SOON_MS);
  }
}
