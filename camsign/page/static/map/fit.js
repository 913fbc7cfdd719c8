// A picture laid onto the plane by pins: [x, y] of the picture to [X, Y] of the plane, by least squares.

/**
 * Gives {a, b, c, d, e, f}: X = a x + c y + e, Y = b x + d y + f; or null with fewer than two pins apart.
 * Two or three pins turn, shift and scale the picture, which any map on a true-angled plane needs; from four on
 * it may also be sheared, for scans and photographs. `pins`: [[x, y, X, Y]].
 */
export function fitPins(pins) {
  return (pins.length >= 4 && affine(pins)) || similarity(pins);
}

function similarity(pins) {
  const n = pins.length;
  if (n < 2) return null;
  const [mx, my, mX, mY] = [0, 1, 2, 3].map((i) => pins.reduce((sum, pin) => sum + pin[i], 0) / n);
  let [p, q, size] = [0, 0, 0];
  for (const [x, y, X, Y] of pins) {
    // The picture's y runs downwards: it is turned over first.
    const [u, v, U, V] = [x - mx, -(y - my), X - mX, Y - mY];
    p += u * U + v * V;
    q += u * V - v * U;
    size += u * u + v * v;
  }
  if (size < 1) return null;
  [p, q] = [p / size, q / size];
  const [a, b, c, d] = [p, q, q, -p];
  return { a, b, c, d, e: mX - a * mx - c * my, f: mY - b * mx - d * my };
}

function affine(pins) {
  const n = pins.length;
  const [mx, my, mX, mY] = [0, 1, 2, 3].map((i) => pins.reduce((sum, pin) => sum + pin[i], 0) / n);
  const s = { xx: 0, xy: 0, yy: 0, xX: 0, yX: 0, xY: 0, yY: 0 };
  for (const [x, y, X, Y] of pins) {
    const [u, v, U, V] = [x - mx, y - my, X - mX, Y - mY];
    s.xx += u * u;
    s.xy += u * v;
    s.yy += v * v;
    s.xX += u * U;
    s.yX += v * U;
    s.xY += u * V;
    s.yY += v * V;
  }
  const det = s.xx * s.yy - s.xy * s.xy;
  if (det < 1e-3 * s.xx * s.yy || det <= 0) return null; // nearly on one line: nothing holds the other way
  const a = (s.xX * s.yy - s.yX * s.xy) / det;
  const c = (s.yX * s.xx - s.xX * s.xy) / det;
  const b = (s.xY * s.yy - s.yY * s.xy) / det;
  const d = (s.yY * s.xx - s.xY * s.xy) / det;
  return { a, b, c, d, e: mX - a * mx - c * my, f: mY - b * mx - d * my };
}

/** How far off the pin that fits worst is, in units of the plane. */
export function worst(pins, m) {
  return Math.max(0, ...pins.map(([x, y, X, Y]) => Math.hypot(m.a * x + m.c * y + m.e - X, m.b * x + m.d * y + m.f - Y)));
}
