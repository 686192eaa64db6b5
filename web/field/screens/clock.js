// How far the camera's clock is off: photograph this clock, and say what the camera shows.

import { ofRound } from "../addresses.js";
import { el } from "../dom.js";
import { deviceTime, sendOf } from "../drafts.js";
import { footKey, headOfRound, instruments, line } from "../parts.js";

const HALF_A_DAY_S = 43_200;
const DAY_S = 86_400;

/** Seconds that a clock showing ``shown`` is ahead of ``now``, the nearer way round the day. @param {string} shown hh:mm[:ss] @param {Date} now */
export function aheadBy(shown, now) {
  const [hours, minutes, seconds = 0] = shown.split(":").map(Number);
  const own = now.getHours() * 3600 + now.getMinutes() * 60 + now.getSeconds();
  const ahead = hours * 3600 + minutes * 60 + seconds - own;
  return ahead > HALF_A_DAY_S ? ahead - DAY_S : ahead <= -HALF_A_DAY_S ? ahead + DAY_S : ahead;
}

/** @param {import("../types.js").Field} field @param {import("../types.js").Pack} pack */
export async function showClock(field, pack) {
  const face = el("p", { class: "clock-face", "aria-hidden": "true" });
  const tick = () => (face.textContent = new Date().toLocaleTimeString("en-GB"));
  tick();
  const ticking = setInterval(tick, 250);
  const shown = el("input", { type: "time", step: "1" });
  const cameras = instruments(pack, (kind) => kind === "camera");
  const which = el("select", {}, cameras);
  const told = el("p", { class: "warn", role: "alert" });
  const keep = async () => {
    if (!shown.value) {
      told.textContent = "Type what the camera’s clock shows now.";
      return shown.focus();
    }
    const now = new Date();
    const offset = aheadBy(shown.value, now);
    const uid = crypto.randomUUID();
    const body = { instrument_id: Number(which.value), at: now.toISOString(), camera_time: shown.value, offset_s: offset };
    await field.store.put(sendOf(pack, "camera clock", "camera-clocks", uid, body, `The camera’s clock: ${Math.abs(offset)} s ${offset < 0 ? "behind" : "ahead"}`));
    field.sync.now();
    field.go(ofRound(pack.round.id));
  };
  const device = deviceTime(new Date()).slice(-6);
  const node = el("section", { class: "screen" }, el("div", { class: "scroll" },
    headOfRound(pack, "The camera’s clock."),
    el("p", {}, "Photograph this clock with the camera; its pictures then find their readings by time."),
    face, el("p", { class: "quiet" }, `This device, ${device} from UTC.`),
    line("Camera shows now", shown),
    cameras.length ? line("Camera", which) : el("p", { class: "warn" }, "No camera is on record for this round."), told),
  cameras.length > 0 && footKey("Keep the offset", keep));
  return { node, leave: async () => clearInterval(ticking) };
}
