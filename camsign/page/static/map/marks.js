// Marks of sign as pieces of path, so that thousands of them are one element. A kind is told by its
// shape as well as by its color. Outlines and colors come with the land: paper has the same table.

const n = (v) => v.toFixed(1);

let MARKS = {};
export const KINDS = [];
export const PLURAL = {};

/** Takes in the table of marks that the land comes with. */
export function setMarks(table) {
  MARKS = table;
  KINDS.splice(0, KINDS.length, ...Object.keys(table).filter((kind) => kind !== "camera"));
  for (const kind of KINDS) {
    PLURAL[kind] = table[kind].plural;
    document.documentElement.style.setProperty(`--${kind}`, table[kind].dark);
  }
}

function circle(x, y, r) {
  const q = Math.round(r * 10) / 10; // one rounded radius, or the two halves do not meet in a circle
  return `M${n(x - q)} ${n(y)}a${q} ${q} 0 1 0 ${2 * q} 0a${q} ${q} 0 1 0 ${-2 * q} 0Z`;
}

function outlined(mark, x, y, r) {
  return (mark?.outlines ?? []).map((ring) => `M${ring.map(([east, north]) => `${n(x + east * r)} ${n(y - north * r)}`).join("L")}Z`).join("");
}

/** The mark of a kind of sign at a pixel. */
export function signMark(kind, x, y, r) {
  return outlined(MARKS[kind] ?? MARKS.trail, x, y, r);
}

/** An arrow from a mark along a bearing [deg true], its shaft and head. */
export function arrow(x, y, bearing, from, to) {
  const a = (bearing * Math.PI) / 180;
  const [dx, dy] = [Math.sin(a), -Math.cos(a)];
  const [tx, ty] = [x + dx * to, y + dy * to];
  const side = (turn) => {
    const b = a + Math.PI + turn;
    return `${n(tx + Math.sin(b) * 6)} ${n(ty - Math.cos(b) * 6)}`;
  };
  return `M${n(x + dx * from)} ${n(y + dy * from)}L${n(tx)} ${n(ty)}M${side(0.45)}L${n(tx)} ${n(ty)}L${side(-0.45)}`;
}

/** A camera, with a wedge to where it looks. */
export function cameraMark(x, y) {
  return outlined(MARKS.camera, x, y, 9);
}

export const wedge = (x, y, bearing, r = 34) => fan([x, y], bearing, 24, r);

/** A piece of a round, `half` degrees to either side of a bearing. @param {number[]} middle */
export function fan(middle, toward, half, r) {
  const [x, y] = middle;
  if (half >= 180) return `M${n(x - r)} ${n(y)}a${n(r)} ${n(r)} 0 1 0 ${n(2 * r)} 0a${n(r)} ${n(r)} 0 1 0 ${n(-2 * r)} 0Z`;
  const at = (deg) => {
    const a = (deg * Math.PI) / 180;
    return `${n(x + Math.sin(a) * r)} ${n(y - Math.cos(a) * r)}`;
  };
  return `M${n(x)} ${n(y)}L${at(toward - half)}A${n(r)} ${n(r)} 0 ${half > 90 ? 1 : 0} 1 ${at(toward + half)}Z`;
}

const PLACES = {
  stand: (x, y) => `M${n(x - 7)} ${n(y + 8)}L${n(x - 3)} ${n(y - 8)}H${n(x + 3)}L${n(x + 7)} ${n(y + 8)}M${n(x - 5)} ${n(y + 1)}H${n(x + 5)}`,
  parking: (x, y) => `M${n(x - 8)} ${n(y - 8)}h16v16h-16ZM${n(x - 3)} ${n(y + 5)}v-10h4a3 3 0 0 1 0 6h-4`,
  water: (x, y) => `M${n(x)} ${n(y - 9)}C${n(x + 7)} ${n(y)} ${n(x + 7)} ${n(y + 8)} ${n(x)} ${n(y + 8)}S${n(x - 7)} ${n(y)} ${n(x)} ${n(y - 9)}Z`,
  food: (x, y) => `M${n(x)} ${n(y + 9)}V${n(y - 9)}M${n(x)} ${n(y - 2)}l-6 -5M${n(x)} ${n(y - 2)}l6 -5M${n(x)} ${n(y + 4)}l-6 -5M${n(x)} ${n(y + 4)}l6 -5`,
};

export function placeMark(kind, x, y) {
  return (PLACES[kind] ?? ((a, b) => circle(a, b, 6)))(x, y);
}
