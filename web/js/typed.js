// A sheet typed by keyboard alone: Enter walks the boxes in the order of the paper, as Tab does; Page down
// keeps the sheet and opens the next one, Page up goes back to the one before.

/** @param {HTMLElement} form */
export function begin(form) {
  if (!(form instanceof HTMLFormElement)) return;
  const sheet = form.querySelector("[data-sheet]");
  const next = form.querySelector("[data-next]");
  if (!sheet || !(next instanceof HTMLElement)) return;
  /** @returns {HTMLInputElement[]} boxes in the order of the sheet */
  const boxes = () => [...sheet.querySelectorAll("input")].filter((box) => box.type !== "hidden");

  /** @param {HTMLInputElement} here @param {number} step */
  const walk = (here, step) => {
    const all = boxes();
    const to = all[all.indexOf(here) + step];
    if (to) {
      to.focus();
      to.select();
    } else if (step > 0) {
      next.focus();
    }
  };
  const keep = () => form.requestSubmit(next);

  form.addEventListener("keydown", (event) => {
    if (event.isComposing || event.ctrlKey || event.altKey || event.metaKey) return;
    const here = event.target;
    if (event.key === "PageDown") {
      event.preventDefault();
      keep();
    } else if (event.key === "PageUp" && form.dataset.before) {
      event.preventDefault();
      location.assign(form.dataset.before);
    } else if (event.key === "Enter" && here instanceof HTMLInputElement) {
      event.preventDefault();
      if (here.type === "checkbox") keep();
      else walk(here, event.shiftKey ? -1 : 1);
    }
  });
  sheet.addEventListener("input", (event) => {
    const box = event.target;
    if (box instanceof HTMLInputElement && box.maxLength === 1) box.value = box.value.toUpperCase();
  });
  const first = form.querySelector("[autofocus]");
  if (first instanceof HTMLInputElement) {
    first.focus();
    if (first.type !== "checkbox") first.select();
  }
  form.dataset.typing = "ready";
}
