// From a view as seen to a verdict per point, in the service's order and in its words.

import { LEVELS, NO_VERDICT } from "./bands.js";
import {
  atCommonLoad, BASELINE, indicative, LIKE_PARTS, OVER_AIR, percent, RATED_SHARE, refuse, uOf, weigh,
} from "./draft.js";
import { differenceOf, likeCurrents, likePartsOf, peersOf, riseOver } from "./likeparts.js";
import { fixed, inOrder, known, median, middleOf, rounded, short } from "./numbers.js";
import * as rules from "./rules.js";
import { notesOfBoxes } from "./templates.js";
import { overLikeParts } from "./uncertainty.js";

/** @import {Draft} from "./draft.js" */
/** @import {LikeParts} from "./likeparts.js" */
/** @import {Criteria, Seen, SeenView} from "./shapes.js" */
/**
 * @typedef {{point: Seen, draft: Draft | null, level: number | null, atLeast: boolean, rule: string,
 *   sentence: string, reasons: string[]}} Verdict
 */

const { RULES } = rules;
const REFERENCE_WORDS = /** @type {Record<string, string>} */ ({
  [LIKE_PARTS]: "its like parts", [OVER_AIR]: "air", [BASELINE]: "its own baseline",
});
const REASONS = /** @type {Record<string, string>} */ ({
  K: "locked or no permit", Q: "no qualified person", O: "off", C: "covered", W: "wet, fog or sun",
  S: "not safe", B: "blocked by goods", N: "not there or wrong tag", T: "ran out of time", X: "other",
});
/** What makes a figure impossible although there is a number, and what to do. */
const REFUSED = /** @type {Record<string, string>} */ ({
  "no window transmission": "what the window lets through is not known: type what the window lets through",
  "no window temperature": "the temperature of the window is not known: type the temperature of the window",
  "window opaque":
    "the window lets too little through; ordinary glass and acrylic nothing: " +
    "open the cover by a qualified person, or fit a window for the band",
  undefined:
    "no surface temperature explains this reading with these settings: " +
    "check emissivity, reflected temperature and the settings in the instrument",
});

/**
 * Judge every point of a view.
 * @param {SeenView} view
 * @param {Criteria} criteria
 * @returns {Verdict[]} in the order of its points
 */
export function verdictsOf(view, criteria) {
  /** @type {Map<Seen, Verdict>} */
  const found = new Map();
  for (const group of likePartsOf(view, criteria))
    for (const point of group.points) found.set(point, finish(judge(point, group, view, criteria)));
  return view.points.map((point) => found.get(point) ?? notAssessable(point));
}

/** @param {Seen} point @param {LikeParts} group @param {SeenView} view @param {Criteria} criteria @returns {Draft} */
function judge(point, group, view, criteria) {
  const draft = weigh(point, view, criteria);
  if (group.cold.has(point)) {
    judgeCold(draft, group.points.filter((other) => !group.cold.has(other)));
    rules.absoluteLimit(draft);
    return draft;
  }
  if (point.rangeEnd === "bottom") {
    refuse(draft, RULES.bottom, "bottom of the instrument's range: read again a range lower");
    return draft;
  }
  const peers = peersOf(point, group, criteria.equal_current_share);
  const likeK = peers.length > 1 ? riseOver(point, peers, group) : null;
  if (group.points.length > peers.length) {
    const neighbours = group.points.filter((other) => !group.leftOut.has(other));
    sayUnequal(draft, neighbours, likeK !== null);
  }
  const likeLines = likeK === null ? null : overLikeParts(differenceOf(point, peers));
  const templated = point.at.templates.length > 0;
  if (templated) rules.siteBands(draft, likeK, likeLines);
  else if (likeK !== null) rules.likePart(draft, likeK, likeLines);
  else rules.noLikePart(draft);
  rules.commonLoad(draft);
  rules.absoluteLimit(draft);
  rules.lookAgain(draft);
  rules.noHeat(draft);
  if (likeK !== null) rules.secondOpinion(draft, likeK);
  if (!templated) rules.greasedPart(draft);
  draft.notes.push(...notesOfBoxes(point));
  return draft;
}

/** @param {Draft} draft @param {Seen[]} warm */
function judgeCold(draft, warm) {
  const own = draft.point.value;
  const under = rounded((warm.length ? median(warm.map((other) => other.value)) : own) - own);
  const colder = under > 0 ? `${fixed(under, 1)} K colder than its like parts` : "not colder so far";
  const amps = known(draft.point.currentA) ? `, ${short(draft.point.currentA)} A` : "";
  const lines = warm.length ? overLikeParts(differenceOf(draft.point, [draft.point, ...warm])) : null;
  rules.coldPart(draft, under, lines, `open circuit? ${colder}${amps}`);
}

/** Unequal currents are said first: unequal load before bad joint. @param {Draft} draft @param {Seen[]} neighbours @param {boolean} compared */
function sayUnequal(draft, neighbours, compared) {
  const { point, criteria } = draft;
  if (neighbours.every((other) => likeCurrents(point, other, criteria.equal_current_share))) return;
  draft.unequal = true;
  const amps = neighbours.map(({ currentA }) => (known(currentA) ? short(currentA) : "?")).join(" / ");
  draft.first = `Unequal currents (${amps} A): unequal load before bad joint. `;
  if (compared) return;
  const rises = neighbours.map((other) => commonRise(weigh(other, draft.view, criteria))).filter(known);
  const own = commonRise(draft);
  if (own === null || rises.length < neighbours.length) return;
  const ordered = inOrder(rises);
  const middle = ordered.length === 2 ? ordered[0] : middleOf(ordered);
  const told = overWords(own - middle, "its like parts");
  draft.notes.push(`brought to common load, each by its own current: ${told}`);
}

/** @param {Draft} draft */
const commonRise = (draft) => (draft.airK === null ? null : atCommonLoad(draft, draft.airK));

/** What can only cool or hide may accuse, never clear; then the sentence. @param {Draft} draft @returns {Verdict} */
function finish(draft) {
  let { level, rule } = draft;
  const reasons = [...new Set(draft.hidden)];
  if (draft.lowLoad && !draft.cold) reasons.unshift(draft.lowLoad);
  if (draft.reference !== LIKE_PARTS) {
    reasons.push(...draft.airHidden.filter((why) => !reasons.includes(why)));
    if (draft.reference === OVER_AIR && isWide(draft)) reasons.push("uncertainty more than half of the rise");
    if (level && indicative(draft)) level = Math.min(level, draft.criteria.indicative_cap_level);
  }
  const atLeast = reasons.length > 0 && Boolean(level);
  if (reasons.length && !level) {
    level = null;
    if (rule !== RULES.noHeat && rule !== RULES.noBand && rule !== RULES.bottom) rule = RULES.couldNotClear;
  }
  draft.rule = rule;
  return { point: draft.point, draft, level, atLeast, rule, reasons, sentence: sentenceOf(draft, level, atLeast, reasons) };
}

/** Over air and past its first line, with more than half of the rise uncertain (k = 2). @param {Draft} draft */
function isWide(draft) {
  const u = uOf(draft);
  return u !== null && draft.valueK !== null && draft.overFirstLine && 2 * u > draft.valueK / 2;
}

/** @param {Draft} draft @param {number | null} level @param {boolean} atLeast @param {string[]} reasons */
function sentenceOf(draft, level, atLeast, reasons) {
  if (level === null) {
    const said = draft.rule === RULES.couldNotClear ? [`could not clear (${reasons.join(", ")})`] : [];
    return `${draft.first}${NO_VERDICT}: ${[...said, ...draft.notes].join("; ")}.`;
  }
  const word = atLeast ? `At least ${LEVELS[level]}` : LEVELS[level];
  const said = [...(draft.cold ? [] : [what(draft)]), ...draft.notes].join("; ");
  return `${draft.first}${word}: ${said}${atLeast ? `, ${reasons.join(", ")}` : ""}.`;
}

/** @param {Draft} draft */
function what(draft) {
  if (draft.told) return draft.told;
  if (draft.reference === RATED_SHARE && draft.share !== null) return `${fixed(draft.share, 0)} % of its rated rise`;
  if (draft.valueK === null || draft.reference === null)
    return draft.airK === null ? "as read" : `${fixed(draft.airK, 1)} K over air`;
  const told = overWords(draft.judged ?? draft.valueK, REFERENCE_WORDS[draft.reference]);
  return draft.reference === BASELINE && draft.commonK !== null ? `${told} at common load` : told;
}

/** @param {number} rise @param {string} reference */
function overWords(rise, reference) {
  if (Math.abs(rise) < 0.05) return `level with ${reference}`;
  return `${fixed(Math.abs(rise), 1)} K ${rise > 0 ? "over" : "under"} ${reference}`;
}

/** @param {Seen} point @returns {Verdict} */
function notAssessable(point) {
  let [told, rule] = ["no usable number", RULES.noNumber];
  if (point.reason) [told, rule] = [`not assessable, ${REASONS[point.reason]}`, RULES.notAssessable];
  else if (point.measured.surface === null && point.measured.refusal in REFUSED)
    [told, rule] = [REFUSED[point.measured.refusal], RULES.notComputed];
  const sentence = `${NO_VERDICT}: ${told}.`;
  return { point, draft: null, level: null, atLeast: false, rule, reasons: [], sentence };
}

/** Load in words, as it stands under a verdict. @param {Draft | null} draft */
export const loadWords = (draft) => (draft?.load == null ? "" : `load ${percent(draft.load)}`);
