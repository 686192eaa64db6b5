// A permit as the technician reads it from the paper: kept, sent, and good for this device at once; it grants nothing.

import { el, refill } from "./dom.js";
import { deviceTime, sendOf } from "./drafts.js";
import { line, textBox } from "./parts.js";

/** @typedef {import("./types.js").Field} Field */
/** @typedef {import("./types.js").Pack} Pack */
/** @typedef {import("./types.js").Stop} Stop */
/** @typedef {{number: string, from: string, to: string}} Shown  times as instants (ISO 8601) */

const KEY = "permits typed";

/**
 * The round as this device may walk it: what was typed from the paper opens the stops under that permit, unless the
 * round itself says otherwise by now (another number, or the permit is closed).
 * @param {import("./types.js").Store} store @param {Pack} pack
 */
export async function withTypedPermits(store, pack) {
  /** @type {Record<string, Shown> | undefined} */
  const typed = await store.draft(pack.round.id, KEY);
  for (const { stop, permit } of wanting(pack)) {
    const shown = typed?.[permit.id ?? ""];
    if (!shown || !agrees(permit.number, shown.number)) continue;
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

/** @param {string} known @param {string} shown */
const agrees = (known, shown) => !known.trim() || known.trim().toLowerCase() === shown.trim().toLowerCase();

/**
 * Boxes for number, from and to; null where the stop is open, or stays shut for another reason.
 * @param {Field} field @param {Pack} pack @param {Stop} stop
 */
export function permitForm(field, pack, stop) {
  const permit = stop.permit;
  if (!permit || !mayType(stop)) return null;
  const number = textBox({ value: permit.number, maxlength: 100 });
  const [from, to] = ["", ""].map(() => textBox({ type: "datetime-local", value: "" }));
  const told = el("p", { class: "warn", role: "alert" });
  return el("form", { class: "permit-form", novalidate: true, onsubmit: async (/** @type {Event} */ event) => {
    event.preventDefault();
    const wrong = wrongWith(permit.number, number.value, from.value, to.value);
    if (wrong) refill(told, wrong);
    else await keepShown(field, pack, stop, { number: number.value.trim(), from: from.value, to: to.value });
  } },
    el("h2", {}, "The permit in your hand"),
    el("p", {}, "Type it as shown by the issuer. It is noted for the engineer, and grants nothing: the site’s permit, the label on the door and the qualified person do."),
    line("Number", number), line("From", from), line("To", to), told,
    el("button", { type: "submit", class: "plain" }, "Keep it, open this stop"));
}

/** @param {string} known @param {string} number @param {string} from @param {string} to */
function wrongWith(known, number, from, to) {
  if (!number.trim()) return "Type the number of the permit.";
  if (!agrees(known, number)) return `The round says permit ${known}. Ask the engineer before anything is opened.`;
  if (!from || !to) return "Type from when and until when it holds.";
  return to > from ? "" : "It ends before it begins. Check both times.";
}

/** @param {Field} field @param {Pack} pack @param {Stop} stop @param {Shown} shown times as typed, on this device’s clock */
async function keepShown(field, pack, stop, shown) {
  const [valid_from, valid_to] = [shown.from, shown.to].map((text) => deviceTime(new Date(text)));
  const body = { stop_id: stop.id, number: shown.number, valid_from, valid_to };
  await field.store.put(sendOf(pack, "permit", "typed-permits", crypto.randomUUID(), body, `Permit ${shown.number}: ${stop.title}`));
  const typed = (await field.store.draft(pack.round.id, KEY)) ?? {};
  const kept = { number: shown.number, from: new Date(shown.from).toISOString(), to: new Date(shown.to).toISOString() };
  await field.store.keepDraft(pack.round.id, KEY, { ...typed, [String(stop.permit?.id)]: kept });
  field.sync.now();
  field.heed();
  await field.again();
}
