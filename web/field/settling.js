// The one measurement that would settle an undecided view, of what is allowed from where one stands.

import { ACT_NOW, linesOf, NOTHING_FOUND } from "./bands.js";
import { linesAtCommonLoad } from "./draft.js";
import { figure, known } from "./numbers.js";
import { RULES } from "./rules.js";
import { ACCEPTED_FROM } from "./surface.js";
import { chanceOver } from "./uncertainty.js";
import { loadHours } from "./words.js";

/** @import {Draft} from "./draft.js" */
/** @import {PackStop, Settle} from "./shapes.js" */
/** @import {Lines} from "./uncertainty.js" */
/** @import {Verdict} from "./verdicts.js" */

/** Pixels that a part must fill in each direction. */
const PIXELS_ACROSS = 3;

/** What cannot be done on this visit: it wants an outage, another load, or the register. */
const LATER = new Set(["outage", "load", "band"]);

/** @param {string} kind @param {string} what @param {string} why @returns {Settle} */
const settle = (kind, what, why) => ({ kind, what, why, now: !LATER.has(kind) });

/**
 * Of the graver undecided verdicts the first for which something may be done; never beside an Act now.
 * @param {Verdict[]} verdicts
 * @param {PackStop} stop
 * @returns {Settle | null}
 */
export function settleOf(verdicts, stop) {
  if (verdicts.some(({ level }) => level === ACT_NOW)) return null;
  const order = [...verdicts].sort((a, b) => (b.level ?? 0.5) - (a.level ?? 0.5));
  for (const one of order) {
    const found = ofVerdict(one, stop);
    if (found) return found;
  }
  return null;
}

/** Waiting and another place to stand: only at gear without a cover, or within a granted permit. @param {PackStop} stop */
const mayStay = (stop) => !stop.not_open && (!stop.two_people || stop.permit?.state === "granted");

/** @param {Verdict} one @param {PackStop} stop */
function ofVerdict(one, stop) {
  if (one.point.reason) return null;
  if (one.rule === RULES.notComputed) return ofWindow(one);
  if (!one.draft) return null;
  if (one.reasons.length > 1) return null; // no single measurement takes two reasons away
  const told = ofConditions(one, one.draft, stop);
  if (told || one.level === null || one.reasons.length) return told;
  return isUndecided(one.draft, one.level) ? ofBudget(one.draft) : null;
}

/** @param {Verdict} one */
function ofWindow({ point }) {
  if (point.measured.refusal === "no window transmission")
    return settle("window", "Type what the window lets through: it is on the window or in the register.", "window not known");
  if (point.measured.refusal !== "no window temperature") return null;
  return settle("window", "Read the temperature of the window's pane beside the line of sight, and type it.", "window not known");
}

/** What hides, or is lacking: each with what would take it away. @param {Verdict} one @param {Draft} draft @param {PackStop} stop */
function ofConditions(one, draft, stop) {
  const { point, rule } = one;
  const has = (/** @type {string} */ word) => one.reasons.some((why) => why.startsWith(word));
  if (rule === RULES.noAir) return settle("air", "Measure the air near the part, in the shade.", "no air temperature");
  if (rule === RULES.noHeat)
    return settle("answer", "Find out whether it carries load: amps at the panel meter.", "load or bare metal?");
  if (rule === RULES.bottom || has("top of"))
    return settle("range", `Read it again a range ${rule === RULES.bottom ? "lower" : "higher"}.`, "end of the instrument's range");
  if (has("load not known"))
    return settle("amps", "Read the amps at the panel meter; where there is none, the qualified person takes them.", "load not known");
  if (has("spot not filled")) return ofSpot(point, stop);
  if (has("heat not settled")) return ofHeat(point, stop);
  if (has("emissivity")) return OUTAGE;
  if (has("load ")) return ofLoad(draft, stop);
  if (!mayStay(stop)) return null;
  if (has("wind")) return settle("wait", "Read it again when the wind is down.", "wind cools the part");
  return has("fan") ? settle("wait", "Read it again with the fan at rest, if the site stops it.", "a fan cools the part") : null;
}

const OUTAGE = settle(
  "outage",
  "At the next outage: tape or paint a spot, on the part isolated and proved dead, by the qualified person.",
  "emissivity not known well enough",
);

/** @param {Verdict["point"]} point @param {PackStop} stop */
function ofSpot({ inputs }, stop) {
  const angle = inputs.instrument?.ifov_mrad;
  if (!known(angle) || !known(inputs.targetMm)) return null;
  const metres = Math.floor((100 * inputs.targetMm) / (PIXELS_ACROSS * angle)) / 100;
  const closer = `come within ${figure(metres)} m, no nearer than the permit allows`;
  return settle("spot", mayStay(stop) ? `Take a longer lens, or ${closer}.` : "Take a longer lens.", "spot not filled");
}

/** @param {Verdict["point"]} point @param {PackStop} stop */
function ofHeat({ inputs }, stop) {
  if (!mayStay(stop) || !known(inputs.minutesAtLoad) || !known(inputs.settleMinutes)) return null;
  const minutes = Math.ceil(ACCEPTED_FROM * inputs.settleMinutes - inputs.minutesAtLoad);
  return settle("wait", `Wait ${minutes} min at this load, covers closed meanwhile, and read it again.`, "heat not settled");
}

/** @param {Draft} draft @param {PackStop} stop */
function ofLoad(draft, stop) {
  const full = draft.point.at.brought_to_a;
  if (!full) return null;
  const amps = figure(Math.ceil(draft.criteria.min_load_share * full));
  const hours = stop.load_hours ? ` (load hours ${loadHours(stop.load_hours)})` : "";
  return settle("load", `Read it again at ${amps} A or more${hours}.`, `${draft.lowLoad}: a reading clears nothing`);
}

/**
 * Whether another level is still likely. What clears is decided, or every healthy view would be held up.
 * @param {Draft} draft
 * @param {number} level
 */
function isUndecided(draft, level) {
  const { column, judged, judgedU, criteria } = draft;
  if (draft.nearLine) return true;
  if (level === NOTHING_FOUND || column === null || judged === null || !judgedU || draft.cold) return false;
  return linesOf(column).some(([above, line], index) => {
    const over = chanceOver(judged, line, judgedU);
    return above !== column.levels[index] && over >= criteria.higher_chance && over < criteria.firm_chance;
  });
}

/** Inputs of a budget, each with what would make it smaller. @type {Record<string, [string, string]>} */
const BY_INPUT = {
  emissivity: ["outage", OUTAGE.what],
  reflected: ["reflected", "Measure the reflected temperature from where you stand, and say that it was measured."],
  path: ["air", "Type the distance, and the temperature and humidity of the air."],
  window: ["window", "Type what the window lets through, from its own certificate."],
  pane: ["window", "Read the temperature of the window's pane again."],
  band: ["band", "Type the instrument's waveband under Set-up."],
  placement: ["again", "Read it again, the spot on the same place, and take the middle of three."],
  noise: ["again", "Read it again, and take the middle of three."],
  camera: ["again", "Read it and its like part again in one picture with the same settings."],
  air: ["air", "Measure the air near the part again, in the shade."],
  current: ["amps", "Have the amps taken again: panel meter, or the qualified person."],
  exponent: ["load", "Read it again nearer to its usual full load."],
};

/** The largest line of the budget that decided. @param {Draft} draft */
function ofBudget(draft) {
  /** @type {Lines | null} */
  const lines = (draft.valueK !== null && draft.commonK !== null && draft.reference !== "over like parts"
    ? linesAtCommonLoad(draft, draft.valueK)
    : null) ?? draft.lines;
  if (!lines) return null;
  const [name] = Object.entries(lines).reduce((a, b) => (Math.abs(b[1]) > Math.abs(a[1]) ? b : a));
  const [kind, what] = BY_INPUT[name];
  const between = draft.nearLine ? "near the line" : "between two levels";
  return settle(kind, what, `${between}: ${WORDS[name] ?? name} weighs most`);
}

const WORDS = /** @type {Record<string, string>} */ ({
  reflected: "the reflected temperature", emissivity: "the emissivity", path: "the air between",
  window: "what the window lets through", pane: "the window's temperature", band: "the waveband",
  placement: "the place of the spot", noise: "the noise", camera: "the camera", air: "the air temperature",
  current: "the current", exponent: "the load",
});
