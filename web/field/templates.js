// Kinds without a published band: templates that a site has filled in, and what their boxes tell.

import { isSilent, place } from "./bands.js";
import { fixed, known, rounded, short } from "./numbers.js";

/** @import {Criteria, Seen, SeenView, Template} from "./shapes.js" */
/** @typedef {{like: number | null, air: number | null, baseline: number | null, share: number | null}} Rises */
/**
 * @typedef {{level: number | null, template: Template | null, value: number | null, band: string,
 *   source: string, told: string, refused: string, hidden: string[]}} KindJudged
 */

const ATMOSPHERE_BAR = 1.01325;
const STEAM_MPA = [611.213e-6, 22.064];
/** IAPWS R7-97, section 8.2, eq. 31. */
const N = [
  0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.1202082470247e5, -0.32325550322333e7,
  0.1491510861353e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
];
const FLASH_WITHIN_K = 5;
/** Highest total temperature of a winding by the class of its insulation [°C], IEC 60085. */
const CLASSES = /** @type {Record<string, number>} */ ({ Y: 90, A: 105, E: 120, B: 130, F: 155, H: 180 });

/** Temperature of steam at what a gauge shows [°C]; null out of range. @param {number} gaugeBar */
export function steamC(gaugeBar) {
  const mpa = (gaugeBar + ATMOSPHERE_BAR) / 10;
  if (!(mpa >= STEAM_MPA[0] && mpa <= STEAM_MPA[1])) return null;
  const beta = mpa ** 0.25;
  const e = beta ** 2 + N[2] * beta + N[5];
  const f = N[0] * beta ** 2 + N[3] * beta + N[6];
  const g = N[1] * beta ** 2 + N[4] * beta + N[7];
  const d = (2 * g) / (-f - Math.sqrt(f ** 2 - 4 * e * g));
  const sum = N[9] + d;
  return (sum - Math.sqrt(sum ** 2 - 4 * (N[8] + N[9] * d))) / 2 - 273.15;
}

/** A number in a box; null where it is empty. @param {Seen} point @param {string} key */
export function numberIn(point, key) {
  const value = point.boxes[key];
  return typeof value === "number" ? value : null;
}

/** @param {Partial<KindJudged>} told @returns {KindJudged} */
const judged = (told) => ({
  level: null, template: null, value: null, band: "", source: "", told: "", refused: "", hidden: [], ...told,
});

/**
 * The gravest of what the filled templates say.
 * @param {Seen} point
 * @param {SeenView} view
 * @param {{templates: Template[], rises: Rises, criteria: Criteria}} by
 */
export function judgeTemplates(point, view, { templates, rises, criteria }) {
  const filled = templates.filter(({ rule }) => !isSilent(rule));
  const { cited } = (filled[0] ?? templates[0]).rule;
  if (!filled.length) return judged({ source: cited, refused: `${cited}: fill in the site's own` });
  const hidden = hiddenBySun(point, criteria);
  /** @type {KindJudged[]} */
  const found = [];
  for (const template of filled) {
    const [value, lacking] = measureOf(template, point, rises);
    if (value === null) hidden.push(lacking);
    else {
      hidden.push(...hiddenByWind(template, view, criteria));
      const band = place(template.rule, value);
      const { levels, bands, cited: source } = template.rule;
      found.push(
        judged({ level: levels[band], template, value, band: bands[band], source, told: told(template, value) }),
      );
    }
  }
  const once = [...new Set(hidden)];
  if (!found.length) return judged({ source: cited, refused: once.join("; ") });
  const gravest = found.reduce((a, b) => ((b.level ?? 0) > (a.level ?? 0) ? b : a));
  return { ...gravest, hidden: once };
}

/** Under weak sun no fault of a module shows. @param {Seen} point @param {Criteria} criteria */
function hiddenBySun(point, criteria) {
  if (point.row.kind !== "photovoltaic string") return [];
  const sun = numberIn(point, "irradiance_w_m2");
  const least = criteria.irradiance_min_w_m2;
  if (sun === null) return ["irradiance not told"];
  if (sun < least) return [`irradiance ${short(sun)} W/m², under ${short(least)}`];
  return point.boxes["irradiance_steady"] === false ? ["irradiance not steady"] : [];
}

/** @param {Template} template @param {SeenView} view @param {Criteria} criteria */
function hiddenByWind({ measure, wind_max_m_s: most }, { windMS }, criteria) {
  if (measure === "surface temperature" && windMS !== null)
    return windMS > (most ?? criteria.wind_calm_m_s) ? [`wind ${short(windMS)} m/s`] : [];
  if (most === null) return [];
  if (windMS === null) return ["wind not told"];
  return windMS > most ? [`wind ${short(windMS)} m/s`] : [];
}

/** @param {number | null} more @param {number | null} less @param {string} lacking @returns {[number | null, string]} */
const difference = (more, less, lacking) =>
  known(more) && known(less) ? [rounded(more - less), ""] : [null, lacking];

/** What a template judges, or what is lacking for it. @param {Template} template @param {Seen} point @param {Rises} rises @returns {[number | null, string]} */
function measureOf({ measure, rule }, point, rises) {
  if (measure === "rise") {
    const value = {
      "over like parts": rises.like, "over air": rises.air,
      "over its own baseline": rises.baseline, "share of rated rise": rises.share,
    }[rule.reference];
    return [value ?? null, `nothing to compare with ${rule.reference}`];
  }
  if (measure === "surface temperature") return [point.value, ""];
  if (measure === "over the main tank")
    return difference(point.value, numberIn(point, "main_tank_c"), "main tank not told");
  const inlet = numberIn(point, "inlet_c");
  if (inlet === null) return [null, "inlet not told"];
  if (measure === "inlet over outlet") return difference(inlet, numberIn(point, "outlet_c"), "outlet not told");
  const bar = numberIn(point, "line_pressure_bar");
  return difference(bar === null ? null : steamC(bar), inlet, "line pressure not told");
}

/** @param {Template} template @param {number} value */
function told({ measure, rule }, value) {
  const size = fixed(Math.abs(value), 1);
  const over = value >= 0 ? "over" : "under";
  if (measure === "surface temperature") return `${fixed(value, 1)} °C on the surface`;
  if (measure === "over the main tank") return `${size} K ${over} the main tank`;
  if (measure === "inlet over outlet") return `inlet ${size} K ${over} outlet`;
  if (measure === "inlet under steam temperature")
    return `inlet ${size} K ${value >= 0 ? "under" : "over"} the steam's temperature`;
  if (rule.unit === "%") return `${fixed(value, 0)} % of its rated rise`;
  return `${fixed(value, 1)} K ${rule.reference}`;
}

/** What each picture of heat speaks for, where it is not the joint. @type {Record<string, string>} */
const PATTERNS = {
  "along the conductor": "the conductor is warm evenly: load, or a small conductor, rather than this joint",
  "whole body": "the whole body is warm: what is inside it, or its load",
  "both ends": "both ends are warm: compare the current of this phase",
  cold: "cold to the eye: does it carry current?",
};

/** @type {Record<string, (answer: string | number | boolean, point: Seen) => string>} */
const NOTES = {
  insulation_class: (answer) => {
    const name = String(answer).trim().toUpperCase();
    const limit = CLASSES[name];
    return limit ? `insulation class ${name}: ${limit} °C in the winding (IEC 60085), which no casing shows` : "";
  },
  cooling_clear: (answer) => (answer ? "" : "fan cover or fins not clear: a sound motor runs warm so"),
  warm_place: (answer) =>
    answer === "body" ? "the body of a cable end warms by voltage, which does not wait for load" : "",
  fuse_rating_a: (answer, { ratedA }) =>
    typeof answer !== "number" || !ratedA || answer === ratedA
      ? ""
      : `the fuse says ${short(answer)} A where the register says ${short(ratedA)} A`,
  heat_pattern: (answer) => PATTERNS[String(answer)] ?? "",
  warm_end: (answer) => {
    if (answer === "body") return "a warm body with cool ends is load, not a joint";
    return answer === "line end" || answer === "load end" ? "one warm end is its clip" : "";
  },
  line_pressure_bar: (answer) => {
    const steam = typeof answer === "number" ? steamC(answer) : null;
    return steam === null ? "" : `steam at ${short(Number(answer))} bar is at ${fixed(steam, 0)} °C`;
  },
  return_pressure_bar: (answer, point) => {
    const outlet = numberIn(point, "outlet_c");
    const flash = typeof answer === "number" ? steamC(answer) : null;
    if (outlet === null || flash === null || Math.abs(outlet - flash) > FLASH_WITHIN_K) return "";
    return `the outlet stands at the boiling point of its return (${fixed(flash, 0)} °C): may be flash steam of a sound trap`;
  },
  discharge_heard: (answer) => (answer === "not listened" || answer === "" ? "" : `heard at the trap: ${answer}`),
  top_oil_gauge_c: (answer, point) =>
    typeof answer === "number"
      ? `its gauge shows ${short(answer)} °C where the picture shows ${short(point.value)} °C`
      : "",
};

/** What boxes tell beside the level. @param {Seen} point */
export const notesOfBoxes = (point) =>
  Object.entries(NOTES)
    .filter(([key]) => (point.boxes[key] ?? null) !== null)
    .map(([key, note]) => note(/** @type {string | number | boolean} */ (point.boxes[key]), point))
    .filter(Boolean);

