// The instrument against a reference: at the start, at the end and after a drop.

import { ofRound } from "../addresses.js";
import { el } from "../dom.js";
import { keyOf, roundDraft, sendOf } from "../drafts.js";
import { numberOf } from "../typed.js";

const OCCASIONS = ["start", "end", "after a drop"];

/** @param {import("../types.js").Field} field @param {import("../types.js").Pack} pack */
export async function showCheck(field, pack) {
  const walk = roundDraft(pack, await field.store.draft(pack.round.id, keyOf.round));
  const likely = walk.checks.includes("start") ? "end" : "start";
  const occasion = el("select", {}, OCCASIONS.map((word) => el("option", { value: word, selected: word === likely }, word)));
  const thermal = pack.instruments.filter((one) => one.kind !== "ammeter");
  const which = el("select", {}, thermal.map((one) =>
    el("option", { value: one.id, selected: one.id === pack.round.instrument_id }, `${one.name} ${one.serial}`)));
  const reference = el("input", { type: "text", inputmode: "decimal", autocomplete: "off" });
  const shown = el("input", { type: "text", inputmode: "decimal", autocomplete: "off" });
  const note = el("input", { type: "text", autocomplete: "off" });
  const told = el("p", { class: "warn", role: "alert" });
  const keep = async () => {
    const [was, showed] = [numberOf(reference.value), numberOf(shown.value)];
    if (was === null || showed === null) {
      told.textContent = "Type both temperatures: what was true, and what the instrument showed.";
      return (was === null ? reference : shown).focus();
    }
    const uid = crypto.randomUUID();
    const body = { occasion: occasion.value, at: new Date().toISOString(), reference_c: was, shown_c: showed, note: note.value.trim(), instrument_id: Number(which.value) || null };
    await field.store.put(sendOf(pack, "check", "field-checks", uid, body, `Check of the instrument, ${occasion.value}`));
    walk.checks.push(occasion.value);
    await field.store.keepDraft(pack.round.id, keyOf.round, walk);
    field.sync.now();
    field.go(ofRound(pack.round.id));
  };
  return { node: el("section", { class: "screen" }, el("div", { class: "scroll" },
    el("header", { class: "head" }, el("p", { class: "where" }, pack.round.name, el("a", { href: ofRound(pack.round.id) }, "Stops")),
      el("h1", { tabindex: "-1" }, "Check the instrument.")),
    el("p", { class: "quiet" }, "Against a black-body source, or a second thermometer on a matt surface that is steady."),
    el("label", { class: "line" }, el("span", {}, "When"), occasion),
    thermal.length ? el("label", { class: "line" }, el("span", {}, "Instrument"), which) : el("p", { class: "warn" }, "No instrument is on record for this round."),
    el("label", { class: "line" }, el("span", {}, "True temperature"), el("span", { class: "line-end" }, reference, el("i", {}, "°C"))),
    el("label", { class: "line" }, el("span", {}, "Instrument shows"), el("span", { class: "line-end" }, shown, el("i", {}, "°C"))),
    el("label", { class: "line" }, el("span", {}, "Note"), note), told),
  el("div", { class: "foot-keys" }, el("div", { class: "steps" }, el("button", { type: "button", class: "go", onclick: keep }, "Keep this check")))) };
}
