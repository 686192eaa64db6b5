// What several screens are made of: their head, lines with a word and a box, the choice of an instrument.

import { ofRound } from "./addresses.js";
import { el } from "./dom.js";

/** @typedef {import("./types.js").Pack} Pack */

/** Where one is, the way back, and the title. @param {string} where @param {{href: string, word: string}} back @param {string} title */
export function head(where, back, title) {
  return el("header", { class: "head" },
    el("p", { class: "where" }, where, el("a", { href: back.href }, back.word)),
    el("h1", { tabindex: "-1" }, title));
}

/** The head of a screen that belongs to a round as a whole. @param {Pack} pack @param {string} title */
export function headOfRound(pack, title) {
  return head(pack.round.name, { href: ofRound(pack.round.id), word: "Stops" }, title);
}

/** A word left, its box right, its unit behind it. @param {string} word @param {HTMLElement} control @param {string} [unit] */
export function line(word, control, unit = "") {
  return el("label", { class: "line" }, el("span", {}, word),
    unit ? el("span", { class: "line-end" }, control, el("i", {}, unit)) : control);
}

/** A word above a box as wide as the screen. @param {string} word @param {HTMLElement} control */
export function tall(word, control) {
  return el("label", { class: "line tall" }, el("span", {}, word), control);
}

/** @param {Record<string, unknown>} [given] */
export function textBox(given = {}) {
  return el("input", { type: "text", autocomplete: "off", ...given });
}

/** A box of the device's own number keys. @param {Record<string, unknown>} [given] */
export function numberBox(given = {}) {
  return textBox({ inputmode: "decimal", ...given });
}

/** Which of the round's instruments; its own is chosen. @param {Pack} pack @param {(kind: string) => boolean} fits @param {number | null} [chosen] */
export function instruments(pack, fits, chosen = pack.round.instrument_id) {
  return pack.instruments.filter((one) => fits(one.kind)).map((one) =>
    el("option", { value: one.id, selected: one.id === chosen }, `${one.name} ${one.serial}`));
}

/** The drawing of a place, folded until it is wanted; nothing where none is on record or on this device. @param {string | null | undefined} uid @param {string} of */
export function drawingOf(uid, of) {
  if (!uid) return null;
  const folded = el("details", { class: "drawing-of" }, el("summary", {}, "Drawing"),
    el("img", { src: `/pictures/${uid}/preview`, alt: `Drawing of ${of}`, onerror: () => folded.remove() }));
  return folded;
}

/** The one key of a screen that has no more than one. @param {string} word @param {() => unknown} pressed */
export function footKey(word, pressed) {
  return el("div", { class: "foot-keys" }, el("div", { class: "steps" }, el("button", { type: "button", class: "go", onclick: pressed }, word)));
}
