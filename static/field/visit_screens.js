// The screens of a guided visit: overview, arrival, safety, set-up, tests, not possible, leaving.

import { button, choice, h, link, notice, tab, textField } from "./dom.js";
import { entryOf } from "./outbox.js";
import { dropEntry, phone, saveDraft, saveEntries, saveVisit } from "./phone.js";
import { photoList } from "./photos.js";
import { showStops, stopOfCaution } from "./safety.js";
import { sync } from "./sending.js";
import { newDraft } from "./test_screen.js";
import * as visits from "./visit.js";
import { clock, dayWords, fixed, languageWords, momentWords, withUnit, zoned } from "./words.js";

const LOOKS = { done: "done", part: "attention", todo: "note", begun: "attention", refused: "stop", not_possible: "attention" };
const WORDS = { done: "Done", part: "Begun", todo: "To do" };

/** Everything the rules of a visit look at. */
function factsOf(id) {
  const place = visits.findVisit(phone.package, id);
  if (!place) {
    return null;
  }
  const state = phone.visits.find((one) => one.id === id) ?? visits.newVisit(id, place.job.id);
  return { ...place, state, known: phone.package, entries: phone.entries, drafts: phone.drafts };
}

const SCREENS = {
  "": overview, arrive, safety, gauge, setup, tests, cannot, photos, leave,
};

export function visitScreen(id, part, detail, tools) {
  const facts = factsOf(id);
  if (!facts) {
    return {
      title: "Visit", back: "#",
      body: [notice("note", "This visit is not on this phone", h("p", {}, "It may be on another day or another crew's. What you have entered for it is kept and will be sent."))],
    };
  }
  const screen = SCREENS[part] ?? overview;
  return { back: part ? `#visit/${id}` : "#", ...screen(facts, tools, detail) };
}

const at = (facts, part = "") => `#visit/${facts.visit.id}${part ? `/${part}` : ""}`;

async function save(facts, changes) {
  Object.assign(facts.state, changes);
  await saveVisit(facts.state);
}

function overview(facts, tools) {
  const { job, visit, state } = facts;
  const next = visits.nextStep(facts);
  const list = visits.steps(facts).map((one) =>
    h("li", {}, h("a", { href: at(facts, one.id), class: "step" },
      h("span", { class: "step__title" }, one.title), one.words ? h("span", { class: "step__words" }, one.words) : null,
      tab(WORDS[one.state], LOOKS[one.state]))));
  return {
    title: visit.kind_words, lead: job.house.address,
    body: [
      houseFacts(facts),
      state.not_safe ? notice("stop", "Not safe to test", h("p", {}, state.not_safe.words)) : null,
      h("ol", { class: "steps" }, list),
      link("Photos", at(facts, "photos")),
    ],
    action: next
      ? button(`Next: ${next.title}`, () => tools.go(at(facts, next.id)), { look: "button--main" })
      : button("Back to the visits", () => tools.go("#"), { look: "button--main" }),
  };
}

function houseFacts({ job, visit }) {
  const { house } = job;
  const sizes = [
    house.year_built ? `Built ${house.year_built}` : "",
    house.floor_area_sqft ? withUnit(Number(house.floor_area_sqft), "ft²", 6) : "Floor area not measured",
    house.volume_cuft ? withUnit(Number(house.volume_cuft), "ft³", 6) : "Volume not measured",
  ].filter(Boolean).join(", ");
  return h("section", { class: "record" },
    h("p", {}, `${dayWords(visit.planned_on)}, job ${job.number}`),
    h("p", {}, h("bdi", {}, job.client_name), job.client_language ? `, speaks ${languageWords(job.client_language)}` : ""),
    job.client_phone ? h("a", { class: "button button--second", href: `tel:${job.client_phone}` }, `Call ${job.client_phone}`) : null,
    h("p", {}, sizes),
    job.before?.flow_50_m3s ? h("p", {}, beforeWords(job.before)) : null);
}

function beforeWords(before) {
  const cfm = phone.package.forms.envelope?.units.flow.choices.find((one) => one.unit === "cfm");
  const flow = cfm ? withUnit(before.flow_50_m3s / cfm.factor, "cfm") : withUnit(before.flow_50_m3s, "m³/s");
  return `Before the work: ${flow} at 50 Pa${before.exponent ? `, exponent ${fixed(before.exponent, 2)}` : ""}.`;
}

function arrive(facts, tools) {
  const { job, visit, state } = facts;
  const note = async () => {
    if (!state.arrived_at) {
      await save(facts, { arrived_at: zoned(), left_at: null });
      await queueReport(facts, "Arrival");
    }
    tools.go(at(facts, "safety"));
  };
  return {
    title: "Arrive", lead: job.house.address,
    body: [
      state.arrived_at
        ? h("p", {}, `Arrived ${momentWords(state.arrived_at)}.`)
        : h("p", {}, "Is this the right house? Say who you are and what you will do."),
      houseFacts({ job, visit }),
    ],
    action: button(state.arrived_at ? "Next: Safety questions" : "I am at the house", note, { look: "button--main" }),
  };
}

function safety(facts, tools) {
  const { known, state } = facts;
  const questions = (known.arrival ?? []).map((one) => safetyQuestion(facts, one, tools));
  const codes = known.not_safe_codes ?? [];
  const notSafe = h("details", { class: "group", open: Boolean(state.not_safe) },
    h("summary", {}, "It is not safe to test here"),
    choice({
      label: "Why", name: "not-safe", chosen: state.not_safe?.code ?? null, options: codes.map((one) => [one.code, one.words]),
      onchoose: async (code) => {
        await save(facts, { not_safe: { code, words: codes.find((one) => one.code === code).words } });
        tools.redraw(null);
      },
    }),
    state.not_safe ? textField({
      id: "not-safe-words", label: "In your own words", value: state.not_safe.words,
      onchange: (words) => save(facts, { not_safe: { ...state.not_safe, words } }),
    }) : null,
    state.not_safe ? button("It is safe after all", async () => { await save(facts, { not_safe: null }); tools.redraw(null); }, { look: "button--second" }) : null);
  return {
    title: "Safety questions", lead: "Look before any fan runs.",
    body: [...questions, notSafe],
    action: button(state.not_safe ? "Next: Leave the house" : "Next", () => tools.go(nextOf(facts, "safety")), { look: "button--main" }),
  };
}

function safetyQuestion(facts, question, tools) {
  const { state, known } = facts;
  const answer = state.safety[question.code] ?? null;
  const answerIs = async (value) => {
    await save(facts, { safety: { ...state.safety, [question.code]: value } });
    if (value === "present" && question.weight === "stop") {
      await showStops({ stops: [stopOfCaution(question, known)], visit: facts.visit.id, job: facts.job.id });
    }
    tools.redraw(null);
  };
  return h("section", { class: `question question--${answer ?? "open"}` },
    choice({
      label: question.look_for, name: `safety-${question.code}`, chosen: answer,
      options: [["clear", "Clear"], ["present", "Found"], ["not_here", "Not here"]], onchoose: answerIs,
    }),
    answer === "present" ? notice(question.weight === "prepare" ? "attention" : "stop", weightWords(question.weight), h("p", {}, question.act)) : null);
}

function weightWords(weight) {
  return { stop: "No fan test", no_depressurization: "Do not draw the house down", prepare: "Before the fan runs" }[weight] ?? "Take care";
}

/** The step after this one that is not done, or the overview. */
function nextOf(facts, id) {
  const list = visits.steps(facts);
  const here = list.findIndex((one) => one.id === id);
  const next = list.slice(here + 1).find((one) => one.state !== "done") ?? null;
  return at(facts, next?.id ?? "");
}

function gauge(facts, tools) {
  const kind = visits.GAUGE_CHECK;
  const done = facts.entries.find((one) => one.visit === facts.visit.id && one.kind === kind);
  const draft = facts.drafts.find((one) => one.visit === facts.visit.id && one.kind === kind);
  return {
    title: "Gauge and hoses", lead: facts.known.forms[kind].purpose,
    body: [
      h("p", {}, done ? `Checked ${momentWords(done.made_at)}.` : visits.gaugeChecked(facts) ? "Checked on another phone." : "Not checked on this visit yet."),
      ...instrumentNotices(),
    ],
    action: button(draft ? "Go on with the check" : done ? "Check again" : "Check the gauge now",
      () => startTest(facts, { kind }, tools), { look: "button--main" }),
  };
}

function instrumentNotices() {
  return (phone.package.instruments ?? []).filter((one) => one.state !== "current").map((one) =>
    notice("attention", `${one.serial}: ${one.state === "overdue" ? "calibration overdue" : one.state === "never" ? "never calibrated" : one.state}`,
      h("p", {}, "Use another one where you can. The office will ask about each test made with it.")));
}

async function startTest(facts, row, tools) {
  const known = facts.drafts.find((one) => one.visit === facts.visit.id && one.kind === row.kind
    && (!row.method || one.method === row.method));
  const draft = known ?? newDraft({ ...row, job: facts.job, visit: facts.visit, definition: facts.known.forms[row.kind] });
  if (!known) {
    await saveDraft(draft);
  }
  tools.go(`#test/${draft.id}`);
}

const optionsOf = (question) => question.choices.map((one) =>
  (typeof one === "string" ? [one, one.charAt(0).toUpperCase() + one.slice(1).replaceAll("_", " ")] : [one.value ?? one.code, one.label ?? one.words]));

function setup(facts, tools) {
  const { known, job, state } = facts;
  const before = job.before?.setup ?? {};
  const rows = (known.setup_questions ?? []).map((one) => {
    const options = optionsOf(one);
    const words = (value) => options.find(([code]) => code === value)?.[1] ?? value;
    const differs = before[one.code] && state.setup[one.code] && before[one.code] !== state.setup[one.code];
    return h("section", { class: `question question--${differs ? "differs" : state.setup[one.code] ? "clear" : "open"}` },
      choice({
        label: one.label, hint: before[one.code] ? `Before the work: ${words(before[one.code])}` : "",
        name: `setup-${one.code}`, options, chosen: state.setup[one.code] ?? null,
        onchoose: async (value) => { await save(facts, { setup: { ...state.setup, [one.code]: value } }); tools.redraw(null); },
      }),
      differs ? notice("attention", "Different from before", h("p", {}, "Set it as it was, or the two tests cannot be compared.")) : null);
  });
  return {
    title: "Set-up", lead: "How the house stands while it is tested.",
    body: rows,
    action: button("Next", () => tools.go(nextOf(facts, "setup")), { look: "button--main" }),
  };
}

function tests(facts, tools) {
  const { known } = facts;
  const rows = visits.testStates(facts);
  const others = Object.values(known.forms).filter((one) => one.kind !== visits.GAUGE_CHECK);
  const open = rows.find((one) => ["begun", "todo"].includes(one.state));
  return {
    title: "Tests", lead: facts.job.house.address,
    body: [
      rows.length === 0 ? h("p", {}, "No test is required on this visit.") : null,
      ...rows.map((one) => testRow(facts, one, { tools, isNext: one === open })),
      h("details", { class: "group" }, h("summary", {}, "Another test"),
        others.map((one) => h("section", { class: "question" }, h("h3", {}, one.title), h("p", {}, one.purpose),
          button(`Start: ${one.title}`, () => startTest(facts, { kind: one.kind }, tools), { look: "button--second" })))),
    ],
    action: open && known.forms[open.kind]
      ? button(open.draft ? `Go on: ${open.title}` : `Start: ${open.title}`, () => startTest(facts, open, tools), { look: "button--main" })
      : button("Next", () => tools.go(nextOf(facts, "tests")), { look: "button--main" }),
  };
}

function testRow(facts, row, { tools, isNext }) {
  const again = row.state === "done" ? "Test again" : row.draft ? "Go on" : "Start";
  return h("section", { class: "record" },
    h("div", { class: "record__head" }, h("h2", {}, row.title), tab(row.words, LOOKS[row.state])),
    row.required ? null : h("p", {}, "Not required"),
    row.told ? h("p", {}, toldWords(row.told)) : null,
    row.own?.record?.differs ? notice("attention", "The record differs", h("p", {}, recordWords(row.own))) : null,
    row.reason ? h("p", {}, row.reason.words) : null,
    h("div", { class: "acts" },
      row.state === "refused" ? link("Why, and put it right", `#outbox/${row.own.key}`) : null,
      facts.known.forms[row.kind] && !isNext ? button(`${again}: ${row.title}`, () => startTest(facts, row, tools), { look: "button--second" }) : null,
      ["todo", "not_possible"].includes(row.state) ? link("Not possible", at(facts, `cannot/${row.kind}`), "button button--quiet") : null));
}

function toldWords(one) {
  return [`Sent ${clock(one.taken_at)}`, one.headline, one.words].filter(Boolean).join(". ");
}

function recordWords(entry) {
  const { unit, flow50 } = entry.preview;
  return `This phone showed ${withUnit(flow50, unit.unit)} at 50 Pa; the office's record says ${withUnit(entry.record.flow50, unit.unit)}. The record counts.`;
}

function cannot(facts, tools, kind) {
  const { known, state } = facts;
  const reason = state.not_possible[kind] ?? null;
  const codes = known.not_possible_codes ?? [];
  const set = (value) => save(facts, { not_possible: { ...state.not_possible, [kind]: value } });
  const clear = async () => {
    const { [kind]: _, ...rest } = state.not_possible;
    await save(facts, { not_possible: rest });
    tools.go(at(facts, "tests"));
  };
  return {
    title: "Not possible", lead: known.forms[kind]?.title ?? kind, back: at(facts, "tests"),
    body: [
      choice({
        label: "Why can this test not be made?", name: "cannot", chosen: reason?.code ?? null,
        options: codes.map((one) => [one.code, one.words]),
        onchoose: async (code) => { await set({ code, words: codes.find((one) => one.code === code).words }); tools.redraw(null); },
      }),
      reason ? textField({ id: "cannot-words", label: "In your own words", value: reason.words, onchange: (words) => set({ ...reason, words }) }) : null,
      reason ? button("It is possible after all", clear, { look: "button--second" }) : null,
    ],
    action: button("Back to the tests", () => tools.go(at(facts, "tests")), { look: "button--main" }),
  };
}

function photos(facts, tools) {
  return photoList(facts, tools);
}

/** What the office is told of the visit; an unsent report of the same visit is replaced. */
async function queueReport(facts, title) {
  const { visit, job, state } = facts;
  for (const one of phone.entries.filter((entry) => entry.sort === "report" && entry.visit === visit.id)) {
    if (["waiting", "refused", "parked"].includes(one.state)) {
      await dropEntry(one);
    }
  }
  const key = crypto.randomUUID();
  await saveEntries([entryOf({
    key, sort: "report", body: visits.reportOf(visit, state, key), job: job.id, visit: visit.id,
    title: `${title}: ${visit.kind_words}`, place: job.house.address, now: Date.now(),
  })]);
  sync();
}

function leave(facts, tools) {
  const { state } = facts;
  const missing = visits.gaps(facts);
  const go = async () => {
    if (!state.arrived_at) {
      tools.go(at(facts, "arrive"));
      return;
    }
    await save(facts, { left_at: zoned() });
    await queueReport(facts, "Visit report");
    tools.go("#");
  };
  return {
    title: "Leave the house", lead: facts.job.house.address,
    body: [
      missing.length === 0
        ? notice("done", state.not_safe ? "Not safe to test" : "Nothing is missing", h("p", {}, state.not_safe?.words ?? "Every required test is done or has its reason."))
        : notice("attention", missing.length === 1 ? "One thing is missing" : `${missing.length} things are missing`,
          h("ul", { class: "gaps" }, missing.map((one) => h("li", {}, h("a", { href: one.at, class: "gap" }, one.words))))),
      state.left_at ? h("p", {}, `Left ${momentWords(state.left_at)}.`) : null,
      textField({ id: "visit-note", label: "Note for the office", value: state.note, lines: 3, onchange: (note) => save(facts, { note }) }),
      h("p", { class: "hint" }, "Restore what you turned off. See each appliance lit again."),
    ],
    action: button(leaveWords(state, missing), go, { look: "button--main" }),
  };
}

function leaveWords(state, missing) {
  if (!state.arrived_at) {
    return "Note the arrival first";
  }
  return missing.length > 0 ? "Leave all the same" : "Leave the house";
}
