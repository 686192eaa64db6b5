// The stops of a round in walking order, what is read and what is left.

import { ofRound, ofStop } from "../addresses.js";
import { el, refill } from "../dom.js";
import { isDone, keyOf, roundDraft, tally } from "../drafts.js";
import { inOrder, isUnread } from "../walking.js";
import { clock, counted, onDay, span } from "../words.js";

/** @typedef {import("../types.js").Field} Field */
/** @typedef {import("../types.js").Pack} Pack */
/** @typedef {import("../types.js").Stop} Stop */

/** @param {Field} field @param {Pack} pack @returns {Promise<{node: Element}>} */
export async function showRound(field, pack) {
  /** @type {Record<string, any>} */
  const drafts = await field.store.drafts(pack.round.id);
  const walk = roundDraft(pack, drafts[keyOf.round]);
  const sum = tally(pack, drafts);
  const stops = inOrder(pack, walk.order);
  const left = stops.filter((stop) => isUnread(stop, drafts));
  const list = el("ol", { class: "stops" });
  const drawList = (/** @type {boolean} */ moving) =>
    refill(list, inOrder(pack, walk.order).map((stop, n) => stopLine(pack, stop, n, drafts, moving ? move : null)));
  /** @param {number} id @param {number} by */
  async function move(id, by) {
    const at = walk.order.indexOf(id);
    const to = at + by;
    if (to < 0 || to >= walk.order.length) return;
    walk.order.splice(to, 0, ...walk.order.splice(at, 1));
    await field.store.keepDraft(pack.round.id, keyOf.round, walk);
    drawList(true);
    /** @type {HTMLElement | null} */ (list.querySelector(`[data-move="${id} ${by}"]`))?.focus();
  }
  drawList(false);
  const order = el("button", { type: "button", class: "plain", "aria-pressed": "false", onclick: () => {
    const on = order.getAttribute("aria-pressed") !== "true";
    order.setAttribute("aria-pressed", String(on));
    drawList(on);
  } }, "Change the order");
  const next = left[0];
  const aside = (await field.store.receipts(pack.round.id)).findLast((one) => one.held);
  const node = el("section", { class: "screen" },
    el("div", { class: "scroll" },
      el("header", { class: "head" },
        el("p", { class: "where" }, `${onDay(pack.round.planned_on)}, ${pack.round.code}`, el("a", { href: "#/" }, "Rounds")),
        el("h1", { tabindex: "-1" }, pack.round.name)),
      el("p", { class: "lead" }, told(sum, left), againstThePlan(stops, left)),
      untold(pack, walk),
      aside && el("p", { class: "warn" }, el("b", {}, "Kept aside for the engineer: "), aside.held, " ", el("a", { href: ofRound(pack.round.id, "kept") }, "See what")),
      list,
      el("div", { class: "pair" }, order, el("a", { class: "plain", href: ofRound(pack.round.id, "kept") }, "What is kept here")),
      el("h2", {}, "Beside the stops"),
      el("div", { class: "tools" },
        el("a", { class: "plain", href: ofRound(pack.round.id, "check") }, "Check the instrument"),
        el("a", { class: "plain", href: ofRound(pack.round.id, "clock") }, "The camera’s clock"),
        el("a", { class: "plain", href: ofRound(pack.round.id, "hot") }, "A hot part off the round")),
      el("p", { class: "quiet" }, "Local codes, the site’s rules and the permit come first. This device permits nothing.")),
    el("div", { class: "foot-keys" }, el("div", { class: "steps" },
      next
        ? el("a", { class: "go", href: ofStop(pack.round.id, next.id) }, `Go to ${stops.indexOf(next) + 1}: ${next.title}`)
        : el("a", { class: "go", href: ofRound(pack.round.id, "kept") }, "Everything is read: see what is kept"))));
  return { node };
}

/** @param {{points: number, read: number, cannot: number, left: number}} sum @param {Stop[]} left */
function told(sum, left) {
  const minutes = left.reduce((all, stop) => all + stop.minutes, 0);
  const cannot = sum.cannot ? `, ${sum.cannot} can’t be read` : "";
  const rest = left.length ? ` ${counted(left.length, "stop")} and ${span(minutes)} at equipment to go, by the plan.` : "";
  return `${sum.read} of ${counted(sum.points, "point")} read${cannot}.${rest}`;
}

/** When it will end if what is left goes by the plan, once it has begun late or early. @param {Stop[]} stops @param {Stop[]} left */
function againstThePlan(stops, left) {
  const last = stops.at(-1);
  const next = left[0];
  if (!last || !next || last.arrive_min === null || next.arrive_min === null || left.length === stops.length) return "";
  const now = new Date();
  const planned = last.arrive_min + last.minutes;
  const atLeast = left.reduce((all, stop) => all + stop.minutes, 0);
  const ends = now.getHours() * 60 + now.getMinutes() + Math.max(planned - next.arrive_min, atLeast);
  return ` Ends about ${clock(ends)}; planned ${clock(planned)}.`;
}

/** Act now that nobody has been told of yet stands above everything. @param {Pack} pack @param {import("../types.js").RoundDraft} walk */
function untold(pack, walk) {
  const points = pack.stops.flatMap((stop) => stop.views.flatMap((view) => view.points.map((point) => ({ stop, view, point }))));
  return (walk.untold ?? []).map((uid) => {
    const at = points.find((one) => one.point.row_uid === uid);
    const where = at ? `${at.stop.title}, ${at.view.name} ${at.point.label}` : "a part off the round";
    return el("a", { class: "grave", href: ofRound(pack.round.id, `tell/${uid}`) }, el("strong", {}, "Act now, nobody told yet: "), where);
  });
}

/**
 * @param {Pack} pack @param {Stop} stop @param {number} n @param {Record<string, any>} drafts
 * @param {((id: number, by: number) => void) | null} move
 */
function stopLine(pack, stop, n, drafts, move) {
  const points = stop.views.flatMap((view) => view.points.map((point) => isDone(point, drafts[keyOf.view(view.id)]?.points?.[point.row_uid])));
  const done = points.filter(Boolean).length;
  const around = drafts[keyOf.stop(stop.id)];
  const state = stop.not_open && done < points.length ? stop.not_open
    : done === points.length ? (around?.startedAt && !around.endedAt ? "all read, not ended" : "done")
    : done ? `${done} of ${points.length} read` : around?.startedAt ? "begun" : counted(points.length, "point");
  const buttons = move && el("span", { class: "moves" }, [-1, 1].map((by) =>
    el("button", { type: "button", class: "plain", "data-move": `${stop.id} ${by}`, onclick: () => move(stop.id, by),
      "aria-label": `${stop.title}: ${by < 0 ? "earlier" : "later"}` }, by < 0 ? "↑" : "↓")));
  const kind = done === points.length ? "stop done" : stop.not_open ? "stop shut" : "stop";
  return el("li", { class: kind },
    el("a", { href: ofStop(pack.round.id, stop.id) },
      el("b", { class: "nth" }, n + 1),
      el("span", { class: "what" }, el("strong", {}, stop.title), el("small", {}, `${stop.area ? `${stop.area}. ` : ""}${state}`)),
      el("span", { class: "when" }, clock(stop.arrive_min))),
    buttons);
}
