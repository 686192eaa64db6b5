// An ordered list of stops: Alt with up or down moves one, and so does dragging its handle.
// Each item holds its hidden inputs, so the form sends the new order; data-order-note says it is unsaved.

/** @param {HTMLElement} list */
export function begin(list) {
  /** @type {HTMLElement | null} */
  let held = null;

  const changed = () => {
    list.querySelectorAll("[data-place]").forEach((place, index) => { place.textContent = String(index + 1); });
    const note = document.querySelector("[data-order-note]");
    if (note instanceof HTMLElement) note.hidden = false;
  };

  /** @param {EventTarget | null} target @returns {HTMLElement | null} */
  const stopOf = (target) => (target instanceof Element ? target.closest("[data-stop]") : null);

  list.addEventListener("keydown", (event) => {
    const stop = stopOf(event.target);
    if (!stop || !event.altKey || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
    event.preventDefault();
    const beside = event.key === "ArrowUp" ? stop.previousElementSibling : stop.nextElementSibling;
    if (!beside) return;
    if (event.key === "ArrowUp") beside.before(stop);
    else beside.after(stop);
    if (event.target instanceof HTMLElement) event.target.focus();
    changed();
  });

  for (const stop of list.querySelectorAll("[data-stop]")) stop.setAttribute("draggable", "true");
  list.addEventListener("dragstart", (event) => { held = stopOf(event.target); });
  list.addEventListener("dragover", (event) => {
    const over = stopOf(event.target);
    if (!held || !over || over === held) return;
    event.preventDefault();
    const box = over.getBoundingClientRect();
    if (event.clientY < box.top + box.height / 2) over.before(held);
    else over.after(held);
  });
  list.addEventListener("dragend", () => {
    if (held) changed();
    held = null;
  });
}
