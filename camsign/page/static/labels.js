// Names on a drawn map: moved aside where they would lie on one another, left out where there is no room
// by their mark: farther off, nobody could tell whose they are.

const [MOST, AIR] = [180, 3]; // so many names at most; room around each [pixels]
const MARK = -24; // a mark's middle lies so far above the baseline of its name's own place

/** Whether two boxes [left, top, right, bottom] overlap. */
const meet = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

const widths = new Map();
const pen = document.createElement("canvas").getContext("2d");

/** Half the width of a name, and the height of a line, as its style writes it. */
function sizeOf(text) {
  const { font, fontSize } = getComputedStyle(text);
  const key = `${font} ${text.textContent}`;
  if (!widths.has(key)) {
    pen.font = font;
    widths.set(key, pen.measureText(text.textContent).width);
  }
  return [widths.get(key) / 2 + AIR, parseFloat(fontSize) * 1.2];
}

/** Where a name may stand, from its own place [dx, dy], the best first. */
function waysOf(text, half, tall, level, mark) {
  const [wide, deep] = [Number(text.dataset.wide ?? 0), Number(text.dataset.deep ?? 0)];
  if (wide) return [[0, 0], [0, deep + 8 + tall], [half + wide / 2 + 6, deep / 2 + tall], [-half - wide / 2 - 6, deep / 2 + tall]];
  const [beside, side] = [level + tall / 2 - 3, half + mark + 1];
  const across = level < 0 ? level - mark - 6 : level + mark + tall;
  const corner = [beside - tall * 0.8, beside + tall * 0.8];
  return [[0, 0], [side, beside], [-side, beside], [0, across], ...corner.flatMap((dy) => [[side, dy], [-side, dy]]), ...[0, across].flatMap((dy) => [[half * 0.6, dy], [-half * 0.6, dy]])];
}

/** Boxes where no name is seen whole: off a map's edges, and beneath what lies over it. @param {Element[]} over */
export function covered(map, over) {
  const { left, top, width, height } = map.getBoundingClientRect();
  const far = 1e5;
  const edges = [[-far, -far, 0, far], [-far, -far, far, 0], [width, -far, far, far], [-far, height, far, far]];
  const boxes = over.map((one) => one.getBoundingClientRect()).filter((one) => one.width);
  return [...edges, ...boxes.map((one) => [one.left - left, one.top - top, one.right - left, one.bottom - top])];
}

/**
 * Places names, the weightier ones first.
 * @param {SVGTextElement[]} texts each with its middle at x and its baseline at y; one with the size of what it
 *   names (`data-wide`, `data-deep`, it stands above that) is set around it
 * @param {number[][]} marks boxes [left, top, right, bottom] that no name may cover
 * @param {{soft?: number[][], level?: number, mark?: number}} how `soft`: boxes of which a name covers as few as it can; `level`:
 *   how far below a name's own place its mark lies; `mark`: half a mark's width
 * @returns {number[][]} the marks and the boxes of the names
 */
export function spread(texts, marks = [], { soft = [], level = MARK, mark = 12 } = {}) {
  const taken = [...marks];
  texts.forEach((text, i) => {
    const best = i < MOST ? placed(text, taken, soft, [level, mark]) : null;
    text.setAttribute("visibility", best ? "visible" : "hidden");
    if (!best) return;
    taken.push(best.box);
    text.setAttribute("x", best.x.toFixed(1));
    text.setAttribute("y", best.y.toFixed(1));
  });
  return taken;
}

/**
 * The free place of a name that covers least; null where none is free.
 * @param {[number, number]} by the mark: how far below, half its width
 */
function placed(text, taken, soft, by) {
  const [x, y] = [Number(text.getAttribute("x")), Number(text.getAttribute("y"))];
  const [half, tall] = sizeOf(text);
  let best = null;
  for (const [dx, dy] of waysOf(text, half, tall, ...by)) {
    const at = { x: x + dx, y: y + dy };
    const box = [at.x - half, at.y - tall + 1, at.x + half, at.y + 5];
    if (taken.some((other) => meet(box, other))) continue;
    const covers = soft.filter((other) => meet(box, other)).length;
    if (!best || covers < best.covers) best = { ...at, box, covers };
    if (!covers) break;
  }
  return best;
}
