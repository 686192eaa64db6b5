// What is typed and not yet sent, and the sends that are made of it.

import { numberOf } from "./typed.js";
import { degrees, inFahrenheit } from "./units.js";

/** @typedef {import("./types.js").Pack} Pack */
/** @typedef {import("./types.js").Stop} Stop */
/** @typedef {import("./types.js").View} View */
/** @typedef {import("./types.js").Point} Point */
/** @typedef {import("./types.js").PointDraft} PointDraft */
/** @typedef {import("./types.js").ViewDraft} ViewDraft */
/** @typedef {import("./types.js").StopDraft} StopDraft */
/** @typedef {import("./types.js").RoundDraft} RoundDraft */
/** @typedef {import("./types.js").Store} Store */
/** @typedef {import("./types.js").Send} Send */

const CHANGED = "changed on the round, before sign-off";

/** @param {Partial<PointDraft>} [kept] @returns {PointDraft} */
function pointDraft(kept) {
  return {
    uid: crypto.randomUUID(), temperature: "", amps: "", reason: "", picture: "", note: "", boxes: {}, at: "",
    asked: [], sent: "", sends: [], spoken: 0, ...kept,
  };
}

/** @param {View} view @param {Partial<ViewDraft>} [kept] @returns {ViewDraft} */
export function viewDraft(view, kept) {
  const draft = {
    neutral: "", emissivity: "", reflectedSet: "", distance: "", settled: false, told: false, undo: [], ...kept,
  };
  const points = Object.fromEntries(view.points.map((one) => [one.row_uid, pointDraft(kept?.points?.[one.row_uid])]));
  return { ...draft, points };
}

/** @param {Pack} pack @param {Partial<StopDraft>} [kept] @returns {StopDraft} */
export function stopDraft(pack, kept) {
  return {
    uid: crypto.randomUUID(), startedAt: "", endedAt: "", ambient: "", reflected: "", wind: "",
    instrumentId: pack.round.instrument_id, seen: "", heard: "", smelt: "", cautionsAt: "", emissivity: "", reflectedSet: "", sent: "", sends: [], spoken: 0, ...kept,
  };
}

/** @param {Pack} pack @param {Partial<RoundDraft>} [kept] @returns {RoundDraft} */
export function roundDraft(pack, kept) {
  return { order: pack.stops.map((stop) => stop.id), cautionSites: [], untold: [], checks: [], ...kept };
}

export const keyOf = {
  /** @param {number} id */
  view: (id) => `view ${id}`,
  /** @param {number} id */
  stop: (id) => `stop ${id}`,
  round: "round",
};

/** An instant of this device's clock with its offset from UTC. @param {Date} now */
export function deviceTime(now) {
  const minutes = -now.getTimezoneOffset();
  const sign = minutes < 0 ? "-" : "+";
  const two = (/** @type {number} */ n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  const local = new Date(now.getTime() + minutes * 60_000).toISOString().slice(0, -1);
  return `${local}${sign}${two(minutes / 60)}:${two(minutes % 60)}`;
}

/** @param {PointDraft} draft */
export function isRead(draft) {
  return draft.reason !== "" || numberOf(draft.temperature) !== null;
}

/** Whether a point has what a reading needs: typed here, or stored by this person before. @param {Point} point @param {PointDraft | undefined} draft */
export function isDone(point, draft) {
  return (draft !== undefined && isRead(draft)) || point.stored !== null;
}

/**
 * The row that goes to the server; null while there is nothing to send.
 * @param {Pack} pack @param {Point} point @param {PointDraft} own @param {ViewDraft} draft @param {StopDraft} around
 */
export function rowOf(pack, point, own, draft, around) {
  if (!isRead(own)) return null;
  const row = { row_uid: point.row_uid, note: own.note.trim() || null };
  if (own.reason) return { ...row, reason: own.reason };
  const serial = pack.instruments.find((one) => one.id === around.instrumentId)?.serial ?? null;
  return {
    ...row,
    ...(inFahrenheit(pack) && { temperature_unit: degrees(pack) }),
    temperature_c: numberOf(own.temperature),
    current_a: numberOf(own.amps),
    neutral_a: numberOf(draft.neutral),
    ambient_c: numberOf(around.ambient),
    reflected_c: numberOf(around.reflected),
    wind_m_s: numberOf(around.wind),
    emissivity_set: numberOf(draft.emissivity),
    reflected_set_c: numberOf(draft.reflectedSet),
    distance_m: numberOf(draft.distance),
    instrument_serial: serial,
    picture: own.picture.trim() || null,
    boxes: boxesOf(point, own),
  };
}

/** Answers to the boxes of the kind, as they are sent and judged. @param {Point} point @param {PointDraft} own */
export function boxesOf(point, own) {
  /** @type {Record<string, string | number | boolean>} */
  const answers = {};
  for (const box of point.boxes) {
    const text = (own.boxes[box.key] ?? "").trim();
    if (!text) continue;
    if (box.value === "yes_or_no") answers[box.key] = text === "yes";
    else if (box.value === "number" || box.value === "temperature") {
      const number = numberOf(text);
      if (number !== null) answers[box.key] = number;
    } else answers[box.key] = text;
  }
  return Object.keys(answers).length ? answers : null;
}

/**
 * @param {Pack} pack @param {Send["kind"]} kind @param {string} part @param {string} uid
 * @param {Record<string, unknown> | undefined} body @param {string} label
 * @param {string} [at] the instant that it speaks of, by this device's clock; the server puts it right
 * @returns {Send}
 */
export function sendOf(pack, kind, part, uid, body, label, at = "") {
  const now = new Date();
  return {
    uid, kind, roundId: pack.round.id, personId: pack.person.id, label, ...(body && { body }),
    path: `/api/v1/rounds/${pack.round.id}/${part}/${uid}`, madeAt: now.toISOString(),
    deviceTime: deviceTime(at ? new Date(at) : now),
  };
}

/**
 * Into the queue: the first time as it is, later in place of what was sent before.
 * @param {Store} store @param {Send} send @param {string[]} sends ids of what was sent for the same thing; grows
 */
async function keepSend(store, send, sends) {
  const last = sends.at(-1);
  const kept = last === undefined ? await store.put(send) : await store.replace(last, { ...send, path: send.path.replace(send.uid, last), uid: last });
  if (!sends.includes(kept.uid)) sends.push(kept.uid);
}

/**
 * Put everything that a view says into the queue, once; what is stored already is followed by a correction.
 * @param {Store} store @param {Pack} pack @param {Stop} stop @param {View} view @param {ViewDraft} draft @param {StopDraft} around
 * @returns {Promise<number>} how many sends were made or changed
 */
export async function keepReadings(store, pack, stop, view, draft, around) {
  let made = 0;
  for (const point of view.points) {
    const own = draft.points[point.row_uid];
    const row = rowOf(pack, point, own, draft, around);
    const said = JSON.stringify(row);
    if (row === null || said === own.sent) continue;
    const body = point.stored === null ? row : { ...row, correction_reason: CHANGED };
    await keepSend(store, sendOf(pack, "reading", "readings", own.uid, body, `${stop.title}: ${view.name}, ${point.label}`, own.at), own.sends);
    own.sent = said;
    made += 1;
  }
  if (made) await store.keepDraft(pack.round.id, keyOf.view(view.id), draft);
  return made;
}

/**
 * Put start, end and what was noticed at a stop into the queue.
 * @param {Store} store @param {Pack} pack @param {Stop} stop @param {StopDraft} around
 */
export async function keepStop(store, pack, stop, around) {
  if (!around.startedAt) return;
  const body = {
    stop_id: stop.id, started_at: around.startedAt, ended_at: around.endedAt, cautions_at: around.cautionsAt,
    seen: around.seen.trim(), heard: around.heard.trim(), smelt: around.smelt.trim(),
  };
  const said = JSON.stringify(body);
  if (said === around.sent) return;
  await keepSend(store, sendOf(pack, "stop visit", "stop-visits", around.uid, body, `${stop.title}: time at the stop`), around.sends);
  around.sent = said;
  await store.keepDraft(pack.round.id, keyOf.stop(stop.id), around);
}

/** What of a round is read, can't be read and is left. @param {Pack} pack @param {Record<string, any>} drafts */
export function tally(pack, drafts) {
  const sum = { points: 0, read: 0, cannot: 0, left: 0 };
  for (const stop of pack.stops) {
    for (const view of stop.views) {
      for (const point of view.points) {
        const own = drafts[keyOf.view(view.id)]?.points?.[point.row_uid];
        sum.points += 1;
        if (own?.reason || (!own && point.stored?.reason)) sum.cannot += 1;
        else if (isDone(point, own)) sum.read += 1;
        else sum.left += 1;
      }
    }
  }
  return sum;
}
