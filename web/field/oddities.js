// What looks wrong in what was typed, held against the point's own past: asked once, never refused.

import { figure, fixed, known, median, SLACK } from "./numbers.js";
import { asRead, degrees, inCelsius, inFahrenheit } from "./units.js";

/** @import {Oddity, PackPoint, PackStop, Typed} from "./shapes.js" */
/** @typedef {{point: PackPoint, typed: Typed}} Row a point with what was typed of it and around it */

/** As in the service, all own judgement, no source: they only decide whether somebody is asked. */
const FAR_OUTSIDE_K = 15;
const CLOSE_K = 8;
const AIR_ABOVE_K = 1;
const UNEQUAL_SHARE = 0.1;
const LIKELY_C = [-40, 250];
const LIKELY_AIR_C = [-35, 60];
/** What a slipped sign did to the true value. */
const SLIPS = [0.1, 10, 0.01, 100];
/** A current this many times last visit's, or one part of it, may have slipped; the mended one lies within a share. */
const AMPS_TIMES = 4;
const AMPS_CLOSE = 0.5;

/** @param {string} field @param {string} question @param {number | null} [suggestion] @returns {Oddity} */
const odd = (field, question, suggestion = null) => ({ field, question, suggestion });

/**
 * By row what is to be asked.
 * @param {Row[]} rows of one view, those with something typed
 * @param {PackStop} stop
 * @param {import("./units.js").Told} [pack] in whose unit a slip is looked for: there it was typed
 * @returns {Map<string, Oddity[]>}
 */
export function odditiesOf(rows, stop, pack = {}) {
  const read = rows.filter(({ typed }) => !typed.reason);
  /** @type {Map<string, Oddity[]>} */
  const found = new Map(rows.map(({ point }) => [point.row_uid, []]));
  for (const row of read) {
    const others = read.filter((other) => other !== row);
    const asked = [temperatureOf(row, others, pack), airOf(row), ampsOf(row, others, stop)];
    found.get(row.point.row_uid)?.push(...asked.filter((one) => one !== null));
  }
  const copied = copiedOf(rows);
  if (copied && rows.length) found.get(rows[0].point.row_uid)?.push(copied);
  const unequal = unequalOf(read);
  const slipped = [...found.values()].flat().some(({ field }) => field === "current_a");
  if (unequal && !slipped) found.get(unequal.uid)?.push(unequal.oddity);
  return found;
}

/** What a point showed before; of one never read, what its neighbours show now. @param {Row} row @param {Row[]} others */
function rangeOf({ point }, others) {
  if (point.past) return [point.past.low_c, point.past.high_c];
  const now = others.map(({ typed }) => typed.temperature_c).filter(known);
  return now.length ? [Math.min(...now), Math.max(...now)] : null;
}

/** @param {Row} row @param {Row[]} others @param {import("./units.js").Told} pack */
function temperatureOf(row, others, pack) {
  const shown = row.typed.temperature_c;
  if (!known(shown)) return null;
  const range = rangeOf(row, others);
  const [low, high] = range ?? [shown, shown];
  const typed = inFahrenheit(pack) ? Number(asRead(shown, pack).toFixed(3)) : shown;
  if (shown < low - FAR_OUTSIDE_K || shown > high + FAR_OUTSIDE_K)
    for (const factor of SLIPS) {
      const mended = Number((typed * factor).toFixed(2));
      const mendedC = inCelsius(mended, pack);
      if (mendedC >= low - CLOSE_K && mendedC <= high + CLOSE_K)
        return odd("temperature_c", `${figure(typed)} or ${figure(mended)} ${degrees(pack)}?`, mended);
    }
  const past = row.point.past;
  const least = Math.min(LIKELY_C[0], past ? past.low_c - FAR_OUTSIDE_K : LIKELY_C[0]);
  const most = Math.max(LIKELY_C[1], past ? past.high_c + FAR_OUTSIDE_K : LIKELY_C[1]);
  if (shown >= least && shown <= most) return null;
  const word = shown < least ? "low" : "high";
  const act = shown < least ? "" : " If it did, tell the site's contact at once.";
  return odd("temperature_c", `${figure(shown)} °C is unlikely ${word}: did the instrument show it?${act}`);
}

/** @param {Row} row */
function airOf({ typed }) {
  const { ambient_c: air, temperature_c: shown } = typed;
  if (!known(air)) return null;
  if (air < LIKELY_AIR_C[0] || air > LIKELY_AIR_C[1])
    return odd("ambient_c", `Air at ${figure(air)} °C: is it so?`);
  if (!known(shown) || air <= shown + AIR_ABOVE_K) return null;
  return odd("ambient_c", `Air ${figure(air)} °C over the part's ${figure(shown)} °C: are the two exchanged?`);
}

/** A slipped sign of a current against last visit and the other phases now; else one above the rating. @param {Row} row @param {Row[]} others @param {PackStop} stop */
function ampsOf({ point, typed }, others, stop) {
  const amps = typed.current_a;
  if (!known(amps) || amps <= 0) return null;
  const beside = others.map((other) => other.typed.current_a).filter(known);
  const usual = point.last?.current_a ?? (beside.length ? median(beside) : null);
  if (known(usual) && usual > 0 && (amps >= AMPS_TIMES * usual || amps <= usual / AMPS_TIMES))
    for (const factor of SLIPS) {
      const mended = Number((amps * factor).toFixed(3));
      if (Math.abs(mended - usual) <= AMPS_CLOSE * usual)
        return odd("current_a", `${figure(amps)} or ${figure(mended)} A?`, mended);
    }
  const rated = stop.rated_current_a;
  if (!known(rated) || rated <= 0 || amps <= rated) return null;
  return odd("current_a", `${figure(amps)} A is above the rated ${figure(rated)} A: did the meter show it?`);
}

/** Every part of the view typed as last time, to the last tenth. @param {Row[]} rows */
function copiedOf(rows) {
  const pairs = rows.map(({ point, typed }) => [typed.temperature_c, point.last?.temperature_c]);
  const same = pairs.every(([now, last]) => known(now) && known(last) && Math.abs(now - last) < SLACK);
  if (!same || rows.length < 2) return null;
  const shown = pairs.map(([now]) => `${figure(/** @type {number} */ (now))} °C`).join(", ");
  return odd("temperature_c", `All as last time: ${shown}. Read on this visit?`);
}

/** Phase currents far apart: asked at the one farthest from the others. @param {Row[]} rows */
function unequalOf(rows) {
  const told = rows.filter(({ point, typed }) => !point.judging.neutral && known(typed.current_a));
  const amps = told.map(({ typed }) => /** @type {number} */ (typed.current_a));
  const most = Math.max(0, ...amps);
  if (amps.length < 2 || most <= 0) return null;
  const share = (most - Math.min(...amps)) / most;
  if (share <= UNEQUAL_SHARE + SLACK) return null;
  const middle = median(amps);
  const far = amps.map((one) => Math.abs(one - middle));
  const { row_uid: uid } = told[far.indexOf(Math.max(...far))].point;
  const shown = amps.map(figure).join(", ");
  const question = `Currents ${fixed(100 * share, 0)} % apart (${shown} A): each at its own phase?`;
  return { uid, oddity: odd("current_a", question) };
}
