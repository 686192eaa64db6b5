// Elements by code: text is always text, never markup.

/** @typedef {Node | string | number | null | undefined | false} Child */

/**
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, unknown>} [given] attributes; "on…" is a listener, "class" the class list
 * @param {...(Child | Child[])} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function el(tag, given = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), /** @type {EventListener} */ (value));
    else if (name === "value") /** @type {HTMLInputElement} */ (/** @type {unknown} */ (made)).value = String(value);
    else made.setAttribute(name, value === true ? "" : String(value));
  }
  fill(made, ...children);
  return made;
}

/** @param {Element} parent @param {...(Child | Child[])} children */
export function fill(parent, ...children) {
  for (const child of children.flat()) {
    if (child === null || child === undefined || child === false) continue;
    parent.append(child instanceof Node ? child : String(child));
  }
}

/** @param {Element} parent @param {...(Child | Child[])} children */
export function refill(parent, ...children) {
  parent.replaceChildren();
  fill(parent, ...children);
}

const SVG = "http://www.w3.org/2000/svg";

/** @param {string} d @param {string} [kind] @param {string} [box] */
export function drawing(d, kind = "icon", box = "0 0 24 24") {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", kind);
  svg.setAttribute("viewBox", box);
  svg.setAttribute("aria-hidden", "true");
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", d);
  svg.append(path);
  return svg;
}

/** The strokes of the house by level; -1 is No verdict. @type {Record<string, [string, string]>} */
const STROKES = {
  "-1": ["M2 14h.1m4.4 0h.1m4.4 0h.1m4.4 0h.1m3.4 0h.1", ""],
  0: ["M2 13c3.2-3 6-3 9.5-.5s6 2 8.5-.5", ""],
  1: ["M2 14.5l8.7-2.8", "M10.9 10.4a3.4 3.4 0 1 0 6.8 0a3.4 3.4 0 1 0-6.8 0z"],
  2: ["M2.5 15.5L14 7", "M11.2 6a4.3 4.3 0 1 0 8.6 0a4.3 4.3 0 1 0-8.6 0z"],
  3: ["M2.5 16L14 7", "M15.6.6l5.8 5.8l-5.8 5.8l-5.8-5.8z"],
  4: ["M3 16.5L16 6M16 6v12.5", "M11.5.9h9.4v9.4h-9.4z"],
};

/** @param {number | null} level */
export function levelMark(level) {
  const [stroke, end] = STROKES[String(level ?? -1)];
  const svg = drawing(stroke, `level-mark level-${level ?? "none"}`, "0 0 22 20");
  if (end) {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("d", end);
    path.setAttribute("class", "end");
    svg.append(path);
  }
  return svg;
}

/**
 * A sheet over the screen that is answered by one of its buttons.
 * @param {string} title
 * @param {Child[]} body
 * @param {{word: string, answer: string, kind?: string}[]} buttons
 * @returns {Promise<string>} the answer, or "" when it was left
 */
export function ask(title, body, buttons) {
  return new Promise((resolve) => {
    const dialog = el("dialog", { class: "over", "aria-label": title });
    const end = (/** @type {string} */ answer) => {
      dialog.close();
      dialog.remove();
      resolve(answer);
    };
    fill(
      dialog,
      el("h2", {}, title),
      body,
      el("div", { class: "over-keys" }, buttons.map((one) =>
        el("button", { type: "button", class: one.kind ?? "plain", onclick: () => end(one.answer) }, one.word))),
    );
    dialog.addEventListener("cancel", (event) => {
      event.preventDefault();
      end("");
    });
    document.body.append(dialog);
    dialog.showModal();
  });
}
