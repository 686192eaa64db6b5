// Field: starts the store and the sending, and shows the screen that the address names.

import { ofRound, placeOf } from "./addresses.js";
import { drawing, el, refill } from "./dom.js";
import { withTypedPermits } from "./permits.js";
import { openStore } from "./store.js";
import { startSync } from "./sync.js";
import { unitOf } from "./units.js";
import { counted, moment } from "./words.js";

/** @typedef {import("./types.js").Field} Field */
/** @typedef {{node: Element, leave?: () => Promise<void>}} Screen */

const NO_SIGNAL = "M3 3l18 18M5 12.5a10 10 0 0 1 4-2.6M19 12.5a10 10 0 0 0-6-3.1M8.5 16a5 5 0 0 1 7 0M12 20h.01M2 8.8a15 15 0 0 1 4-2.6M22 8.8a15 15 0 0 0-11.5-3.7";
const SIGNAL = "M5 12.5a10 10 0 0 1 14 0M8.5 16a5 5 0 0 1 7 0M12 20h.01M2 8.8a15 15 0 0 1 20 0";
const ME = "/api/v1/people/me";

/** Screens of a round, read when they are first shown: a slow phone opens the sooner. @type {Record<string, () => Promise<(field: Field, pack: any, place: import("./addresses.js").Place) => Promise<Screen | null>>>} */
const OF_ROUND = {
  round: async () => (await import("./screens/round.js")).showRound,
  stop: async () => (await import("./screens/stop.js")).showStop,
  view: async () => (await import("./screens/view.js")).showView,
  tell: async () => (await import("./screens/tell.js")).showTell,
  check: async () => (await import("./screens/check.js")).showCheck,
  clock: async () => (await import("./screens/clock.js")).showClock,
  hot: async () => (await import("./screens/hot.js")).showHot,
  kept: async () => (await import("./screens/kept.js")).showKept,
};

/** Put hand and light on the page. @param {import("./store.js").Store} store */
async function dress(store) {
  const [hand, light] = await Promise.all([store.meta("hand"), store.meta("light")]);
  const root = document.documentElement;
  root.dataset.hand = hand ?? "right";
  if (light) root.dataset.theme = light;
  else delete root.dataset.theme;
}

/** Who is signed in: asked when there is signal, else who was last. @param {import("./store.js").Store} store */
async function whoIs(store) {
  try {
    const answer = await fetch(ME, { cache: "no-store", signal: AbortSignal.timeout(4000) });
    if (answer.ok) {
      const { person_id: id, name, role, temperature_unit: unit } = await answer.json();
      await store.keepMeta("person", { id, name, role, unit });
    }
  } catch {
    // no signal: the one who was here last goes on
  }
  return (await store.meta("person")) ?? null;
}

async function begin() {
  const [banner, main] = [document.querySelector("#banner"), document.querySelector("#main")];
  if (!(banner instanceof HTMLElement) || !(main instanceof HTMLElement)) return;
  const store = await openStore();
  const [person] = await Promise.all([store.meta("person"), dress(store)]);
  /** @type {import("./types.js").Sync | null} */
  let sync = null;
  /** @type {Field} */
  const field = {
    store,
    person: person ?? null,
    // begins when it is first asked for: the first screen goes before it
    get sync() {
      sync ??= startSync(store, { personId: this.person?.id ?? null, onChange: () => field.heed() });
      return sync;
    },
    dress: () => dress(store),
    leaving: null,
    viewId: 0,
    go: (address) => {
      if (location.hash === address) void field.again();
      else location.hash = address;
    },
    again: () => show(field, main),
    heed: () => void tell(field, banner),
  };
  addEventListener("hashchange", () => void field.again());
  addEventListener("online", () => field.heed());
  addEventListener("offline", () => field.heed());
  // what a screen holds goes into the queue when the device is put away, too
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") void field.leaving?.();
  });
  await show(field, main);
  field.heed();
  performance.mark("ready");
  document.documentElement.dataset.ready = "yes";
  void stayCurrent(field, () => {
    sync?.stop();
    sync = null;
  });
}

/**
 * After the first screen: the worker that keeps the app, and whoever is signed in now.
 * @param {Field} field @param {() => void} stopSending for the one who was here before
 */
async function stayCurrent(field, stopSending) {
  navigator.serviceWorker?.register("/field/worker.js", { scope: "/field/", type: "module" }).catch(() => undefined);
  const before = field.person?.id ?? null;
  field.person = await whoIs(field.store);
  if ((field.person?.id ?? null) !== before) {
    stopSending();
    await field.again();
    field.heed();
  }
}

/** @param {Field} field @param {HTMLElement} main */
async function show(field, main) {
  const place = placeOf(location.hash);
  await leftBehind(field, place);
  const screen = await screenOf(field, place);
  field.leaving = screen.leave ?? null;
  for (const open of document.querySelectorAll("dialog")) open.remove();
  refill(main, screen.node);
  main.dataset.screen = place.name;
  main.dataset.address = location.hash;
  document.title = `${main.querySelector("h1")?.textContent ?? "Field"} – Riseline Field`;
  const first = place.name === "view" ? main.querySelector("input") : main.querySelector("h1");
  if (first instanceof HTMLElement) first.focus({ preventScroll: true });
}

/** Views whose readings are on their way into the queue. @type {Map<number, Promise<unknown>>} */
const onTheirWay = new Map();

/**
 * What was typed is on the device already: from view to view nobody waits until it is in the queue too, but whoever
 * comes back to a view does, and so does a screen that tells what is read.
 * @param {Field} field @param {import("./addresses.js").Place} place
 */
async function leftBehind(field, place) {
  const was = field.viewId;
  const left = field.leaving?.();
  if (left) onTheirWay.set(was, left.finally(() => onTheirWay.delete(was)));
  field.leaving = null;
  if (place.name === "view") await onTheirWay.get(place.viewId);
  else await Promise.all(onTheirWay.values());
  field.viewId = place.viewId;
}

/** @param {Field} field @param {import("./addresses.js").Place} place @returns {Promise<Screen>} */
async function screenOf(field, place) {
  if (place.name === "settings") return (await import("./screens/settings.js")).showSettings(field);
  const reading = OF_ROUND[place.name]?.();
  if (!reading) return (await import("./screens/rounds.js")).showRounds(field);
  const [show, pack] = await Promise.all([reading, field.store.pack(place.roundId)]);
  if (!pack) return missing("This round is not on this device.", "Take it along where there is signal.", "#/");
  const own = /** @type {import("./types.js").Pack} */ (/** @type {unknown} */ (pack));
  if (field.person && own.person.id !== field.person.id) return missing(`This round belongs to ${own.person.name}.`, "Sign in as its owner to go on with it.", "#/");
  own.unit = await unitOf(field.store, place.roundId, field.person);
  await withTypedPermits(field.store, own);
  return (await show(field, own, place)) ?? missing("There is no such place on this round.", "It may not be opened, or the round has changed.", ofRound(place.roundId));
}

/** @param {string} title @param {string} text @param {string} back @returns {Screen} */
function missing(title, text, back) {
  return { node: el("section", { class: "screen" }, el("div", { class: "scroll" }, el("h1", { tabindex: "-1" }, title), el("p", {}, text), el("a", { class: "go", href: back }, "Go back"))) };
}

/** The line on top: signal, and how much is kept here. @param {Field} field @param {HTMLElement} banner */
async function tell(field, banner) {
  const state = field.sync.state();
  const waiting = await field.store.waiting();
  const off = !navigator.onLine || !state.online;
  const kept = waiting ? `${counted(waiting, "entry", "entries")} kept on this device` : "everything is on the server";
  const { roundId } = placeOf(location.hash);
  const link = (/** @type {string} */ text) => (roundId ? el("a", { href: ofRound(roundId, "kept") }, text) : text);
  const met = state.lastMet ? `. Met ${moment(state.lastMet)}` : "";
  banner.className = off ? "banner off" : state.signedOut || state.problems.length ? "banner asks" : "banner";
  if (state.signedOut) refill(banner, drawing(SIGNAL), el("span", {}, el("a", { href: "/sign-in?next=/field/" }, "Sign in again"), ` to send: ${kept}`));
  else if (off) refill(banner, drawing(NO_SIGNAL), el("span", {}, el("b", {}, "No signal. "), link(waiting ? kept : `Nothing waits${met}`)));
  else if (state.problems.length) refill(banner, drawing(SIGNAL), el("span", {}, link(`${counted(state.problems.length, "entry", "entries")} to look at`), `, ${kept}`));
  else refill(banner, drawing(SIGNAL), el("span", {}, waiting ? link(`Sending: ${kept}`) : `Signal: ${kept}${met}`));
}

begin().catch((error) => {
  const main = document.querySelector("#main");
  if (main) refill(main, el("h1", {}, "Field could not start."), el("p", {}, `${error}. Nothing that was kept is lost: close it and open it again.`));
});
