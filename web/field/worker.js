// Keeps the app itself on the device, so that it opens with no signal. What it keeps is listed by the server.
/* global FILES, VERSION */

/** @type {string} */ const version = /** @type {any} */ (globalThis).VERSION;
/** @type {string[]} */ const files = /** @type {any} */ (globalThis).FILES;
const APP = `riseline-field-${version}`;
const PICTURES = "riseline-field-pictures";
const worker = /** @type {any} */ (globalThis);

worker.addEventListener("install", (/** @type {any} */ event) => {
  event.waitUntil((async () => {
    const shelf = await caches.open(APP);
    await shelf.addAll(files.map((address) => new Request(address, { cache: "reload" })));
  })());
});

// an older app leaves when no screen of it is open any more; its queue is not here and stays
worker.addEventListener("activate", (/** @type {any} */ event) => {
  event.waitUntil((async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith("riseline-field-") && name !== APP && name !== PICTURES).map((name) => caches.delete(name)));
    await worker.clients.claim();
  })());
});

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  const path = request.mode === "navigate" && address.pathname.startsWith("/field/") ? "/field/" : address.pathname;
  if (files.includes(path)) event.respondWith(kept(APP, path, request));
  else if (/^\/pictures\/[^/]+\/preview$/.test(path)) event.respondWith(kept(PICTURES, path, request));
});

/** From the shelf, else from the server. @param {string} name @param {string} path @param {Request} request */
async function kept(name, path, request) {
  const shelf = await caches.open(name);
  return (await shelf.match(path)) ?? fetch(request);
}
