// An odd figure is asked about once, and never refused.

import { el, refill } from "./dom.js";

/**
 * @param {HTMLElement} place
 * @param {{label: string, value: string, odd: {question: string, suggestion: number | null}}} about
 * @param {(value: string) => void} answered the value that stands: as typed, another, or "" to read it again
 */
export function askDoubt(place, about, answered) {
  const { label, value, odd } = about;
  const answer = (/** @type {string} */ chosen) => {
    refill(place);
    answered(chosen);
  };
  const other = odd.suggestion === null ? "Read it again" : `It is ${odd.suggestion}`;
  refill(place, el("p", {}, el("strong", {}, `${label}: `), odd.question),
    el("div", { class: "pair" },
      el("button", { type: "button", class: "plain", onclick: () => answer(value) }, `It is ${value}`),
      el("button", { type: "button", class: "plain", onclick: () => answer(odd.suggestion === null ? "" : String(odd.suggestion)) }, other)));
}
