// A verdict in the making, and what the conditions of a visit allow.

import { known, rounded, short, SLACK } from "./numbers.js";
import { scaled, summed } from "./uncertainty.js";

/** @import {BandRule, Criteria, Seen, SeenView} from "./shapes.js" */
/** @import {Lines} from "./uncertainty.js" */
/**
 * What is known of the reading, then what each rule makes of it.
 * @typedef {{point: Seen, view: SeenView, criteria: Criteria, airK: number | null, load: number | null,
 *   scales: boolean, factor: number | null, trended: boolean, share: number | null, shareScaled: boolean,
 *   lowLoad: string, hidden: string[], airHidden: string[], level: number | null, band: number | null,
 *   reference: string | null, valueK: number | null, commonK: number | null, judged: number | null,
 *   judgedU: number | null, column: BandRule | null, lines: Lines | null, firmAtCommon: boolean,
 *   firstLine: number | null, overFirstLine: boolean, nearLine: boolean, cold: boolean, unequal: boolean,
 *   rule: string, source: string, publishedBand: string, first: string, told: string, notes: string[]}} Draft
 */

export const LIKE_PARTS = "over like parts";
export const OVER_AIR = "over air";
export const BASELINE = "over its own baseline";
export const RATED_SHARE = "share of rated rise";

/** Kinds that carry current, so that load and amps are asked for. */
export const CURRENT_KINDS = new Set(["joint", "fuse", "cable end", "transformer", "photovoltaic string"]);
/** Kinds that warm by turning: standing, they show nothing. */
export const MECHANICAL_KINDS = new Set(["bearing", "coupling or belt", "motor"]);
/** Kinds that run warm for a day or two after greasing. */
export const GREASED_KINDS = new Set(["bearing", "coupling or belt"]);

/** A load told without rounding up, so that 39.6 % does not read as 40 %. @param {number} share */
export const percent = (share) => `${Math.floor(100 * share + SLACK)} %`;

/** @param {Draft} draft @param {number} riseK @returns {number | null} */
export const atCommonLoad = (draft, riseK) => (draft.factor === null ? null : riseK * draft.factor);

/** Lines of a rise brought to common load; null without a budget. @param {Draft} draft @param {number} riseK */
export function linesAtCommonLoad(draft, riseK) {
  if (draft.factor === null || draft.load === null || draft.lines === null) return null;
  return scaled(riseK, draft.lines, draft.load, draft.criteria);
}

/** @param {Draft} draft */
export const uOf = (draft) => (draft.lines === null ? null : summed(draft.lines));

/** @param {Draft} draft @param {number} riseK */
export function uAtCommonLoad(draft, riseK) {
  const lines = linesAtCommonLoad(draft, riseK);
  return lines === null ? null : summed(lines);
}

/** No verdict, and why. @param {Draft} draft @param {string} rule @param {string} note */
export function refuse(draft, rule, note) {
  draft.level = null;
  draft.rule = rule;
  draft.notes.push(note);
}

/**
 * Let a rule accuse; it never lowers what another said.
 * @param {Draft} draft
 * @param {number} level
 * @param {{rule: string, source: string, note: string}} why
 */
export function raiseTo(draft, level, { rule, source, note }) {
  draft.overFirstLine = true;
  draft.notes.push(note);
  if (draft.level === null || level > draft.level) Object.assign(draft, { level, rule, source });
}

/**
 * What the conditions of the visit allow: load, wind, scaling, clearing (rules 1 and 8).
 * @param {Seen} point
 * @param {SeenView} view
 * @param {Criteria} criteria
 * @returns {Draft}
 */
export function weigh(point, view, criteria) {
  /** @type {Draft} */
  const draft = {
    point, view, criteria, airK: null, load: null, scales: point.at.scales, factor: null, trended: false,
    share: null, shareScaled: false, lowLoad: "", hidden: [], airHidden: [], level: null, band: null,
    reference: null, valueK: null, commonK: null, judged: null, judgedU: null, column: null, lines: null,
    firmAtCommon: false, firstLine: null, overFirstLine: false, nearLine: false, cold: false,
    unequal: false, rule: "", source: "", publishedBand: "", first: "", told: "", notes: [],
  };
  if (known(view.ambientC)) draft.airK = rounded(point.value - view.ambientC);
  if (known(point.currentA) && point.at.brought_to_a) draft.load = point.currentA / point.at.brought_to_a;
  const loadTold = weighLoad(draft);
  const calm = weighWind(draft);
  const running = weighRunning(draft);
  weighSight(draft);
  if (draft.scales && loadTold && calm && point.settled && draft.load)
    draft.factor = draft.load ** -criteria.exponent;
  draft.trended =
    (draft.factor !== null || !draft.scales) && loadTold && calm && running && point.settled &&
    !point.measured.underfilled && point.rangeEnd === null && !greasedLately(draft);
  if (point.row.rated_rise_k) weighShare(draft, point.row.rated_rise_k);
  return draft;
}

/** False where the load is too low, or not known though the part carries current. @param {Draft} draft */
function weighLoad(draft) {
  if (draft.load === null) {
    if (CURRENT_KINDS.has(draft.point.row.kind)) draft.lowLoad = "load not known";
    return !draft.lowLoad;
  }
  if (draft.load < draft.criteria.min_load_share - SLACK) draft.lowLoad = `load ${percent(draft.load)}`;
  return !draft.lowLoad;
}

/** @param {Draft} draft */
function weighWind(draft) {
  const wind = draft.view.windMS ?? 0;
  if (wind > draft.criteria.wind_strong_m_s) draft.hidden.push(`wind ${short(wind)} m/s`);
  else if (wind > draft.criteria.wind_calm_m_s) draft.airHidden.push(`wind ${short(wind)} m/s`);
  if (draft.view.fan) draft.airHidden.push("fan on the part");
  return wind <= draft.criteria.wind_calm_m_s && !draft.view.fan;
}

/** False for a machine that stands, or runs in turn with others and nobody said that it ran. @param {Draft} draft */
function weighRunning(draft) {
  const { at, boxes, currentA, row } = draft.point;
  if (!MECHANICAL_KINDS.has(row.kind)) return true;
  const told = [boxes["speed_rpm"], boxes["load_share_percent"], currentA].filter((value) => typeof value === "number");
  if (told.includes(0)) draft.hidden.push("not running");
  else if (at.in_turn && !told.length) draft.hidden.push("runs in turn, not said that it ran");
  else return true;
  return false;
}

/** @param {Draft} draft */
function weighSight(draft) {
  const { measured, rangeEnd, settled, at } = draft.point;
  if (measured.underfilled) draft.hidden.push("spot not filled");
  if (rangeEnd === "top") draft.hidden.push("top of the instrument's range");
  if (!settled) draft.hidden.push("heat not settled");
  const why = indicative(draft);
  if (why) draft.hidden.push(why);
  if (measured.surface !== null && !measured.known) draft.hidden.push("outside the range of the correction");
  if (at.no_heat_answer === "bare metal") draft.hidden.push("bare metal");
}

/** @param {Draft} draft @param {number} ratedRiseK */
function weighShare(draft, ratedRiseK) {
  const { currentA, ratedA } = draft.point;
  if (draft.airK === null) return;
  let rated = ratedRiseK;
  draft.shareScaled = !draft.scales;
  if (draft.factor !== null && currentA && ratedA) {
    rated *= (currentA / ratedA) ** draft.criteria.exponent;
    draft.shareScaled = true;
  }
  draft.share = rounded((100 * draft.airK) / rated);
}

/** Why a reading is only indicative; empty where it is not. @param {Draft} draft */
export function indicative({ point, criteria }) {
  if (point.emissivity < criteria.emissivity_indicative) return `emissivity ${short(point.emissivity)}`;
  if (point.measured.weakWindow) return "weak window";
  if (point.measured.longPath) return "long path through the air";
  return point.measured.gain > criteria.gain_indicative ? "small errors much enlarged" : "";
}

/** @param {Draft} draft */
export function greasedLately({ point, criteria }) {
  const hours = point.hoursSinceGreased;
  if (!GREASED_KINDS.has(point.row.kind) || hours === null) return false;
  return hours >= 0 && hours <= criteria.greasing_cap_hours;
}
