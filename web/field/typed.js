// What was typed: text to numbers, and one key more or less.

/** As long as any reading can be, sign and decimals included. */
const LONGEST = 8;

/**
 * The number that a box says; null while it says none.
 * @param {string} text
 */
export function numberOf(text) {
  const plain = text.trim().replace(",", ".");
  return /^-?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : null;
}

/** Whether something stands in a box that is no number. @param {string} text */
export function isUnfinished(text) {
  return text.trim() !== "" && numberOf(text) === null;
}

/**
 * The text of a box after a key: digits and one decimal sign; "-" turns the sign round.
 * @param {string} text
 * @param {string} key a digit, "." or "-" or "back"
 */
export function afterKey(text, key) {
  if (key === "back") return text.slice(0, -1);
  if (key === "-") return text.startsWith("-") ? text.slice(1) : `-${text}`;
  if (text.length >= LONGEST) return text;
  if (key === ".") return text.includes(".") ? text : `${text === "" || text === "-" ? `${text}0` : text}.`;
  return text + key;
}
