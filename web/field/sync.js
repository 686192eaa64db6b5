// Sends what waits: in order, one at a time, until the server has said that it is stored; whatever happens in between.

import { meaningOf } from "./answers.js";
import { measured, offsetOf } from "./clock.js";

/**
 * @typedef {import("./store.js").Send} Send
 * @typedef {{online: boolean, waiting: number, others: number, lastMet: string | null, signedOut: boolean, skewS: number | null, problems: Send[]}} State
 * @typedef {object} Ways  what the engine stands on, so that a test can put other ground under it
 * @property {number | null} personId  who is signed in: what others typed on this device stays, and waits for them
 * @property {typeof fetch} [fetch] @property {() => number} [now] the device's clock [ms] @property {() => number} [random] from 0 to 1
 * @property {(state: State) => void} [onChange]
 * @property {(work: () => void, ms: number) => number} [later] @property {(handle: number) => void} [forget]
 * @property {number} [timeoutMs] @property {number} [firstWaitMs] @property {number} [longestWaitMs]
 */

/** Where the clock is asked before the first send. */
export const WHO = "/api/v1/field/signed-in";
/** A photo over a thin line takes its time [ms for each byte: 8 kB/s]. */
const MS_PER_BYTE = 1 / 8;
/** So often the server may stumble over one send before the others go first. */
const STUMBLES = 3;

/** What a send that stands for earlier ones says of that. @param {Send} send */
const corrected = ({ kind, replaces = [] }) =>
  replaces.length ? { replaces, ...(kind === "reading" && { correction_reason: "corrected on the device" }) } : {};

/** @param {import("./store.js").Store} store @param {Ways} ways */
export function startSync(store, ways) {
  const { personId, onChange = () => undefined, random = Math.random, now = Date.now } = ways;
  const { later = setTimeout, forget = clearTimeout, timeoutMs = 20_000, firstWaitMs = 1000, longestWaitMs = 60_000 } = ways;
  const ask = ways.fetch ?? fetch.bind(globalThis);
  /** @type {State} */
  let state = { online: navigator.onLine, waiting: 0, others: 0, lastMet: null, signedOut: false, skewS: null, problems: [] };
  /** @type {Map<string, number>} */
  const stumbles = new Map();
  /** @type {Promise<void> | null} */
  let running = null;
  /** @type {number | null} */
  let timer = null;
  let [failures, stopped, wanted] = [0, false, false];

  /** @param {Partial<State>} changed */
  async function tell(changed) {
    const all = await store.sends();
    const mine = all.filter((send) => send.personId === personId);
    const problems = mine.filter((send) => send.problem);
    state = { ...state, ...changed, waiting: mine.length, others: all.length - mine.length, problems };
    onChange(state);
  }

  /** One request; measures the clock by every answer. @param {string} path @param {RequestInit} init @param {number} ms */
  async function request(path, init, ms) {
    const aborted = new AbortController();
    const ending = later(() => aborted.abort(), ms);
    try {
      const left = now();
      const response = await ask(path, { ...init, signal: aborted.signal, credentials: "same-origin", redirect: "error", cache: "no-store" });
      const skewS = measured({ left, came: now() }, response.headers.get("Date"));
      const body = await response.arrayBuffer(); // an answer cut short is no answer
      const { status, headers } = response;
      if (skewS !== null) {
        const lastMet = new Date(now() - 1000 * skewS).toISOString();
        state = { ...state, online: true, skewS, lastMet };
        await store.keepMeta("skew_s", skewS);
        await store.keepMeta("met", lastMet);
      }
      return new Response(status === 204 ? null : body, { status, headers });
    } finally {
      forget(ending);
    }
  }

  /** @param {Send} send @returns {Promise<import("./answers.js").Meaning>} */
  async function sendOne(send) {
    const clock = { device_time: send.deviceTime, skew_s: send.skewS ?? null };
    const query = `${send.path.includes("?") ? "&" : "?"}${new URLSearchParams({ device_time: clock.device_time, ...(clock.skew_s !== null && { skew_s: String(clock.skew_s) }) })}`;
    const headers = { "If-None-Match": "*", "Riseline-Person": String(personId), "Content-Type": send.blob ? send.blob.type || "application/octet-stream" : "application/json" };
    const body = send.blob ?? JSON.stringify({ ...corrected(send), ...send.body, ...clock });
    const ms = timeoutMs + (send.blob?.size ?? 0) * MS_PER_BYTE;
    return meaningOf(await request(send.blob ? send.path + query : send.path, { method: "PUT", headers, body }, ms), send);
  }

  /** @returns {Promise<Send[]>} what may go now: numbers, photos, spoken notes (to a photo once that has gone); each as they were made */
  async function due() {
    const all = await store.sends();
    const kept = new Set(all.map((send) => send.uid));
    const mine = all.filter((send) => send.personId === personId && !send.problem && !kept.has(send.of ?? ""));
    const late = (/** @type {Send} */ send) => Number((stumbles.get(send.uid) ?? 0) >= STUMBLES);
    const photo = (/** @type {Send} */ send) => Number(send.kind === "picture") + 2 * Number(send.kind === "voice" || send.kind === "spoken");
    return mine.sort((a, b) => late(a) - late(b) || photo(a) - photo(b) || Number(a.seq) - Number(b.seq));
  }

  /** @returns {Promise<number | null>} how long to wait before the next pass [ms]; null: nothing to wait for */
  async function pass() {
    if (state.skewS === null && (await due()).length) {
      const answer = await request(WHO, {}, timeoutMs);
      if (answer.status === 401) return signedOut();
      if (!answer.ok || state.skewS === null) return 0; // a page of the network says no time
    }
    for (let next = (await due())[0]; next && !stopped; next = (await due())[0]) {
      const send = await store.take(next.uid, (made) => offsetOf(made, state.skewS, now()));
      if (!send) continue;
      const meaning = await sendOne(send);
      if (meaning.kind === "signed out") return signedOut();
      if (meaning.kind === "later") {
        if (meaning.mine) stumbles.set(send.uid, (stumbles.get(send.uid) ?? 0) + 1);
        return meaning.wait;
      }
      if (meaning.kind === "stored") await store.acknowledged(send, meaning.answer, state.lastMet ?? new Date(now()).toISOString());
      else await store.refused(send.uid, meaning.told);
      failures = 0;
      await tell({ signedOut: false });
    }
    return null;
  }

  async function signedOut() {
    await tell({ signedOut: true });
    return longestWaitMs;
  }

  async function run() {
    let wait = /** @type {number | null} */ (0);
    try {
      wait = await pass();
    } catch {
      state = { ...state, online: false };
    }
    await tell({}).catch(() => undefined);
    if (wait !== null && !stopped) {
      const most = Math.min(longestWaitMs, firstWaitMs * 2 ** failures++);
      timer = later(() => void go(), Math.max(wait, most * (0.5 + random() / 2)));
    }
  }

  /** One tab sends; another that is open looks again later. @returns {Promise<void>} */
  function go() {
    if (timer !== null) forget(timer);
    timer = null;
    wanted = true;
    running ??= (async () => {
      while (wanted && !stopped) {
        wanted = false;
        if (timer !== null) forget(timer);
        timer = null;
        if (navigator.locks) await navigator.locks.request("riseline-sync", run);
        else await run();
      }
      running = null;
    })();
    return running;
  }

  const again = () => {
    failures = 0;
    void go();
  };
  globalThis.addEventListener?.("online", again);
  void go();
  return {
    /** Look for something to send, without waiting; ends when all that can go has gone. */
    now: () => {
      failures = 0;
      return go();
    },
    stop: () => {
      stopped = true;
      if (timer !== null) forget(timer);
      globalThis.removeEventListener?.("online", again);
    },
    state: () => state,
  };
}
