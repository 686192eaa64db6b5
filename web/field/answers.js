// What an answer to a send means: stored, refused, nobody signed in, or not heard at all.

/** @typedef {{kind: "stored", answer: {[more: string]: any}} | {kind: "refused", told: import("./store.js").Told} | {kind: "signed out"} | {kind: "later", wait: number, mine: boolean}} Meaning */

/** Statuses that say nothing of the send itself: the way was closed, not the door. */
const LATER = [408, 425, 429, 502, 503, 504, 507];

/** @param {Response} response @param {import("./store.js").Send} send @returns {Promise<Meaning>} */
export async function meaningOf(response, send) {
  const answer = await response.json().catch(() => null);
  const wait = 1000 * (Number(response.headers.get("Retry-After")) || 0);
  // some networks answer every request with a page of their own: only the stored answer takes anything off the queue
  if (response.ok) return isStored(answer, send) ? { kind: "stored", answer } : { kind: "later", wait, mine: false };
  if (response.status === 401) return { kind: "signed out" };
  if (LATER.includes(response.status) || response.status < 400) return { kind: "later", wait, mine: false };
  if (response.status >= 500 || answer === null) return { kind: "later", wait, mine: true };
  const { title = "Refused", detail = "", remedy, problems } = answer;
  return { kind: "refused", told: { status: response.status, title, detail, remedy, problems } };
}

/** @param {any} answer @param {import("./store.js").Send} send */
const isStored = (answer, send) =>
  answer !== null && typeof answer === "object" && (answer.uid === send.uid || (send.kind === "voice" && answer.uid === send.of && answer.voice === true) || (send.kind === "reading" && Number.isInteger(answer.upload_id)));
