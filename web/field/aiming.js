// Where to aim: the like parts of a view as they stand side by side, and how one may look at them.

import { el } from "./dom.js";
import { told } from "./units.js";

const SVG = "http://www.w3.org/2000/svg";
/** Widest drawing that still reads on a phone; more parts are told in words. */
const MOST_DRAWN = 6;

/** @param {string} tag @param {Record<string, string | number>} given @param {string} [text] */
function shape(tag, given, text) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(given)) made.setAttribute(name, String(value));
  if (text) made.textContent = text;
  return made;
}

/** Parts in the order they are seen, a ring where each is read. @param {import("./types.js").View} view */
function drawn(view) {
  const parts = view.points.slice(0, MOST_DRAWN);
  const wide = 28 * parts.length + 12;
  const svg = shape("svg", { viewBox: `0 0 ${wide} 78`, class: "aim-drawing", "aria-hidden": "true" });
  svg.append(shape("rect", { x: 6, y: 6, width: wide - 12, height: 30, class: "case" }));
  parts.forEach((point, n) => {
    const x = 6 + 28 * n + 14;
    svg.append(
      shape("path", { d: `M${x} 36v36`, class: "bar" }),
      shape("circle", { cx: x, cy: 48, r: 8, class: "ring" }),
      shape("text", { x, y: 26, class: "name" }, (point.phase || point.label).slice(0, 4)),
    );
  });
  return svg;
}

/** @param {import("./types.js").Stop} stop @param {import("./types.js").View} view @param {import("./units.js").Told} pack */
export function aim(stop, view, pack) {
  const first = view.points[0];
  const far = first?.distance_m ? `, from ${first.distance_m} m` : "";
  const component = first?.component || first?.kind || "";
  const picture = view.picture
    ? el("img", { class: "aim-picture", src: `/pictures/${view.picture}/preview`, alt: `${view.name}, as pictured before`, onerror: () => picture.replaceWith(drawn(view)) })
    : drawn(view);
  return el("div", { class: "aim" }, picture, el("p", {},
    `${component.slice(0, 1).toUpperCase()}${component.slice(1)}${far}. `,
    stop.access.includes("cover") ? el("b", {}, "Only the qualified person opens the cover. ") : null,
    view.triggers.length ? el("span", { class: "trigger" }, told(view.triggers[0], pack)) : null));
}
