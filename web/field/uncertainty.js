// Uncertainty of one rise from the terms of its temperatures, and chances of passing a line.

/** @import {Criteria, Measured} from "./shapes.js" */

/** Air thermometer ±1 K, current ±3 % of reading, both rectangular. */
export const AIR_U_K = 1 / Math.sqrt(3);
export const CURRENT_U_SHARE = 0.03 / Math.sqrt(3);
/** Camera and emissivity of like parts in one frame (a judgement). */
const SAME_FRAME = 0.9;
/** Variance of the median of three visits over that of one (normal). */
const MEDIAN_OF_THREE = 0.4487;
const LOG_NORMAL_UP_TO = 0.3;
/** Terms that like parts share wholly, that they share in part, and that each has alone. */
const SHARED = /** @type {const} */ (["reflected", "path", "window", "pane", "band"]);
const PARTLY = /** @type {const} */ (["camera", "emissivity"]);
const ALONE = /** @type {const} */ (["noise", "placement"]);

/** @typedef {Record<string, number>} Lines by input the standard uncertainty that it brings [K] */

/** @param {Lines} lines */
export const summed = (lines) => Math.hypot(...Object.values(lines));

/** @param {Measured} one @returns {Lines | null} */
export const overAir = (one) => (one.known ? { ...one.terms, air: AIR_U_K } : null);

/**
 * @param {[Measured, number][]} parts the judged part and those of its reference, with the coefficients of
 *   the difference
 * @returns {Lines | null}
 */
export function overLikeParts(parts) {
  if (!parts.every(([one]) => one.known)) return null;
  /** @type {Lines} */
  const lines = {};
  /** @param {keyof Measured["terms"]} name */
  const together = (name) => parts.reduce((sum, [one, weight]) => sum + weight * one.terms[name], 0);
  /** @param {keyof Measured["terms"]} name */
  const apart = (name) => Math.hypot(...parts.map(([one, weight]) => weight * one.terms[name]));
  for (const name of SHARED) lines[name] = Math.abs(together(name));
  for (const name of PARTLY)
    lines[name] = Math.sqrt(SAME_FRAME * together(name) ** 2 + (1 - SAME_FRAME) * apart(name) ** 2);
  for (const name of ALONE) lines[name] = apart(name);
  return lines;
}

/** @param {Measured} one @returns {Lines | null} */
export function overBaseline(one) {
  if (!one.known) return null;
  const { camera, noise, placement, pane } = one.terms;
  const wider = Math.sqrt(1 + MEDIAN_OF_THREE);
  const each = { camera, noise, placement, pane, air: AIR_U_K };
  return Object.fromEntries(Object.entries(each).map(([name, amount]) => [name, wider * Math.abs(amount)]));
}

/** Standard uncertainty of the load exponent (rectangular). @param {Criteria} criteria */
export const exponentU = (criteria) =>
  (criteria.exponent_high - criteria.exponent_low) / (2 * Math.sqrt(3));

/**
 * Lines of a rise brought to common load: those of the rise times its factor, and the two of scaling.
 * @param {number} riseK
 * @param {Lines} lines
 * @param {number} load share of the load it is brought to
 * @param {Criteria} criteria
 * @returns {Lines}
 */
export function scaled(riseK, lines, load, criteria) {
  const factor = load ** -criteria.exponent;
  const up = Object.fromEntries(Object.entries(lines).map(([name, amount]) => [name, factor * amount]));
  return {
    ...up,
    current: riseK * factor * criteria.exponent * CURRENT_U_SHARE,
    exponent: riseK * factor * Math.log(load) * exponentU(criteria),
  };
}

/** Complementary error function, to fifteen digits: series inside, continued fraction outside. @param {number} x */
export function erfc(x) {
  const size = Math.abs(x);
  if (size < 2.5) {
    let term = size;
    let sum = size;
    for (let n = 1; n < 80; n += 1) {
      term *= -(size * size) / n;
      sum += term / (2 * n + 1);
    }
    const inner = (2 / Math.sqrt(Math.PI)) * sum;
    return x < 0 ? 1 + inner : 1 - inner;
  }
  let fraction = 0;
  for (let n = 60; n > 0; n -= 1) fraction = n / 2 / (size + fraction);
  const tail = Math.exp(-size * size) / (Math.sqrt(Math.PI) * (size + fraction));
  return x < 0 ? 2 - tail : tail;
}

/** Chance that the true value lies over a line, for a normal uncertainty. @param {number} value @param {number} line @param {number} u */
export function chanceOver(value, line, u) {
  if (u <= 0) return value > line ? 1 : 0;
  return 0.5 * erfc((line - value) / (u * Math.SQRT2));
}

/** The same for a scaled rise: log-normal while u/y is at most 0.3. @param {number} value @param {number} line @param {number} u */
export function scaledChanceOver(value, line, u) {
  if (value <= 0 || line <= 0 || u > LOG_NORMAL_UP_TO * value) return chanceOver(value, line, u);
  return chanceOver(Math.log(value), Math.log(line), u / value);
}
