// What this device keeps: packs, everything typed, and what still has to be sent. Nothing here is ever dropped silently.

import { found, look, openDatabase, write } from "./database.js";

/**
 * @typedef {"reading" | "stop visit" | "telling" | "check" | "camera clock" | "picture" | "voice" | "spoken" | "permit"} Kind
 * @typedef {{status: number, title: string, detail: string, remedy?: string, problems?: object[]}} Told
 * @typedef {object} Send  one thing to send; `seq` is the order in which it was made
 * @property {string} uid @property {Kind} kind @property {number} roundId @property {number} personId
 * @property {string} path @property {Record<string, unknown>} [body] @property {Blob} [blob]
 * @property {string} madeAt @property {string} deviceTime  the device's clock with its offset @property {string} label
 * @property {number} [seq]
 * @property {string} [of]  the photo that a spoken note belongs to, which goes before it
 * @property {boolean} [tried]  it has left the device at least once: its content may be stored already
 * @property {number | null} [skewS]  how far ahead the clock was, settled at the first try and never changed
 * @property {{skewS: number | null, metAt: string | null}} [clockThen]  what was known of the clock when it was made
 * @property {string[]} [replaces]  earlier sends that this one stands for, stored there or not
 * @property {Told | null} [problem]
 * @typedef {{uid: string, kind: Kind, roundId: number, label: string, at: string, held: string | null, answer: object}} Receipt
 * @typedef {{round: {id: number}, [more: string]: unknown}} Pack
 * @typedef {Awaited<ReturnType<typeof openStore>>} Store
 */

export const NAME = "riseline-field";
/** Numbers before photos: a photo is refused when it would leave less than this for what is typed [bytes]. */
export const KEPT_FOR_NUMBERS = 16 * 2 ** 20;

/** The device has no room left for this; nothing that was kept before is touched. */
export class NoRoom extends Error {
  /** @param {Kind | "draft" | "pack"} kind */
  constructor(kind) {
    super(kind === "picture" ? "No room for photos on this device. Numbers are still kept." : "No room on this device: this was NOT kept.");
    this.name = "NoRoom";
    this.kind = kind;
  }
}

/** @template T @param {Kind | "draft" | "pack"} kind @param {Promise<T>} writing @returns {Promise<T>} */
const ifRoom = (kind, writing) =>
  writing.catch((error) => {
    throw error?.name === "QuotaExceededError" ? new NoRoom(kind) : error;
  });

/** @param {Blob} blob */
async function roomFor(blob) {
  const { quota, usage } = (await navigator.storage?.estimate?.()) ?? {};
  // with little to share out, numbers keep half of it
  const kept = quota === undefined ? 0 : Math.min(KEPT_FOR_NUMBERS, quota / 2);
  return quota === undefined || usage === undefined || usage + blob.size + kept <= quota;
}

/** Drafts of one round, in one range. @param {number} roundId */
const ofRound = (roundId) => IDBKeyRange.bound([roundId], [roundId, []]);

export async function openStore(name = NAME) {
  const database = await openDatabase(name);
  navigator.storage?.persist?.().catch(() => false);

  /** @param {IDBObjectStore} shelf @param {string} uid @returns {Promise<Send | undefined>} */
  const bySend = (shelf, uid) => found(shelf.index("uid").get(uid));

  /** @param {import("./database.js").Shelves} of @param {Send} send @returns {Promise<Send>} */
  async function add(of, send) {
    const skewS = (await found(of("meta").get("skew_s"))) ?? null;
    const metAt = (await found(of("meta").get("met"))) ?? null;
    const { seq: _, ...kept } = { ...send, tried: false, problem: null, clockThen: { skewS, metAt } };
    const seq = await found(of("sends").add(kept));
    return { ...kept, seq: Number(seq) };
  }

  /** @param {number} [roundId] @returns {Promise<Send[]>} */
  const sends = (roundId) =>
    look(database, ["sends"], async (of) => {
      const all = await found(of("sends").getAll());
      return all.filter((send) => roundId === undefined || send.roundId === roundId);
    });

  return {
    close: () => database.close(),

    /** @param {Pack} pack */
    keepPack: (pack) => ifRoom("pack", write(database, ["packs"], async (of) => void (await found(of("packs").put(pack))))),
    /** @param {number} roundId @returns {Promise<Pack | undefined>} */
    pack: (roundId) => look(database, ["packs"], (of) => found(of("packs").get(roundId))),
    /** @returns {Promise<Pack[]>} */
    packs: () => look(database, ["packs"], (of) => found(of("packs").getAll())),
    /** Refuses, and says so with false, while something of the round still waits. @param {number} roundId */
    dropPack: (roundId) =>
      write(database, ["packs", "sends"], async (of) => {
        const all = await found(of("sends").getAll());
        if (all.some((send) => send.roundId === roundId)) return false;
        await found(of("packs").delete(roundId));
        return true;
      }),

    /** @param {number} roundId @param {string} key */
    draft: (roundId, key) =>
      look(database, ["drafts"], async (of) => (await found(of("drafts").get([roundId, key])))?.value),
    /** What is typed, at every keystroke; undefined takes the draft away. @param {number} roundId @param {string} key @param {unknown} value */
    keepDraft: (roundId, key, value) =>
      ifRoom("draft", write(database, ["drafts"], async (of) => {
        const shelf = of("drafts");
        if (value === undefined) await found(shelf.delete([roundId, key]));
        else await found(shelf.put({ roundId, key, value }));
      })),
    /** @param {number} roundId @returns {Promise<Record<string, unknown>>} */
    drafts: (roundId) =>
      look(database, ["drafts"], async (of) => {
        const all = await found(of("drafts").getAll(ofRound(roundId)));
        return Object.fromEntries(all.map((draft) => [draft.key, draft.value]));
      }),

    /** Keep something to be sent; one uid is kept once. @param {Send} send @returns {Promise<Send>} @throws {NoRoom} */
    async put(send) {
      if (send.blob && !(await roomFor(send.blob))) throw new NoRoom(send.kind);
      return ifRoom(send.kind, write(database, ["sends", "meta", "receipts"], async (of) => {
        const known = (await bySend(of("sends"), send.uid)) ?? (await found(of("receipts").get(send.uid)));
        return known ?? add(of, send);
      }));
    },
    /**
     * An edit of what was typed. What has never left the device is changed in place; what has may be stored there
     * already, so it is followed by a new send under a new id that says what it corrects.
     * @param {string} uid @param {Send} send @returns {Promise<Send>} what is kept now: its uid may be new
     */
    replace: (uid, send) =>
      ifRoom(send.kind, write(database, ["sends", "meta"], async (of) => {
        const there = await bySend(of("sends"), uid);
        if (there && !there.tried) {
          const kept = { ...there, ...send, uid, replaces: there.replaces ?? [], seq: there.seq, tried: false, problem: null, clockThen: there.clockThen };
          await found(of("sends").put(kept));
          return kept;
        }
        if (there) await found(of("sends").delete(/** @type {number} */ (there.seq)));
        const made = crypto.randomUUID();
        const replaces = [...(there?.replaces ?? send.replaces ?? []), uid];
        return add(of, { ...send, uid: made, path: send.path.replace(uid, made), replaces });
      })),
    sends,
    /** Receipts of what the server has acknowledged, held aside or not. @param {number} [roundId] @returns {Promise<Receipt[]>} */
    receipts: (roundId) =>
      look(database, ["receipts"], async (of) => {
        const all = await found(of("receipts").getAll());
        return all.filter((receipt) => roundId === undefined || receipt.roundId === roundId);
      }),
    /** @param {number} [roundId] */
    waiting: async (roundId) => (await sends(roundId)).length,
    /** The send as it leaves now, marked before it leaves. @param {string} uid @param {(send: Send) => number | null} settle its clock, once @returns {Promise<Send | undefined>} */
    take: (uid, settle) =>
      write(database, ["sends"], async (of) => {
        const send = await bySend(of("sends"), uid);
        if (!send) return undefined;
        const taken = send.tried ? send : { ...send, tried: true, skewS: settle(send) };
        if (!send.tried) await found(of("sends").put(taken));
        return taken;
      }),
    /** The only way off the queue. @param {Send} send @param {{[more: string]: any}} answer as the server stored it @param {string} at */
    acknowledged: (send, answer, at) =>
      write(database, ["sends", "receipts"], async (of) => {
        const { uid, kind, roundId, label } = send;
        const there = await bySend(of("sends"), uid);
        if (there) await found(of("sends").delete(/** @type {number} */ (there.seq)));
        await found(of("receipts").put({ uid, kind, roundId, label, at, held: answer.held ? String(answer.reason ?? "") : null, answer }));
      }),
    /** It stays, with what the server said; null tries it again. @param {string} uid @param {Told | null} problem */
    refused: (uid, problem) =>
      write(database, ["sends"], async (of) => {
        const send = await bySend(of("sends"), uid);
        if (send) await found(of("sends").put({ ...send, problem }));
      }),
    /** @param {string} key */
    meta: (key) => look(database, ["meta"], (of) => found(of("meta").get(key))),
    /** @param {string} key @param {unknown} value */
    keepMeta: (key, value) => write(database, ["meta"], async (of) => void (await found(of("meta").put(value, key)))),
  };
}
