// What the figures of a reading rest on: what it says itself, else its round, else its point, else the usual.

import { first, known } from "./numbers.js";

/** @import {Pack, PackInstrument, PackPoint, PackSetting, Typed} from "./shapes.js" */
/** @typedef {{value: number, half: number, standing: string, place: string}} Setting */
/**
 * @typedef {{shownC: number | null, emissivity: Setting, reflected: Setting, transmission: Setting | null,
 *   ambientC: number | null, humidity: number | null, distance: number | null, window: boolean,
 *   windowTransmission: Setting | null, windowC: number | null, setEmissivity: number | null,
 *   setReflectedC: number | null, setTransmission: number | null, currentA: number | null,
 *   windMS: number | null, minutesAtLoad: number | null, settleMinutes: number | null,
 *   targetMm: number | null, instrument: PackInstrument | null}} Inputs
 */

const HALF = { emissivity: 0.05, emissivityMeasured: 0.02, window: 0.05, path: 0.005 };
/** Half widths of a reflected temperature [K]: the sky may be far colder than the air. */
const REFLECTED = { measured: 1, other: 5, outdoor: 25, unknown: 15 };
const ASSUMED_SURROUNDINGS_C = 20;
const ASSUMED_EMISSIVITY = 0.95;

/** @param {number} value @param {number} half @param {string} standing @param {string} place @returns {Setting} */
const setting = (value, half, standing, place) => ({ value, half, standing, place });

/**
 * What holds for one reading.
 * @param {Pack} pack
 * @param {PackPoint} point
 * @param {Typed} typed of the point, and around its view
 * @returns {Inputs}
 */
export function resolve(pack, point, typed) {
  const said = pack.round.settings ?? {};
  /** @param {string} name @param {number | null | undefined} own */
  const orRound = (name, own) => first(own, said[name]?.value);
  /** @param {string} name @param {number} half */
  const ofRound = (name, half) => {
    const one = said[name];
    return one ? setting(one.value, one.half_width ?? half, one.standing || "measured", "round") : null;
  };
  const at = point.judging;
  const ambientC = orRound("ambient_c", typed.ambient_c);
  const window = typed.through_window ?? at.through_window;
  const instrumentId = typed.instrument_id ?? pack.round.instrument_id;
  return {
    shownC: first(typed.temperature_c),
    emissivity: emissivityOf(typed, at.emissivity, ofRound("emissivity", HALF.emissivity)),
    reflected: reflectedOf(typed, point, ofRound("reflected_c", REFLECTED.other), ambientC),
    transmission: known(typed.path_transmission)
      ? setting(typed.path_transmission, HALF.path, "measured", "reading")
      : ofRound("path_transmission", HALF.path),
    ambientC,
    humidity: orRound("humidity_percent", typed.humidity_percent),
    distance: first(orRound("distance_m", typed.distance_m), point.distance_m),
    window,
    windowTransmission: window ? windowOf(typed, at.window) : null,
    windowC: window ? first(typed.window_c) : null,
    setEmissivity: first(typed.emissivity_set),
    setReflectedC: first(typed.reflected_set_c),
    setTransmission: first(typed.transmission_set),
    currentA: first(typed.current_a),
    windMS: orRound("wind_m_s", typed.wind_m_s),
    minutesAtLoad: first(typed.minutes_at_load),
    settleMinutes: at.settle_minutes,
    targetMm: point.target_mm,
    instrument: pack.instruments.find((one) => one.id === instrumentId) ?? null,
  };
}

/** @param {Typed} typed @param {PackSetting | null} own @param {Setting | null} ofRound */
function emissivityOf(typed, own, ofRound) {
  if (known(typed.emissivity)) {
    const standing = typed.emissivity_standing ?? "assumed";
    const half = standing === "measured" ? HALF.emissivityMeasured : HALF.emissivity;
    return setting(typed.emissivity, half, standing, "reading");
  }
  if (ofRound) return ofRound;
  if (own) return setting(own.value, own.half_width ?? HALF.emissivity, own.standing ?? "assumed", "point");
  return setting(ASSUMED_EMISSIVITY, HALF.emissivity, "assumed", "assumed");
}

/** @param {Typed} typed @param {PackPoint} point @param {Setting | null} ofRound @param {number | null} ambientC */
function reflectedOf(typed, point, ofRound, ambientC) {
  const { reflected, outdoor } = point.judging;
  if (known(typed.reflected_c)) {
    const standing = typed.reflected_standing ?? "assumed";
    const half = standing === "measured" ? REFLECTED.measured : REFLECTED.other;
    return setting(typed.reflected_c, half, standing, "reading");
  }
  if (ofRound) return ofRound;
  if (reflected) return setting(reflected.value, reflected.half_width ?? REFLECTED.other, "assumed", "point");
  if (known(ambientC)) return setting(ambientC, outdoor ? REFLECTED.outdoor : REFLECTED.other, "assumed", "air");
  return setting(ASSUMED_SURROUNDINGS_C, REFLECTED.unknown, "assumed", "assumed");
}

/** @param {Typed} typed @param {PackSetting | null} own */
function windowOf(typed, own) {
  if (known(typed.window_transmission))
    return setting(typed.window_transmission, HALF.window, "measured", "reading");
  return own ? setting(own.value, own.half_width ?? HALF.window, "table", "point") : null;
}
