// Where the picture of the ground lies on the screen, and in which light it is drawn.

import { stretch, toPlane } from "./plane.js";

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
