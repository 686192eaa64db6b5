// A spoken note to a photo: recorded on this device, kept on it, sent after numbers and photos.

import { ask, el } from "./dom.js";
import { sendOf } from "./drafts.js";
import { NoRoom } from "./store.js";

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
 * @param {import("./types.js").Field} field @param {import("./types.js").Pack} pack
 * @param {{uid: string, label: string}} photo @param {(words: string) => void} said
 */
export function speakKey(field, pack, photo, said) {
  if (!recorded()) return null;
  return el("div", { class: "pair" }, el("button", { type: "button", class: "plain", onclick: async () => {
    said(await speak(field, pack, photo));
    field.sync.now();
    field.heed();
  } }, "Speak a note to it"));
}

/** @param {import("./types.js").Field} field @param {import("./types.js").Pack} pack @param {{uid: string, label: string}} photo */
async function speak(field, pack, photo) {
  let blob;
  try {
    blob = await listen();
  } catch {
    return "This device does not let Field listen: allow the microphone for this page, or type the note.";
  }
  if (!blob) return "Nothing was kept of the spoken note.";
  const send = sendOf(pack, "voice", "pictures", crypto.randomUUID(), undefined, `Spoken note: ${photo.label}`);
  const path = `/api/v1/rounds/${pack.round.id}/pictures/${photo.uid}/voice`;
  try {
    await field.store.put({ ...send, path, blob, of: photo.uid });
  } catch (error) {
    if (error instanceof NoRoom) return "There is no room left for spoken notes on this device. Readings are still kept.";
    throw error;
  }
  return "The spoken note is kept on this device.";
}

/** Until it is kept or thrown away, a minute at most. @returns {Promise<Blob | null>} */
async function listen() {
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
  const answer = await ask("Speak now", [clock, el("p", { class: "quiet" }, `At most ${LONGEST_S} s. It stays with the photo.`)],
    [{ word: "Keep it", answer: "keep", kind: "go" }, { word: "Throw it away", answer: "" }]);
  clearInterval(ticking);
  end();
  await ended;
  const blob = new Blob(parts, { type: recorder.mimeType });
  return answer === "keep" && blob.size ? blob : null;
}
