// The own keypad: big keys that write into the box that has the focus, which keeps it.

import { el } from "./dom.js";
import { afterKey } from "./typed.js";

const BACK = "back";
const NEXT = "next";
const UNDO = "undo";

/** Rows as laid out for the right hand; the last column is the working one. @type {[string, string, string][]} */
const KEYS = [
  ["7", "7", ""], ["8", "8", ""], ["9", "9", ""], [BACK, "⌫", "Take back one digit"],
  ["4", "4", ""], ["5", "5", ""], ["6", "6", ""], ["-", "−", "Minus"],
  ["1", "1", ""], ["2", "2", ""], ["3", "3", ""], [UNDO, "Undo", ""],
  [".", ".", "Decimal point"], ["0", "0", ""], [NEXT, "Next box", ""],
];

/**
 * @param {{box(): HTMLInputElement | null, changed(box: HTMLInputElement, was: string): void,
 *   next(): void, undo(): void}} on
 */
export function keypad(on) {
  const pad = el("div", { class: "keypad", role: "group", "aria-label": "Number keys" });
  for (const [key, face, name] of KEYS) {
    const kind = key === NEXT ? "key wide" : /\d|\./.test(key) ? "key" : "key work";
    pad.append(el("button", { type: "button", class: kind, "aria-label": name || null, "data-key": key }, face));
  }
  // the focus stays in the box: a key is not a place
  pad.addEventListener("pointerdown", (event) => event.preventDefault());
  pad.addEventListener("click", (event) => {
    const key = event.target instanceof Element ? event.target.closest("button")?.dataset.key : undefined;
    if (!key) return;
    if (key === NEXT) return on.next();
    if (key === UNDO) return on.undo();
    const box = on.box();
    if (!box) return;
    const was = box.value;
    box.value = afterKey(was, key);
    if (box.value !== was) on.changed(box, was);
    if ("vibrate" in navigator && navigator.userActivation?.hasBeenActive) navigator.vibrate(8);
  });
  return pad;
}
