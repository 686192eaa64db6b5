// The shapes that judging on the device reads and gives; nothing here runs.

/**
 * One column of a severity table: ascending edges, each with whether it closes upward.
 * @typedef {{reference: string, unit: string, edges: [number, boolean][], levels: number[],
 *   bands: string[], cited: string}} BandRule
 */
/**
 * A set of criteria as the pack brings it: columns and numbers; limits and templates go with points.
 * @typedef {{similar: BandRule, air: BandRule, baseline: BandRule, rated_share: BandRule, cold: BandRule,
 *   relative: BandRule, relative_on: boolean, air_by_kind: Record<string, BandRule>,
 *   min_load_share: number, exponent: number, exponent_low: number, exponent_high: number,
 *   equal_current_share: number, air_alone_from_level: number, two_u_k: number, baseline_visits: number,
 *   look_again_chance: number, firm_chance: number, higher_chance: number, cold_current_share: number,
 *   cold_twin_air_k: number, cold_twin_other_k: number, no_heat_k: number, wind_calm_m_s: number,
 *   wind_strong_m_s: number, relative_min_rise_k: number, emissivity_indicative: number,
 *   emissivity_twin_only: number, gain_indicative: number, irradiance_min_w_m2: number,
 *   indicative_cap_level: number, bearing_total_c: number, bearing_total_level: number,
 *   greasing_cap_hours: number, greasing_cap_level: number, limit_level: number,
 *   limit_act_now_over_k: number}} Criteria
 */
/** @typedef {{value: number, half_width: number | null, standing?: string | null}} PackSetting */
/** @typedef {{measure: string, wind_max_m_s: number | null, rule: BandRule}} Template */
/** @typedef {{part: string, total_c: number | null, rise_k: number | null, edition: string, cited: string}} Limit */
/**
 * What the register and earlier visits know of a point beside what the screen shows.
 * @typedef {{brought_to_a: number | null, scales: boolean, neutral: boolean, coating: string,
 *   emissivity: PackSetting | null, reflected: PackSetting | null, through_window: boolean,
 *   window: PackSetting | null, settle_minutes: number | null, outdoor: boolean, in_turn: boolean,
 *   previous_over_first_line: boolean, no_heat_answer: string | null, greased_at: string | null,
 *   limit: Limit | null, templates: Template[]}} PointJudging
 */
/**
 * @typedef {{on: string, temperature_c: number | null, current_a: number | null, value_k: number | null,
 *   common_k: number | null, reference: string | null}} LastVisit
 */
/** @typedef {{count: number, low_c: number, middle_c: number, high_c: number}} Past */
/**
 * @typedef {{row_uid: string, phase: string, label: string, kind: string, component: string,
 *   reference_kind: string, rated_rise_k: number | null, baseline_k: number | null,
 *   distance_m: number | null, target_mm: number | null, last: LastVisit | null, past: Past | null,
 *   trend: {word: string, foretold_k: [number, number] | null} | null, judging: PointJudging}} PackPoint
 */
/** @typedef {{points: PackPoint[]}} PackView */
/**
 * @typedef {{criteria: string, rated_current_a: number | null, two_people: boolean, not_open: string,
 *   load_hours: string, permit: {state: string} | null, views?: PackView[]}} PackStop
 */
/**
 * @typedef {{id: number, low_c: number | null, high_c: number | null, ifov_mrad: number | null,
 *   accuracy_k: number | null, accuracy_percent: number | null, band_low_um: number | null,
 *   band_high_um: number | null}} PackInstrument
 */
/**
 * @typedef {{round: {instrument_id: number | null,
 *   settings: Record<string, {value: number, half_width?: number | null, standing?: string | null}>},
 *   unit?: "c" | "f", instruments: PackInstrument[], criteria: Record<string, Criteria>}} Pack
 */
/**
 * What was typed of a point, or around its view; what is left out or null is not known.
 * @typedef {{temperature_c?: number | null, current_a?: number | null, reason?: string | null,
 *   boxes?: Record<string, string | number | boolean | null> | null, ambient_c?: number | null,
 *   reflected_c?: number | null, reflected_standing?: string | null, wind_m_s?: number | null,
 *   fan_on_part?: boolean | null, humidity_percent?: number | null, distance_m?: number | null,
 *   minutes_at_load?: number | null, emissivity?: number | null, emissivity_standing?: string | null,
 *   emissivity_set?: number | null, reflected_set_c?: number | null, transmission_set?: number | null,
 *   through_window?: boolean | null, window_transmission?: number | null, window_c?: number | null,
 *   path_transmission?: number | null, instrument_id?: number | null, taken_at?: string | null}} Typed
 */
/** @typedef {{field: string, question: string, suggestion: number | null}} Oddity */
/**
 * A temperature brought to the surface; every term is its coefficient times standard uncertainty [K],
 * NaN where there is none. `refusal` says why there is no temperature.
 * @typedef {{surface: number | null, refusal: string, weakWindow: boolean, longPath: boolean,
 *   underfilled: boolean, settling: string, gain: number, known: boolean,
 *   terms: {camera: number, noise: number, emissivity: number, reflected: number, path: number,
 *     window: number, pane: number, band: number, placement: number}}} Measured
 */
/**
 * One reading with what is known of its point.
 * @typedef {{row: PackPoint, at: PointJudging, value: number, reason: string | null,
 *   currentA: number | null, ratedA: number | null, emissivity: number, measured: Measured,
 *   inputs: import("./settings.js").Inputs, boxes: Record<string, string | number | boolean | null>,
 *   rangeEnd: "top" | "bottom" | null, settled: boolean, hoursSinceGreased: number | null,
 *   greasedAsked: boolean, secondMethodAgrees: boolean}} Seen
 */
/** @typedef {{points: Seen[], ambientC: number | null, windMS: number | null, fan: boolean}} SeenView */
/** `now`: whether it can be done on this visit. @typedef {{what: string, why: string, kind: string, now: boolean}} Settle */
/**
 * What one point says. `reference` is "like parts", "air", "baseline", "rated share" or null.
 * @typedef {{rowUid: string, correctedC: number | null, riseK: number | null, reference: string | null,
 *   commonK: number | null, level: number | null, atLeast: boolean, sentence: string,
 *   trendSentence: string, oddities: Oddity[], load: string, nearLine: boolean, cold: boolean,
 *   unequal: boolean, rule: string, band: string, source: string, uK: number | null,
 *   uCommonK: number | null, shareOfRated: number | null}} JudgedPoint
 */

export {};
