// The box: type a name or word, take the first that fits with Enter. A name that is like none known
// makes a new buck; where one is near, it comes first.

import { dialog, h, mark, many } from "../dom.js";
import { get } from "../api.js";
import { shownBuck } from "./who.js";

const COUNTED = /^(\d{1,3})\s+(\S.*)$/;
const MOST = 8;
// As near as the command line's "did you mean"; a word, more alike than a name.
const NEAR = { buck: 0.6, word: 0.75 };
const FEW = 3;

export class Combobox {
  #board;
  #choose;
  #known = { bucks: [], words: [] };
  #loading = null;
  #options = [];
  #at = 0;
  #lately = []; // what was taken from the box, the last first: it comes first among equals

  constructor(board, choose) {
    this.#board = board;
    this.#choose = choose;
    this.#make();
    this.#load();
  }

  /** Asks for all names and words; what was known before serves meanwhile. */
  #load() {
    this.#loading = get("/sort/words").then((known) => {
      this.#known = known;
    });
    return this.#loading;
  }

  #make() {
    this.input = h("input", {
      id: "box-input", type: "text", autocomplete: "off", spellcheck: "false", maxlength: 80, dir: "auto",
      role: "combobox", "aria-expanded": "true", "aria-controls": "box-options", "aria-autocomplete": "list",
      oninput: () => this.#find(), onkeydown: (event) => this.#key(event),
    });
    this.list = h("ul", { id: "box-options", role: "listbox", "aria-label": "Who or what" });
    this.words = h("p", { class: "quiet" });
    this.sex = choice("Sex", "box-sex", ["", "female", "male"]);
    this.stage = choice("Age", "box-stage", ["", "juvenile", "subadult", "adult"], ["", "fawn", "yearling", "grown"]);
    this.dialog = dialog("box", "box-title", "Who or what is it?",
      h("label", { for: "box-input" }, "A name, a word, or a number and a word such as ", h("q", {}, "3 does")),
      this.input,
      this.list,
      h("fieldset", {}, h("legend", {}, "Only for animals without a name"), this.sex.label, this.stage.label),
      this.words);
    document.body.append(this.dialog);
  }

  async open() {
    this.input.value = "";
    this.sex.select.value = "";
    this.stage.select.value = "";
    this.words.textContent = `Enter tags ${many(this.#board.target.length, "picture")} and goes on; Shift+Enter stays.`;
    this.#find();
    this.dialog.showModal();
    this.input.focus();
    await this.#load();
    if (this.dialog.open) this.#find();
  }

  #find() {
    const typed = this.input.value.trim();
    const counted = COUNTED.exec(typed);
    const text = (counted ? counted[2] : typed).toLocaleLowerCase();
    const count = counted ? Number(counted[1]) : 1;
    const fits = (name) => rank(name.toLocaleLowerCase(), text);
    const bucks = this.#known.bucks.map((one) => ({ rank: fits(one.buck), buck: one }));
    const words = this.#known.words.map((word) => ({ rank: Math.max(fits(word), fits(`${word}s`)), word, count }));
    const found = [...(counted ? [] : bucks), ...words].filter((o) => o.rank > 0);
    const since = (o) => (this.#lately.indexOf(keyOf(o)) + 1 || 1e6);
    found.sort((a, b) => b.rank - a.rank || since(a) - since(b));
    this.#options = found.length || !text ? found.slice(0, MOST) : this.#near(text, counted ? words : [...bucks, ...words]);
    const exact = bucks.some((o) => o.buck.buck.toLocaleLowerCase() === typed.toLocaleLowerCase());
    if (typed && !exact && !counted) this.#options.push({ fresh: typed });
    this.#at = 0;
    this.#show();
  }

  /** Those whose name is spelled much like what was typed, the likest first. */
  #near(text, all) {
    const near = all.map((o) => ({ ...o, near: alike(text, (o.buck?.buck ?? o.word).toLocaleLowerCase()) }));
    return near.filter((o) => o.near >= (o.buck ? NEAR.buck : NEAR.word)).sort((a, b) => b.near - a.near).slice(0, FEW);
  }

  #show() {
    this.list.replaceChildren(
      ...this.#options.map((option, i) =>
        h(
          "li",
          { id: `box-${i}`, role: "option", "aria-selected": String(i === this.#at), onclick: () => this.#take(option, false) },
          ...words(option),
        ),
      ),
    );
    if (this.#options.length) this.input.setAttribute("aria-activedescendant", `box-${this.#at}`);
    else this.input.removeAttribute("aria-activedescendant");
  }

  #key(event) {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step && this.#options.length) {
      event.preventDefault();
      this.#at = (this.#at + step + this.#options.length) % this.#options.length;
      this.#show();
    } else if (event.key === "Enter") {
      event.preventDefault();
      this.#loading.then(() => this.dialog.open && this.#options[this.#at] && this.#take(this.#options[this.#at], event.shiftKey));
    }
  }

  #take(option, stay) {
    this.dialog.close();
    this.#lately = [keyOf(option), ...this.#lately.filter((key) => key !== keyOf(option))];
    if (option.buck) this.#choose({ said: { buck_id: option.buck.buck_id }, shown: shownBuck(option.buck) }, stay);
    else if (option.fresh) this.#choose({ said: { new_buck: option.fresh }, shown: shownBuck({ buck_id: `new ${option.fresh}`, buck: option.fresh }) }, stay);
    else this.#takeWord(option, stay);
  }

  #takeWord(option, stay) {
    const said = { said: option.word, count: option.count };
    if (this.sex.select.value) said.sex = this.sex.select.value;
    if (this.stage.select.value) said.stage = this.stage.select.value;
    const kind = { nothing: "nothing", empty: "nothing", person: "people", vehicle: "people", unknown: "unknown" }[option.word] ?? "animal";
    const named = (stage) => [stage, said.sex, option.word].filter(Boolean).join(" ");
    const words = named(said.stage && this.stage.select.selectedOptions[0].text);
    this.#choose({ said, shown: { subject: `said:${named(said.stage)}`, words, mark: kind, count: option.count, travel_deg: null, unsure: false } }, stay);
  }
}

/** How well a name fits what was typed: 0 not at all; the beginning of a word is better than its middle. */
function rank(name, text) {
  if (!text) return 1;
  const at = name.indexOf(text);
  if (at < 0) return 0;
  if (at === 0) return name === text ? 4 : 3;
  return /[\s-]/.test(name[at - 1]) ? 2 : 1;
}

/** How alike two texts are, 0 to 1: twice the letters of their longest common runs over all letters. */
function alike(a, b) {
  return (2 * common(a, b)) / (a.length + b.length || 1);
}

function common(a, b) {
  let [long, at, bt] = [0, 0, 0];
  for (let i = 0; i < a.length; i++) {
    for (let j = 0; j < b.length; j++) {
      let n = 0;
      while (i + n < a.length && j + n < b.length && a[i + n] === b[j + n]) n++;
      if (n > long) [long, at, bt] = [n, i, j];
    }
  }
  return long && long + common(a.slice(0, at), b.slice(0, bt)) + common(a.slice(at + long), b.slice(bt + long));
}

const keyOf = (option) => option.buck?.buck_id ?? option.word ?? option.fresh;

function words(option) {
  const asks = option.near ? "did you mean " : "";
  if (option.buck) return [mark("buck"), asks, h("bdi", {}, option.buck.buck)];
  if (option.fresh) return [mark("buck"), "a new buck: ", h("bdi", {}, option.fresh)];
  return [mark("animal"), `${asks}${option.count > 1 ? `${option.count} × ` : ""}${option.word}`];
}

function choice(title, id, values, words = values) {
  const select = h("select", { id }, ...values.map((v, i) => h("option", { value: v }, words[i] || "don't know")));
  return { select, label: h("label", {}, title, " ", select) };
}
