// Saturation and the pressure test as the service works them out (`reports/src/physics`), for where
// there is no signal. Only arithmetic: kilopascal absolute, kelvin, nothing extrapolated.

const GAS_CONSTANT = 8.31446261815324;
export const SEA_LEVEL = 101.325;
export const ZERO_CELSIUS = 273.15;

/** Kilopascal of one, and whether a gauge counts from the air. */
export const PRESSURES = {
  psig: { kpa: 6.894757293168361, gauge: true, says: "psi" },
  "kPa{gauge}": { kpa: 1, gauge: true, says: "kPa" },
  "bar{gauge}": { kpa: 100, gauge: true, says: "bar" },
};
export const kelvinOf = (degrees, unit) => (unit === "Cel" ? degrees : (degrees - 32) / 1.8) + ZERO_CELSIUS;
export const bothDegrees = (kelvin) => `${(kelvin - ZERO_CELSIUS).toFixed(1)} °C = ${((kelvin - ZERO_CELSIUS) * 1.8 + 32).toFixed(1)} °F`;

/** The standard atmosphere at an altitude (ISO 2533). */
export const airAt = (metres) => SEA_LEVEL * (1 - (0.0065 * metres) / 288.15) ** 5.25588;

/** A monotone cubic through points with rising x (Fritsch and Butland 1984). */
export function curve(x, y) {
  const width = x.slice(1).map((to, at) => to - x[at]);
  const secant = width.map((wide, at) => (y[at + 1] - y[at]) / wide);
  const last = secant.length - 1;
  const slope = x.map((_, at) => (at === 0 || at > last ? 0 : inner(width[at - 1], width[at], secant[at - 1], secant[at])));
  slope[0] = end(width[0], width[1], secant[0], secant[1]);
  slope[last + 1] = end(width[last], width[last - 1], secant[last], secant[last - 1]);
  const segment = (points, value) => Math.min(Math.max(points.filter((point) => point <= value).length - 1, 0), last);
  const piece = (at, place) => {
    const t = (place - x[at]) / width[at];
    const rest = 1 - t;
    const left = y[at] * (1 + 2 * t) + width[at] * slope[at] * t;
    const right = y[at + 1] * (1 + 2 * rest) - width[at] * slope[at + 1] * rest;
    return left * rest * rest + right * t * t;
  };
  return { at: (place) => piece(segment(x, place), place), placeOf: (value) => placeOf(x, y, segment, piece, value) };
}

function inner(left, right, before, after) {
  if (before * after <= 0) return 0;
  const [first, second] = [2 * right + left, right + 2 * left];
  return (first + second) / (first / before + second / after);
}

function end(near, far, secant, next) {
  const slope = ((2 * near + far) * secant - near * next) / (near + far);
  if (slope * secant <= 0) return 0;
  return secant * next <= 0 && Math.abs(slope) > Math.abs(3 * secant) ? 3 * secant : slope;
}

function placeOf(x, y, segment, piece, value) {
  if (!(value >= y[0] && value <= y.at(-1))) return null;
  const at = segment(y, value);
  let [low, high] = [x[at], x[at + 1]];
  for (let turn = 0; turn < 60; turn += 1) {
    const middle = (low + high) / 2;
    if (piece(at, middle) < value) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

const STEP = 5;

/** Curves of a refrigerant of the table: ln p over -1/T, bubble and dew apart. */
function curvesOf({ from, bubble, dew = bubble }) {
  const kelvins = bubble.map((_, at) => from + STEP * at + ZERO_CELSIUS);
  const through = (pressures) => curve(kelvins.map((kelvin) => -1 / kelvin), pressures.map(Math.log));
  return { lowest: kelvins[0], highest: kelvins.at(-1), bubble: through(bubble), dew: through(dew) };
}

/** Bubble and dew pressure at a temperature; null outside of the table. */
export function pressuresAt(fluid, kelvin) {
  const { lowest, highest, bubble, dew } = curvesOf(fluid);
  if (!(kelvin >= lowest && kelvin <= highest)) return null;
  return { bubble: Math.exp(bubble.at(-1 / kelvin)), dew: Math.exp(dew.at(-1 / kelvin)) };
}

/** Bubble and dew temperature at a pressure; null outside of the table. */
export function temperaturesAt(fluid, kpa) {
  const { bubble, dew } = curvesOf(fluid);
  const [over, vapour] = [bubble, dew].map((one) => one.placeOf(Math.log(kpa)));
  return over === null || vapour === null ? null : { bubble: -1 / over, dew: -1 / vapour };
}

/** Nitrogen: p = d R T (1 + B d + C d2 + D d3), fitted to CoolProp 8.0.0 (`nitrogen.rs`). */
function compressibility(density, kelvin) {
  const second = 4.073089e-5 + (-0.009191019 + (-1.528102 + 64.21088 / kelvin) / kelvin) / kelvin;
  const third = 6.586291e-10 + 2.047481e-7 / kelvin;
  return 1 + density * (second + density * (third + density * 3.222302e-14));
}

/** What nitrogen in a fixed volume has at another temperature. */
export function nitrogen(kpa, from, to) {
  const ideal = (kpa * 1_000) / (GAS_CONSTANT * from);
  let density = ideal;
  for (let turn = 0; turn < 12; turn += 1) density = ideal / compressibility(density, from);
  return (density * GAS_CONSTANT * to * compressibility(density, to)) / 1_000;
}

/** Was gas lost, or did it only cool down? Pressures absolute; both accuracies are half-widths. */
export function pressureTest({ start, end: read, accuracy, degrees }) {
  const expected = nitrogen(start.kpa, start.kelvin, read.kelvin);
  const ratio = read.kelvin / start.kelvin;
  const slopes = (start.kpa / start.kelvin) ** 2 + (expected / read.kelvin) ** 2;
  const uncertainty = 2 * Math.sqrt((accuracy ** 2 * (1 + ratio ** 2) + degrees ** 2 * slopes) / 3);
  const loss = expected - read.kpa;
  const verdict = loss > uncertainty ? "loss" : loss < -uncertainty ? "gain" : "none";
  return { expected, ideal: start.kpa * ratio, loss, uncertainty, verdict };
}
