// A permit as the technician reads it from the paper: kept, sent, and good for this device at once; it grants nothing.

import { el, refill } from "./dom.js";
import { sendOf } from "./drafts.js";
import { line, textBox } from "./parts.js";
import { fromSite, onSite } from "./site_clock.js";

/** @typedef {import("./types.js").Field} Field */
/** @typedef {import("./types.js").Pack} Pack */
/** @typedef {import("./types.js").Stop} Stop */
/** @typedef {{number: string, from: string, to: string}} Shown  times as instants (ISO 8601) */

const KEY = "permits typed";

/**
 * The round as this device may walk it: what was typed from the paper opens the stops under that permit, unless the
 * round itself says otherwise by now (another number, other times, or the permit is closed).
 * @param {import("./types.js").Store} store @param {Pack} pack
 */
export async function withTypedPermits(store, pack) {
  /** @type {Record<string, Shown> | undefined} */
  const typed = await store.draft(pack.round.id, KEY);
  for (const { stop, permit } of wanting(pack)) {
    const shown = typed?.[permit.id ?? ""];
    if (!shown || !agrees(permit, shown)) continue;
    Object.assign(permit, shown, { typed: true });
    stop.not_open = "";
  }
}

/** Stops that stay shut only because number, from or to is not typed yet. @param {Pack} pack */
const wanting = (pack) => pack.stops.flatMap((stop) => (mayType(stop) && stop.permit ? [{ stop, permit: stop.permit }] : []));

/** @param {Stop} stop */
function mayType(stop) {
  const permit = stop.permit;
  return Boolean(stop.not_open && permit?.id && permit.state === "asked" && !(permit.number && permit.from && permit.to));
}

/** @typedef {NonNullable<Stop["permit"]>} Permit */

/** Nothing that the round says of it is said otherwise. @param {Permit} known @param {Shown} shown */
const agrees = (known, shown) => sameNumber(known.number, shown.number) && sameMinute(known.from, shown.from) && sameMinute(known.to, shown.to);

/** @param {string} known @param {string} shown */
const sameNumber = (known, shown) => !known.trim() || known.trim().toLowerCase() === shown.trim().toLowerCase();

/** @param {string | null} known @param {string} shown */
const sameMinute = (known, shown) => !known || onSite(known, "UTC") === onSite(shown, "UTC");

/** Of a permit's site, by whose clock it is written. @param {Pack} pack @param {Stop} stop */
export const zoneOf = (pack, stop) => pack.sites.find((site) => site.id === stop.site_id)?.time_zone ?? "UTC";

/**
 * Boxes for number, from and to; null where the stop is open, or stays shut for another reason.
 * @param {Field} field @param {Pack} pack @param {Stop} stop
 */
export function permitForm(field, pack, stop) {
  const permit = stop.permit;
  if (!permit || !mayType(stop)) return null;
  const zone = zoneOf(pack, stop);
  const number = textBox({ value: permit.number, maxlength: 100 });
  const [from, to] = [permit.from, permit.to].map((known) => textBox({ type: "datetime-local", value: known ? onSite(known, zone) : "" }));
  const told = el("p", { class: "warn", role: "alert" });
  return el("form", { class: "permit-form", novalidate: true, onsubmit: async (/** @type {Event} */ event) => {
    event.preventDefault();
    const wrong = wrongWith(permit, number.value, from.value, to.value, zone);
    if (wrong) refill(told, wrong);
    else await keepShown(field, pack, stop, { number: number.value.trim(), from: fromSite(from.value, zone), to: fromSite(to.value, zone) });
  } },
    el("h2", {}, "The permit in your hand"),
    el("p", {}, "Type it as shown by the issuer, times on the clock of the site. It is noted for the engineer, and grants nothing: the site’s permit, the label on the door and the qualified person do."),
    line("Number", number), line("From", from), line("To", to), told,
    el("button", { type: "submit", class: "plain" }, "Keep it, open this stop"));
}

/** @param {Permit} known @param {string} number @param {string} from @param {string} to @param {string} zone */
function wrongWith(known, number, from, to, zone) {
  if (!number.trim()) return "Type the number of the permit.";
  if (!sameNumber(known.number, number)) return `The round says permit ${known.number}. Ask the engineer before anything is opened.`;
  if (!from || !to) return "Type from when and until when it holds.";
  if (to <= from) return "It ends before it begins. Check both times.";
  if (agrees(known, { number, from: fromSite(from, zone), to: fromSite(to, zone) })) return "";
  const told = [known.from && `from ${onSite(known.from, zone).replace("T", " ")}`, known.to && `to ${onSite(known.to, zone).replace("T", " ")}`];
  return `The round says ${told.filter(Boolean).join(" ")}. Ask the engineer before anything is opened.`;
}

/** @param {Field} field @param {Pack} pack @param {Stop} stop @param {Shown} shown */
async function keepShown(field, pack, stop, shown) {
  const body = { stop_id: stop.id, number: shown.number, valid_from: shown.from, valid_to: shown.to };
  await field.store.put(sendOf(pack, "permit", "typed-permits", crypto.randomUUID(), body, `Permit ${shown.number}: ${stop.title}`));
  const typed = (await field.store.draft(pack.round.id, KEY)) ?? {};
  await field.store.keepDraft(pack.round.id, KEY, { ...typed, [String(stop.permit?.id)]: shown });
  field.sync.now();
  field.heed();
  await field.again();
}
