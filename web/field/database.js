// The device's own database: its shelves, how they grow, and writes that are on the disk when they are told.

/** Each step leads from one version to the next and only ever adds: a queue outlives every update of the app.
 * @type {Array<(database: IDBDatabase) => void>} */
const STEPS = [
  (database) => {
    database.createObjectStore("packs", { keyPath: "round.id" });
    database.createObjectStore("drafts", { keyPath: ["roundId", "key"] });
    database.createObjectStore("sends", { keyPath: "seq", autoIncrement: true }).createIndex("uid", "uid", { unique: true });
    database.createObjectStore("meta");
  },
  (database) => {
    database.createObjectStore("receipts", { keyPath: "uid" });
  },
];

/** @typedef {"packs" | "drafts" | "sends" | "meta" | "receipts"} Shelf */
/** @typedef {(shelf: Shelf) => IDBObjectStore} Shelves */

/** @param {string} name @returns {Promise<IDBDatabase>} */
export function openDatabase(name) {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(name, STEPS.length);
    asked.onupgradeneeded = (event) => STEPS.slice(event.oldVersion).forEach((step) => step(asked.result));
    asked.onerror = () => reject(asked.error);
    asked.onsuccess = () => {
      // a newer app in another tab must not wait for this one
      asked.result.onversionchange = () => asked.result.close();
      resolve(asked.result);
    };
  });
}

/** What one request finds. @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
export function found(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** @template T @param {IDBDatabase} database @param {Shelf[]} shelves @param {(of: Shelves) => Promise<T>} work */
export const look = (database, shelves, work) => within(database.transaction(shelves, "readonly"), work);

/** All of it or nothing; on the disk, not only in the system's memory, before the promise resolves.
 * @template T @param {IDBDatabase} database @param {Shelf[]} shelves @param {(of: Shelves) => Promise<T>} work */
export const write = (database, shelves, work) =>
  within(database.transaction(shelves, "readwrite", { durability: "strict" }), work);

/** @template T @param {IDBTransaction} transaction @param {(of: Shelves) => Promise<T>} work @returns {Promise<T>} */
async function within(transaction, work) {
  const ended = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = () => reject(transaction.error ?? new Error("The device did not keep it."));
  });
  ended.catch(() => undefined); // told below, once
  try {
    const result = await work((shelf) => transaction.objectStore(shelf));
    await ended;
    return result;
  } catch (error) {
    try {
      transaction.abort();
    } catch {
      // it has ended already
    }
    throw transaction.error ?? error;
  }
}
