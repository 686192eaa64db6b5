// Which points of a view are compared with which, and which of them are cold.

import { inOrder, known, median, middleOf, rounded, SLACK } from "./numbers.js";
import { place } from "./bands.js";

/** @import {Criteria, Measured, Seen, SeenView} from "./shapes.js" */
/**
 * Points that should read alike; `leftOut` are cold ones that do not enter their neighbours' median.
 * `referenceC` is that of all of them where all are plainly alike.
 * @typedef {{points: Seen[], cold: Set<Seen>, leftOut: Set<Seen>, referenceC: number | null}} LikeParts
 */

/** Kinds judged by the mechanical bands: the two ends of a shaft do not read alike. */
export const MECHANICAL = new Set(["bearing", "coupling or belt", "motor"]);

/** @param {Seen} one */
export const isRead = (one) => !one.reason && !Number.isNaN(one.value);

/** @param {SeenView} view @param {Criteria} criteria @returns {LikeParts[]} */
export function likePartsOf(view, criteria) {
  /** @type {Map<unknown, Seen[]>} */
  const groups = new Map();
  for (const one of view.points.filter(isRead)) {
    const { kind, component, reference_kind: habit } = one.row;
    const alone = one.at.neutral || habit !== "over like parts" || MECHANICAL.has(kind);
    const key = alone ? one : `${kind}|${component.trim().toLowerCase()}`;
    groups.set(key, [...(groups.get(key) ?? []), one]);
  }
  return [...groups.values()].map((points) => withCold(points, view.ambientC, criteria));
}

/** @param {Seen[]} points @param {number | null} ambientC @param {Criteria} criteria @returns {LikeParts} */
function withCold(points, ambientC, criteria) {
  /** @type {Set<Seen>} */
  const none = new Set();
  if (points.length < 2) return { points, cold: none, leftOut: none, referenceC: null };
  const ordered = inOrder(points.map((one) => one.value));
  const referenceC = ordered.length === 2 ? ordered[0] : middleOf(ordered);
  const under = referenceC - ordered[0];
  if (plainlyAlike(points, under, ordered[ordered.length - 1] - ordered[0], criteria))
    return { points, cold: none, leftOut: none, referenceC };
  const cold = new Set(
    points.filter((one) => lacksCurrent(one, points, criteria) || lacksHeat(one, points, ambientC, criteria)),
  );
  // where half of a view is cold it may as well be the other half that is hot
  const few = 2 * cold.size < points.length || (points.length === 2 && cold.size === 1);
  return { points, cold, leftOut: few ? cold : none, referenceC: null };
}

/** @param {Seen[]} points @param {number} underK @param {number} spreadK @param {Criteria} criteria */
function plainlyAlike(points, underK, spreadK, criteria) {
  const amps = points.map((one) => one.currentA).filter(known);
  const least = Math.min(...amps);
  if (amps.length && Math.max(...amps) - least > criteria.equal_current_share * least) return false;
  if ((points.length === 2 ? spreadK : underK) > criteria.cold.edges[0][0]) return false;
  return points.every((one) => one.rangeEnd !== "bottom");
}

/** Within a share of the point's own current, or one is not known. @param {Seen} one @param {Seen} other @param {number} share */
export function likeCurrents(one, other, share) {
  const [own, its] = [one.currentA, other.currentA];
  return !known(own) || !known(its) || Math.abs(its - own) <= share * own + SLACK * Math.abs(own);
}

/** Like parts that enter the median of a point, itself included. @param {Seen} one @param {LikeParts} group @param {number} share */
export function peersOf(one, group, share) {
  if (group.referenceC !== null) return group.points;
  return group.points.filter(
    (other) =>
      other === one ||
      (!group.leftOut.has(other) && other.rangeEnd !== "bottom" && likeCurrents(one, other, share)),
  );
}

/** Reading minus the median of its peers; of two, minus the cooler. @param {Seen} one @param {Seen[]} peers @param {LikeParts} group */
export function riseOver(one, peers, group) {
  const ordered = inOrder(peers.map((other) => other.value));
  const reference = group.referenceC ?? (ordered.length === 2 ? ordered[0] : middleOf(ordered));
  return rounded(one.value - reference);
}

/**
 * Parts that enter a rise over like parts with their coefficients, summing to 0.
 * @param {Seen} one
 * @param {Seen[]} peers
 * @returns {[Measured, number][]}
 */
export function differenceOf(one, peers) {
  if (peers.length === 2) {
    const other = peers[1] === one ? peers[0] : peers[1];
    return [[one.measured, 1], [other.measured, -1]];
  }
  const ordered = [...peers].sort((a, b) => a.value - b.value);
  const half = Math.floor(ordered.length / 2);
  if (ordered.length % 2) {
    let middle = ordered[half];
    if (middle === one) {
      const [below, above] = [ordered[half - 1], ordered[half + 1]];
      middle = one.value - below.value <= above.value - one.value ? below : above;
    }
    return [[one.measured, 1], [middle.measured, -1]];
  }
  let [low, high] = [half - 1, half];
  if (ordered[low] === one) low = half - 2;
  else if (ordered[high] === one) high = half + 1;
  return [[one.measured, 1], [at(ordered, low), -0.5], [at(ordered, high), -0.5]];
}

/** Negative places count from the end, as they do in the service. @param {Seen[]} ordered @param {number} index @returns {Measured} */
const at = (ordered, index) => /** @type {Seen} */ (ordered.at(index)).measured;

/** @param {Seen} one @param {Seen[]} group @param {Criteria} criteria */
function lacksCurrent(one, group, criteria) {
  const others = group.filter((other) => other !== one).map((other) => other.currentA).filter(known);
  if (!known(one.currentA) || !others.length) return false;
  return one.currentA < criteria.cold_current_share * median(others) * (1 - SLACK);
}

/** @param {Seen} one @param {Seen[]} group @param {number | null} ambientC @param {Criteria} criteria */
function lacksHeat(one, group, ambientC, criteria) {
  let middle = median(group.map((other) => other.value));
  if (group.length === 2) {
    const other = group[1] === one ? group[0] : group[1];
    if (!known(ambientC) || one.value - ambientC >= criteria.cold_twin_air_k) return false;
    if (other.value - ambientC <= criteria.cold_twin_other_k) return false;
    middle = other.value;
  }
  if (place(criteria.cold, rounded(middle - one.value)) === 0) return false;
  return !explainedByLoad(one, group, ambientC, middle, criteria);
}

/** @param {Seen} one @param {Seen[]} group @param {number | null} ambientC @param {number} middle @param {Criteria} criteria */
function explainedByLoad(one, group, ambientC, middle, criteria) {
  const others = group.filter((other) => other !== one).map((other) => other.currentA).filter(known);
  if (!known(one.currentA) || !others.length) return false;
  const usual = median(others);
  const ratio = usual ? one.currentA / usual : 1;
  if (ratio >= 1 - criteria.equal_current_share - SLACK) return false;
  if (!known(ambientC)) return true;
  const expected = ambientC + (middle - ambientC) * ratio ** 2;
  return place(criteria.cold, rounded(expected - one.value)) === 0;
}
