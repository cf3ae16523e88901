// The guided visit as pure rules: what comes next, what is done, what is missing when leaving.

import { fixed } from "./words.js";

export const GAUGE_CHECK = "gauge_check";
const PHASES = { test_in: "before", work: "during", test_out: "after", final_inspection: "inspection" };

export function newVisit(id, job) {
  return {
    id, job, arrived_at: null, left_at: null, safety: {}, read: {}, not_safe: null, setup: {},
    not_possible: {}, note: "", report: null,
  };
}

export const phaseOf = (visit) => PHASES[visit.kind] ?? "during";

export function jobsByDay(known) {
  const days = new Map();
  for (const job of known?.jobs ?? []) {
    for (const visit of job.visits) {
      days.set(visit.planned_on, [...(days.get(visit.planned_on) ?? []), { job, visit }]);
    }
  }
  return [...days].sort(([a], [b]) => a.localeCompare(b));
}

export function findVisit(known, id) {
  for (const job of known?.jobs ?? []) {
    const visit = job.visits.find((one) => one.id === id);
    if (visit) {
      return { job, visit };
    }
  }
  return null;
}

/** Hazards that were found, with what each forbids. */
export function found(known, state) {
  return (known?.arrival ?? []).filter((one) => state.safety[one.code] === "present");
}

export function unanswered(known, state) {
  return (known?.arrival ?? []).filter((one) => !state.safety[one.code]);
}

/** One line a test: done here, done on another phone, begun, not possible, or to do. */
export function testStates({ known, visit, state, entries, drafts }) {
  const mine = entries.filter((one) => one.visit === visit.id && one.sort === "run");
  const rows = (visit.required ?? []).map((one) => ({ ...one, required: true }));
  for (const one of [...mine, ...drafts.filter((draft) => draft.visit === visit.id), ...(visit.done ?? [])]) {
    const listed = rows.some((row) => isFor(one, row));
    if (!listed && one.kind !== GAUGE_CHECK) {
      rows.push({ kind: one.kind, method: null, title: known?.forms?.[one.kind]?.title ?? one.kind });
    }
  }
  return rows.map((row) => ({ ...row, ...stateOfTest({ row, visit, state, mine, drafts }) }));
}

const isFor = (one, row) => one.kind === row.kind && (!row.method || !one.method || one.method === row.method);

function stateOfTest({ row, visit, state, mine, drafts }) {
  const own = mine.filter((one) => isFor(one, row)).sort((a, b) => b.made_at - a.made_at)[0] ?? null;
  const draft = drafts.find((one) => one.visit === visit.id && isFor(one, row)) ?? null;
  const others = (visit.done ?? []).filter((one) => isFor(one, row));
  const told = others[0] ?? null;
  if (draft) {
    return { state: "begun", words: "Begun", draft, own, told };
  }
  if (own?.state === "refused") {
    return { state: "refused", words: "Sent back", own, told };
  }
  if (own) {
    return { state: "done", words: own.state === "sent" ? "Done, sent" : "Done, waiting", own, told };
  }
  if (told) {
    return { state: "done", words: "Done, another phone", told };
  }
  const reason = state.not_possible[row.kind];
  if (reason) {
    return { state: "not_possible", words: "Not possible", reason };
  }
  return { state: "todo", words: "To do" };
}

export function gaugeChecked({ visit, entries }) {
  return entries.some((one) => one.visit === visit.id && one.kind === GAUGE_CHECK)
    || (visit.done ?? []).some((one) => one.kind === GAUGE_CHECK);
}

/** What differs from how the house was set up before the work. */
export function setupDifferences({ known, job, state }) {
  const before = job.before?.setup ?? {};
  return (known?.setup_questions ?? []).filter(
    (one) => before[one.code] && state.setup[one.code] && before[one.code] !== state.setup[one.code]);
}

/** The steps of a visit in order; each is `{id, title, state, words}`. */
export function steps(facts) {
  const { known, job, visit, state, drafts } = facts;
  const left = unanswered(known, state).length;
  const total = (known?.arrival ?? []).length;
  const asked = known?.setup_questions ?? [];
  const set = asked.filter((one) => state.setup[one.code]).length;
  const tests = testStates(facts);
  const open = tests.filter((one) => ["todo", "begun", "refused"].includes(one.state)).length;
  const gauging = drafts.some((one) => one.visit === visit.id && one.kind === GAUGE_CHECK);
  const part = (all, done) => (done === all ? "done" : done > 0 ? "part" : "todo");
  const list = [
    { id: "arrive", title: "Arrive", state: state.arrived_at ? "done" : "todo" },
    { id: "safety", title: "Safety questions", state: part(total, total - left), words: `${total - left} of ${total}` },
  ];
  if (state.not_safe) {
    list[1].words = "Not safe to test";
    return [...list, leaving(state)];
  }
  if (known?.forms?.[GAUGE_CHECK]) {
    list.push({
      id: "gauge", title: "Gauge and hoses",
      state: gaugeChecked(facts) ? "done" : gauging ? "part" : "todo",
    });
  }
  if (asked.length > 0) {
    const different = setupDifferences({ known, job, state }).length;
    const words = `${set} of ${asked.length}${different ? `, ${different} different` : ""}`;
    list.push({ id: "setup", title: "Set-up", state: part(asked.length, set), words });
  }
  list.push({
    id: "tests", title: "Tests", state: part(tests.length, tests.length - open),
    words: open ? `${open} to do` : "",
  });
  return [...list, leaving(state)];
}

const leaving = (state) => ({ id: "leave", title: "Leave the house", state: state.left_at ? "done" : "todo" });

export function nextStep(facts) {
  return steps(facts).find((one) => one.state !== "done") ?? null;
}

/** What would be missing if the crew left now, in words, with where to put it right. */
export function gaps(facts) {
  const { known, job, state, visit } = facts;
  const gap = (words, at) => ({ words, at: `#visit/${visit.id}/${at}` });
  const list = [];
  if (!state.arrived_at) {
    list.push(gap("The time of arrival is not noted.", "arrive"));
  }
  const left = unanswered(known, state);
  if (left.length > 0) {
    list.push(gap(`Safety questions without an answer: ${left.length}.`, "safety"));
  }
  for (const stop of unread(job, state, facts.entries)) {
    list.push(gap(`A safety stop is not acknowledged: ${stop.words}`, "safety"));
  }
  if (state.not_safe) {
    return list;
  }
  if (known?.forms?.[GAUGE_CHECK] && !gaugeChecked(facts)) {
    list.push(gap("The gauge and its hoses were not checked on this visit.", "gauge"));
  }
  const unset = (known?.setup_questions ?? []).filter((one) => !state.setup[one.code]);
  if (unset.length > 0) {
    list.push(gap(`Set-up without an answer: ${unset.map((one) => one.label).join(", ")}.`, "setup"));
  }
  for (const one of testStates(facts)) {
    if (["todo", "begun", "refused"].includes(one.state)) {
      list.push(gap(`${one.title}: ${one.words.toLowerCase()}.`, "tests"));
    }
  }
  return list;
}

/** Stops of the job nobody has read by name yet, here or anywhere. */
export function unread(job, state, entries) {
  const here = new Set(entries.filter((one) => one.sort === "acknowledgement").map((one) => one.stop));
  return (job?.safety_stops ?? []).filter((one) => !one.acknowledged_name && !here.has(one.id));
}

/** The report of a visit, as the office is sent it. */
export function reportOf(visit, state, key) {
  return {
    client_key: key,
    visit: visit.id,
    arrived_at: state.arrived_at,
    left_at: state.left_at,
    safety: state.safety,
    not_safe: state.not_safe,
    not_possible: Object.entries(state.not_possible).map(([kind, one]) => ({ kind, ...one })),
    setup: state.setup,
    note: [...Object.values(state.read).map(readWords), state.note].filter(Boolean).join("\n"),
  };
}

const readWords = (one) => `Safety stop read by ${one.name} at ${one.at}: ${one.words}`;

export function reductionWords(share) {
  const percent = fixed(Math.abs(share) * 100, 1);
  return share >= 0 ? `${percent} % less than before the work` : `${percent} % more than before the work`;
}
