// What only some readings need: settings in the instrument, the picture's number, boxes of the kind, a note.

import { el } from "./dom.js";
import { line, numberBox, textBox } from "./parts.js";

/** @typedef {import("./types.js").View} View */
/** @typedef {import("./types.js").ViewDraft} ViewDraft */
/** @typedef {import("./types.js").Box} Box */

/** @param {string} value @param {(value: string) => void} heard @param {boolean} [decimal] */
function input(value, heard, decimal = false) {
  const given = { value, oninput: (/** @type {Event} */ event) => heard(/** @type {HTMLInputElement} */ (event.target).value) };
  return decimal ? numberBox(given) : textBox(given);
}

/** One tap among words; a second tap on the same takes it back. @param {string[]} words @param {string} value @param {(value: string) => void} heard @param {string} name */
export function taps(words, value, heard, name) {
  const group = el("div", { class: "taps", role: "group", "aria-label": name });
  for (const word of words) {
    const tap = el("button", {
      type: "button", class: "tap", "aria-pressed": String(word === value),
      onclick: () => {
        const on = tap.getAttribute("aria-pressed") === "true";
        for (const one of group.children) one.setAttribute("aria-pressed", "false");
        tap.setAttribute("aria-pressed", String(!on));
        heard(on ? "" : word);
      },
    }, word);
    group.append(tap);
  }
  return group;
}

/** @param {Box} box @param {string} value @param {(value: string) => void} heard @param {string} unit of temperatures */
function asked(box, value, heard, unit) {
  if (box.value === "yes_or_no" || box.value === "word") {
    const words = box.value === "word" ? box.words : ["yes", "no"];
    return el("div", { class: "line tall" }, el("span", {}, box.label), taps(words, value, heard, box.label));
  }
  const decimal = box.value === "number" || box.value === "temperature";
  return line(box.label, input(value, heard, decimal), box.value === "temperature" ? unit : box.unit);
}

/**
 * @param {View} view @param {ViewDraft} draft @param {string} unit of temperatures
 * @param {() => void} changed @param {() => void} carryOn after a change of what stays set in the instrument
 * @param {(point: import("./types.js").Point) => Element | null} speak the key of a note to a point
 */
export function more(view, draft, unit, changed, carryOn, speak) {
  const many = view.points.length > 1;
  const known = view.points[0]?.emissivity;
  const set = (/** @type {"emissivity" | "reflectedSet" | "distance"} */ key) => (/** @type {string} */ text) => {
    draft[key] = text;
    changed();
    if (key !== "distance") carryOn();
  };
  const ofPoints = view.points.map((point) => {
    const own = draft.points[point.row_uid];
    const name = many ? `${point.label}: ` : "";
    return [
      point.boxes.map((box) => asked({ ...box, label: name + box.label }, own.boxes[box.key] ?? "", (text) => {
        own.boxes[box.key] = text;
        own.at ||= new Date().toISOString();
        changed();
      }, unit)),
      line(`${name}Picture number`, input(own.picture, (text) => { own.picture = text; changed(); })),
      line(`${name}Seen, heard or smelt`, input(own.note, (text) => { own.note = text; changed(); })),
      speak(point),
    ];
  });
  return el("details", { class: "more" },
    el("summary", {}, "More: settings, picture, note"),
    line(known ? `Emissivity set (of the part: ${known})` : "Emissivity set", input(draft.emissivity, set("emissivity"), true)),
    line("Reflected set", input(draft.reflectedSet, set("reflectedSet"), true), unit),
    line("Distance", input(draft.distance, set("distance"), true), "m"),
    ofPoints.flat(2));
}
