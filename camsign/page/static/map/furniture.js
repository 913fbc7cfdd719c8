// The scale bar in the logbook's own units.

import { $, s } from "../dom.js";
import { stretch, toLatLon } from "./plane.js";

const STEPS = {
  metric: [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000, 100000].map((m) => [m, m < 1000 ? `${m} m` : `${m / 1000} km`]),
  imperial: [
    ...[1, 2, 5, 10, 20, 50, 100, 200, 440].map((yd) => [yd * 0.9144, `${yd} yd`]),
    ...[0.5, 1, 2, 5, 10, 20, 50, 100].map((mi) => [mi * 1609.344, `${mi} mi`]),
  ],
};

/** Sets the bar, whose length is that on the ground at the middle of the sheet; gives it on the plane. */
export function drawScale(view, units) {
  const [lat] = toLatLon(view.x, view.y);
  const perPixel = 1 / (view.k * stretch(lat));
  const steps = STEPS[units] ?? STEPS.imperial;
  const [m, words] = [...steps].reverse().find(([length]) => length / perPixel <= Math.min(190, view.width / 3)) ?? steps[0];
  const bar = $("#bar");
  bar.style.width = `${(m / perPixel).toFixed(1)}px`;
  bar.dataset.meters = m;
  $("#bar-words").textContent = words;
  return m * stretch(lat);
}

/** A quiet grid, one scale bar wide, that moves with the land. `step`: the bar on the plane. */
export function drawGrid(view, layer, step, [ox, oy]) {
  const [x0, y1] = view.toPlane(0, 0);
  const [x1, y0] = view.toPlane(view.width, view.height);
  let d = "";
  for (let x = ox + Math.ceil((x0 - ox) / step) * step; x < x1; x += step) d += `M${Math.round(view.toScreen(x, y0)[0])} 0V${view.height}`;
  for (let y = oy + Math.ceil((y0 - oy) / step) * step; y < y1; y += step) d += `M0 ${Math.round(view.toScreen(x0, y)[1])}H${view.width}`;
  layer.replaceChildren(s("path", { class: "grid-line", d }));
}

/** A length in words, in the logbook's own units. */
export function lengthWords(m, units) {
  if (units === "metric") return m < 1000 ? `${Math.round(m)} m` : `${(m / 1000).toFixed(1)} km`;
  const yd = m / 0.9144;
  return yd < 880 ? `${Math.round(yd)} yd` : `${(m / 1609.344).toFixed(1)} mi`;
}

/** A trunk, a bed or a height in words. */
export function smallWords(m, units) {
  const value = units === "metric" ? m * 100 : m / 0.0254;
  return `${value < 10 ? Number(value.toFixed(1)) : Math.round(value)} ${units === "metric" ? "cm" : "in"}`;
}
