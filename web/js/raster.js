// Boxes and spots on a raster by mouse and by keys: arrows move, with Shift they resize, Enter stores, Escape undoes.

import { NUMBERS, draftOn } from "./raster-draft.js";

/** @type {Record<string, [number, number]>} */
const STEPS = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };

/** @param {HTMLElement} frame */
export function begin(frame) {
  const { form, shape, box, read, put, draw, ask } = draftOn(frame);
  const picture = /** @type {SVGSVGElement} */ (frame.querySelector(".raster-overlay"));
  const [heading, first] = [form.querySelector("h2"), box("replaces").value];
  /** @type {{row: number, column: number, place: import("./raster-draft.js").Place | null, region: SVGElement | null, moved: boolean} | null} */
  let held = null;

  /** @param {EventTarget | null} target @param {string} which @returns {SVGElement | null} */
  const near = (target, which) => (target instanceof SVGElement ? target.closest(which) : null);
  /** @param {PointerEvent} event @returns {[number, number]} row and column under the pointer */
  const under = (event) => {
    const { left, top, width, height } = picture.getBoundingClientRect();
    const [rows, columns] = [Number(frame.dataset.rows), Number(frame.dataset.columns)];
    return [Math.floor(((event.clientY - top) / height) * rows), Math.floor(((event.clientX - left) / width) * columns)];
  };
  /** @param {SVGElement | null} region to be changed; none begins a new one */
  const take = (region) => {
    box("replaces").value = region?.dataset.region ?? "";
    box("name").value = region?.dataset.name ?? "";
    if (heading) heading.textContent = region ? `Change ${region.dataset.name}` : "Draw a region";
    for (const one of picture.querySelectorAll(".region")) one.classList.toggle("changing", one === region);
    for (const name of region ? [...NUMBERS, "shape"] : []) box(name).value = region?.dataset[name] || box(name).value;
    if (region) put(read());
  };
  const undo = () => {
    take(picture.querySelector(`[data-region="${first}"]`));
    form.reset();
    shape.toggleAttribute("hidden", !first);
    draw(read()); ask();
  };

  picture.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    const [row, column] = under(event);
    held = { row, column, place: near(event.target, "[data-draft]") && read(), region: near(event.target, "[data-region]"), moved: false };
    picture.setPointerCapture(event.pointerId);
  });
  picture.addEventListener("pointermove", (event) => {
    if (!held) return;
    const [row, column] = under(event);
    const [down, right] = [row - held.row, column - held.column];
    if (!held.moved && !held.place && (down || right)) take(null);
    held.moved ||= Boolean(down || right);
    if (held.place) put({ ...held.place, row: held.place.row + down, column: held.place.column + right });
    else if (read().shape === "spot") put({ ...read(), row: held.row, column: held.column, radius: Math.round(2 * Math.hypot(down, right)) / 2 });
    else put({ ...read(), row: Math.min(row, held.row), column: Math.min(column, held.column), rows: Math.abs(down) + 1, columns: Math.abs(right) + 1 });
  });
  picture.addEventListener("pointercancel", () => { held = null; });
  picture.addEventListener("pointerup", () => {
    if (held && !held.moved && held.region) take(held.region);
    if (!shape.hasAttribute("hidden")) shape.focus({ preventScroll: true });
    held = null;
  });
  picture.addEventListener("keydown", (event) => {
    const [region, step] = [near(event.target, "[data-region]"), STEPS[event.key]];
    const fresh = region !== null && region.dataset.region !== box("replaces").value;
    if (!step && !["Enter", "Escape", " "].includes(event.key)) return;
    event.preventDefault();
    if (event.key === "Escape") return undo();
    if (fresh) take(region);
    if (step) {
      const [place, [down, right]] = [read(), step];
      if (!event.shiftKey) put({ ...place, row: place.row + down, column: place.column + right });
      else put({ ...place, rows: place.rows + down, columns: place.columns + right, radius: place.radius + (right - down) / 2 });
    } else if (!fresh && event.key === "Enter" && !shape.hasAttribute("hidden")) form.requestSubmit();
    else if (!fresh) put(read());
  });
  form.addEventListener("input", () => { draw(read()); ask(); });
  picture.classList.add("live");
  form.querySelector(".with-script")?.removeAttribute("hidden");
  (first ? put : draw)(read());
}
