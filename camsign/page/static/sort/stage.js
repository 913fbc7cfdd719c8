// The large picture of where the user is, and its facts.

import { $, h, dayOf, dayWords, clockOf, compass, lightWords, mark, many } from "../dom.js";
import { whyLost } from "../api.js";

const PLAYED = new Set(["mp4", "mov"]);
const SHOWN = new Set(["jpeg", "png", "gif"]);


export class Stage {
  #board;
  #view = $("#view");
  #facts = $("#facts");
  #shown = null;

  constructor(board) {
    this.#board = board;
    board.on("cursor", () => this.show());
    board.on("tags", (ids) => {
      if (this.#shown && ids.includes(this.#shown.frame)) this.#tell(this.#shown);
    });
  }

  show() {
    const frame = this.#board.cursor;
    if (!frame || frame === this.#shown) return;
    this.#shown = frame;
    this.#tell(frame);
    if (SHOWN.has(frame.kind)) this.#picture(frame);
    else if (PLAYED.has(frame.kind)) this.#view.replaceChildren(h("video", { src: `/picture/${frame.frame}`, controls: true, muted: true }));
    else this.#view.replaceChildren(h("p", { class: "lost" }, `A browser cannot show ${frame.kind}. `, h("a", { href: `/picture/${frame.frame}` }, "Save the file")));
    this.#fetchAhead();
  }

  #picture(frame) {
    const small = h("img", { src: `/thumb/${frame.frame}`, alt: words(frame), class: "small" });
    this.#view.replaceChildren(small);
    const large = new Image();
    large.src = `/picture/${frame.frame}`;
    large.alt = small.alt;
    large.decode().then(
      () => this.#shown === frame && this.#view.replaceChildren(large),
      async () => {
        const why = await whyLost(large.src);
        if (this.#shown === frame) this.#view.append(h("figcaption", { class: "lost" }, why));
      },
    );
  }

  #fetchAhead() {
    const next = this.#board.frameAt(1);
    if (next && SHOWN.has(next.kind)) new Image().src = `/picture/${next.frame}`;
  }

  #tell(frame) {
    const nth = `${frame.place + 1} of ${frame.strip.frames.length}`;
    const lines = [
      h("p", {}, h("strong", {}, frame.strip.camera), ` ${frame.at ? `${dayOf(frame.at)} ${clockOf(frame.at, true)}` : "no time"}`),
      h("p", { class: "quiet" }, [nth, lightWords(frame.light)].filter(Boolean).join(" · ")),
      frame.shown && h("p", { class: "quiet" }, `camera said ${frame.shown.slice(0, 10) === frame.at.slice(0, 10) ? "" : `${dayWords(frame.shown)} `}${clockOf(frame.shown)}${frame.why ? `, ${frame.why}` : ""}`),
      frame.doubt && h("p", { class: "doubt" }, frame.doubt),
      frame.tags.length > 0 && h("p", { class: "tags" }, ...frame.tags.map(chip)),
    ];
    this.#facts.replaceChildren(...lines.filter(Boolean));
  }
}

/** Camera and time of a frame. */
export function words(frame) {
  return `${frame.strip.camera}, ${frame.at ? `${dayOf(frame.at)} ${clockOf(frame.at, true)}` : "no time"}`;
}

function chip(tag) {
  const more = [
    tag.count > 1 && many(tag.count, "animal"),
    tag.travel_deg !== null && `to ${compass(tag.travel_deg)}`,
    tag.unsure && "not sure",
  ].filter(Boolean);
  return h("span", { class: "chip" }, mark(tag.mark), h("bdi", {}, tag.words), more.length > 0 && h("span", { class: "quiet" }, ` ${more.join(", ")}`));
}
