// Where one is: the part of the address behind the hash, so that a reload without signal comes back to it.

/** @typedef {{name: string, roundId: number, stopId: number, viewId: number, uid: string}} Place */

const NOWHERE = { name: "rounds", roundId: 0, stopId: 0, viewId: 0, uid: "" };
const OF_ROUND = new Set(["kept", "check", "clock", "hot"]);

/** @param {string} hash @returns {Place} */
export function placeOf(hash) {
  const [first, round, second, third, fourth, fifth] = hash.replace(/^#?\/?/, "").split("/");
  if (first === "settings") return { ...NOWHERE, name: "settings" };
  const roundId = Number(round);
  if (first !== "rounds" || !Number.isSafeInteger(roundId) || roundId < 1) return NOWHERE;
  const at = { ...NOWHERE, name: "round", roundId };
  if (second === "tell" && third) return { ...at, name: "tell", uid: third };
  if (second && OF_ROUND.has(second)) return { ...at, name: second };
  const stopId = Number(third);
  if (second !== "stops" || !Number.isSafeInteger(stopId)) return at;
  const viewId = Number(fifth);
  if (fourth !== "views" || !Number.isSafeInteger(viewId)) return { ...at, name: "stop", stopId };
  return { ...at, name: "view", stopId, viewId };
}

/** @param {number} roundId @param {string} [rest] */
export function ofRound(roundId, rest = "") {
  return `#/rounds/${roundId}${rest && `/${rest}`}`;
}

/** @param {number} roundId @param {number} stopId */
export function ofStop(roundId, stopId) {
  return ofRound(roundId, `stops/${stopId}`);
}

/** @param {number} roundId @param {number} stopId @param {number} viewId */
export function ofView(roundId, stopId, viewId) {
  return ofRound(roundId, `stops/${stopId}/views/${viewId}`);
}
