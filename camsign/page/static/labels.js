// Names on a drawn map: moved aside where they would lie on one another, left out where there is no room.

const [WIDE, TALL] = [7.4, 15]; // of a letter and of a line [pixels], with some air

/** Whether two boxes [left, top, right, bottom] overlap. */
const meet = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

/**
 * Places names, the weightier ones first.
 * @param {SVGTextElement[]} texts each with its middle at x and its baseline at y
 * @param {number[][]} marks boxes [left, top, right, bottom] that no name may cover
 * @param {{soft?: number[][], level?: number}} how `soft`: boxes that a name covers only where it must; `level`:
 *   how far below a name's own place its mark lies, to set it beside that first
 * @returns {number[][]} the marks and the boxes of the names
 */
export function spread(texts, marks = [], { soft = [], level = 0 } = {}) {
  const taken = [...marks];
  for (const text of texts) {
    const [x, y] = [Number(text.getAttribute("x")), Number(text.getAttribute("y"))];
    const half = (text.textContent.length * WIDE) / 2;
    const beside = level ? [[-half - 18, level], [half + 18, level], [0, 2 * level]] : [];
    const ways = [[0, 0], ...beside, [0, -42], [half + 18, -20], [-half - 18, -20], [0, 15], [0, -57], [half + 18, 2], [-half - 18, 2], [half + 18, -38], [-half - 18, -38], [0, 30], [half + 34, -20], [-half - 34, -20]];
    const boxes = ways.map(([dx, dy]) => [x + dx - half, y + dy - TALL + 3, x + dx + half, y + dy + 4]);
    const clear = (...others) => boxes.findIndex((box) => !others.some((some) => some.some((other) => meet(box, other))));
    const best = clear(taken, soft);
    const free = best < 0 ? clear(taken) : best;
    text.setAttribute("visibility", free < 0 ? "hidden" : "visible");
    if (free < 0) continue;
    taken.push(boxes[free]);
    text.setAttribute("x", (x + ways[free][0]).toFixed(1));
    text.setAttribute("y", (y + ways[free][1]).toFixed(1));
  }
  return taken;
}
