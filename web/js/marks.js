// Dragging on a picture fills in the ends of the mark to be drawn; the form beside it draws the same by numbers.

const ENDS = ["x_from", "y_from", "x_to", "y_to"];

/** @param {HTMLElement} frame */
export function begin(frame) {
  const form = /** @type {HTMLFormElement} */ (document.getElementById(frame.dataset.form ?? ""));
  const draft = /** @type {SVGSVGElement} */ (frame.querySelector(".draft-mark"));
  const ring = /** @type {SVGSVGElement} */ (draft.querySelector(".round"));
  /** @type {[number, number] | null} */
  let from = null;

  /** @param {string} name */
  const box = (name) => /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
  /** @param {PointerEvent} event @returns {[number, number]} per cent of the picture */
  const under = (event) => {
    const { left, top, width, height } = frame.getBoundingClientRect();
    /** @param {number} part @param {number} whole */
    const percent = (part, whole) => Math.round(Math.min(1, Math.max(0, part / whole)) * 1000) / 10;
    return [percent(event.clientX - left, width), percent(event.clientY - top, height)];
  };
  const show = () => {
    const shape = box("shape").value;
    const [x1, y1, x2, y2] = ENDS.map((name) => Number(box(name).value.replace(",", ".")) || 0);
    for (const line of draft.querySelectorAll("line")) {
      for (const [name, value] of Object.entries({ x1, y1, x2, y2 })) line.setAttribute(name, `${value}%`);
    }
    ring.setAttribute("visibility", shape === "ring" ? "visible" : "hidden");
    const sides = { x: Math.min(x1, x2), y: Math.min(y1, y2), width: Math.abs(x2 - x1), height: Math.abs(y2 - y1) };
    for (const [name, value] of Object.entries(sides)) ring.setAttribute(name, `${value}%`);
    draft.querySelectorAll("line").forEach((line) => line.setAttribute("visibility", shape === "arrow" ? "visible" : "hidden"));
    draft.removeAttribute("hidden");
  };
  /** @param {[number, number]} start @param {[number, number]} end */
  const put = (start, end) => {
    [...start, ...end].forEach((value, place) => { box(/** @type {string} */ (ENDS[place])).value = String(value); });
    show();
  };

  frame.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    event.preventDefault();
    from = under(event);
    frame.setPointerCapture(event.pointerId);
  });
  frame.addEventListener("pointermove", (event) => { if (from) put(from, under(event)); });
  frame.addEventListener("pointerup", (event) => { if (from) put(from, under(event)); from = null; });
  frame.addEventListener("pointercancel", () => { from = null; });
  form.addEventListener("input", show);
  frame.classList.add("live");
  form.querySelector(".with-script")?.removeAttribute("hidden");
}
