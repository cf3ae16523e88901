// The outbox in words: what waits, what was sent back and why, and the way to put it right.

import { button, h, link, notice, tab } from "./dom.js";
import { isUnsent, stateWords, syncLine } from "./outbox.js";
import { phone, reopen, saveEntries } from "./phone.js";
import { sync } from "./sending.js";
import { momentWords, problemWords, sizeWords, withUnit } from "./words.js";

const LOOKS = { waiting: "note", sending: "note", sent: "done", refused: "stop", parked: "attention" };

export const line = (now) => syncLine(phone.entries, {
  lastSent: phone.lastSent, offline: phone.offline, paired: Boolean(phone.pairing || phone.ask), ask: phone.ask, now,
});

export function outboxScreen(tools) {
  const open = phone.entries.filter(isUnsent).sort((a, b) => a.made_at - b.made_at);
  const sent = phone.entries.filter((one) => !isUnsent(one)).sort((a, b) => b.sent_at - a.sent_at);
  return {
    title: "Outbox", lead: line(), back: "#",
    body: [
      phone.drafts.length ? h("p", {}, `Not finished and not in the outbox: ${phone.drafts.length} begun. Finish them under their visit.`) : null,
      open.length === 0 ? h("p", {}, "Nothing waits.") : h("ul", { class: "entries" }, open.map(row)),
      sent.length === 0 ? null : h("h2", {}, "Sent"),
      sent.length === 0 ? null : h("ul", { class: "entries" }, sent.map(row)),
    ],
    action: button("Send now", () => sync({ asked: true }).then(() => tools.redraw(null)), { look: "button--main" }),
  };
}

function row(entry) {
  return h("li", {}, h("a", { href: `#outbox/${entry.key}`, class: "record record--link" },
    h("span", { class: "record__head" }, h("strong", {}, entry.title), tab(stateWords(entry), LOOKS[entry.state])),
    entry.place ? h("span", {}, entry.place) : null,
    h("span", {}, whenWords(entry))));
}

function whenWords(entry) {
  const size = entry.size ? `, ${sizeWords(entry.size)}` : "";
  return entry.state === "sent" ? `Sent ${momentWords(entry.sent_at)}` : `Made ${momentWords(entry.made_at)}${size}`;
}

export function entryScreen(key, tools) {
  const entry = phone.entries.find((one) => one.key === key);
  if (!entry) {
    return { title: "Record", back: "#outbox", body: [h("p", {}, "It is no longer in the outbox.")] };
  }
  return {
    title: entry.title, lead: entry.place || null, back: "#outbox",
    body: [
      tab(stateWords(entry), LOOKS[entry.state]),
      h("p", {}, whenWords(entry)),
      entry.answer?.looks_like ? notice("attention", "It looks like another test", h("p", {}, "The office has the same readings already. It will ask which of the two counts.")) : null,
      entry.problems.length ? notice("stop", "The office sent it back", h("ul", {}, entry.problems.map((one) => h("li", {}, problemWords(one))))) : null,
      entry.state === "parked" ? h("p", {}, "It goes out once this phone is paired again.") : null,
      entry.preview ? h("p", {}, `Shown on this phone: ${withUnit(entry.preview.flow50, entry.preview.unit.unit)} at 50 Pa.`) : null,
      entry.record ? h("p", {}, recordWords(entry)) : null,
    ],
    action: actionOf(entry, tools),
  };
}

function recordWords({ record, preview }) {
  const flow = withUnit(record.flow50, preview.unit.unit);
  return record.differs ? `The office's record says ${flow}. The record counts.` : `The office's record says the same: ${flow}.`;
}

function actionOf(entry, tools) {
  if (entry.state !== "refused") {
    return button("Back to the outbox", () => tools.go("#outbox"), { look: "button--main" });
  }
  if (entry.sort === "run") {
    return button("Put it right", () => correct(entry, tools), { look: "button--main" });
  }
  if (entry.sort === "photo") {
    return link("To the photos", `#visit/${entry.visit}/photos`, "button button--main");
  }
  return button("Send it again", async () => {
    await saveEntries([{ ...entry, state: "waiting", problems: [] }]);
    await sync({ asked: true });
    tools.redraw(null);
  }, { look: "button--main" });
}

/** A refused key stays free; one that already belongs to another record needs a new one. */
async function correct(entry, tools) {
  const taken = entry.problems.some((one) => one.code === "key_reused");
  const draft = { ...entry.draft, key: taken ? null : entry.key, returned: entry.problems };
  await reopen(entry, draft);
  tools.go(`#test/${draft.id}`);
}
