// Taking a round along: its pack and the pictures of its places, kept for the way without signal.

const PICTURES = "riseline-field-pictures";

/**
 * Fetch a round and keep it on this device.
 * @param {import("./types.js").Store} store @param {number} roundId
 * @returns {Promise<string>} what went wrong, in words; "" when it is kept
 */
export async function savePack(store, roundId) {
  let answer;
  try {
    answer = await fetch(`/api/v1/rounds/${roundId}/pack`, { cache: "no-store" });
  } catch {
    return "No signal: try again where there is some. What was taken along before is still here.";
  }
  if (answer.status === 401) return "You are signed out. Sign in, then take it along.";
  if (answer.status === 404) return "This round is not given to you any more. What was typed here is kept, and goes to the engineer from here; then take it off this device.";
  if (!answer.ok) {
    const problem = await answer.json().catch(() => ({}));
    return [problem.detail || problem.title || "The server refused it", problem.remedy].filter(Boolean).join(". ");
  }
  const pack = await answer.json();
  await store.keepPack(pack);
  await keepPictures(pack);
  return "";
}

/** Pictures are a help, never a condition: one that does not come is left out. @param {import("./types.js").Pack} pack */
async function keepPictures(pack) {
  if (!("caches" in globalThis)) return;
  const wanted = [...new Set(pack.stops.flatMap((stop) => [stop.drawing, ...stop.views.flatMap((view) => [view.picture, view.drawing])]))].filter(Boolean);
  if (!wanted.length) return;
  const shelf = await caches.open(PICTURES);
  await Promise.allSettled(wanted.map((uid) => shelf.add(`/pictures/${uid}/preview`)));
}
