// A stop: cautions first, then what holds for all its views, then the views, then its end.

import { ofRound, ofStop, ofView } from "../addresses.js";
import { el, refill } from "../dom.js";
import { isDone, keepReadings, keepStop, keyOf, roundDraft, stopDraft, viewDraft } from "../drafts.js";
import { drawingOf, instruments, line, numberBox, textBox } from "../parts.js";
import { permitForm, zoneOf } from "../permits.js";
import { takePhoto } from "../pictures.js";
import { noteKey, speakKey } from "../speaking.js";
import { onSite } from "../site_clock.js";
import { degrees } from "../units.js";
import { askReason } from "../reasons.js";
import { clock, counted, loadHours } from "../words.js";
import { inOrder, isUnread, isViewUnread } from "../walking.js";

/** @typedef {import("../types.js").Field} Field */
/** @typedef {import("../types.js").Pack} Pack */
/** @typedef {import("../types.js").Stop} Stop */
/** @typedef {import("../types.js").StopDraft} StopDraft */

/** @param {Field} field @param {Pack} pack @param {import("../addresses.js").Place} place */
export async function showStop(field, pack, place) {
  const stop = pack.stops.find((one) => one.id === place.stopId);
  if (!stop) return null;
  /** @type {Record<string, any>} */
  const drafts = await field.store.drafts(pack.round.id);
  const walk = roundDraft(pack, drafts[keyOf.round]);
  const around = stopDraft(pack, drafts[keyOf.stop(stop.id)]);
  const screen = { field, pack, stop, drafts, walk, around };
  const site = pack.sites.find((one) => one.id === stop.site_id);
  const firstTime = !walk.cautionSites.includes(stop.site_id);
  const stops = inOrder(pack, walk.order);
  const told = el("p", { class: "quiet", role: "status" });
  const node = el("section", { class: "screen" },
    el("div", { class: "scroll" },
      el("header", { class: "head" },
        el("p", { class: "where" }, `Stop ${stops.indexOf(stop) + 1} of ${stops.length}${stop.arrive_min === null ? "" : `, planned ${clock(stop.arrive_min)}`}`,
          el("a", { href: ofRound(pack.round.id) }, "Stops")),
        el("h1", { tabindex: "-1" }, stop.title), el("p", { class: "tag" }, stop.tag)),
      stop.not_open ? el("p", { class: "shut-box" }, el("strong", {}, stop.not_open), " Nothing here is opened. Bring the round up to date once the number and times are typed, or say why it can’t be read.") : null,
      cautions(stop, site, firstTime),
      firstTime ? null : [permitForm(field, pack, stop) ?? "", facts(stop, zoneOf(pack, stop)), drawingOf(stop.drawing, stop.title) ?? "", ...surroundings(screen), ...views(screen), ...ending(screen, told)],
      told),
    el("div", { class: "foot-keys" }, el("div", { class: "steps" }, steps(screen, firstTime, stops))));
  return { node, leave: () => keepStop(field.store, pack, stop, around) };
}

/** @param {Stop} stop @param {import("../types.js").Site | undefined} site @param {boolean} open */
function cautions(stop, site, open) {
  const lines = stop.cautions;
  return el("details", { class: "cautions", open },
    el("summary", {}, "Before the doors"),
    el("ul", {}, lines.map((line) => el("li", {}, line)), site?.safety_text ? el("li", {}, el("b", {}, `${site.name}: `), site.safety_text) : null),
    el("p", {}, el("b", {}, "Stand-off: "), stop.stand_off),
    stop.ppe ? el("p", {}, el("b", {}, "Protective equipment: "), stop.ppe) : null);
}

/** @param {Stop} stop @param {string} zone of its site */
function facts(stop, zone) {
  const load = stop.expected_load === null ? "" : `Expected load ${Math.round(stop.expected_load * 100)} %. `;
  const permit = stop.permit;
  const now = new Date().toISOString();
  const at = (/** @type {string} */ iso) => onSite(iso, zone).slice(11);
  const over = permit?.to && permit.to < now ? el("p", { class: "warn" }, el("b", {}, "The permit ran out "), `at ${at(permit.to)}. Ask its issuer before anything is opened.`) : null;
  return el("div", { class: "facts" },
    el("p", {}, load, stop.load_hours ? `Load hours ${loadHours(stop.load_hours)}.` : "", stop.two_people ? " Two people." : ""),
    permit?.number ? el("p", {}, `Permit ${permit.number}${permit.from && permit.to ? `, ${at(permit.from)} to ${at(permit.to)}` : ""}${permit.typed ? ", typed here as shown by the issuer" : ""}.`) : null,
    over,
    stop.running ? el("p", {}, stop.running) : null,
    stop.distances.map((line) => el("p", { class: "warn" }, line)));
}

/** @typedef {{field: Field, pack: Pack, stop: Stop, drafts: Record<string, any>, walk: import("../types.js").RoundDraft, around: StopDraft}} Screen */

/** What holds for the whole stop, asked once. @param {Screen} screen */
function surroundings(screen) {
  const { pack, stop, around, walk, drafts } = screen;
  const keep = () => screen.field.store.keepDraft(pack.round.id, keyOf.stop(stop.id), around);
  const before = walkedBefore(pack, stop, walk.order, drafts);
  const boxes = /** @type {[("ambient" | "reflected" | "wind"), string, string][]} */ ([
    ["ambient", "Air near the part", degrees(pack)], ["reflected", "Reflected temperature", degrees(pack)],
    ...(stop.outdoor ? [["wind", "Wind at the part", "m/s"]] : []),
  ]);
  const grid = el("div", { class: "once" });
  for (const [key, word, unit] of boxes) {
    const input = numberBox({ value: around[key], oninput: () => {
      around[key] = input.value;
      keep();
    } });
    const carried = before?.[key];
    const same = carried && !around[key]
      ? el("button", { type: "button", class: "small", onclick: () => { input.value = carried; around[key] = carried; keep(); same?.remove(); } }, `as before, ${carried}`)
      : null;
    grid.append(el("div", { class: "line" }, el("label", {}, word, el("span", { class: "line-end" }, input, el("i", {}, unit))), same || ""));
  }
  const choice = el("select", { onchange: () => { around.instrumentId = Number(choice.value) || null; keep(); } },
    el("option", { value: "" }, "not said"),
    instruments(pack, (kind) => kind !== "ammeter", around.instrumentId));
  grid.append(line("Instrument", choice));
  return [el("h2", {}, "For the whole stop"), grid];
}

/** The stop walked last, whose surroundings may still hold. @param {Pack} pack @param {Stop} stop @param {number[]} order @param {Record<string, any>} drafts @returns {StopDraft | undefined} */
function walkedBefore(pack, stop, order, drafts) {
  const stops = inOrder(pack, order);
  return stops.slice(0, stops.indexOf(stop)).toReversed().map((one) => drafts[keyOf.stop(one.id)]).find((one) => one?.startedAt);
}

/** @param {Screen} screen */
function views(screen) {
  const { pack, stop, drafts } = screen;
  return [el("h2", {}, counted(stop.views.length, "view")), el("ol", { class: "views" }, stop.views.map((view) => {
    const own = view.points.map((point) => drafts[keyOf.view(view.id)]?.points?.[point.row_uid]);
    const done = view.points.filter((point, n) => isDone(point, own[n])).length;
    const reasons = own.filter((one) => one?.reason).length;
    const state = done === view.points.length ? (reasons === done ? "can’t be read" : "read") : done ? `${done} of ${view.points.length}` : "";
    const body = [el("span", { class: "what" }, el("strong", {}, view.name), el("small", {}, view.points.map((point) => point.label).join(", "))), el("span", { class: "when" }, state)];
    return el("li", { class: done === view.points.length ? "done" : "" },
      stop.not_open ? el("div", { class: "row" }, body) : el("a", { href: ofView(pack.round.id, stop.id, view.id) }, body));
  }))];
}

/** @param {Screen} screen @param {HTMLElement} told */
function ending(screen, told) {
  const { field, pack, stop, around } = screen;
  const senses = /** @type {[("seen" | "heard" | "smelt"), string][]} */ ([["seen", "Seen here"], ["heard", "Heard"], ["smelt", "Smelt"]]);
  const lines = senses.map(([key, word]) => {
    const input = textBox({ value: around[key], oninput: () => {
      around[key] = input.value;
      field.store.keepDraft(pack.round.id, keyOf.stop(stop.id), around);
    } });
    return el("label", { class: "line wide" }, el("span", {}, word), input);
  });
  return [
    ...lines,
    noteKey(field, pack, { stopId: stop.id, label: stop.title }, "Speak a note", around.spoken, (count) => {
      around.spoken = count;
      void field.store.keepDraft(pack.round.id, keyOf.stop(stop.id), around);
    }),
    el("div", { class: "pair" },
      el("button", { type: "button", class: "plain", onclick: async () => {
        const { uid, words } = await takePhoto(field.store, pack, { stopId: stop.id, label: stop.title });
        refill(told, words, uid && speakKey(field, pack, { uid, label: stop.title }, (said) => refill(told, said)));
        field.sync.now();
      } }, "Photo of the place"),
      el("button", { type: "button", class: "plain", onclick: () => cannotReadStop(screen) }, "Can’t read this stop")),
  ];
}

/** One reason for every point of the stop that has none yet. @param {Screen} screen */
async function cannotReadStop({ field, pack, stop, drafts, around }) {
  const answer = await askReason("Can’t read this stop: why?", [el("p", {}, "For every point here that has no reading.")]);
  if (!answer) return;
  for (const view of stop.views) {
    const draft = viewDraft(view, drafts[keyOf.view(view.id)]);
    for (const point of view.points) {
      const own = draft.points[point.row_uid];
      if (!isDone(point, own)) Object.assign(own, { reason: answer, at: new Date().toISOString() });
    }
    await field.store.keepDraft(pack.round.id, keyOf.view(view.id), draft);
    await keepReadings(field.store, pack, stop, view, draft, around);
  }
  field.sync.now();
  field.go(ofRound(pack.round.id));
}

/** The one thing to do next. @param {Screen} screen @param {boolean} firstTime @param {Stop[]} stops */
function steps(screen, firstTime, stops) {
  const { field, pack, stop, walk, around, drafts } = screen;
  const keep = () => field.store.keepDraft(pack.round.id, keyOf.stop(stop.id), around);
  if (firstTime) {
    return el("button", { type: "button", class: "go", onclick: async () => {
      around.cautionsAt = new Date().toISOString();
      walk.cautionSites.push(stop.site_id);
      await keep();
      await field.store.keepDraft(pack.round.id, keyOf.round, walk);
      await field.again();
    } }, "Read. Go on");
  }
  const unread = stop.views.find((view) => isViewUnread(view, drafts));
  if (unread && !stop.not_open) {
    return el("button", { type: "button", class: "go", onclick: async () => {
      around.startedAt ||= new Date().toISOString();
      await keep();
      field.go(ofView(pack.round.id, stop.id, unread.id));
    } }, around.startedAt ? `Go on: ${unread.name}` : "Start this stop");
  }
  const next = stops.slice(stops.indexOf(stop) + 1).find((one) => isUnread(one, drafts)) ?? stops.find((one) => one !== stop && isUnread(one, drafts));
  const word = next ? `Go to ${stops.indexOf(next) + 1}: ${next.title}` : "To the stops";
  return el("button", { type: "button", class: "go", onclick: async () => {
    if (around.startedAt && !around.endedAt) around.endedAt = new Date().toISOString();
    await keep();
    await keepStop(field.store, pack, stop, around);
    field.sync.now();
    field.go(next ? ofStop(pack.round.id, next.id) : ofRound(pack.round.id));
  } }, around.startedAt && !around.endedAt ? `End, then ${word.replace(/^Go to/, "go to").replace(/^To/, "to")}` : word);
}
