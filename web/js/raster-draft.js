// The region being drawn on a raster: its numbers live in the form, its shape on the picture, and the two agree.

/** @typedef {{shape: string, row: number, column: number, rows: number, columns: number, radius: number}} Place */
export const NUMBERS = /** @type {const} */ (["row", "column", "rows", "columns", "radius"]);
const [SMALLEST, LEAST_RADIUS] = [3, 1.5];

/** @param {number} value @param {number} low @param {number} high */
const within = (value, low, high) => Math.max(low, Math.min(high, value));

/** @param {HTMLElement} frame with data-rows and data-columns, data-form and data-tries */
export function draftOn(frame) {
  const form = /** @type {HTMLFormElement} */ (document.getElementById(frame.dataset.form ?? ""));
  const shape = /** @type {SVGGElement} */ (frame.querySelector("[data-draft]"));
  const said = /** @type {HTMLElement} */ (form.querySelector("[data-figures]"));
  const [tall, wide] = [Number(frame.dataset.rows), Number(frame.dataset.columns)];
  let timer = 0;

  /** @param {string} name */
  const box = (name) => /** @type {HTMLInputElement} */ (form.elements.namedItem(name));

  /** @returns {Place} as the form says */
  const read = () => {
    const [row, column, rows, columns, radius] = NUMBERS.map((name) => Number(box(name).value.replace(",", ".")) || 0);
    return { shape: box("shape").value, row, column, rows, columns, radius: radius || LEAST_RADIUS };
  };

  /** @param {Place} place @returns {Place} the nearest that lies wholly on the picture */
  const fitted = (place) => {
    const radius = within(place.radius, LEAST_RADIUS, Math.max(LEAST_RADIUS, (Math.min(tall, wide) - 1) / 2));
    const [rows, columns] = [within(place.rows, SMALLEST, tall), within(place.columns, SMALLEST, wide)];
    const spot = place.shape === "spot";
    const [low, high] = spot ? [Math.floor(radius), 1 + Math.floor(radius)] : [0, 0];
    return {
      shape: place.shape,
      row: within(place.row, low, tall - (spot ? high : rows)),
      column: within(place.column, low, wide - (spot ? high : columns)),
      rows, columns, radius,
    };
  };

  /** @param {Place} place */
  const draw = ({ shape: kind, row, column, rows, columns, radius }) => {
    const spot = kind === "spot";
    const [x, y] = spot ? [column - radius, row - radius] : [column, row];
    const [width, height] = spot ? [2 * radius + 1, 2 * radius + 1] : [columns, rows];
    const shares = { x: x / wide, y: y / tall, width: width / wide, height: height / tall };
    for (const part of shape.children) {
      part.toggleAttribute("hidden", spot !== part.classList.contains("round"));
      for (const [name, share] of Object.entries(shares)) part.setAttribute(name, `${100 * share}%`);
    }
    form.classList.toggle("shape-spot", spot);
    form.classList.toggle("shape-box", !spot);
  };

  const ask = () => {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const typed = [...new FormData(form)].map(([name, value]) => [name, String(value)]);
      const answer = await fetch(`${frame.dataset.tries}?${new URLSearchParams(typed)}`).catch(() => null);
      said.textContent = answer?.ok ? await answer.text() : "";
    }, 150);
  };

  /** @param {Place} wanted */
  const put = (wanted) => {
    const place = fitted(wanted);
    const idle = place.shape === "spot" ? ["rows", "columns"] : ["radius"];
    for (const name of NUMBERS) if (!idle.includes(name)) box(name).value = String(place[name]);
    shape.removeAttribute("hidden");
    draw(place);
    ask();
  };
  return { form, shape, box, read, put, draw, ask };
}
