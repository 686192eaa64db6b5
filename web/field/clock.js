// How far the device's clock is off, by the server's; the instants themselves are put right on the server.

/** Half a second lies hidden behind a Date header, which names whole seconds [s]. */
const HALF_SECOND = 0.5;

/** Device minus server [s], positive when the device is ahead; null without a Date.
 * @param {{left: number, came: number}} trip the device's clock when the request left and the answer came [ms]
 * @param {string | null} date the answer's Date header */
export function measured({ left, came }, date) {
  const server = date === null ? NaN : Date.parse(date);
  if (Number.isNaN(server)) return null;
  return Math.round((left + (came - left) / 2 - server) / 100) / 10 - HALF_SECOND;
}

/**
 * Which offset belongs to something made a while ago. The clock may have been put right, or gone wrong, since: the
 * offset of today counts where it puts the making between the last meeting before it and now, else the one known then.
 * @param {import("./store.js").Send} send @param {number | null} today [s] @param {number} now the device's clock [ms]
 * @returns {number | null} [s]
 */
export function offsetOf(send, today, now) {
  const then = send.clockThen?.skewS ?? null;
  if (today === null || then === null) return today ?? then;
  const made = Date.parse(send.deviceTime);
  const metAt = Date.parse(send.clockThen?.metAt ?? "");
  const believable = (/** @type {number} */ offset) => {
    const instant = made - 1000 * offset;
    return instant <= now - 1000 * today + 60_000 && !(instant < metAt - 60_000);
  };
  return believable(today) || !believable(then) ? today : then;
}
