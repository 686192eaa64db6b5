// Bands of a severity rule: where a value lies, and the lines between.

/** @import {BandRule, Criteria} from "./shapes.js" */

export const LEVELS = ["Nothing found", "Look again", "Plan repair", "Repair soon", "Act now"];
export const NO_VERDICT = "No verdict";
export const NOTHING_FOUND = 0;
export const LOOK_AGAIN = 1;
export const REPAIR_SOON = 3;
export const ACT_NOW = 4;

/** Index of the band in which a value lies: 0 is below the first edge. @param {BandRule} rule @param {number} value */
export function place(rule, value) {
  const above = rule.edges.findIndex(([edge, closesUp]) => !(value > edge || (closesUp && value === edge)));
  return above < 0 ? rule.edges.length : above;
}

/** A rule without edges has no number and gives no level. @param {BandRule} rule */
export const isSilent = (rule) => rule.edges.length === 0;

/** Every action line with its level, gentlest first. @param {BandRule} rule @returns {[number, number][]} */
export const linesOf = (rule) => rule.edges.map(([edge], index) => [rule.levels[index + 1], edge]);

/** The air column that may speak for a kind. @param {Criteria} criteria @param {string} kind */
export const airFor = (criteria, kind) => criteria.air_by_kind[kind] ?? criteria.air;
