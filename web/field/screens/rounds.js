// Which rounds are on this device, and which may be taken along.

import { ofRound } from "../addresses.js";
import { ask, el, refill } from "../dom.js";
import { counted, moment, onDay } from "../words.js";
import { savePack } from "../packing.js";

/** @typedef {import("../types.js").Field} Field */
/** @typedef {import("../types.js").Pack} Pack */
/** @typedef {{id: number, code: string, name: string, planned_on: string, sites: string[], stops: number, points: number, answered: number, state: string}} Offer */

/** @param {Field} field @returns {Promise<{node: Element}>} */
export async function showRounds(field) {
  const packs = await field.store.packs();
  const kept = /** @type {Pack[]} */ (/** @type {unknown} */ (packs));
  const list = el("div", { class: "rounds" });
  const offers = el("div", { class: "rounds", role: "status" }, el("p", { class: "quiet" }, "Looking for your rounds …"));
  for (const pack of kept.toSorted((a, b) => a.round.planned_on.localeCompare(b.round.planned_on))) list.append(await keptRound(field, pack));
  const node = el("section", { class: "screen" }, el("div", { class: "scroll" },
    el("h1", { tabindex: "-1" }, kept.length ? `${counted(kept.length, "round")} on this device.` : "No round on this device yet."),
    el("p", { class: "quiet" }, "Take a round along while you have signal. It then opens, takes readings and keeps them with none."),
    list, el("h2", {}, "To take along"), offers,
    el("p", { class: "links" }, el("a", { href: "#/settings" }, "Settings of this device"), el("a", { href: "/rounds" }, "All rounds"))));
  showOffers(field, kept, offers);
  return { node };
}

/** @param {Field} field @param {Pack} pack */
async function keptRound(field, pack) {
  const waiting = await field.store.waiting(pack.round.id);
  const others = field.person !== null && field.person.id !== pack.person.id;
  const told = el("p", { class: "quiet" }, `Taken along ${moment(pack.made_at)}. `,
    waiting ? `${counted(waiting, "entry", "entries")} not on the server yet.` : "Everything typed is on the server.");
  const said = el("p", { role: "status" });
  return el("article", { class: "card" },
    el("h2", { class: "card-name" }, others ? pack.round.name : el("a", { href: ofRound(pack.round.id) }, pack.round.name)),
    el("p", {}, `${onDay(pack.round.planned_on)}, ${counted(pack.stops.length, "stop")}, ${counted(pack.round.points, "point")}`),
    others ? el("p", {}, `Belongs to ${pack.person.name}: sign in as ${pack.person.name} to go on with it.`) : told,
    el("div", { class: "pair" },
      !others && el("a", { class: "go", href: ofRound(pack.round.id) }, "Open"),
      !others && fetching(field, pack.round.id, "Bring up to date", "plain", said),
      el("button", { type: "button", class: "plain", onclick: () => drop(field, pack) }, "Take off this device")), said);
}

/** @param {Field} field @param {Pack} pack */
async function drop(field, pack) {
  const sure = await ask(`Take ${pack.round.name} off this device?`, [
    el("p", {}, "It can be taken along again with signal. What has not reached the server keeps it here."),
  ], [{ word: "Take it off", answer: "yes", kind: "go" }, { word: "Leave it", answer: "" }]);
  if (sure !== "yes") return;
  if (await field.store.dropPack(pack.round.id)) return field.again();
  await ask("It stays", [el("p", {}, "Some of what was typed is not on the server yet. Nothing was taken away.")], [{ word: "Good", answer: "" }]);
}

/** @param {Field} field @param {Pack[]} kept @param {HTMLElement} place */
async function showOffers(field, kept, place) {
  /** @type {Offer[]} */
  let offered;
  try {
    const answer = await fetch("/api/v1/field/rounds", { cache: "no-store" });
    if (answer.status === 401) {
      return refill(place, el("p", {}, el("a", { href: "/sign-in?next=/field/" }, "Sign in"), " to see your rounds."));
    }
    const body = await answer.json();
    offered = body.rounds ?? body;
  } catch {
    return refill(place, el("p", { class: "quiet" }, "No signal: rounds can be taken along when it is back."));
  }
  const here = new Set(kept.map((pack) => pack.round.id));
  const others = offered.filter((one) => !here.has(one.id));
  if (others.length) return refill(place, others.map((one) => offer(field, one)));
  const none = offered.length ? "All rounds given to you are on this device." : "No round is issued to you. The reliability engineer issues them.";
  refill(place, el("p", { class: "quiet" }, none));
}

/** @param {Field} field @param {Offer} one */
function offer(field, one) {
  const said = el("p", { class: "quiet", role: "status" });
  const answered = one.answered ? `, ${one.answered} answered` : "";
  return el("article", { class: "card" },
    el("h2", { class: "card-name" }, one.name),
    el("p", {}, `${onDay(one.planned_on)}, ${counted(one.stops, "stop")}, ${counted(one.points, "point")}${answered}. ${one.sites.join(", ")}.`),
    el("div", { class: "pair" }, fetching(field, one.id, "Take along", "go", said)), said);
}

/** @param {Field} field @param {number} roundId @param {string} word @param {string} kind @param {HTMLElement} said */
function fetching(field, roundId, word, kind, said) {
  const button = el("button", { type: "button", class: kind, onclick: async () => {
    button.disabled = true;
    refill(said, "Taking it along …");
    const problem = await savePack(field.store, roundId);
    if (!problem) return field.again();
    button.disabled = false;
    refill(said, problem);
  } }, word);
  return button;
}
