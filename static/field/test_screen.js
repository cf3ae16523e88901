// One test under the hand: hook-up card, form, draft kept on each change, and into the outbox.

import { assembled, fansRead, firstUnits, reasonLines, unitsUsed } from "./documents.js";
import { button, choice, h, notice } from "./dom.js";
import { prepared, previewOf, seriesFields, showResult } from "./envelope.js";
import { formFields, unitFields } from "./forms.js";
import { VERSION as MATHS } from "./maths.js";
import { idOf } from "./number_field.js";
import { entryOf } from "./outbox.js";
import { dropDraft, phone, queueDraft, saveDraft } from "./phone.js";
import { stopsOf, showStops } from "./safety.js";
import { sync } from "./sending.js";
import { findVisit, phaseOf } from "./visit.js";
import { clock, fromSI, problemWords, spelled, unitOf, zoned } from "./words.js";

const APP = document.documentElement.dataset.version ?? "0";
const PHASE_WORDS = { before: "before the work", during: "during the work", after: "after the work", inspection: "at the inspection" };

export function newDraft({ kind, method, job, visit, definition }) {
  return {
    id: crypto.randomUUID(), kind, job: job.id, visit: visit.id, phase: phaseOf(visit),
    method: method ?? (definition.methods.length === 1 ? definition.methods[0] : usualMethod(job, definition)),
    begun_at: zoned(), taken_at: null, units: firstUnits(definition), values: sameGauge(visit, definition),
    reasons: {}, changed_at: null,
  };
}

/** The gauge of the visit's last test, so that nobody chooses it twice. */
function sameGauge(visit, definition) {
  const last = phone.entries
    .filter((one) => one.visit === visit.id && one.gauge)
    .sort((a, b) => b.made_at - a.made_at)[0];
  const asked = definition.fields.some((one) => one.name === "gauge");
  return asked && last ? { gauge: structuredClone(last.gauge) } : {};
}

/** After the work the method of the test before is kept: two methods are never compared. */
function usualMethod(job, definition) {
  return definition.methods.includes(job.before?.method) ? job.before.method : definition.methods[0];
}

export function testScreen(id, { go, redraw }) {
  const draft = phone.drafts.find((one) => one.id === id);
  const definition = draft && phone.package?.forms?.[draft.kind];
  const place = draft && findVisit(phone.package, draft.visit);
  if (!draft || !definition) {
    return lost(draft);
  }
  const form = formOf({ draft, definition, job: place?.job, redraw });
  const panel = h("section", { class: "so-far", "aria-label": "Result so far" });
  form.panel = draft.kind === "envelope" ? panel : null;
  return {
    title: definition.title,
    lead: [PHASE_WORDS[draft.phase], place?.job.house.address].filter(Boolean).join(", "),
    back: `#visit/${draft.visit}/tests`,
    body: [
      h("p", { class: "saved", id: "saved", role: "status" }, savedWords(draft)),
      draft.returned?.length ? notice("attention", "The office sent it back", h("ul", {}, draft.returned.map((one) => h("li", {}, problemWords(one))))) : null,
      h("div", { id: "summary" }),
      ...hookups(definition, phone.package.hookup_svgs?.[draft.kind] ?? []),
      h("p", { class: "hint" }, "A field left empty means: not measured."),
      methodField(form),
      ...bodyFields(form),
      form.panel,
      unitFields(form),
      button("Throw this draft away", () => throwAway(draft, go), { look: "button--stop" }),
    ],
    action: [
      form.panel ? h("p", { class: "live", id: "live" }) : null,
      button("Finish this test", () => finish(form, place, go), { look: "button--main" }),
    ],
    shown: () => form.panel && showResult(form, panel),
  };
}

function lost(draft) {
  const words = draft
    ? "Its form is not on this phone now. The draft is kept; get a signal and look again."
    : "This test is not being typed on this phone. Look under the visit or in the outbox.";
  return { title: "Test", back: "#", body: [notice("note", "Nothing to show", h("p", {}, words))] };
}

const opened = new Map();

function formOf({ draft, definition, job, redraw }) {
  const open = opened.get(draft.id) ?? new Set();
  opened.set(draft.id, open);
  const form = {
    draft, definition, job, redraw,
    instruments: phone.package.instruments ?? [],
    facts: { units: definition.units, instruments: phone.package.instruments, house: job?.house, settings: phone.package.settings ?? {} },
    isOpen: (path) => open.has(path),
    opened: (path) => { open.has(path) ? open.delete(path) : open.add(path); },
    save: () => keep(form),
  };
  return form;
}

/** Every change is on the disk before the next one. */
function keep(form) {
  const { draft } = form;
  draft.taken_at ??= zoned();
  draft.changed_at = Date.now();
  saveDraft(draft).then(() => {
    const line = document.getElementById("saved");
    if (line) {
      line.textContent = savedWords(draft);
    }
  }, () => {});
  if (form.panel) {
    showResult(form, form.panel);
  }
}

function savedWords(draft) {
  return draft.changed_at ? `Saved on this phone, ${clock(draft.changed_at)}` : "Each change is saved on this phone.";
}

function methodField(form) {
  const { definition, draft } = form;
  if (definition.methods.length < 2) {
    return null;
  }
  return choice({
    label: "Method", name: "f-method", chosen: draft.method, options: definition.methods.map((one) => [one, spelled(one)]),
    onchoose: (value) => { draft.method = value; form.save("method"); },
  });
}

function bodyFields(form) {
  const { definition, draft } = form;
  if (draft.kind !== "envelope") {
    return formFields(definition.fields, draft.values, "", form);
  }
  const named = (names) => definition.fields.filter((one) => names.includes(one.name));
  return [
    ...formFields(named(["gauge", "conditions"]), draft.values, "", form),
    ...seriesFields(form),
    ...formFields(named(["house", "note"]), draft.values, "", form),
  ];
}

function hookups(definition, drawings) {
  if (definition.hookups.length === 0) {
    return [];
  }
  const cards = definition.hookups.map((card, number) =>
    h("section", { class: "hookup" }, h("h3", {}, card.title),
      drawings[number] ? h("img", { src: `data:image/svg+xml;charset=utf-8,${encodeURIComponent(drawings[number])}`, alt: "", class: "hookup__drawing" }) : null,
      h("ul", {}, card.channels.map((one) => h("li", {}, channelWords(one))))));
  return [h("details", { class: "group" }, h("summary", {}, "How to hook up"), cards)];
}

function channelWords(one) {
  return one.input
    ? `Channel ${one.name}: input to ${one.input}; reference to ${one.reference}; expect ${one.expected}.`
    : `Channel ${one.name}: not used.`;
}

async function throwAway(draft, go) {
  if (window.confirm("Throw this draft away? Its readings are lost.")) {
    await dropDraft(draft);
    go(`#visit/${draft.visit}/tests`);
  }
}

async function finish(form, place, go) {
  const { draft, definition } = form;
  const ready = draft.kind === "envelope" ? prepared(draft) : draft;
  const { values, problems } = assembled(definition, ready);
  if (problems.length > 0) {
    showProblems(problems);
    return;
  }
  const document = documentOf({ form, ready, values });
  const entry = entryOf({
    key: document.client_key, sort: "run", body: document, job: draft.job, visit: draft.visit, kind: draft.kind,
    method: draft.method, title: `${definition.title}, ${PHASE_WORDS[draft.phase]}`, place: place?.job.house.address ?? "",
    now: Date.now(), draft: structuredClone(draft), gauge: values.gauge ?? null,
    preview: shownPreview(form, document),
  });
  await queueDraft(draft, entry);
  sync();
  const stops = stopsOf(document, phone.package);
  if (stops.length > 0) {
    await showStops({ stops, visit: draft.visit, job: draft.job });
  }
  go(draft.kind === "gauge_check" ? `#visit/${draft.visit}` : `#visit/${draft.visit}/tests`);
}

function documentOf({ form, ready, values }) {
  const { draft, definition } = form;
  const state = phone.visits.find((one) => one.id === draft.visit);
  const fans = fansRead(values).map((serial) => ({ serial }));
  const takesFans = definition.fields.some((one) => one.name === "fans");
  const reasons = reasonLines(definition, ready);
  const document = {
    kind: draft.kind, client_key: draft.key ?? crypto.randomUUID(), job: draft.job, visit: draft.visit, phase: draft.phase,
    method: draft.method, taken_at: draft.taken_at ?? zoned(), operator: phone.pairing?.name ?? "",
    units: unitsUsed(definition, draft, values), ...values,
    setup: state?.setup ?? {}, note: [values.note, ...reasons].filter(Boolean).join("\n"),
  };
  if (definition.cautions.length > 0) {
    document.cautions = state?.safety ?? {};
  }
  if (takesFans && fans.length > 0) {
    document.fans = fans;
  }
  if (draft.kind === "envelope") {
    const shown = shownPreview(form, document);
    document.app = { version: APP, maths_version: MATHS, ...(shown ? { flow_50: shown.flow50 } : {}) };
  }
  return document;
}

/** The flow at 50 Pa as it stood on the screen, in the document's unit, to hold against the record. */
function shownPreview(form, document) {
  if (form.draft.kind !== "envelope") {
    return null;
  }
  const unit = unitOf({ quantity: "flow" }, form.definition, form.draft.units);
  const { flow50 } = previewOf(form).result;
  document.units.flow ??= unit.unit;
  return flow50 === null ? null : { flow50: fromSI(flow50, unit), unit };
}

/** What is in the way, on top, each line a way to its field; focus goes there. */
function showProblems(problems) {
  const list = problems.map((one) =>
    h("li", {}, h("a", { href: `#${idOf(one.path)}`, onclick: (event) => { event.preventDefault(); toField(one.path); } }, one.words)));
  const box = notice("stop", `${problems.length === 1 ? "One thing is" : `${problems.length} things are`} in the way`, h("ul", {}, list));
  box.tabIndex = -1;
  document.getElementById("summary").replaceChildren(box);
  box.focus();
}

function toField(path) {
  const box = document.querySelector(`[data-path="${CSS.escape(path)}"]`);
  const target = document.getElementById(idOf(path)) ?? box?.querySelector("input, select, textarea, button");
  for (let up = target; up; up = up.parentElement) {
    if (up.tagName === "DETAILS") {
      up.open = true;
    }
  }
  target?.focus();
  (box ?? target)?.scrollIntoView({ block: "center" });
}
