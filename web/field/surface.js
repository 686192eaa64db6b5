// A reading brought to its surface temperature, with what its uncertainty is made of.

import { known, SLACK } from "./numbers.js";
import { airPath } from "./path.js";
import { radiance, slope, temperatureOf } from "./radiance.js";

/** @import {Inputs} from "./settings.js" */
/** @import {Measured} from "./shapes.js" */
/** @import {Band} from "./radiance.js" */
/**
 * @typedef {{emissivity: number, reflectedC: number, transmission: number, airC: number, window: boolean,
 *   through: number, windowC: number}} Optics what lies between a surface and the instrument
 */
/** @typedef {{value: number, refusal: string}} Figure temperature [°C], NaN with its reason */

const ROOT_3 = Math.sqrt(3);
/** A camera's specification where the register has none; noise of a 3×3 mean and placement of the spot. */
const CAMERA = { k: 2, percent: 2, noiseU: 0.1, placementU: 0.3 };
const PANE_HALF_K = 2;
const UNKNOWN_BAND_K = 1.95;
const OPAQUE_WINDOW = 0.3;
const WEAK_WINDOW = 0.5;
const PIXELS_ACROSS = 3;
/** Time constants after which heat has settled, and from which a reading is accepted. */
const SETTLED_FROM = 5;
export const ACCEPTED_FROM = 3;
/** With these a reading still stands as shown: the formula only does not reach so far. */
const AS_SHOWN = new Set(["out of range", "no reflected", "no air", "no emissivity"]);

/** @param {Inputs} one @returns {{band: Band, bandKnown: boolean}} */
function bandOf(one) {
  const low = one.instrument?.band_low_um;
  const high = one.instrument?.band_high_um;
  const sound = known(low) && known(high) && low >= 1 && low < high && high <= 30;
  return { band: sound ? [low, high] : [8, 14], bandKnown: sound };
}

/** Radiances of the layers; one without a share shines nothing. @param {Optics} o @param {Band} band */
const layersOf = (o, band) => ({
  reflected: o.emissivity === 1 ? 0 : radiance(o.reflectedC, band),
  air: o.transmission === 1 ? 0 : radiance(o.airC, band),
  window: o.window ? radiance(o.windowC, band) : 0,
});

/** The first reason why these settings allow no figure. @param {number} t @param {Optics} o @param {Band} band */
function refusalOf(t, o, band) {
  const layers = layersOf(o, band);
  if (Number.isNaN(t)) return "no number";
  if (Number.isNaN(o.emissivity)) return "no emissivity";
  if (!(o.emissivity > 0 && o.emissivity <= 1)) return "bad emissivity";
  if (o.emissivity !== 1 && Number.isNaN(o.reflectedC)) return "no reflected";
  const shares = o.through >= 0 && o.through <= 1 + SLACK;
  if (!(o.transmission > 0 && o.transmission <= 1) || !(shares || Number.isNaN(o.through)))
    return "bad transmission";
  if (o.transmission !== 1 && Number.isNaN(o.airC)) return "no air";
  if (Number.isNaN(o.through)) return "no window transmission";
  if (o.through < OPAQUE_WINDOW) return "window opaque";
  if (o.window && Number.isNaN(o.windowC)) return "no window temperature";
  return Number.isNaN(layers.reflected + layers.air + layers.window) ? "out of range" : "";
}

/** What an instrument at ε = 1, τ = 1 would show of a surface. @param {number} c @param {Optics} o @param {Band} band */
function apparentOf(c, o, band) {
  const { reflected, air, window } = layersOf(o, band);
  const own = radiance(c, band);
  const behind = o.through * (o.emissivity * own + (1 - o.emissivity) * reflected) + (1 - o.through) * window;
  const value = temperatureOf(o.transmission * behind + (1 - o.transmission) * air, band);
  return figure(value, refusalOf(c, o, band) || (Number.isNaN(own) ? "out of range" : ""));
}

/** The surface that explains an apparent temperature. @param {number} c @param {Optics} o @param {Band} band */
function surfaceOf(c, o, band) {
  const { reflected, air, window } = layersOf(o, band);
  const seen = radiance(c, band);
  const behind = (seen - (1 - o.transmission) * air) / o.transmission;
  const leaving = (behind - (1 - o.through) * window) / o.through;
  const value = temperatureOf((leaving - (1 - o.emissivity) * reflected) / o.emissivity, band);
  return figure(value, refusalOf(c, o, band) || (Number.isNaN(seen) ? "out of range" : ""));
}

/** @param {number} value @param {string} refused @returns {Figure} */
function figure(value, refused) {
  const refusal = refused || (Number.isNaN(value) ? "undefined" : "");
  return { value: refusal ? Number.NaN : value, refusal };
}

/**
 * Partial derivatives of the surface temperature at a solution.
 * @param {number} apparentC
 * @param {number} surfaceC
 * @param {Optics} o
 * @param {Band} band
 */
function movesOf(apparentC, surfaceC, o, band) {
  const own = radiance(surfaceC, band);
  const layers = layersOf(o, band);
  const reflected = radiance(o.reflectedC, band);
  const behindWindow = o.through * o.emissivity * slope(surfaceC, band);
  const behindAir = o.transmission * behindWindow;
  const leaving = o.emissivity * own + (1 - o.emissivity) * layers.reflected;
  const mirrored = o.emissivity === 1 ? 0 : (1 - o.emissivity) * slope(o.reflectedC, band);
  const perPath = -(radiance(apparentC, band) - radiance(o.airC, band)) / (o.transmission * behindAir);
  const emitted = o.window && o.through !== 1 ? (1 - o.through) * slope(o.windowC, band) : 0;
  return {
    gain: slope(apparentC, band) / behindAir,
    perEmissivity: (-o.through * (own - reflected)) / behindWindow,
    perReflectedK: (-o.through * mirrored) / behindWindow,
    perPath: Number.isNaN(perPath) ? 0 : perPath,
    perWindow: o.window ? -(leaving - layers.window) / behindWindow : 0,
    perPaneK: -emitted / behindWindow,
  };
}

/** @param {Inputs} one */
function settlingOf(one) {
  const { minutesAtLoad: minutes, settleMinutes: constant } = one;
  if (!known(minutes) || !known(constant) || minutes < 0 || constant <= 0) return "unknown";
  const constants = minutes / constant;
  if (constants < ACCEPTED_FROM - SLACK) return "not settled";
  return constants < SETTLED_FROM - SLACK ? "accepted" : "settled";
}

/** Whether a part is smaller than three pixels. @param {Inputs} one */
function isUnderfilled(one) {
  const [part, angle, far] = [one.targetMm, one.instrument?.ifov_mrad, one.distance];
  if (!(known(part) && known(angle) && known(far) && part > 0 && angle > 0 && far > 0)) return false;
  return part / (angle * far) < PIXELS_ACROSS * (1 - SLACK);
}

/**
 * The instrument's own settings are undone first, then the model is solved with those that hold.
 * @param {Inputs} one
 * @returns {Measured}
 */
export function measure(one) {
  const { band, bandKnown } = bandOf(one);
  const { distance, ambientC: ambient, humidity } = one;
  const air = airPath({ distance, air: ambient, humidity, typed: one.transmission?.value ?? null });
  /** @type {Optics} */
  const optics = {
    emissivity: one.emissivity.value,
    reflectedC: one.reflected.value,
    transmission: air.transmission,
    airC: air.airC,
    window: one.window,
    through: one.window ? (one.windowTransmission?.value ?? Number.NaN) : 1,
    windowC: one.windowC ?? Number.NaN,
  };
  const applied = {
    ...optics,
    emissivity: one.setEmissivity ?? optics.emissivity,
    reflectedC: one.setReflectedC ?? optics.reflectedC,
    transmission: one.setTransmission ?? air.transmission,
    window: false,
    through: 1,
  };
  const shown = one.shownC ?? Number.NaN;
  const apparent = apparentOf(shown, applied, band);
  const found = surfaceOf(apparent.value, optics, band);
  const refusal = apparent.refusal || found.refusal;
  const stands = AS_SHOWN.has(refusal) && !Number.isNaN(shown) ? shown : null;
  const flags = {
    refusal,
    weakWindow: one.window && optics.through < WEAK_WINDOW,
    longPath: air.long || (known(distance) && distance > 30),
    underfilled: isUnderfilled(one),
    settling: settlingOf(one),
  };
  if (Number.isNaN(found.value))
    return { ...flags, surface: stands, gain: Number.NaN, known: false, terms: NO_TERMS };
  const moves = movesOf(apparent.value, found.value, optics, band);
  const pathHalf = one.transmission?.half ?? air.half;
  const terms = termsOf(one, moves, { shown, pathHalf, bandHalf: bandKnown ? 0 : UNKNOWN_BAND_K });
  return { ...flags, surface: found.value, gain: moves.gain, known: !Number.isNaN(terms.camera), terms };
}

const NO_TERMS = Object.freeze({
  camera: Number.NaN,
  noise: Number.NaN,
  emissivity: Number.NaN,
  reflected: Number.NaN,
  path: Number.NaN,
  window: Number.NaN,
  pane: Number.NaN,
  band: Number.NaN,
  placement: CAMERA.placementU,
});

/**
 * @param {Inputs} one
 * @param {ReturnType<typeof movesOf>} moves
 * @param {{shown: number, pathHalf: number, bandHalf: number}} more
 */
function termsOf(one, moves, { shown, pathHalf, bandHalf }) {
  const share = one.instrument?.accuracy_percent ?? CAMERA.percent;
  const cameraHalf = Math.max(one.instrument?.accuracy_k ?? CAMERA.k, (share / 100) * Math.abs(shown));
  const windowHalf = one.windowTransmission?.half ?? 0;
  return {
    camera: (moves.gain * cameraHalf) / ROOT_3,
    noise: moves.gain * CAMERA.noiseU,
    emissivity: (moves.perEmissivity * one.emissivity.half) / ROOT_3,
    reflected: (moves.perReflectedK * one.reflected.half) / ROOT_3,
    path: (moves.perPath * pathHalf) / ROOT_3,
    window: windowHalf > 0 ? (moves.perWindow * windowHalf) / ROOT_3 : 0,
    pane: one.window ? (moves.perPaneK * PANE_HALF_K) / ROOT_3 : 0,
    band: (bandHalf * (1 - one.emissivity.value)) / ROOT_3,
    placement: CAMERA.placementU,
  };
}
