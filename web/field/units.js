// °C or °F, as the round was begun: judged and kept is °C, typed and told is what its reader chose.

/** @typedef {{unit?: "c" | "f"}} Told  a pack, or what knows of its unit */

const NUMBER = String.raw`[-−+]?\d+(?:\.\d+)?`;
/** 12.0 K; 4–15 K; between −60 and 80 °C: numbers that one unit closes, none of them the end of a name. */
const SENTENCE = new RegExp(String.raw`(?<![\w.])(?:between ${NUMBER} and )?${NUMBER}(?:(?: to |–| or )${NUMBER})?(\s?)(°C|K)(?!\w)`, "g");
const ONE = new RegExp(NUMBER, "g");

/** @param {Told} pack */
export const inFahrenheit = (pack) => pack.unit === "f";

/** @param {Told} pack */
export const degrees = (pack) => (inFahrenheit(pack) ? "°F" : "°C");

/** A temperature as typed, in °C, to the fourth decimal as the service keeps it. @template {number | null} T @param {T} typed @param {Told} pack @returns {T} */
export function inCelsius(typed, pack) {
  if (typed === null || !inFahrenheit(pack)) return typed;
  return /** @type {T} */ (Math.round(((typed - 32) / 1.8) * 1e4) / 1e4);
}

/** A temperature in °C as its reader reads it. @param {number} celsius @param {Told} pack */
export const asRead = (celsius, pack) => (inFahrenheit(pack) ? celsius * 1.8 + 32 : celsius);

/** A sentence made in °C and K, told in the reader's unit: differences ×9/5, temperatures with the 32. @param {string} text @param {Told} pack */
export function told(text, pack) {
  if (!inFahrenheit(pack)) return text;
  return text.replace(SENTENCE, (found, gap, unit) => {
    const numbers = found.slice(0, found.length - gap.length - unit.length);
    // a dash between two numbers parts them; it is no sign
    const parts = numbers.split("–").map((/** @type {string} */ part) => part.replace(ONE, (one) => figureOf(one, unit)));
    return `${parts.join("–")}${gap}°F`;
  });
}

/** @param {string} one @param {string} unit */
function figureOf(one, unit) {
  const value = Number(one.replace("−", "-")) * 1.8 + (unit === "K" ? 0 : 32);
  const decimals = Math.max((one.split(".")[1] ?? "").length, Math.abs(value - Math.round(value)) < 1e-9 ? 0 : 1);
  const text = value.toFixed(decimals);
  return one.includes("−") ? text.replace("-", "−") : text;
}

/**
 * The unit of a round: chosen when it is begun and never changed, since what is typed stands as typed.
 * @param {import("./store.js").Store} store @param {number} roundId @param {import("./types.js").Person | null} person
 * @returns {Promise<"c" | "f">}
 */
export async function unitOf(store, roundId, person) {
  const kept = await store.draft(roundId, "unit");
  if (kept === "c" || kept === "f") return kept;
  const begun = Object.keys(await store.drafts(roundId)).length > 0;
  const unit = !begun && person?.unit === "f" ? "f" : "c";
  if (person) await store.keepDraft(roundId, "unit", unit);
  return unit;
}
