// Radiance of a black body within a waveband, and back: the series of the service, summed where it splines.

const C = 299_792_458;
const H = 6.626_070_15e-34;
const K = 1.380_649e-23;
export const ZERO_C = 273.15;
/** Second radiation constant [µm·K]. */
const C2 = ((H * C) / K) * 1e6;
const SIGMA = (2 * Math.PI ** 5 * K ** 4) / (15 * H ** 3 * C ** 2);
const SHARE = 15 / Math.PI ** 4;
/** Range of every temperature here [°C]; outside it the answer is NaN. */
const COLDEST_C = -100;
const HOTTEST_C = 1000;
/** e^-38 is below half a unit in the last place of 1. */
const ENOUGH = 38;

/** @typedef {readonly [number, number]} Band waveband of an instrument [µm] */

/** Share of a black body's radiation below a wavelength (NASA TN D-4446). @param {number} x */
function shareBelow(x) {
  let total = 0;
  for (let n = Math.ceil(ENOUGH / x); n > 0; n -= 1)
    total += Math.exp(-n * x) * (((x / n + 3 / n ** 2) * x + 6 / n ** 3) * x + 6 / n ** 4);
  return SHARE * total;
}

/** @param {number} celsius */
const kelvin = (celsius) => (celsius >= COLDEST_C && celsius <= HOTTEST_C ? celsius + ZERO_C : Number.NaN);

/** @param {number} k @param {Band} band */
const ofKelvin = (k, band) =>
  ((SIGMA * k ** 4) / Math.PI) * (shareBelow(C2 / (band[1] * k)) - shareBelow(C2 / (band[0] * k)));

/**
 * Radiance within a band [W·m⁻²·sr⁻¹]; NaN outside −100 to 1000 °C.
 * @param {number} celsius
 * @param {Band} band
 */
export function radiance(celsius, band) {
  const k = kelvin(celsius);
  return Number.isNaN(k) ? k : ofKelvin(k, band);
}

/** @param {number} k @param {Band} band @param {number} whole */
function slopeOfKelvin(k, band, whole) {
  const edge = (/** @type {number} */ um) => (SHARE * (C2 / (um * k)) ** 4) / Math.expm1(C2 / (um * k));
  return (4 * whole) / k + (SIGMA / Math.PI) * k ** 3 * (edge(band[1]) - edge(band[0]));
}

/**
 * Change of the radiance with temperature [W·m⁻²·sr⁻¹·K⁻¹].
 * @param {number} celsius
 * @param {Band} band
 */
export function slope(celsius, band) {
  const k = kelvin(celsius);
  return Number.isNaN(k) ? k : slopeOfKelvin(k, band, ofKelvin(k, band));
}

/** @type {Map<string, [number, number]>} */
const ends = new Map();

/** Least and greatest radiance of the range. @param {Band} band @returns {[number, number]} */
function endsOf(band) {
  const key = band.join(" ");
  const found = ends.get(key) ?? [radiance(COLDEST_C, band), radiance(HOTTEST_C, band)];
  ends.set(key, found);
  return found;
}

/**
 * Temperature of a radiance within a band [°C]; NaN beyond the range, never clamped.
 * @param {number} value
 * @param {Band} band
 */
export function temperatureOf(value, band) {
  const [least, most] = endsOf(band);
  const room = 1e-12 * most;
  if (!(value >= least * (1 - 1e-11) && value <= most + room)) return Number.NaN;
  // ln L is nearly straight in 1/T: Newton's steps there settle in a few turns from anywhere
  let inverse = 1 / 323.15;
  for (let turn = 0; turn < 60; turn += 1) {
    const k = 1 / inverse;
    const whole = ofKelvin(k, band);
    const step = (Math.log(whole) - Math.log(value)) / ((slopeOfKelvin(k, band, whole) * k * k) / whole);
    inverse = Math.min(Math.max(inverse + step, 1 / 1300), 1 / 170);
    if (Math.abs(step) < 1e-15) break;
  }
  return 1 / inverse - ZERO_C;
}
