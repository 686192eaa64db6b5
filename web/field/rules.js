// The rules by which a rise becomes a level, in the service's order; each works on a draft.

import { ACT_NOW, airFor, isSilent, LEVELS, linesOf, LOOK_AGAIN, NOTHING_FOUND, place, REPAIR_SOON } from "./bands.js";
import {
  atCommonLoad, BASELINE, CURRENT_KINDS, GREASED_KINDS, greasedLately, indicative, LIKE_PARTS,
  OVER_AIR, raiseTo, RATED_SHARE, refuse, uAtCommonLoad, uOf,
} from "./draft.js";
import { fixed, known, rounded, short, SLACK } from "./numbers.js";
import { judgeTemplates } from "./templates.js";
import { chanceOver, overAir, overBaseline, scaled, scaledChanceOver, summed } from "./uncertainty.js";

/** @import {Draft} from "./draft.js" */
/** @import {BandRule} from "./shapes.js" */
/** @import {KindJudged} from "./templates.js" */
/** @import {Lines} from "./uncertainty.js" */

const LIMIT_AIR_C = 40;
export const RULES = {
  notAssessable: "not assessable", noNumber: "no number", similar: "1a.2 similar",
  commonLoad: "1a.1 common load", limit: "1a.2 limit", share: "1a.3 rated share",
  baseline: "1a.3 baseline", air: "1a.3 air", forming: "1a.3 baseline forming",
  noAir: "1a.3 no air temperature", nearLine: "1a.4 near the line", cold: "1a.6 cold",
  noHeat: "1a.7 no heat seen", couldNotClear: "1a.8 could not clear", bottom: "1a.8 bottom of range",
  notComputed: "1a.8 not computed", twinOnly: "1a.8 comparison only", total: "1a.9 total temperature",
  noBand: "1a.11 no band", template: "1a.11 site's own band",
};

/**
 * Put a value in its band by one column; value and u in the column's unit.
 * @param {Draft} draft
 * @param {BandRule} column
 * @param {{value: number, u: number | null, rule: string}} by
 */
function decide(draft, column, { value, u, rule }) {
  const band = place(column, value);
  const level = column.levels[band];
  const said = { level, band: level, overFirstLine: level > NOTHING_FOUND, judged: value, rule };
  const edge = column.edges[0][0];
  Object.assign(draft, said, { column, judgedU: u, firstLine: edge });
  Object.assign(draft, { publishedBand: column.bands[band], source: column.cited });
}

/** The figure at common load raises a level only when it is firm. @param {Draft} draft */
export function commonLoad(draft) {
  const { column, level, commonK, criteria, reference } = draft;
  if (column === null || level === null || commonK === null || draft.valueK === null) return;
  if (reference !== LIKE_PARTS && reference !== OVER_AIR) return; // the others are at common load already
  const u = uAtCommonLoad(draft, draft.valueK);
  if (u === null) return;
  let firm = NOTHING_FOUND;
  for (const [above, line] of linesOf(column))
    if (scaledChanceOver(commonK, line, u) >= criteria.firm_chance) firm = Math.max(firm, above);
  if (reference === OVER_AIR && firm < criteria.air_alone_from_level) return;
  if (firm <= level) return;
  const over = reference === LIKE_PARTS ? "its like parts" : "air";
  const note = `firmly so at common load, ${fixed(commonK, 1)} K over ${over}`;
  draft.firmAtCommon = true;
  raiseTo(draft, firm, { rule: RULES.commonLoad, source: column.cited, note });
}

/** With a like part the similar column decides. @param {Draft} draft @param {number} value @param {Lines | null} lines */
export function likePart(draft, value, lines) {
  Object.assign(draft, { reference: LIKE_PARTS, valueK: value, lines });
  draft.commonK = atCommonLoad(draft, value);
  decide(draft, draft.criteria.similar, { value, u: uOf(draft), rule: RULES.similar });
}

/** Without one: share of rated rise, else own baseline and air, else no verdict. @param {Draft} draft */
export function noLikePart(draft) {
  const { airK, criteria, point } = draft;
  draft.reference = OVER_AIR;
  if (airK === null) return refuse(draft, RULES.noAir, "no like part, and no air temperature");
  if (point.emissivity < criteria.emissivity_twin_only) {
    const note = `emissivity ${short(point.emissivity)}: only a like part could be compared`;
    return refuse(draft, RULES.twinOnly, note);
  }
  Object.assign(draft, { valueK: airK, lines: overAir(point.measured) });
  draft.commonK = atCommonLoad(draft, airK);
  if (draft.share !== null) {
    draft.reference = RATED_SHARE;
    if (!draft.shareScaled) draft.airHidden.push("not brought to the rated load");
    return decide(draft, criteria.rated_share, { value: draft.share, u: uOfShare(draft), rule: RULES.share });
  }
  if (known(point.row.baseline_k)) overOwnBaseline(draft, airK, point.row.baseline_k);
  return overAirAlone(draft, airK);
}

/** Standard uncertainty of the share of rated rise [%]; the rating is taken as exact. @param {Draft} draft */
function uOfShare(draft) {
  const { currentA, ratedA, row } = draft.point;
  if (draft.lines === null || draft.airK === null || draft.share === null || !row.rated_rise_k) return null;
  if (draft.factor === null || !currentA || !ratedA) return (100 * summed(draft.lines)) / row.rated_rise_k;
  return (100 * summed(scaled(draft.airK, draft.lines, currentA / ratedA, draft.criteria))) / row.rated_rise_k;
}

/** Mechanical bands over the point's own baseline, both on one scale. @param {Draft} draft @param {number} airK @param {number} baselineK */
function overOwnBaseline(draft, airK, baselineK) {
  const { criteria, factor } = draft;
  if (draft.scales && factor === null) draft.airHidden.push("not brought to common load");
  const value = rounded((factor === null ? airK : airK * factor) - baselineK);
  draft.lines = overBaseline(draft.point.measured);
  const u = factor === null ? uOf(draft) : uAtCommonLoad(draft, value / factor);
  decide(draft, criteria.baseline, { value, u, rule: RULES.baseline });
  draft.reference = BASELINE;
  const twoU = draft.judgedU === null ? criteria.two_u_k : Number((2 * draft.judgedU).toFixed(1));
  // never past the first edge, or the first band would be empty
  draft.firstLine = draft.judgedU === null ? twoU : Math.min(twoU, criteria.baseline.edges[0][0]);
  if (value < draft.firstLine) {
    Object.assign(draft, { level: NOTHING_FOUND, band: NOTHING_FOUND, overFirstLine: false });
    draft.publishedBand = `within ${short(draft.firstLine)} K of its baseline`;
  }
  draft.commonK = factor === null ? null : value;
  draft.valueK = factor === null ? value : rounded(value / factor);
}

/** The air column: shown, and a level by itself only where it may speak. @param {Draft} draft @param {number} airK */
function overAirAlone(draft, airK) {
  const { criteria, point } = draft;
  const rule = airFor(criteria, point.row.kind);
  const told = draft.level !== null;
  if (!isSilent(rule)) {
    const level = rule.levels[place(rule, airK)];
    const speaks = rule === criteria.air ? level >= criteria.air_alone_from_level : level > NOTHING_FOUND;
    if (speaks && (draft.level === null || level > draft.level)) {
      draft.lines = overAir(point.measured);
      decide(draft, rule, { value: airK, u: uOf(draft), rule: RULES.air });
      Object.assign(draft, { reference: OVER_AIR, valueK: airK, commonK: atCommonLoad(draft, airK) });
      return;
    }
    if (!told) {
      const band = place(rule, airK);
      Object.assign(draft, { band: rule.levels[band], publishedBand: rule.bands[band] });
    }
  }
  if (told) return;
  draft.source = rule.cited;
  const visits = criteria.baseline_visits;
  refuse(draft, RULES.forming, `no like part, and fewer than ${visits} clearing visits to compare with`);
}

/** A standard's absolute limit may raise the level; an indicative reading is not checked. @param {Draft} draft */
export function absoluteLimit(draft) {
  const { point, criteria, view } = draft;
  const { limit } = point.at;
  if (limit === null || indicative(draft)) return;
  let over = limit.total_c === null ? -Infinity : point.value - limit.total_c;
  if (limit.rise_k !== null && draft.airK !== null && (view.ambientC ?? 0) <= LIMIT_AIR_C)
    over = Math.max(over, draft.airK - limit.rise_k);
  over = over > -Infinity ? rounded(over) : over;
  if (over <= 0) return;
  const level = over > criteria.limit_act_now_over_k ? ACT_NOW : criteria.limit_level;
  const parts = [limit.total_c ? `${short(limit.total_c)} °C` : "", limit.rise_k ? `${short(limit.rise_k)} K` : ""];
  const told = parts.filter(Boolean).join(" / ");
  const note = `${fixed(over, 1)} K past the limit for a ${limit.part} (${told}, ${limit.edition})`;
  raiseTo(draft, level, { rule: RULES.limit, source: limit.cited, note });
}

/** Look again needs two visits running, or nine chances in ten over its line. @param {Draft} draft */
export function lookAgain(draft) {
  if (draft.level !== LOOK_AGAIN || draft.cold || draft.firmAtCommon) return;
  if (draft.point.at.previous_over_first_line) return;
  const { judged, firstLine, judgedU: u, criteria } = draft;
  if (judged !== null && firstLine !== null && u && chanceOver(judged, firstLine, u) >= criteria.look_again_chance)
    return;
  Object.assign(draft, { level: NOTHING_FOUND, nearLine: true, rule: RULES.nearLine });
  draft.notes.push("near the line: Look again if the next visit says the same");
}

/** A cold part: Look again at once. @param {Draft} draft @param {number} underK @param {Lines | null} lines @param {string} note */
export function coldPart(draft, underK, lines, note) {
  const { cold } = draft.criteria;
  Object.assign(draft, { level: LOOK_AGAIN, band: LOOK_AGAIN, reference: LIKE_PARTS, valueK: -underK, lines });
  draft.commonK = atCommonLoad(draft, -underK);
  Object.assign(draft, { cold: true, overFirstLine: true, source: cold.cited, rule: RULES.cold });
  draft.publishedBand = cold.bands[cold.bands.length - 1];
  draft.notes.push(note);
}

/** No heat on bare parts under load: no verdict until "load or bare metal?" is answered. @param {Draft} draft */
export function noHeat(draft) {
  const { point, criteria } = draft;
  if (draft.airK === null || draft.airK > criteria.no_heat_k || !CURRENT_KINDS.has(point.row.kind)) return;
  if (draft.load === null || draft.load < criteria.min_load_share - SLACK) return;
  if (!point.at.coating.toLowerCase().includes("bare")) return;
  const answer = point.at.no_heat_answer;
  if (answer === "no load") draft.hidden.push("no load");
  else if (answer === null && draft.level) draft.hidden.push("no heat seen");
  else if (answer === null) refuse(draft, RULES.noHeat, "no heat seen under load; ask once: load or bare metal?");
}

/** At low load the relative difference is told as a second opinion. @param {Draft} draft @param {number} likeK */
export function secondOpinion(draft, likeK) {
  const { criteria } = draft;
  if (!criteria.relative_on || draft.load === null || !draft.lowLoad) return;
  if (draft.airK === null || draft.airK < criteria.relative_min_rise_k || likeK <= 0) return;
  const share = rounded((100 * likeK) / draft.airK);
  const level = criteria.relative.levels[place(criteria.relative, share)];
  draft.notes.push(`relative difference ${fixed(share, 0)} %, second opinion ${LEVELS[level]}`);
}

/** Bearings and couplings: Act now needs total temperature too; fresh grease runs warm. @param {Draft} draft */
export function greasedPart(draft) {
  const { point, criteria } = draft;
  if (!GREASED_KINDS.has(point.row.kind)) return;
  const hot = point.value > criteria.bearing_total_c;
  const limit = short(criteria.bearing_total_c);
  if (draft.level === ACT_NOW && !(hot || point.secondMethodAgrees)) {
    draft.level = REPAIR_SOON;
    draft.notes.push(`Act now would need more than ${limit} °C or a second method's finding`);
  }
  const source = "Bearings up to 80 °C [common practice, no source]";
  const why = { rule: RULES.total, source, note: `over ${limit} °C on the part` };
  if (hot) raiseTo(draft, criteria.bearing_total_level, why);
  if (!draft.level) return;
  if (greasedLately(draft) && !(hot || point.secondMethodAgrees)) {
    if (draft.level > criteria.greasing_cap_level) {
      draft.level = criteria.greasing_cap_level;
      draft.hidden.push("greased lately");
    }
    const hours = short(/** @type {number} */ (point.hoursSinceGreased));
    draft.notes.push(`greased ${hours} h before: read again after it has settled`);
  } else if (point.hoursSinceGreased === null && !point.greasedAsked)
    draft.notes.push("ask when it was last greased");
}

/** A kind without a published band: no verdict until the site fills its templates in. @param {Draft} draft @param {number | null} likeK @param {Lines | null} likeLines */
export function siteBands(draft, likeK, likeLines) {
  const { point, view, criteria, airK, share } = draft;
  const { templates } = point.at;
  const own = point.row.baseline_k;
  const baseline = airK === null || !known(own) ? null : rounded(airK - own);
  const rises = { like: likeK, air: airK, baseline, share };
  const told = judgeTemplates(point, view, { templates, rises, criteria });
  draft.reference = templates[0].rule.reference;
  draft.source = told.source;
  if (told.level === null || told.template === null || told.value === null)
    return refuse(draft, RULES.noBand, told.refused);
  draft.hidden.push(...told.hidden);
  const { rule, measure } = told.template;
  if (measure !== "rise") return byBoxes(draft, told);
  if (rule.unit !== "K") {
    forInformation(draft, rule.reference);
    return decide(draft, rule, { value: told.value, u: uOfShare(draft), rule: RULES.template });
  }
  Object.assign(draft, { reference: rule.reference, valueK: told.value });
  draft.lines = rule.reference === LIKE_PARTS ? likeLines : linesFor(draft, rule.reference);
  if (rule.reference !== BASELINE) draft.commonK = atCommonLoad(draft, told.value);
  return decide(draft, rule, { value: told.value, u: uOf(draft), rule: RULES.template });
}

/** @param {Draft} draft @param {string} reference */
const linesFor = (draft, reference) =>
  reference === BASELINE ? overBaseline(draft.point.measured) : overAir(draft.point.measured);

/** @param {Draft} draft @param {string} reference */
function forInformation(draft, reference) {
  Object.assign(draft, { reference, valueK: draft.airK, lines: overAir(draft.point.measured) });
}

/** A temperature or a difference of boxes decided: the rise over air is for information. @param {Draft} draft @param {KindJudged} told */
function byBoxes(draft, told) {
  forInformation(draft, OVER_AIR);
  const level = /** @type {number} */ (told.level);
  Object.assign(draft, { level, band: level, overFirstLine: level > NOTHING_FOUND, told: told.told });
  Object.assign(draft, { publishedBand: told.band, rule: RULES.template });
}

