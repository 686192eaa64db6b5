// Words of the house, counted and dated.

/** Letter and word of the ten reasons, in the order of the sheet. @type {[string, string][]} */
export const REASONS = [
  ["K", "locked or no permit"],
  ["Q", "no qualified person"],
  ["O", "off"],
  ["C", "covered"],
  ["W", "wet, fog or sun"],
  ["S", "not safe"],
  ["B", "blocked by goods"],
  ["N", "not there or wrong tag"],
  ["T", "ran out of time"],
  ["X", "other"],
];

/** @param {string} letter */
export function reasonWord(letter) {
  return REASONS.find(([one]) => one === letter)?.[1] ?? letter;
}

/** @param {number} count @param {string} one @param {string} [many] */
export function counted(count, one, many = `${one}s`) {
  return `${count} ${count === 1 ? one : many}`;
}

/** @param {number} minutes */
export function span(minutes) {
  const whole = Math.round(Math.abs(minutes));
  return whole < 60 ? `${whole} min` : `${Math.floor(whole / 60)} h ${String(whole % 60).padStart(2, "0")}`;
}

/** @param {number | null} minute of the day */
export function clock(minute) {
  if (minute === null) return "";
  return `${String(Math.floor(minute / 60) % 24).padStart(2, "0")}:${String(Math.floor(minute) % 60).padStart(2, "0")}`;
}

/** @param {string} iso */
export function atClock(iso) {
  return new Date(iso).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
}

/** @param {string} day yyyy-mm-dd */
export function onDay(day) {
  return new Date(`${day}T12:00:00`).toLocaleDateString("en-GB", { weekday: "short", day: "numeric", month: "short" });
}

/** @param {string} iso an instant, said with its day when that is not today */
export function moment(iso) {
  const then = new Date(iso);
  const today = new Date().toDateString() === then.toDateString();
  const day = then.toLocaleDateString("en-GB", { day: "numeric", month: "short" });
  return today ? atClock(iso) : `${day}, ${atClock(iso)}`;
}

/** @type {Record<string, string>} */
const DAYS = { mon: "Mon", tue: "Tue", wed: "Wed", thu: "Thu", fri: "Fri", sat: "Sat", sun: "Sun", daily: "every day" };

/** Mon to Fri 07:00 to 11:30, from "mon-fri 07:00-11:30"; what is written otherwise stays. @param {string} text */
export function loadHours(text) {
  return text.replace(/[A-Za-z]+/g, (word) => DAYS[word] ?? word).replace(/(?<=\w)\s*-\s*(?=\w)/g, " to ");
}
