// What the air between part and instrument lets through: the service's fit, never extrapolated.

import { known } from "./numbers.js";
import { ZERO_C } from "./radiance.js";

const ASSUMED = { transmission: 0.996, half: 0.006 };
const ASSUMED_AIR_C = 20;
/** Longest distance for which the assumed one is meant, and from which a path is long [m]. */
const ASSUMED_UP_TO_M = 3;
const LONG_M = 30;
const LEAST_HALF = 0.005;
const FITTED = { m: [0.5, 100], air: [0, 40], vapour: [0.969, 40.79] };
const AIR_C = [-45, 60];
/** Humidity taken where distance and air are known and it is not; the half width is doubled then. */
const ASSUMED_HUMIDITY = 60;

/** @param {number | null} value @param {number[]} range @returns {value is number} */
const within = (value, range) => known(value) && value >= range[0] && value <= range[1];

/** Vapour of the air, Magnus formula [g/m³]. @param {number} air @param {number} humidity */
function vapourOf(air, humidity) {
  const pressure = 611.2 * Math.exp((17.62 * air) / (243.12 + air));
  return (10 * humidity * pressure) / (461.5 * (air + ZERO_C));
}

/**
 * @param {{distance: number | null, air: number | null, humidity: number | null, typed: number | null}} told
 * @returns {{transmission: number, half: number, airC: number, long: boolean}} transmission NaN where refused
 */
export function airPath(told) {
  const { distance, air, typed } = told;
  const dry = !known(told.humidity) && known(distance) && known(air);
  const humidity = dry ? ASSUMED_HUMIDITY : told.humidity;
  const airC = air ?? ASSUMED_AIR_C;
  const vapour = within(air, AIR_C) && within(humidity, [0, 100]) ? vapourOf(air, humidity) : null;
  const fits = within(distance, FITTED.m) && within(air, FITTED.air) && within(vapour, FITTED.vapour);
  const refused =
    (known(typed) && !(typed > 0 && typed <= 1)) ||
    (known(distance) && !(distance > 0 && distance <= FITTED.m[1])) ||
    (known(air) && !within(air, AIR_C)) ||
    (known(humidity) && !within(humidity, [0, 100]));
  if (refused) return { transmission: Number.NaN, half: Number.NaN, airC, long: false };
  const assumed = !fits && !known(typed);
  const thick = (known(air) && air > FITTED.air[1]) || (known(vapour) && vapour > FITTED.vapour[1]);
  const far = known(distance) && distance > ASSUMED_UP_TO_M;
  const unheld = far || (thick && !(known(distance) && distance < FITTED.m[0]));
  const long = (known(distance) && distance > LONG_M) || (assumed && unheld);
  if (known(typed)) return { transmission: typed, half: (dry ? 2 : 1) * LEAST_HALF, airC, long };
  if (!fits) return { transmission: ASSUMED.transmission, half: (dry ? 2 : 1) * ASSUMED.half, airC, long };
  const [middle, lower] = fitted(distance, vapour);
  return { transmission: middle, half: (dry ? 2 : 1) * Math.max(LEAST_HALF, middle - lower), airC, long };
}

/** Middle line and lower bound of the fit. @param {number} d @param {number} rho @returns {[number, number]} */
function fitted(d, rho) {
  const wet = rho * d;
  return [
    Math.exp(-(3.469e-4 * d ** 0.7524 + 3.591e-4 * wet ** 0.671 + 7.726e-7 * rho * rho * d)),
    Math.exp(-(6.963e-4 * d ** 0.7657 + 7.581e-4 * wet ** 0.6491 + 6.659e-7 * rho * rho * d)),
  ];
}
