// This device: which hand, which light, how much room, and signing out without losing anything.

import { ask, el } from "../dom.js";
import { head, line } from "../parts.js";
import { counted } from "../words.js";

const HANDS = { right: "right hand", left: "left hand" };
const LIGHTS = { "": "as this device", light: "in sun: light, full contrast", dark: "in the dark" };

/** @param {import("../types.js").Field} field */
export async function showSettings(field) {
  const { store } = field;
  const persisted = (await navigator.storage?.persisted?.()) ?? false;
  const room = await navigator.storage?.estimate?.();
  const waiting = await store.waiting();
  const choose = (/** @type {string} */ key, /** @type {Record<string, string>} */ words, /** @type {string} */ value) => {
    const select = el("select", { onchange: async () => {
      await store.keepMeta(key, select.value);
      await field.dress();
    } }, Object.entries(words).map(([one, word]) => el("option", { value: one, selected: one === value }, word)));
    return select;
  };
  const node = el("section", { class: "screen" }, el("div", { class: "scroll" },
    head("Field", { href: "#/", word: "Rounds" }, "This device."),
    el("p", {}, field.person ? `Signed in as ${field.person.name}.` : "Nobody is signed in."),
    line("Held in", choose("hand", HANDS, (await store.meta("hand")) ?? "right")),
    line("Screen", choose("light", LIGHTS, (await store.meta("light")) ?? "")),
    el("p", { class: "quiet" }, `Rounds are begun in ${field.person?.unit === "f" ? "°F" : "°C"}, as chosen under Set-up; one that is begun keeps its unit.`),
    el("p", { class: "quiet" }, persisted ? "This device has promised to keep what is typed until it is sent." : "This device may clear old sites when it is short of room. Add Field to the home screen, and it will keep what is typed.",
      room?.usage !== undefined && room.quota ? ` ${Math.round(room.usage / 1e6)} of ${Math.round(room.quota / 1e6)} MB are used.` : ""),
    el("div", { class: "pair" },
      el("a", { class: "plain", href: "/rounds" }, "To all of Riseline"),
      el("button", { type: "button", class: "plain", onclick: () => signOut(waiting) }, "Sign out"))));
  return { node };
}

/** @param {number} waiting */
async function signOut(waiting) {
  if (waiting) {
    const answer = await ask(`${counted(waiting, "entry", "entries")} not on the server yet`, [
      el("p", {}, "They stay on this device, and go only when you sign in here again. Send them first if you hand the device over."),
    ], [{ word: "Stay signed in", answer: "", kind: "go" }, { word: "Sign out all the same", answer: "out" }]);
    if (answer !== "out") return;
  }
  try {
    await fetch("/sign-out", { method: "POST", redirect: "manual" });
    location.assign("/sign-in?next=/field/");
  } catch {
    await ask("No signal", [el("p", {}, "Signing out needs the server. Nothing was changed.")], [{ word: "Good", answer: "" }]);
  }
}
