// A spoken note to a reading, a stop or a photo: recorded on this device, kept on it, sent after numbers and photos.

import { ask, el, refill } from "./dom.js";
import { sendOf } from "./drafts.js";
import { NoRoom } from "./store.js";
import { counted } from "./words.js";

/** @typedef {import("./types.js").Field} Field */
/** @typedef {import("./types.js").Pack} Pack */
/** @typedef {import("./store.js").Send} Send */
/** @typedef {{rowUid?: string, stopId?: number, label: string}} About  what of a round a note speaks of: a row or a stop */

/** As long as a note may be [s]; by the rate below that is a quarter of what the service takes. */
const LONGEST_S = 60;
const BITS_PER_S = 64_000;
/** What the service keeps, the one that most devices make first. */
const KINDS = ["audio/webm", "audio/ogg", "audio/mp4"];

/** The kind of recording that this device makes; "" where it makes none. */
function recorded() {
  if (!("MediaRecorder" in globalThis) || !navigator.mediaDevices?.getUserMedia) return "";
  return KINDS.find((kind) => MediaRecorder.isTypeSupported(kind)) ?? "";
}

/**
 * The key that begins a spoken note to a photo; null where this device has no recorder.
 * @param {Field} field @param {Pack} pack @param {{uid: string, label: string}} photo @param {(words: string) => void} said
 */
export function speakKey(field, pack, photo, said) {
  if (!recorded()) return null;
  const send = () => ({ ...sendOf(pack, "voice", "pictures", crypto.randomUUID(), undefined, `Spoken note: ${photo.label}`), of: photo.uid,
    path: `/api/v1/rounds/${pack.round.id}/pictures/${photo.uid}/voice` });
  return el("div", { class: "pair" }, el("button", { type: "button", class: "plain", onclick: async () => {
    said((await speak(field, "It stays with the photo.", send)).words);
  } }, "Speak a note to it"));
}

/**
 * The key that begins a spoken note to a reading or a stop, and how many are kept of it; null where this device has
 * no recorder.
 * @param {Field} field @param {Pack} pack @param {About} about @param {string} word on the key
 * @param {number} spoken before @param {(spoken: number) => void} keep how many there are now
 */
export function noteKey(field, pack, about, word, spoken, keep) {
  if (!recorded()) return null;
  let count = spoken;
  const told = el("p", { class: "quiet", role: "status" }, keptWords(count));
  const send = () => {
    const made = sendOf(pack, "spoken", "spoken-notes", crypto.randomUUID(), undefined, `Spoken note: ${about.label}`);
    const place = new URLSearchParams(about.rowUid ? [["row_uid", about.rowUid]] : [["stop_id", String(about.stopId)]]);
    return { ...made, path: `${made.path}?${place}` };
  };
  return el("div", { class: "speak" }, el("button", { type: "button", class: "plain", onclick: async () => {
    const { kept, words } = await speak(field, `It stays with ${about.label}.`, send);
    if (kept) keep(++count);
    refill(told, [words, kept && count > 1 ? keptWords(count) : ""].join(" "));
  } }, word), told);
}

/** @param {number} count */
const keptWords = (count) => (count ? `${counted(count, "spoken note")} kept.` : "");

/**
 * @param {Field} field @param {string} where what is told of it while it is spoken @param {() => Send} send made at its end
 * @returns {Promise<{kept: boolean, words: string}>}
 */
async function speak(field, where, send) {
  let blob;
  try {
    blob = await listen(where);
  } catch {
    return { kept: false, words: "This device does not let Field listen: allow the microphone for this page, or type the note." };
  }
  if (!blob) return { kept: false, words: "Nothing was kept of the spoken note." };
  try {
    await field.store.put({ ...send(), blob });
  } catch (error) {
    if (error instanceof NoRoom) return { kept: false, words: "There is no room left for spoken notes on this device. Readings are still kept." };
    throw error;
  }
  field.sync.now();
  field.heed();
  return { kept: true, words: "The spoken note is kept on this device." };
}

/** Until it is kept or thrown away, a minute at most. @param {string} where @returns {Promise<Blob | null>} */
async function listen(where) {
  const sound = await navigator.mediaDevices.getUserMedia({ audio: true });
  const recorder = new MediaRecorder(sound, { mimeType: recorded(), audioBitsPerSecond: BITS_PER_S });
  /** @type {Blob[]} */
  const parts = [];
  recorder.addEventListener("dataavailable", (event) => parts.push(event.data));
  const ended = new Promise((resolve) => recorder.addEventListener("stop", resolve));
  const end = () => {
    if (recorder.state !== "inactive") recorder.stop();
    for (const track of sound.getTracks()) track.stop();
  };
  const clock = el("p", { class: "clock-face", role: "timer" }, "0 s");
  recorder.start();
  const began = performance.now();
  const ticking = setInterval(() => {
    const seconds = Math.min(LONGEST_S, Math.floor((performance.now() - began) / 1000));
    clock.textContent = recorder.state === "inactive" ? `${seconds} s, at its end` : `${seconds} s`;
    // a screen that was left listens no longer
    if (seconds >= LONGEST_S || (seconds > 0 && !clock.isConnected)) end();
    if (recorder.state === "inactive") clearInterval(ticking);
  }, 250);
  const answer = await ask("Speak now", [clock, el("p", { class: "quiet" }, `At most ${LONGEST_S} s. ${where}`)],
    [{ word: "Keep it", answer: "keep", kind: "go" }, { word: "Throw it away", answer: "" }]);
  clearInterval(ticking);
  end();
  await ended;
  const blob = new Blob(parts, { type: recorder.mimeType });
  return answer === "keep" && blob.size ? blob : null;
}
