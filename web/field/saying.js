// What a view says as it is typed: the gravest of its points in a sentence, and the pattern of its heat.

import { el, levelMark, refill } from "./dom.js";
import { taps } from "./more.js";
import { told } from "./units.js";

/** @typedef {import("./types.js").View} View */
/** @typedef {import("./types.js").JudgedPoint} JudgedPoint */

/** Boxes that say where it is warm, by kind. */
const PATTERNS = ["heat_pattern", "warm_end", "warm_place"];

/** The point that wants most care: by level, then by rise. @param {JudgedPoint[]} points */
export function gravest(points) {
  const said = points.filter((one) => one.sentence);
  said.sort((a, b) => (b.level ?? -1) - (a.level ?? -1) || (b.riseK ?? 0) - (a.riseK ?? 0));
  return said[0];
}

/**
 * @param {HTMLElement} place @param {View} view @param {JudgedPoint[]} points
 * @param {import("./units.js").Told} pack in whose unit it is said
 */
export function say(place, view, points, pack) {
  const worst = gravest(points);
  if (!worst) return refill(place, el("p", { class: "quiet" }, "What it says stands here as you type."));
  const point = view.points.find((each) => each.row_uid === worst.rowUid);
  const name = view.points.length > 1 && point?.label ? `${point.label}: ` : "";
  refill(place, levelMark(worst.level), el("p", {},
    el("strong", { class: `word-${worst.level ?? "none"}` }, name, told(worst.sentence, pack)),
    worst.trendSentence ? ` ${told(worst.trendSentence, pack)}` : ""));
}

/**
 * One tap where something stands above Nothing found: a joint, a conductor and a load look different.
 * @param {HTMLElement} place @param {View} view @param {JudgedPoint[]} points
 * @param {import("./types.js").ViewDraft} draft @param {() => void} changed
 */
export function askPattern(place, view, points, draft, changed) {
  const worst = gravest(points);
  const point = worst?.level ? view.points.find((each) => each.row_uid === worst.rowUid) : undefined;
  const box = point?.boxes.find((one) => PATTERNS.includes(one.key));
  if (!point || !box) {
    delete place.dataset.point;
    return refill(place);
  }
  if (place.dataset.point === point.row_uid) return; // as it stands: a tap keeps its focus
  place.dataset.point = point.row_uid;
  const own = draft.points[point.row_uid];
  refill(place, el("p", { class: "quiet" }, `Where is ${view.points.length > 1 ? point.label : "it"} warm?`),
    taps(box.words, own.boxes[box.key] ?? "", (word) => {
      own.boxes[box.key] = word;
      changed();
    }, box.label));
}
