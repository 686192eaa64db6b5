// Judge a view on the device, by the criteria in its pack: the service's own rules, figures and words.
// Left to the service: two people's readings of one point, corrections of an earlier visit, standing and
// trend, findings, and what only a whole send shows (degrees Fahrenheit, calibration overdue, settings).

import { BASELINE, LIKE_PARTS, OVER_AIR, RATED_SHARE, uAtCommonLoad, uOf } from "./draft.js";
import { known, median } from "./numbers.js";
import { odditiesOf } from "./oddities.js";
import { resolve } from "./settings.js";
import { settleOf } from "./settling.js";
import { measure } from "./surface.js";
import { numberIn } from "./templates.js";
import { trendSentence } from "./trends.js";
import { loadWords, verdictsOf } from "./verdicts.js";

/** @import {JudgedPoint, Oddity, Pack, PackPoint, PackStop, PackView, Seen, Settle, Typed} from "./shapes.js" */
/** @import {Verdict} from "./verdicts.js" */

const REFERENCES = /** @type {Record<string, string>} */ ({
  [LIKE_PARTS]: "like parts", [OVER_AIR]: "air", [BASELINE]: "baseline", [RATED_SHARE]: "rated share",
});

/**
 * @param {Pack} pack
 * @param {PackView} view
 * @param {PackStop} stop
 * @param {Record<string, Typed>} typed by row uid what was typed of it; numbers or null
 * @param {Typed} around what holds for the whole view: air, reflected, wind, distance, settings, instrument
 * @returns {{points: JudgedPoint[], settle: Settle | null}} points in the order of the view
 */
export function judgeView(pack, view, stop, typed, around) {
  const rows = view.points
    .map((point) => ({ point, typed: together(around, typed[point.row_uid] ?? {}) }))
    .filter(({ typed: one }) => known(one.temperature_c) || one.reason);
  const seen = rows.map((row) => seenOf(pack, stop, row.point, row.typed));
  const airs = seen.map(({ inputs }) => inputs.ambientC).filter(known);
  const winds = seen.map(({ inputs }) => inputs.windMS).filter(known);
  const asSeen = {
    points: seen,
    ambientC: airs.length ? median(airs) : null,
    windMS: winds.length ? Math.max(...winds) : null,
    fan: rows.some(({ typed: one }) => Boolean(one.fan_on_part)),
  };
  const verdicts = verdictsOf(asSeen, pack.criteria[stop.criteria]);
  const asked = odditiesOf(rows, stop, pack);
  const said = new Map(verdicts.map((one) => [one.point.row.row_uid, one]));
  const points = view.points.map((point) => told(point, said.get(point.row_uid), asked.get(point.row_uid) ?? []));
  return { points, settle: settleOf(verdicts, stop) };
}

/** What was typed of the point goes before what holds around it; null says nothing. @param {Typed} around @param {Typed} own @returns {Typed} */
function together(around, own) {
  const said = Object.entries(own).filter(([, value]) => value !== null && value !== undefined);
  return { ...around, ...Object.fromEntries(said) };
}

/** One reading with what is known of its point. @param {Pack} pack @param {PackStop} stop @param {PackPoint} point @param {Typed} typed @returns {Seen} */
function seenOf(pack, stop, point, typed) {
  const inputs = resolve(pack, point, typed);
  const measured = measure(inputs);
  /** @type {Seen} */
  const seen = {
    row: point,
    at: point.judging,
    value: measured.surface ?? Number.NaN,
    reason: typed.reason || null,
    currentA: inputs.currentA,
    ratedA: stop.rated_current_a,
    emissivity: inputs.emissivity.value,
    measured,
    inputs,
    boxes: typed.boxes ?? {},
    rangeEnd: rangeEnd(inputs),
    settled: measured.settling !== "not settled",
    hoursSinceGreased: hoursSince(point.judging.greased_at, typed.taken_at),
    greasedAsked: point.judging.greased_at !== null,
    secondMethodAgrees: false,
  };
  const hours = numberIn(seen, "greased_hours_before");
  if (hours !== null) Object.assign(seen, { hoursSinceGreased: hours, greasedAsked: true });
  return { ...seen, secondMethodAgrees: seen.boxes["second_method_agrees"] === true };
}

/** @param {import("./settings.js").Inputs} inputs */
function rangeEnd({ shownC, instrument }) {
  if (!known(shownC) || !instrument) return null;
  if (known(instrument.high_c) && shownC >= instrument.high_c) return "top";
  return known(instrument.low_c) && shownC <= instrument.low_c ? "bottom" : null;
}

/** @param {string | null} greasedAt @param {string | null | undefined} takenAt */
function hoursSince(greasedAt, takenAt) {
  if (!greasedAt) return null;
  const hours = ((takenAt ? Date.parse(takenAt) : Date.now()) - Date.parse(greasedAt)) / 3_600_000;
  return hours >= 0 ? hours : null;
}

/** @param {PackPoint} point @param {Verdict | undefined} said @param {Oddity[]} oddities @returns {JudgedPoint} */
function told(point, said, oddities) {
  const draft = said?.draft ?? null;
  return {
    rowUid: point.row_uid,
    correctedC: said?.point.measured.surface ?? null,
    riseK: draft?.valueK ?? null,
    reference: draft?.reference ? REFERENCES[draft.reference] : null,
    commonK: draft?.commonK ?? null,
    level: said?.level ?? null,
    atLeast: said?.atLeast ?? false,
    sentence: said?.sentence ?? "",
    trendSentence: draft ? trendSentence(point, draft) : "",
    oddities,
    load: loadWords(draft),
    nearLine: draft?.nearLine ?? false,
    cold: draft?.cold ?? false,
    unequal: draft?.unequal ?? false,
    rule: said?.rule ?? "",
    band: draft?.publishedBand ?? "",
    source: draft?.source ?? "",
    uK: draft ? uOf(draft) : null,
    uCommonK: draft && draft.commonK !== null && draft.valueK !== null ? uAtCommonLoad(draft, draft.valueK) : null,
    shareOfRated: draft?.share ?? null,
  };
}
