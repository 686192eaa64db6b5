// The shapes that the parts of Field speak of; nothing here runs.

/**
 * @typedef {{on: string, temperature_c: number | null, current_a: number | null, value_k: number | null,
 *   level: number | null, at_least: boolean, reason: string}} Last
 * @typedef {{key: string, label: string, unit: string, value: string, words: string[], low: number, high: number}} Box
 * @typedef {{row_uid: string, point_id: number, tag: string, name: string, phase: string, label: string,
 *   kind: string, component: string, order: number, reference_kind: string, common_load_a: number | null,
 *   emissivity: number | null, distance_m: number | null, boxes: Box[], last: Last | null,
 *   trend: {word: string} | null, standing: {level: number | null, at_least: boolean} | null,
 *   stored: {uid: string, temperature_c: number | null, current_a: number | null, reason: string | null} | null}} Point
 * @typedef {{id: number, tag: string, name: string, asks_amps: boolean, asks_neutral: boolean,
 *   triggers: string[], picture: string | null, drawing?: string | null, points: Point[]}} View
 * @typedef {{id: number, position: number, sheet_code: string | null, site_id: number, area: string, title: string,
 *   tag: string, equipment_id: number, access: string, outdoor: boolean, two_people: boolean, stand_off: string,
 *   ppe: string, arrive_min: number | null, minutes: number, load_hours: string, expected_load: number | null,
 *   cautions: string[], permit: {id?: number, typed?: boolean, state: string, number: string, from: string | null, to: string | null} | null,
 *   not_open: string, running?: string, distances: string[], drawing?: string | null, views: View[]}} Stop
 * @typedef {{id: number, name: string, time_zone: string, contact_name: string, contact_phone: string,
 *   safety_text: string, cautions: string[], before_doors: string}} Site
 * @typedef {{id: number, serial: string, name: string, kind: string, calibration_due: string | null}} Instrument
 * @typedef {{format: number, made_at: string, etag: string,
 *   person: {id: number, name: string, role: string, qualified: boolean},
 *   unit?: "c" | "f", round: {id: number, code: string, name: string, planned_on: string, start_min: number, state: string,
 *     person: string | null, second_person: string | null, weather: string, note: string,
 *     instrument_id: number | null, points: number},
 *   instruments: Instrument[], sites: Site[], stops: Stop[]}} Pack
 *
 * @typedef {{uid: string, temperature: string, amps: string, reason: string, picture: string, note: string,
 *   boxes: Record<string, string>, at: string, asked: string[], sent: string, sends: string[], spoken: number}} PointDraft
 * @typedef {{points: Record<string, PointDraft>, neutral: string, emissivity: string, reflectedSet: string,
 *   distance: string, settled: boolean, told: boolean, undo: {box: string, was: string}[]}} ViewDraft
 * @typedef {{uid: string, startedAt: string, endedAt: string, ambient: string, reflected: string, wind: string,
 *   instrumentId: number | null, seen: string, heard: string, smelt: string, cautionsAt: string, emissivity: string, reflectedSet: string, sent: string, sends: string[], spoken: number}} StopDraft
 * @typedef {{order: number[], cautionSites: number[], untold: string[], checks: string[]}} RoundDraft
 *
 * @typedef {import("./store.js").Send} Send
 * @typedef {import("./store.js").Store} Store
 * @typedef {ReturnType<typeof import("./sync.js").startSync>} Sync
 * @typedef {import("./sync.js").State} SyncState
 *
 * @typedef {{rowUid: string, correctedC: number | null, riseK: number | null, reference: string | null,
 *   commonK: number | null, level: number | null, atLeast: boolean, sentence: string, trendSentence: string,
 *   oddities: {field: string, question: string, suggestion: number | null}[]}} JudgedPoint
 * @typedef {{points: JudgedPoint[], settle: {what: string, why: string, kind: string, now: boolean} | null}} JudgedView
 *
 * @typedef {{id: number, name: string, role: string, unit?: "c" | "f"}} Person
 * @typedef {{store: Store, readonly sync: Sync, person: Person | null, go(address: string): void, again(): Promise<void>,
 *   heed(): void,
 *   dress(): Promise<void>, leaving: (() => Promise<void>) | null, viewId: number}} Field
 */

export {};
