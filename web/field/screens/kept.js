// What this device keeps of a round: what waits, what the server asked about, what it has.

import { el, fill } from "../dom.js";
import { footKey, headOfRound } from "../parts.js";
import { counted, moment } from "../words.js";

/** Longest list on a phone; the rest is a count. */
const MOST_LISTED = 100;

/** @param {import("../types.js").Field} field @param {import("../types.js").Pack} pack */
export async function showKept(field, pack) {
  const sends = await field.store.sends(pack.round.id);
  const receipts = await field.store.receipts(pack.round.id);
  const asked = sends.filter((one) => one.problem);
  const waiting = sends.filter((one) => !one.problem);
  const held = receipts.filter((one) => one.held);
  const state = field.sync.state();
  const body = el("div", { class: "scroll" },
    headOfRound(pack, sends.length ? `${counted(sends.length, "entry", "entries")} kept here, not on the server yet.` : "Everything typed here is on the server."),
    el("p", { class: "quiet" }, state.lastMet ? `The server last answered ${moment(state.lastMet)}. ` : "The server has not answered yet. ",
      skewWords(state.skewS)));
  if (asked.length) {
    fill(body, el("h2", {}, `${counted(asked.length, "entry", "entries")} to look at`), el("ul", { class: "kept" }, asked.slice(0, MOST_LISTED).map((one) => problemLine(field, one))));
  }
  if (held.length) {
    fill(body, el("h2", {}, `${counted(held.length, "entry", "entries")} kept aside for the engineer`),
      el("ul", { class: "kept" }, held.slice(0, MOST_LISTED).map((one) => el("li", {}, el("strong", {}, one.label), el("small", {}, String(one.held))))));
  }
  if (waiting.length) {
    fill(body, el("h2", {}, "Waiting for signal"), el("ul", { class: "kept" }, waiting.slice(0, MOST_LISTED).map((one) =>
      el("li", {}, el("strong", {}, one.label), el("small", {}, moment(one.madeAt))))));
    if (waiting.length > MOST_LISTED) fill(body, el("p", { class: "quiet" }, `and ${waiting.length - MOST_LISTED} more.`));
  }
  if (receipts.length) {
    fill(body, el("h2", {}, `${counted(receipts.length, "entry", "entries")} on the server`), el("ul", { class: "kept" },
      receipts.toSorted((a, b) => b.at.localeCompare(a.at)).slice(0, MOST_LISTED).map((one) => el("li", { class: "done" }, el("strong", {}, one.label), el("small", {}, moment(one.at))))));
  }
  fill(body, el("div", { class: "pair" }, el("button", { type: "button", class: "plain", onclick: () => saveCopy(field, pack) }, "Save a copy as a file")));
  return { node: el("section", { class: "screen" }, body, footKey("Send now", async () => {
    await field.sync.now();
    await field.again();
  })) };
}

/** @param {number | null} skewS */
function skewWords(skewS) {
  if (skewS === null || Math.abs(skewS) < 60) return "";
  const minutes = Math.round(Math.abs(skewS) / 60);
  return `This device’s clock is ${counted(minutes, "minute")} ${skewS > 0 ? "ahead" : "behind"}; times are put right when they are sent.`;
}

/** @param {import("../types.js").Field} field @param {import("../store.js").Send} send */
function problemLine(field, send) {
  const told = send.problem;
  const more = /** @type {{message?: string, remedy?: string}[]} */ (told?.problems ?? []);
  return el("li", {}, el("strong", {}, send.label),
    el("p", {}, told?.detail || told?.title || "", " ", told?.remedy ?? "", more.map((one) => ` ${one.message ?? ""} ${one.remedy ?? ""}`)),
    el("button", { type: "button", class: "small", onclick: async () => {
      await field.store.refused(send.uid, null);
      await field.sync.now();
      await field.again();
    } }, "Send it again"));
}

/** A last resort when a device is to be handed over: everything of the round in one file. @param {import("../types.js").Field} field @param {import("../types.js").Pack} pack */
async function saveCopy(field, pack) {
  const { id, code, name } = pack.round;
  const copy = { round: { id, code, name }, savedAt: new Date().toISOString(), typed: await field.store.drafts(id), waiting: (await field.store.sends(id)).map(({ blob, ...rest }) => ({ ...rest, photo: Boolean(blob) })) };
  const address = URL.createObjectURL(new Blob([JSON.stringify(copy, null, 1)], { type: "application/json" }));
  el("a", { href: address, download: `${code}-kept.json` }).click();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
