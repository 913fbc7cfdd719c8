// The stands beside the map, one tap to why, and the card for the pocket that is printed.

import { h, s } from "../dom.js";

// A shape beside the word, so that nobody has to tell colors apart.
const SHAPES = {
  clean: "M1.5 6.5 4.8 10 10.5 2",
  risky: "M6 1.2 11 10.6H1ZM6 4.4v3",
  blown: "M2 2 10 10M10 2 2 10",
};

function scented(word, what, words) {
  if (!word) return h("span", {}, `${what}: can't tell`);
  return h("span", { class: `scent ${word}` }, s("svg", { viewBox: "0 0 12 12", "aria-hidden": "true" }, s("path", { d: SHAPES[word] })), `${what} ${words}`);
}

/** One stand in the list; `open`: with why and the card. */
export function standRow(row, open, { toggle, print, going }) {
  const id = `why-${row.id}`;
  const head = h("button", { type: "button", class: "head", "aria-expanded": String(open), "aria-controls": id, onclick: () => toggle(row.id) },
    h("span", { class: "rank" }, row.rank ?? ""),
    h("span", { class: "name", dir: "auto" }, row.stand),
    h("span", { class: "odds" }, row.odds),
    h("span", { class: "marks" }, row.sit && h("strong", {}, "Sit here"), scented(row.scent, "scent", row.scent_words), row.way_in && scented(row.way_in_scent, "scent walking in", row.way_in_words)));
  return h("li", { class: open ? "open" : "", data: { id: row.id } }, head, h("div", { id, class: "why", hidden: !open }, open && opened(row, print, going)));
}

function opened(row, print, going) {
  const facts = [
    ["Could be", row.range],
    ["Who", row.who],
    ["Comes", row.comes_at && `around ${row.comes_at}${row.from ? ` from the ${row.from}` : ", from any side"}`],
    ["Be in by", `${row.be_in_by}, and stay to ${row.until}`],
    ["Way in", row.way_in ?? "none drawn to it"],
    ["Thermals", airWords(row)],
    ["Too close to call with", row.tied.join(", ")],
  ].filter(([, words]) => words);
  return [
    h("dl", {}, facts.map(([name, words]) => [h("dt", {}, name), h("dd", {}, words)])),
    h("h3", {}, "Why"),
    h("ul", {}, row.why.map((line) => h("li", {}, capital(line)))),
    h("button", { type: "button", class: "print", onclick: () => going(row) }, "I'll sit here"),
    h("button", { type: "button", class: "print", onclick: () => print(row) }, "Print its card ", h("kbd", {}, "P")),
  ];
}

function airWords(row) {
  if (row.turns) return row.turns === row.be_in_by ? "stronger than the wind all sit" : `stronger than the wind from ${row.turns}`;
  return row.shade ? `weaker than the wind; your stand is in shade from ${row.shade}` : null;
}

/** The card for the pocket: black on white, one page. */
export function pocketCard(answer, row, wind) {
  const lines = [
    ["Be in by", row.be_in_by],
    ["Stay to", row.until],
    ["Way in", row.way_in ? `${row.way_in} (scent ${row.way_in_words ?? "can't tell"})` : "none drawn"],
    ["Near a bed", row.close],
    ["If he comes", row.comes_at ? `look for him around ${row.comes_at}${row.from ? `, from the ${row.from}, headed ${row.going}` : ", from any side"}` : "can't tell"],
    ["Who", row.who ?? "no one known"],
    ["Chance", `${row.odds} (${row.range})`],
    ["Wind", wind],
    ["Your scent", row.scent ? `${row.scent_words}: ${row.scent_odds} it reaches his bed or trail` : "can't tell"],
    ["Thermals", answer.ground ? airWords(row) ?? "weaker than the wind" : "not counted (no elevation file)"],
    [answer.part === "morning" ? "Sunrise" : "Sunset", answer.sun],
  ].filter(([, words]) => words);
  return [
    h("header", {}, h("p", {}, `${answer.day}, ${answer.part} sit`), h("h2", { dir: "auto" }, row.stand)),
    h("dl", {}, lines.map(([name, words]) => [h("dt", {}, name), h("dd", {}, words)])),
    h("p", { class: "leave" }, `Leave, or don't go in, if the wind isn't ${wind.split(",")[0]}.`),
    h("ul", {}, answer.cautions.map((line) => h("li", {}, `${capital(line)}.`))),
  ];
}

export const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);
