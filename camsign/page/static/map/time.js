// The span of days that the map shows: two handles over how much sign was seen in each week.

import { $, dayWords as inWords, h, many, s } from "../dom.js";
import { dayText } from "./land.js";

const MONTH = new Intl.DateTimeFormat("en", { month: "short", timeZone: "UTC" });
const WORD_PX = 34; // of a month's name, with some air
export const dayWords = (number) => inWords(dayText(number));

export class Time {
  low = 0;
  high = 0;
  first = 0;
  last = 0;

  constructor(land, changed) {
    this.land = land;
    this.changed = changed;
    $("#season").addEventListener("change", () => this.choose($("#season").value));
    for (const id of ["first", "last"]) $(`#${id}`).addEventListener("input", () => this.#slid(id));
  }

  /** Offers the seasons that are known; keeps what was chosen. */
  offer() {
    const select = $("#season");
    const kept = select.value;
    select.replaceChildren(...this.land.seasons.map((year) => h("option", { value: year }, `${year}`)), h("option", { value: "all" }, "all of them"));
    const wish = kept || `${this.land.season ?? "all"}`;
    select.value = [...select.options].some((o) => o.value === wish) ? wish : "all";
    if (!kept) this.choose(select.value);
    else this.#show();
  }

  choose(value) {
    [this.low, this.high] = value === "all" ? this.land.span() : this.land.daysOf(Number(value));
    [this.first, this.last] = [this.low, this.high];
    for (const id of ["first", "last"]) Object.assign($(`#${id}`), { min: this.low, max: this.high });
    $("#first").value = this.first;
    $("#last").value = this.last;
    this.#show();
  }

  /** Shows the season of a sign or camera that lies outside the days shown; says so, else gives "". */
  reveal(one) {
    const day = one.looks ? one.looks.at(-1).day : one.camera ? one.first : null;
    const { sign, cameras } = this.land.within(this.first, this.last);
    if (day === null || sign.includes(one) || cameras.includes(one)) return "";
    const year = this.land.seasons.find((y) => day >= this.land.daysOf(y)[0] && day <= this.land.daysOf(y)[1]);
    $("#season").value = year === undefined ? "all" : `${year}`;
    this.choose($("#season").value);
    return `Map switched to ${year === undefined ? "all seasons" : `season ${year}`}: this ${one.camera ? "camera went up" : `${one.kind} was seen`} ${dayWords(day)}`;
  }

  #slid(id) {
    const value = Number($(`#${id}`).value);
    this[id] = value;
    if (this.first > this.last) {
      if (id === "first") this.first = this.last;
      else this.last = this.first;
      $(`#${id}`).value = this[id];
    }
    this.#show();
  }

  #show() {
    for (const id of ["first", "last"]) $(`#${id}`).setAttribute("aria-valuetext", dayWords(this[id]));
    // Where both handles meet at the end, the lower one must stay within reach.
    $("#first").style.zIndex = this.first > (this.low + this.high) / 2 ? 2 : 1;
    $("#last").style.zIndex = this.first > (this.low + this.high) / 2 ? 1 : 2;
    this.#drawWeeks();
    this.#drawMonths();
    this.changed(this.first, this.last);
  }

  words(signs, cameras) {
    const days = this.first === this.last ? dayWords(this.first) : `${dayWords(this.first)} to ${dayWords(this.last)}`;
    $("#span").textContent = `${days}: ${signs ? many(signs, "piece") + " of sign" : "no sign"} made or seen then, ${many(cameras, "camera")}.`;
  }

  /** Names the months beneath the slider, as many as there is room for; years where they are many. */
  #drawMonths() {
    const wide = Math.max(1, this.high - this.low + 1);
    const room = Math.max(2, Math.floor(($("#months").clientWidth || 480) / WORD_PX));
    const step = [1, 2, 3, 6, 12, 24, 48, 120].find((n) => wide / 30.4 / n <= room) ?? 240;
    const [from, made] = [new Date(this.low * 86400000), []];
    for (let i = 0; ; i += 1) {
      const at = new Date(Date.UTC(from.getUTCFullYear(), i, 1));
      const share = (at.getTime() / 86400000 - this.low) / wide;
      if (share >= 0.99) break;
      if (share < 0.01 || i % step) continue;
      made.push(h("span", {}, step < 12 ? MONTH.format(at) : `${at.getUTCFullYear()}`));
      made.at(-1).style.left = `${(100 * share).toFixed(1)}%`;
    }
    $("#months").replaceChildren(...made);
  }

  #drawWeeks() {
    const wide = Math.max(1, this.high - this.low + 1);
    const weeks = new Map();
    for (const one of this.land.sign) {
      for (const look of one.looks) {
        if (look.day < this.low || look.day > this.high) continue;
        const week = Math.floor((look.day - this.low) / 7);
        weeks.set(week, (weeks.get(week) ?? 0) + 1);
      }
    }
    const most = Math.max(1, ...weeks.values());
    const svg = $("#weeks");
    svg.setAttribute("viewBox", `0 0 ${wide} 34`);
    const bars = [...weeks].map(([week, n]) => {
      const day = this.low + week * 7;
      const tall = 3 + (29 * n) / most;
      const within = day + 6 >= this.first && day <= this.last;
      return s("rect", { class: within ? "week in" : "week", x: week * 7, width: 6, y: 34 - tall, height: tall });
    });
    const from = this.first - this.low;
    const to = this.last - this.low + 1;
    svg.replaceChildren(...bars, s("rect", { class: "outside", x: 0, width: from, y: 0, height: 34 }), s("rect", { class: "outside", x: to, width: Math.max(0, wide - to), y: 0, height: 34 }));
  }
}
