// Why something can't be read: the ten reasons of the sheet, one tap.

import { ask, el } from "./dom.js";
import { REASONS } from "./words.js";

/**
 * @param {string} title
 * @param {import("./dom.js").Child[]} body
 * @returns {Promise<string>} the letter; "" when it was left
 */
export function askReason(title, body) {
  const kept = el("p", { class: "quiet" }, "Kept as No verdict, never as Nothing found.");
  return ask(title, [kept, ...body], [
    ...REASONS.map(([letter, word]) => ({ word: `${letter}   ${word}`, answer: letter })),
    { word: "Back", answer: "", kind: "back" },
  ]);
}
