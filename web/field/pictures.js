// A photo becomes small and forgets where it was taken before it is kept: drawn anew, no more than 2,048 pixels.

import { sendOf } from "./drafts.js";
import { NoRoom } from "./store.js";

/** @typedef {{uid: string, words: string}} Taken  its id, or "" where none was kept; what to tell the person */

const LONGEST_EDGE = 2048;
const QUALITY = 0.85;

/** @param {Blob} file */
async function drawnAnew(file) {
  const seen = await createImageBitmap(file, { imageOrientation: "from-image" });
  const share = Math.min(1, LONGEST_EDGE / Math.max(seen.width, seen.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(seen.width * share));
  canvas.height = Math.max(1, Math.round(seen.height * share));
  canvas.getContext("2d")?.drawImage(seen, 0, 0, canvas.width, canvas.height);
  seen.close();
  return new Promise((/** @type {(blob: Blob) => void} */ resolve, reject) => {
    canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error("the picture could not be drawn"))), "image/jpeg", QUALITY);
  });
}

/**
 * Let the person take or choose a photo and put it into the queue; numbers go first.
 * @param {import("./types.js").Store} store @param {import("./types.js").Pack} pack
 * @param {{stopId?: number, rowUid?: string, name?: string | null, label: string}} about
 * @returns {Promise<Taken>} no words when no photo was chosen
 */
export function takePhoto(store, pack, about) {
  return new Promise((resolve) => {
    const input = document.createElement("input");
    input.type = "file";
    input.accept = "image/*";
    input.setAttribute("capture", "environment");
    input.addEventListener("cancel", () => resolve({ uid: "", words: "" }));
    input.addEventListener("change", async () => {
      const file = input.files?.[0];
      resolve(file ? await keepPhoto(store, pack, about, file) : { uid: "", words: "" });
    });
    input.click();
  });
}

/**
 * @param {import("./types.js").Store} store @param {import("./types.js").Pack} pack
 * @param {{stopId?: number, rowUid?: string, name?: string | null, label: string}} about @param {File} file
 * @returns {Promise<Taken>}
 */
export async function keepPhoto(store, pack, about, file) {
  let blob;
  try {
    blob = await drawnAnew(file);
  } catch {
    return { uid: "", words: `${file.name} is not a picture that this device can read. Take it again, or bring it in later.` };
  }
  const uid = crypto.randomUUID();
  const taken = new Date(file.lastModified || Date.now()).toISOString();
  const asked = new URLSearchParams({ kind: "visible", taken_at: taken, name: about.name || file.name.slice(0, 100) });
  if (about.rowUid) asked.set("row_uid", about.rowUid);
  if (about.stopId) asked.set("stop_id", String(about.stopId));
  const send = sendOf(pack, "picture", "pictures", uid, undefined, `Photo: ${about.label}`);
  try {
    await store.put({ ...send, path: `${send.path}?${asked}`, blob });
  } catch (error) {
    if (error instanceof NoRoom) return { uid: "", words: "There is no room left for photos on this device. Readings are still kept; send first, then take it again." };
    throw error;
  }
  return { uid, words: "The photo is kept on this device." };
}
