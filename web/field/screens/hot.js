// A hot part met off the round: photo, place and number now; the register later.

import { ofRound } from "../addresses.js";
import { el, refill } from "../dom.js";
import { sendOf } from "../drafts.js";
import { headOfRound, line, numberBox, tall, textBox } from "../parts.js";
import { keepPhoto } from "../pictures.js";
import { numberOf } from "../typed.js";
import { degrees, inFahrenheit } from "../units.js";

/** @param {import("../types.js").Field} field @param {import("../types.js").Pack} pack */
export async function showHot(field, pack) {
  const site = el("select", {}, pack.sites.map((one) => el("option", { value: one.id }, one.name)));
  const [place, shown, air, amps, picture] = [textBox(), numberBox(), numberBox(), numberBox(), textBox()];
  const note = el("textarea", { rows: 2 });
  const photo = el("input", { type: "file", accept: "image/*", capture: "environment" });
  const told = el("p", { class: "warn", role: "alert" });

  /** @returns {Promise<string>} id of what was kept; "" while something is missing */
  async function keep() {
    if (!place.value.trim() || numberOf(shown.value) === null) {
      refill(told, "Say where it is and what it reads.");
      (place.value.trim() ? shown : place).focus();
      return "";
    }
    const uid = crypto.randomUUID();
    const where = pack.sites.find((one) => one.id === Number(site.value)) ?? pack.sites[0];
    const body = {
      site: where.name, place: place.value.trim(), ...(inFahrenheit(pack) && { temperature_unit: degrees(pack) }), temperature_c: numberOf(shown.value),
      ambient_c: numberOf(air.value), current_a: numberOf(amps.value), picture: picture.value.trim() || null, note: note.value.trim() || null,
    };
    await field.store.keepDraft(pack.round.id, `hot ${uid}`, { siteId: where.id, place: body.place, temperature: shown.value });
    await field.store.put(sendOf(pack, "reading", "readings", uid, body, `Off the round: ${body.place}`));
    const file = photo.files?.[0];
    if (file) await keepPhoto(field.store, pack, { label: body.place, name: body.picture }, file);
    field.sync.now();
    return uid;
  }
  const go = async (/** @type {boolean} */ tell) => {
    const uid = await keep();
    if (uid) field.go(tell ? ofRound(pack.round.id, `tell/${uid}`) : ofRound(pack.round.id));
  };
  return { node: el("section", { class: "screen" }, el("div", { class: "scroll" },
    headOfRound(pack, "A hot part off the round."),
    el("p", { class: "quiet" }, "Stay where the permit lets you stand. Its place and number are enough now; the engineer puts it into the register."),
    line("Site", site), tall("Where and what it is", place), line("Reads", shown, degrees(pack)), line("Air near it", air, degrees(pack)),
    line("Amps, if known", amps, "A"), line("Picture number", picture), tall("Photo", photo), tall("Seen, heard or smelt", note), told),
  el("div", { class: "foot-keys" }, el("div", { class: "steps" },
    el("button", { type: "button", class: "grave-key", onclick: () => go(true) }, "Keep, and tell now"),
    el("button", { type: "button", class: "go", onclick: () => go(false) }, "Keep it")))) };
}
