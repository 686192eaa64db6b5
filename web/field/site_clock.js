// The clock of a site: its papers go by it, whatever zone the device is in.

/** An instant as a box of day and time holds it, yyyy-mm-ddThh:mm. @param {string} iso @param {string} zone of the site */
export function onSite(iso, zone) {
  return shownOn(Date.parse(iso), zone).slice(0, 16);
}

/** The instant (ISO 8601) of day and time on the clock of a site. @param {string} text @param {string} zone */
export function fromSite(text, zone) {
  const wall = Date.parse(`${text}Z`);
  const ahead = (/** @type {number} */ ms) => Date.parse(`${shownOn(ms, zone)}Z`) - ms;
  // twice: the first guess may lie on the other side of a change of the clock
  return new Date(wall - ahead(wall - ahead(wall))).toISOString();
}

/** @param {number} ms @param {string} zone */
function shownOn(ms, zone) {
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit",
  }).formatToParts(ms);
  const of = Object.fromEntries(parts.map((part) => [part.type, part.value]));
  return `${of.year}-${of.month}-${of.day}T${of.hour}:${of.minute}:${of.second}`;
}
