// Whether a stop still has something to read.

import { isDone, keyOf } from "./drafts.js";

/** @param {import("./types.js").Stop} stop @param {Record<string, any>} drafts */
export function isUnread(stop, drafts) {
  return stop.views.some((view) => isViewUnread(view, drafts));
}

/** @param {import("./types.js").View} view @param {Record<string, any>} drafts */
export function isViewUnread(view, drafts) {
  return view.points.some((point) => !isDone(point, drafts[keyOf.view(view.id)]?.points?.[point.row_uid]));
}
