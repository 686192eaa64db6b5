// What a reading says beside last time and beside what its trend foretold; it decides nothing.

import { fixed, known } from "./numbers.js";

/** @import {Draft} from "./draft.js" */
/** @import {PackPoint} from "./shapes.js" */

/** Less than this reads as nothing, since figures are told to a tenth [K]. */
const TENTH_K = 0.05;

/** @param {number} riseK */
const moreOrLess = (riseK) => `${fixed(Math.abs(riseK), 1)} K ${riseK > 0 ? "more" : "less"}`;

/**
 * Rises are compared on one scale and over one reference only: both at common load, or both as measured
 * for kinds that are never scaled; else nothing is said.
 * @param {PackPoint} point
 * @param {Draft} draft
 */
export function trendSentence(point, draft) {
  const now = draft.scales ? draft.commonK : draft.valueK;
  if (!known(now) || draft.cold || !draft.trended) return "";
  const { last, trend } = point;
  const alike = last !== null && last.reference === draft.reference;
  const before = alike ? (draft.scales ? last.common_k : last.value_k) : null;
  const change = known(before) ? now - before : null;
  const since = change === null ? "" : Math.abs(change) < TENTH_K ? "As last time" : `${moreOrLess(change)} than last time`;
  const ahead = trend?.foretold_k;
  if (!ahead || !alike) return since && `${since}.`;
  const [low, high] = ahead;
  const beyond = now > high ? now - high : Math.min(0, now - low);
  if (Math.abs(beyond) < TENTH_K) return since ? `${since}, as its trend said.` : "As its trend said.";
  return `${moreOrLess(beyond)} than its trend said.`;
}
