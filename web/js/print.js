// Shows a button that prints the page; without script the browser's own menu does it.

/** @param {HTMLElement} button */
export function begin(button) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
