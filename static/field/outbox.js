// What waits to be sent: pure rules of the queue, without storage, network or clock.
//
// An entry is waiting, sending, sent, refused or parked. Only an answer of 2xx for its own key
// makes it sent; every doubt leaves it waiting, because a repeat is harmless and a loss is not.

import { counted, momentWords } from "./words.js";

export const MOST_RECORDS = 50;
const MOST_BYTES = 1_000_000;
const UNSENT = new Set(["waiting", "sending", "parked", "refused"]);

export const isUnsent = (entry) => UNSENT.has(entry.state);

export function entryOf({ key, sort, body, job, visit, kind = "", method = "", title, now, ...more }) {
  return {
    key, sort, body, job, visit, kind, method, title,
    state: "waiting", made_at: now, sent_at: null, problems: [], answer: null, size: 0, ...more,
  };
}

/** After a crash nobody knows whether the answer came: what was being sent waits again. */
export function recovered(entries) {
  return entries.map((one) => (one.state === "sending" ? { ...one, state: "waiting" } : one));
}

/** The next test runs to send together, oldest first, within the server's limits. */
export function nextBatch(entries, most = MOST_RECORDS) {
  const waiting = entries
    .filter((one) => one.sort === "run" && one.state === "waiting")
    .sort((a, b) => a.made_at - b.made_at);
  const batch = [];
  let bytes = 0;
  for (const entry of waiting) {
    bytes += JSON.stringify(entry.body).length;
    if (batch.length === most || (batch.length > 0 && bytes > MOST_BYTES)) {
      break;
    }
    batch.push(entry);
  }
  return batch;
}

/** What goes one by one after the test runs: words before pictures, small pictures first. */
export function oneByOne(entries) {
  const rank = { acknowledgement: 0, report: 1, photo: 2 };
  return entries
    .filter((one) => one.sort !== "run" && one.state === "waiting")
    .sort((a, b) => rank[a.sort] - rank[b.sort] || a.size - b.size || a.made_at - b.made_at);
}

const isGood = (status) => status >= 200 && status < 300;
export const isFinal = (status) => status >= 400 && status < 500 && ![401, 408, 425, 429].includes(status);

/** An entry after an answer of its own: sent, refused with reasons, or still waiting. */
export function answered(entry, { status, body, now }) {
  if (isGood(status)) {
    return { ...entry, state: "sent", sent_at: now, answer: body ?? null, problems: [], draft: null, body: null };
  }
  if (entry.blanked && problemsIn(body)[0].code === "key_reused") {
    // The office has it from before this phone was revoked, with its notes; only the answer was lost.
    return answered(entry, { status: 200, body: null, now });
  }
  if (isFinal(status)) {
    return { ...entry, state: "refused", problems: problemsIn(body) };
  }
  return { ...entry, state: "waiting" };
}

/** Entries of a batch after its answer; each is matched by its own key, never by its place. */
export function batchAnswered(batch, { status, body, now }) {
  if (isFinal(status) && batch.length === 1) {
    return [answered(batch[0], { status, body, now })];
  }
  if (!isGood(status)) {
    return batch.map((one) => ({ ...one, state: "waiting" }));
  }
  const byKey = new Map((body?.answers ?? []).map((one) => [one.answer?.client_key, one]));
  return batch.map((entry) => {
    const said = byKey.get(entry.key);
    return said
      ? answered(entry, { status: said.http_status, body: said.answer, now })
      : { ...entry, state: "waiting" };
  });
}

export function problemsIn(body) {
  const found = Array.isArray(body?.errors) ? body.errors : [];
  return found.length > 0 ? found : [{ field: "", message: "The office did not say why." }];
}

/** A revoked phone keeps what was not sent, without names, notes or addresses. */
export function parked(entry) {
  if (!isUnsent(entry)) {
    return null;
  }
  const { draft } = entry;
  return {
    ...entry, state: "parked", place: "", blanked: true, body: blanked(entry.body),
    draft: draft && { ...draft, values: blanked(draft.values) },
  };
}

/** Free words and names emptied; readings stay as they are. */
export function blanked(record) {
  const names = Object.keys(record ?? {}).filter((one) => ["operator", "note", "caption"].includes(one));
  return record && { ...record, ...Object.fromEntries(names.map((one) => [one, ""])) };
}

export function unparked(entry) {
  return entry.state === "parked" ? { ...entry, state: "waiting" } : entry;
}

/** The line that is always in sight: "3 waiting, last sent 2:14 PM". */
export function syncLine(entries, { lastSent, offline, paired, ask, now = new Date() }) {
  const count = (state) => entries.filter((one) => one.state === state).length;
  const waiting = count("waiting") + count("sending");
  const refused = count("refused");
  const parts = [];
  if (refused) {
    parts.push(`${refused} sent back`);
  }
  if (count("parked")) {
    parts.push(`${count("parked")} parked`);
  }
  if (waiting) {
    parts.push(`${waiting} waiting`);
  }
  if (parts.length === 0) {
    parts.push(lastSent ? "All sent" : "Nothing to send yet");
  }
  if (lastSent) {
    parts.push(`last sent ${momentWords(lastSent, now)}`);
  }
  if (paired && ask) {
    parts.push("pair again to send");
  } else if (offline) {
    parts.push("no signal");
  }
  return parts.join(", ");
}

export function stateWords(entry) {
  return {
    waiting: "Waiting", sending: "Sending", sent: "Sent", refused: "Sent back", parked: "Parked",
  }[entry.state];
}

export function countWords(entries) {
  return counted(entries.filter(isUnsent).length, "entry", "entries");
}
