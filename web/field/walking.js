// The stops in the order of this walk, and what of them is still to read.

import { isDone, keyOf } from "./drafts.js";

/** @param {import("./types.js").Stop} stop @param {Record<string, any>} drafts */
export function isUnread(stop, drafts) {
  return stop.views.some((view) => isViewUnread(view, drafts));
}

/** @param {import("./types.js").View} view @param {Record<string, any>} drafts */
export function isViewUnread(view, drafts) {
  return view.points.some((point) => !isDone(point, drafts[keyOf.view(view.id)]?.points?.[point.row_uid]));
}

/** @param {import("./types.js").Pack} pack @param {number[]} order ids of stops, as the technician has them @returns {import("./types.js").Stop[]} */
export function inOrder(pack, order) {
  const place = (/** @type {import("./types.js").Stop} */ stop) => (order.includes(stop.id) ? order.indexOf(stop.id) : order.length + stop.position);
  return pack.stops.toSorted((a, b) => place(a) - place(b));
}
