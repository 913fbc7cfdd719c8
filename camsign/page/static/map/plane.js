// Latitude and longitude to a plane and back: Mercator on the WGS 84 ellipsoid (Snyder, Map projections,
// USGS PP 1395, 1987, eqs. 7-6 to 7-9). Angles stay true, so that a bearing on the map is one in the woods.
// Plane coordinates are meters at the equator, y to the north.

const A = 6378137;
const E2 = 0.0066943799901413165;
const E = Math.sqrt(E2);
const RAD = Math.PI / 180;

/** [lat, lon] in degrees to [x, y]. @returns {[number, number]} */
export function toPlane(lat, lon) {
  const sin = Math.sin(lat * RAD);
  return [A * lon * RAD, A * (Math.atanh(sin) - E * Math.atanh(E * sin))];
}

/** [x, y] to [lat, lon] in degrees. @returns {[number, number]} */
export function toLatLon(x, y) {
  const t = y / A;
  let sin = Math.tanh(t);
  for (let i = 0; i < 8; i += 1) sin = Math.tanh(t + E * Math.atanh(E * sin));
  return [Math.asin(sin) / RAD, x / A / RAD];
}

/** How many plane meters one meter on the ground is at a latitude. */
export function stretch(lat) {
  const sin = Math.sin(lat * RAD);
  return Math.sqrt(1 - E2 * sin * sin) / Math.cos(lat * RAD);
}
