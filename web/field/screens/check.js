// The instrument against a reference: at the start, at the end and after a drop.

import { ofRound } from "../addresses.js";
import { el } from "../dom.js";
import { keyOf, roundDraft, sendOf } from "../drafts.js";
import { footKey, headOfRound, instruments, line, numberBox, textBox } from "../parts.js";
import { numberOf } from "../typed.js";
import { degrees, inCelsius } from "../units.js";

const OCCASIONS = ["start", "end", "after a drop"];

/** @param {import("../types.js").Field} field @param {import("../types.js").Pack} pack */
export async function showCheck(field, pack) {
  const walk = roundDraft(pack, await field.store.draft(pack.round.id, keyOf.round));
  const likely = walk.checks.includes("start") ? "end" : "start";
  const occasion = el("select", {}, OCCASIONS.map((word) => el("option", { value: word, selected: word === likely }, word)));
  const thermal = instruments(pack, (kind) => kind !== "ammeter");
  const which = el("select", {}, thermal);
  const [reference, shown, note] = [numberBox(), numberBox(), textBox()];
  const told = el("p", { class: "warn", role: "alert" });
  const keep = async () => {
    const [was, showed] = [numberOf(reference.value), numberOf(shown.value)];
    if (was === null || showed === null) {
      told.textContent = "Type both temperatures: what was true, and what the instrument showed.";
      return (was === null ? reference : shown).focus();
    }
    const uid = crypto.randomUUID();
    const body = { occasion: occasion.value, at: new Date().toISOString(), reference_c: inCelsius(was, pack), shown_c: inCelsius(showed, pack), note: note.value.trim(), instrument_id: Number(which.value) || null };
    await field.store.put(sendOf(pack, "check", "field-checks", uid, body, `Check of the instrument, ${occasion.value}`));
    walk.checks.push(occasion.value);
    await field.store.keepDraft(pack.round.id, keyOf.round, walk);
    field.sync.now();
    field.go(ofRound(pack.round.id));
  };
  return { node: el("section", { class: "screen" }, el("div", { class: "scroll" },
    headOfRound(pack, "Check the instrument."),
    el("p", { class: "quiet" }, "Against a black-body source, or a second thermometer on a matt surface that is steady."),
    line("When", occasion),
    thermal.length ? line("Instrument", which) : el("p", { class: "warn" }, "No instrument is on record for this round."),
    line("True temperature", reference, degrees(pack)), line("Instrument shows", shown, degrees(pack)), line("Note", note), told),
  footKey("Keep this check", keep)) };
}
