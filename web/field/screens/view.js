// One view a screen: its boxes in the order they are seen, own keys, and what they say at once.

import { ofRound, ofStop, ofView } from "../addresses.js";
import { ask, el, refill } from "../dom.js";
import { askDoubt } from "../doubts.js";
import { boxesOf, isRead, keepReadings, keyOf, roundDraft, stopDraft, viewDraft } from "../drafts.js";
import { judgeView } from "../judging.js";
import { keypad } from "../keypad.js";
import { aim } from "../aiming.js";
import { more } from "../more.js";
import { drawingOf } from "../parts.js";
import { takePhoto } from "../pictures.js";
import { noteKey, speakKey } from "../speaking.js";
import { askReason } from "../reasons.js";
import { askPattern, say } from "../saying.js";
import { isUnfinished, numberOf } from "../typed.js";
import { asRead, degrees, inCelsius, told } from "../units.js";
import { reasonWord } from "../words.js";

/** @typedef {import("../types.js").Field} Field */
/** @typedef {import("../types.js").Pack} Pack */
/** @typedef {import("../types.js").Stop} Stop */
/** @typedef {import("../types.js").View} View */
/** @typedef {import("../types.js").Point} Point */
/** @typedef {import("../types.js").JudgedPoint} JudgedPoint */

const MOST_UNDO = 60;
const ACT_NOW = 4;

/**
 * The screen of one view.
 * @param {Field} field @param {Pack} pack @param {import("../addresses.js").Place} place
 * @returns {Promise<{node: Element, leave(): Promise<void>} | null>} null where the round has no such view
 */
export async function showView(field, pack, place) {
  const stop = pack.stops.find((one) => one.id === place.stopId);
  const view = stop?.views.find((one) => one.id === place.viewId);
  if (!stop || !view || stop.not_open) return null;
  const { store } = field;
  const roundId = pack.round.id;
  const [stopKept, viewKept, roundKept] = await Promise.all([
    store.draft(roundId, keyOf.stop(stop.id)), store.draft(roundId, keyOf.view(view.id)), store.draft(roundId, keyOf.round),
  ]);
  const around = stopDraft(pack, stopKept);
  // what is set in the instrument stays set from view to view
  const set = { emissivity: around.emissivity, reflectedSet: around.reflectedSet };
  const draft = viewDraft(view, viewKept ?? set);
  const walk = roundDraft(pack, roundKept);
  const screen = new ViewScreen(field, pack, stop, view, { draft, around, order: walk.order });
  return { node: screen.node, leave: () => screen.leave() };
}

class ViewScreen {
  /**
   * @param {Field} field @param {Pack} pack @param {Stop} stop @param {View} view
   * @param {{draft: import("../types.js").ViewDraft, around: import("../types.js").StopDraft, order: number[]}} typed
   */
  constructor(field, pack, stop, view, typed) {
    this.field = field;
    this.pack = pack;
    this.stop = stop;
    this.view = view;
    this.draft = typed.draft;
    this.around = typed.around;
    this.order = typed.order;
    /** @type {HTMLInputElement[]} */
    this.boxes = [];
    /** @type {HTMLInputElement | null} */
    this.here = null;
    this.asked = false;
    this.keeping = Promise.resolve();
    this.verdict = el("div", { class: "verdict", role: "status" });
    this.doubt = el("div", { class: "doubt", role: "status" });
    this.pattern = el("div", { class: "pattern" });
    this.node = this.build();
    this.judge();
    this.boxes.forEach((box) => this.showLast(box));
  }

  build() {
    const { pack, stop, view } = this;
    const place = this.order.indexOf(stop.id) + 1;
    const nth = stop.views.indexOf(view) + 1;
    const grid = this.grid();
    const next = el("button", { type: "button", class: "go", onclick: () => this.next() }, this.nextWord());
    return el(
      "section",
      { class: "screen reading" },
      el("div", { class: "scroll" },
        el("header", { class: "head" },
          el("p", { class: "where" }, `Stop ${place} of ${pack.stops.length}, view ${nth} of ${stop.views.length}`,
            el("a", { href: ofStop(pack.round.id, stop.id) }, "Stop"), el("a", { href: ofRound(pack.round.id) }, "Stops")),
          el("div", { class: "titled" }, el("h1", { tabindex: "-1" }, view.name), el("p", { class: "tag" }, view.tag))),
        aim(stop, view, pack),
        grid, this.pattern, this.doubt,
        drawingOf(view.drawing ?? stop.drawing, view.drawing ? view.name : stop.title),
        more(view, this.draft, degrees(pack), () => this.changed(), () => this.carryOn(), (point) => this.speakKey(point))),
      el("div", { class: "foot-keys" },
        this.verdict,
        keypad({
          box: () => this.here,
          changed: (box, was) => this.typed(box, was),
          next: () => this.nextBox(),
          undo: () => this.undo(),
        }),
        el("div", { class: "steps" },
          el("button", { type: "button", class: "plain", onclick: () => this.cannotRead() }, "Can’t read"),
          el("button", { type: "button", class: "plain", onclick: () => this.photo() }, "Photo"),
          next)),
    );
  }

  /** Temperatures down the left in aim order, amps down the right; a pair a row where there are no amps. */
  grid() {
    const { view } = this;
    const amps = view.asks_amps;
    const grid = el("div", { class: amps ? "boxes by-phase" : "boxes" });
    for (const point of view.points) grid.append(this.box(point, "temperature", degrees(this.pack)));
    if (amps) for (const point of view.points) grid.append(this.box(point, "amps", "A"));
    if (amps) grid.style.setProperty("--rows", String(view.points.length));
    if (!view.asks_neutral) return grid;
    return el("div", {}, grid, el("div", { class: "boxes one" }, this.box(null, "neutral", "A")));
  }

  /** @param {Point | null} point @param {"temperature" | "amps" | "neutral"} what @param {string} unit */
  box(point, what, unit) {
    const own = point && this.draft.points[point.row_uid];
    const said = what === "neutral" ? this.draft.neutral : own?.[what] ?? "";
    const word = what === "neutral" ? "Neutral" : point?.label ?? "";
    const input = el("input", {
      type: "text", inputmode: "none", autocomplete: "off", enterkeyhint: "next", value: said,
      "aria-label": `${word} ${what === "temperature" ? `temperature, ${unit}` : "amps"}`,
      "data-row": point?.row_uid ?? "", "data-what": what,
      onfocus: () => this.enter(input), onblur: () => this.leaveBox(input),
      oninput: () => this.typed(input, input.dataset.was ?? ""),
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        if (event.key === "Enter") {
          event.preventDefault();
          this.nextBox();
        }
      },
    });
    input.dataset.was = said;
    this.boxes.push(input);
    const reason = own?.reason && what === "temperature" ? el("small", { class: "reason" }, reasonWord(own.reason)) : null;
    return el("label", { class: "box", "data-box": `${what} ${point?.row_uid ?? ""}` },
      el("b", { class: what === "amps" && "muted" }, what === "amps" ? "amps" : word), el("span", { class: "figure" }, input, el("i", {}, unit)),
      el("small", { class: "last" }), reason);
  }

  /** @param {HTMLInputElement} box */
  enter(box) {
    this.here = box;
    for (const one of this.boxes) one.closest(".box")?.classList.toggle("here", one === box);
    box.setSelectionRange(box.value.length, box.value.length);
  }

  /** @param {HTMLInputElement} box */
  leaveBox(box) {
    this.showLast(box);
    this.doubtOf(box);
  }

  /** The value before it, only once something new stands there. @param {HTMLInputElement} box */
  showLast(box) {
    const point = this.pointOf(box);
    const last = point?.last;
    const value = box.dataset.what === "amps" ? last?.current_a : box.dataset.what === "temperature" ? last?.temperature_c : null;
    const beside = box.closest(".box")?.querySelector(".last");
    if (!beside) return;
    const shown = numberOf(box.value) !== null && value !== null && value !== undefined;
    beside.textContent = shown ? `last ${box.dataset.what === "amps" ? value : asRead(value, this.pack).toFixed(1)}` : "";
    box.closest(".box")?.classList.toggle("unfinished", isUnfinished(box.value));
  }

  /** @param {HTMLInputElement} box */
  pointOf(box) {
    return this.view.points.find((one) => one.row_uid === box.dataset.row);
  }

  /** A box says something else: kept at once, judged after. @param {HTMLInputElement} box @param {string} was */
  typed(box, was) {
    const { draft } = this;
    const point = this.pointOf(box);
    draft.undo.push({ box: `${box.dataset.what} ${box.dataset.row}`, was });
    if (draft.undo.length > MOST_UNDO) draft.undo.shift();
    this.write(box, point);
    this.changed();
  }

  /** @param {HTMLInputElement} box @param {Point | undefined} point */
  write(box, point) {
    box.dataset.was = box.value;
    if (!point) {
      this.draft.neutral = box.value;
      return;
    }
    const own = this.draft.points[point.row_uid];
    own[box.dataset.what === "amps" ? "amps" : "temperature"] = box.value;
    if (box.dataset.what === "temperature" && box.value && own.reason) {
      own.reason = "";
      box.closest(".box")?.querySelector(".reason")?.remove();
    }
    own.at ||= new Date().toISOString();
  }

  changed() {
    this.draft.settled = false;
    const kept = this.field.store.keepDraft(this.pack.round.id, keyOf.view(this.view.id), this.draft);
    kept.catch((/** @type {unknown} */ error) => this.say(`Not kept on this device: ${error}`));
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.judge();
    });
  }

  /** What is set in the instrument holds for the views to come. */
  carryOn() {
    Object.assign(this.around, { emissivity: this.draft.emissivity, reflectedSet: this.draft.reflectedSet });
    void this.field.store.keepDraft(this.pack.round.id, keyOf.stop(this.stop.id), this.around);
  }

  undo() {
    const last = this.draft.undo.pop();
    if (!last) return;
    const box = this.boxes.find((one) => `${one.dataset.what} ${one.dataset.row}` === last.box);
    if (!box) return;
    box.value = last.was;
    this.write(box, this.pointOf(box));
    box.focus();
    this.changed();
  }

  nextBox() {
    const at = this.here ? this.boxes.indexOf(this.here) : -1;
    const next = this.boxes[at + 1];
    if (next) next.focus();
    else this.next();
  }

  judged() {
    const celsius = (/** @type {string} */ text) => inCelsius(numberOf(text), this.pack);
    const around = {
      ambient_c: celsius(this.around.ambient), reflected_c: celsius(this.around.reflected),
      wind_m_s: numberOf(this.around.wind), neutral_a: numberOf(this.draft.neutral),
      emissivity_set: numberOf(this.draft.emissivity), reflected_set_c: celsius(this.draft.reflectedSet),
      distance_m: numberOf(this.draft.distance), instrument_id: this.around.instrumentId,
    };
    const typed = Object.fromEntries(this.view.points.map((point) => {
      const own = this.draft.points[point.row_uid];
      return [point.row_uid, {
        temperature_c: celsius(own.temperature), current_a: numberOf(own.amps), reason: own.reason || null, boxes: inCelsiusBoxes(point, boxesOf(point, own), this.pack),
      }];
    }));
    const { pack, view, stop } = /** @type {any} */ (this);
    return /** @type {import("../types.js").JudgedView} */ (judgeView(pack, view, stop, typed, around));
  }

  judge() {
    const { points } = this.judged();
    say(this.verdict, this.view, points, this.pack);
    askPattern(this.pattern, this.view, points, this.draft, () => this.changed());
  }

  /** @param {HTMLInputElement} box */
  doubtOf(box) {
    const point = this.pointOf(box);
    const own = point && this.draft.points[point.row_uid];
    const what = box.dataset.what === "amps" ? "current_a" : "temperature_c";
    const judged = this.judged().points.find((one) => one.rowUid === box.dataset.row);
    const odd = judged?.oddities.find((one) => one.field === what);
    if (!odd || !own || own.asked.includes(`${what} ${box.value}`)) return;
    askDoubt(this.doubt, { label: point.label, value: box.value, odd: { ...odd, question: told(odd.question, this.pack) } }, (value) => {
      own.asked.push(`${what} ${value}`);
      const was = box.value;
      box.value = value;
      if (was === value) this.changed();
      else this.typed(box, was);
      this.showLast(box);
      if (!value) box.focus();
    });
  }

  /** @param {string} text @param {HTMLElement | null} [key] what may be done now */
  say(text, key = null) {
    refill(this.doubt, text && el("p", {}, text), key);
    this.doubt.scrollIntoView({ block: "nearest" });
  }

  async photo() {
    const at = this.here && this.pointOf(this.here);
    const label = at ? `${this.view.name}, ${at.label}` : this.view.name;
    const about = { stopId: this.stop.id, rowUid: (at || this.view.points[0])?.row_uid, label };
    const taken = await takePhoto(this.field.store, this.pack, about);
    if (taken.words) this.say(taken.words, taken.uid ? speakKey(this.field, this.pack, { uid: taken.uid, label }, (words) => this.say(words)) : null);
    this.field.sync.now();
    this.field.heed();
  }

  /** @param {Point} point */
  speakKey(point) {
    const { stop, view, draft } = this;
    const own = draft.points[point.row_uid];
    const about = { rowUid: point.row_uid, label: `${stop.title}: ${view.name}, ${point.label}` };
    const word = view.points.length > 1 ? `${point.label}: speak a note` : "Speak a note";
    return noteKey(this.field, this.pack, about, word, own.spoken, (count) => {
      own.spoken = count;
      void this.field.store.keepDraft(this.pack.round.id, keyOf.view(view.id), draft);
    });
  }

  async cannotRead() {
    const { points } = this.view;
    const at = this.here && this.pointOf(this.here);
    const several = points.length > 1;
    const someRead = points.some((one) => isRead(this.draft.points[one.row_uid]));
    const whom = el("select", { "aria-label": "Which points" }, el("option", { value: "" }, "all points of this view"),
      points.map((one) => el("option", { value: one.row_uid, selected: one === at && someRead }, one.label || one.name)));
    const answer = await askReason("Can’t read: why?", several ? [whom] : []);
    if (!answer) return;
    const one = several ? whom.value : points[0].row_uid;
    for (const point of points.filter((each) => !one || each.row_uid === one)) {
      const own = this.draft.points[point.row_uid];
      if (!one && isRead(own) && !own.reason) continue;
      Object.assign(own, { reason: answer, temperature: "", at: own.at || new Date().toISOString() });
    }
    await this.field.store.keepDraft(this.pack.round.id, keyOf.view(this.view.id), this.draft);
    await this.next();
  }

  following() {
    const views = this.stop.views;
    return views[views.indexOf(this.view) + 1];
  }

  nextWord() {
    return this.following() ? "Next view" : "End of stop";
  }

  /** Act now first, then the one measurement that would settle it; a missing value never holds anybody up. */
  async next() {
    const judged = this.judged();
    const grave = judged.points.find((one) => one.level === ACT_NOW);
    if (grave && !this.draft.told) {
      this.field.go(ofRound(this.pack.round.id, `tell/${grave.rowUid}`));
      return;
    }
    if (judged.settle && !grave && !this.draft.settled) {
      this.draft.settled = true;
      if (!(await mayWalkOn(judged.settle, this.pack))) return;
    }
    const next = this.following();
    this.field.go(next ? ofView(this.pack.round.id, this.stop.id, next.id) : ofStop(this.pack.round.id, this.stop.id));
  }

  /** One after another, since each goes by what the one before has sent. */
  leave() {
    this.keeping = this.keeping.then(async () => {
      await keepReadings(this.field.store, this.pack, this.stop, this.view, this.draft, this.around);
      this.field.sync.now();
      this.field.heed();
    });
    return this.keeping;
  }
}

/** Answers of boxes as they are judged: those that are temperatures in °C. @param {Point} point @param {Record<string, string | number | boolean> | null} answers @param {Pack} pack */
function inCelsiusBoxes(point, answers, pack) {
  const warm = new Set(point.boxes.filter((box) => box.value === "temperature").map((box) => box.key));
  return Object.fromEntries(Object.entries(answers ?? {}).map(([key, value]) =>
    [key, warm.has(key) && typeof value === "number" ? inCelsius(value, pack) : value]));
}

/**
 * The one measurement that would settle it, said before walking on; whether to walk on.
 * @param {{what: string, why: string, now: boolean}} settle `now` is false where nobody can do it on this visit
 * @param {Pack} pack in whose unit it is said
 */
async function mayWalkOn(settle, pack) {
  const stay = settle.now ? [{ word: "Stay and do it", answer: "stay", kind: "go" }] : [];
  const answer = await ask("One measurement would settle it", [
    el("p", { class: "what" }, told(settle.what, pack)), el("p", { class: "quiet" }, told(settle.why, pack)),
  ], [...stay, { word: "Walk on", answer: "on", kind: settle.now ? "plain" : "go" }]);
  return answer === "on";
}
