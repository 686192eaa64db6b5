// Numbers as the service rounds and writes them, so that device and service say the same words.

/** Room for the last binary digit, so that 90 A beside 100 A is "within 10 %". */
export const SLACK = 1e-9;

/** Differences are rounded to six digits before they meet an edge. @param {number} value */
export const rounded = (value) => Number(value.toFixed(6));

/**
 * With a fixed number of decimals; only what lies halfway in binary too is a tie, and goes to the even digit.
 * @param {number} value
 * @param {number} digits
 */
export function fixed(value, digits) {
  if (Math.abs((value * 2 ** (digits + 1)) % 2) !== 1) return value.toFixed(digits);
  const below = Math.floor(value * 10 ** digits);
  return ((below % 2 === 0 ? below : below + 1) / 10 ** digits).toFixed(digits);
}

/** Six significant digits, no zeros behind them. @param {number} value */
export const short = (value) => String(Number(value.toPrecision(6)));

/** Two decimals at most, as people write a figure. @param {number} value */
export const figure = (value) => fixed(value, 2).replace(/0+$/, "").replace(/\.$/, "");

/** Median of values already in order. @param {number[]} ordered */
export function middleOf(ordered) {
  const half = Math.floor(ordered.length / 2);
  return ordered.length % 2 ? ordered[half] : (ordered[half - 1] + ordered[half]) / 2;
}

/** @param {number[]} values */
export const inOrder = (values) => [...values].sort((a, b) => a - b);

/** @param {number[]} values */
export const median = (values) => middleOf(inOrder(values));

/** True of a number that is known. @param {number | null | undefined} value @returns {value is number} */
export const known = (value) => typeof value === "number" && !Number.isNaN(value);

/** The first that is known, else null. @param {...(number | null | undefined)} values */
export const first = (...values) => values.find(known) ?? null;
