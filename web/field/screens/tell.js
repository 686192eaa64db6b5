// Act now: stop, step back, tell the named contact; whom, when and what they answered is kept.

import { ofRound, ofStop } from "../addresses.js";
import { el, levelMark } from "../dom.js";
import { keyOf, roundDraft, sendOf, viewDraft } from "../drafts.js";
import { tall, textBox } from "../parts.js";
import { numberOf } from "../typed.js";
import { degrees } from "../units.js";

/** @param {import("../types.js").Field} field @param {import("../types.js").Pack} pack @param {import("../addresses.js").Place} place */
export async function showTell(field, pack, place) {
  /** @type {Record<string, any>} */
  const drafts = await field.store.drafts(pack.round.id);
  const walk = roundDraft(pack, drafts[keyOf.round]);
  const at = pointAt(pack, place.uid);
  const off = drafts[`hot ${place.uid}`];
  const site = pack.sites.find((one) => one.id === (at?.stop.site_id ?? off?.siteId)) ?? pack.sites[0];
  const own = at && drafts[keyOf.view(at.view.id)]?.points?.[place.uid];
  const shown = own ? numberOf(own.temperature) : numberOf(off?.temperature ?? "");
  const where = at ? `${at.stop.title}, ${at.view.name}, ${at.point.label}` : off?.place ?? "a part off the round";
  if (!walk.untold.includes(place.uid)) {
    walk.untold.push(place.uid);
    await field.store.keepDraft(pack.round.id, keyOf.round, walk);
  }
  const whom = textBox({ value: site?.contact_name ?? "" });
  const reply = el("textarea", { rows: 2 });
  const problem = el("p", { class: "warn", role: "alert" });
  const back = at ? ofStop(pack.round.id, at.stop.id) : ofRound(pack.round.id);
  const done = async () => {
    if (!whom.value.trim()) {
      problem.textContent = "Say whom you told.";
      return whom.focus();
    }
    const uid = crypto.randomUUID();
    const about = at ? { row_uid: place.uid } : { off_round_uid: place.uid };
    const body = { ...about, told_whom: whom.value.trim(), told_at: new Date().toISOString(), answer: reply.value.trim() };
    await field.store.put(sendOf(pack, "telling", "field-tellings", uid, body, `Told ${whom.value.trim()}: ${where}`));
    walk.untold = walk.untold.filter((one) => one !== place.uid);
    await field.store.keepDraft(pack.round.id, keyOf.round, walk);
    if (at) {
      const draft = viewDraft(at.view, drafts[keyOf.view(at.view.id)]);
      await field.store.keepDraft(pack.round.id, keyOf.view(at.view.id), { ...draft, told: true });
    }
    field.sync.now();
    field.go(back);
  };
  const phone = site?.contact_phone ?? "";
  const node = el("section", { class: "screen tell" }, el("div", { class: "scroll" },
    el("p", { class: "tell-word" }, levelMark(4), " Act now"),
    el("h1", { tabindex: "-1" }, "Stop. Step back. Tell them now."),
    el("p", { class: "lead" }, `${where}${shown === null ? "" : `: ${shown} ${degrees(pack)}`}.`),
    el("p", {}, "Touch, tighten and switch nothing. Keep others away as the permit and the site’s rules say; the qualified person decides what follows."),
    el("p", { class: "call" }, site?.contact_name || "The site’s control (no contact is on record: ask the permit issuer)",
      phone ? el("a", { class: "go", href: `tel:${phone.replace(/[^+\d]/g, "")}` }, `Call ${phone}`) : null),
    tall("Told whom", whom), tall("What they answered", reply), problem),
  el("div", { class: "foot-keys" }, el("div", { class: "steps" },
    el("button", { type: "button", class: "plain", onclick: () => field.go(back) }, "Nobody answers yet"),
    el("button", { type: "button", class: "go", onclick: done }, "Told, keep it"))));
  return { node };
}

/** @param {import("../types.js").Pack} pack @param {string} uid */
function pointAt(pack, uid) {
  for (const stop of pack.stops) {
    for (const view of stop.views) {
      const point = view.points.find((one) => one.row_uid === uid);
      if (point) return { stop, view, point };
    }
  }
  return null;
}
