// What lies where, placed on the plane, and which of it a span of days shows.

import { setMarks } from "./marks.js";
import { stretch, toPlane } from "./plane.js";
import { get } from "../api.js";

const DAY = 86400000;
const dayNumber = (iso) => Math.round(Date.parse(`${iso.slice(0, 10)}T00:00:00Z`) / DAY);
export const dayText = (number) => new Date(number * DAY).toISOString().slice(0, 10);

export class Land {
  cameras = [];
  sign = [];
  areas = [];
  places = [];
  seasons = [];
  season = null;
  season_start = [7, 1];
  units = "imperial";
  /** @type {Record<string, Record<string, any>>} */
  forms = {};
  /** @type {[number, number] | null} */
  home = null;
  /** @type {{ href: string, lat: number, lon: number, box: number[] } | null} */
  relief = null;

  async load() {
    const got = await get("/map/ground");
    Object.assign(this, got);
    setMarks(got.marks);
    for (const one of [...this.cameras, ...this.sign]) [one.x, one.y] = toPlane(one.lat, one.lon);
    for (const one of this.cameras) {
      one.first = dayNumber(one.hung);
      one.end = one.until ? dayNumber(one.until) : Infinity;
    }
    for (const one of this.sign) {
      for (const look of one.looks) Object.assign(look, { a: dayNumber(look.from), b: dayNumber(look.to), day: dayNumber(look.seen) });
    }
    for (const one of this.areas) placeArea(one);
    for (const one of this.places) one.at = one.points.map(([lon, lat]) => toPlane(lat, lon));
    this.byId = new Map([...this.cameras, ...this.sign, ...this.areas, ...this.places].map((one) => [one.id, one]));
    return this;
  }

  /** The first and last day number of a season. */
  daysOf(year) {
    const start = (y) => Math.round(Date.UTC(y, this.season_start[0] - 1, this.season_start[1]) / DAY);
    return [start(year), start(year + 1) - 1];
  }

  /** The days on which anything is known, as numbers. */
  span() {
    let [low, high] = [Infinity, -Infinity];
    for (const one of this.sign) {
      for (const look of one.looks) [low, high] = [Math.min(low, look.a), Math.max(high, look.day)];
    }
    for (const one of this.cameras) {
      low = Math.min(low, one.first);
      high = Math.max(high, Number.isFinite(one.end) ? one.end : one.first);
    }
    return low <= high ? [low, high] : this.daysOf(this.season ?? new Date().getFullYear());
  }

  /** Signs that may have been made or were seen, and cameras that hung, from one day to another. */
  within(first, last) {
    return {
      sign: this.sign.filter((one) => one.looks.some((look) => (look.a <= last && look.b >= first) || (look.day >= first && look.day <= last))),
      cameras: this.cameras.filter((one) => one.first <= last && one.end >= first),
    };
  }

  /** The box of everything, [x0, y0, x1, y1], or null. */
  box() {
    const points = [...this.cameras, ...this.sign].map((one) => [one.x, one.y]);
    for (const one of this.areas) points.push(...one.around);
    for (const one of this.places) points.push(...one.at);
    return boxOf(points);
  }
}

export function boxOf(points) {
  if (!points.length) return null;
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  }
  return box;
}

/** A circle on the ground as corners on the plane: since angles stay true there, it is one there too. */
export function circleOn(lat, lon, radius_m, n = 72) {
  const [x, y] = toPlane(lat, lon);
  const r = radius_m * stretch(lat);
  return Array.from({ length: n }, (_, i) => {
    const a = (2 * Math.PI * i) / n;
    return [x + r * Math.sin(a), y + r * Math.cos(a)];
  });
}

function placeArea(one) {
  one.on = one.rings ? one.rings.map((ring) => ring.map(([lon, lat]) => toPlane(lat, lon))) : [circleOn(one.lat, one.lon, one.radius_m)];
  one.around = one.on.flat();
  [one.x, one.y] = toPlane(one.lat, one.lon);
}
