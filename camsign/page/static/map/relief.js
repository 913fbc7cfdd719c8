// Where the pictures of the ground lie on the screen, and in which light they are drawn.

import { stretch, toPlane } from "./plane.js";

const SHARP_PX = 2000; // a picture has so many pixels on its longer side
const LEAST_M = 60;
const REST_MS = 150;

/** Gives an image's attributes for a view; the picture is drawn for a light or a dark page. */
export function reliefOn(view, relief) {
  const [x, y] = toPlane(relief.lat, relief.lon);
  const long = stretch(relief.lat);
  const [west, south, east, north] = relief.box.map((m) => m * long);
  const [left, top] = view.toScreen(x + west, y + north);
  const [right, bottom] = view.toScreen(x + east, y + south);
  const on = window.matchMedia("(prefers-color-scheme: light)").matches ? "light" : "dark";
  return { href: `${relief.href}&on=${on}`, x: left, y: top, width: right - left, height: bottom - top };
}

/** The ground of what is shown, drawn anew once the view rests, where the whole picture would be coarse. */
export class Closer {
  #shown = null;
  #asked = "";
  #timer = 0;

  constructor(view) {
    this.view = view;
  }

  /** Gives the image of the ground around the view, if it is there. */
  on(whole) {
    const { width, height } = reliefOn(this.view, whole);
    if (Math.max(width, height) * devicePixelRatio <= SHARP_PX) return null;
    const box = boxAround(this.view, whole);
    const href = whole.href.replace(/box=[^&]*/, `box=${box.join(",")}`);
    const { href: full } = reliefOn(this.view, { ...whole, href });
    if (full !== this.#asked) this.#ask(full, { ...whole, href, box });
    return this.#shown && reliefOn(this.view, this.#shown);
  }

  #ask(full, relief) {
    this.#asked = full;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => {
      const image = new Image();
      image.onload = () => {
        if (this.#asked !== full) return;
        this.#shown = relief;
        this.view.soon();
      };
      image.src = full;
    }, REST_MS);
  }
}

/** A box [m] that holds the view, the same for views near it, and so often one that was drawn before. */
function boxAround(view, whole) {
  const [x, y] = toPlane(whole.lat, whole.lon);
  const long = stretch(whole.lat);
  const onGround = (px, py) => [(view.toPlane(px, py)[0] - x) / long, (view.toPlane(px, py)[1] - y) / long];
  const [[left, bottom], [right, top]] = [onGround(0, view.height), onGround(view.width, 0)];
  const step = 2 ** (Math.ceil(4 * Math.log2(Math.max(right - left, top - bottom, LEAST_M))) / 4) / 4;
  const down = (m) => Math.floor(m / step) * step;
  const up = (m, from) => Math.max(Math.ceil(m / step) * step, from + LEAST_M);
  const [west, south] = [down(left), down(bottom)];
  const [w, s, e, n] = whole.box;
  return [Math.max(w, west), Math.max(s, south), Math.min(e, up(right, west)), Math.min(n, up(top, south))].map(Math.round);
}
