// What this phone knows: a copy of its storage in memory, and every change written through at once.

import { blanked, isUnsent, parked, recovered, unparked } from "./outbox.js";
import * as store from "./store.js";

const KEEP_MS = 72 * 3600_000;

export const phone = {
  pairing: null, // {token, device, name, crew}
  ask: null, // words, when the token no longer works
  revoked: false,
  package: null,
  etag: null,
  fetchedAt: null,
  lastSent: null,
  offline: !navigator.onLine,
  skew: null, // server's clock less ours, ms
  light: "auto",
  persisted: null,
  entries: [],
  drafts: [],
  visits: [],
};

const listeners = new Set();

export function onChange(listener) {
  listeners.add(listener);
}

export function changed() {
  for (const listener of listeners) {
    listener();
  }
}

const FACTS = ["pairing", "ask", "revoked", "package", "etag", "fetchedAt", "lastSent", "light"];
const fact = (name) => ["facts", "put", { name, value: phone[name] }];

export async function load() {
  for (const one of await store.all("facts")) {
    if (FACTS.includes(one.name)) {
      phone[one.name] = one.value;
    }
  }
  phone.entries = await store.all("queue");
  phone.drafts = await store.all("drafts");
  phone.visits = await store.all("visits");
}

/** At the start: what was being sent when the phone stopped waits again; old sent ones go. */
export async function begin() {
  await load();
  const now = Date.now();
  const kept = recovered(phone.entries).filter(
    (one) => isUnsent(one) || now - one.sent_at < KEEP_MS);
  const gone = phone.entries.filter((one) => !kept.some((other) => other.key === one.key));
  const steps = [
    ...kept.map((one) => ["queue", "put", one]),
    ...gone.map((one) => ["queue", "delete", one.key]),
  ];
  if (steps.length > 0) {
    await store.change(steps);
  }
  phone.entries = kept;
  await forgetOldPackage(now);
}

/** Visits that are over, sent, and no longer on the round: what was said of them goes too. */
export async function tidy() {
  const here = new Set((phone.package?.jobs ?? []).flatMap((job) => job.visits.map((one) => one.id)));
  const open = new Set([...phone.entries.filter(isUnsent), ...phone.drafts].map((one) => one.visit));
  const over = phone.visits.filter((one) => one.left_at && !here.has(one.id) && !open.has(one.id));
  if (over.length > 0) {
    await store.change(over.map((one) => ["visits", "delete", one.id]));
    phone.visits = phone.visits.filter((one) => !over.includes(one));
  }
}

/** Names and addresses are not kept for long where they can be fetched again. */
async function forgetOldPackage(now) {
  if (phone.package && navigator.onLine && phone.drafts.length === 0 && now - phone.fetchedAt > KEEP_MS) {
    await remember({ package: null, etag: null });
  }
}

export async function remember(changes) {
  Object.assign(phone, changes);
  const kept = Object.keys(changes).filter((name) => FACTS.includes(name));
  if (kept.length > 0) {
    await store.change(kept.map(fact));
  }
  changed();
}

function replaced(list, value, key) {
  const rest = list.filter((one) => one[key] !== value[key]);
  return [...rest, value];
}

export async function saveDraft(draft) {
  phone.drafts = replaced(phone.drafts, draft, "id");
  await store.change([["drafts", "put", draft]]);
}

export async function dropDraft(draft) {
  await store.change([["drafts", "delete", draft.id]]);
  phone.drafts = phone.drafts.filter((one) => one.id !== draft.id);
}

export async function saveVisit(state) {
  phone.visits = replaced(phone.visits, state, "id");
  await store.change([["visits", "put", state]]);
}

export async function saveEntries(entries) {
  await store.change(entries.map((one) => ["queue", "put", one]));
  for (const one of entries) {
    phone.entries = replaced(phone.entries, one, "key");
  }
  changed();
}

/** A finished test leaves the drafts and enters the queue in one step. */
export async function queueDraft(draft, entry) {
  await store.change([["drafts", "delete", draft.id], ["queue", "put", entry]]);
  phone.drafts = phone.drafts.filter((one) => one.id !== draft.id);
  phone.entries = replaced(phone.entries, entry, "key");
  changed();
}

/** A refused record goes back under the hand: out of the queue, into the drafts, in one step. */
export async function reopen(entry, draft) {
  await store.change([["queue", "delete", entry.key], ["drafts", "put", draft]]);
  phone.entries = phone.entries.filter((one) => one.key !== entry.key);
  phone.drafts = replaced(phone.drafts, draft, "id");
  changed();
}

export async function queuePhoto(entry, blob) {
  await store.change([["blobs", "put", { key: entry.key, blob }], ["queue", "put", entry]]);
  phone.entries = replaced(phone.entries, entry, "key");
  changed();
}

/** Take an entry out: a photo that was taken again, a report that was written anew. */
export async function dropEntry(entry) {
  await store.change([["queue", "delete", entry.key], ["blobs", "delete", entry.key]]);
  phone.entries = phone.entries.filter((one) => one.key !== entry.key);
  changed();
}

export async function photoOf(entry) {
  return (await store.get("blobs", entry.key))?.blob ?? null;
}

/** The picture itself is needed no longer once the office has it. */
export async function photoSent(entry) {
  await store.change([["queue", "put", entry], ["blobs", "delete", entry.key]]);
  phone.entries = replaced(phone.entries, entry, "key");
  changed();
}

/** Revoked: names, addresses and all of the package go; what was not sent stays, parked. */
export async function wipe() {
  const kept = phone.entries.map(parked).filter(Boolean);
  const gone = phone.entries.filter((one) => !kept.some((other) => other.key === one.key));
  const drafts = phone.drafts.map(anonymous);
  Object.assign(phone, {
    pairing: null, ask: null, revoked: true, package: null, etag: null, fetchedAt: null,
    entries: kept, drafts, visits: phone.visits.map(anonymous),
  });
  await store.change([
    ...FACTS.map(fact),
    ...kept.map((one) => ["queue", "put", one]),
    ...gone.flatMap((one) => [["queue", "delete", one.key], ["blobs", "delete", one.key]]),
    ...drafts.map((one) => ["drafts", "put", one]),
    ...phone.visits.map((one) => ["visits", "put", one]),
    ["log", "clear"],
  ]);
  changed();
}

/** A draft or the answers of a visit, without names and free words. */
function anonymous(kept) {
  return { ...blanked(kept), place: "", values: blanked(kept.values), read: {} };
}

/** Paired (again): what was parked or waited for a token may go now. */
export async function paired(pairing) {
  phone.entries = phone.entries.map(unparked);
  Object.assign(phone, { pairing, ask: null, revoked: false, etag: null });
  await store.change([
    ...["pairing", "ask", "revoked", "etag"].map(fact),
    ...phone.entries.map((one) => ["queue", "put", one]),
  ]);
  phone.persisted = await store.askToPersist();
  changed();
}

export async function note(what) {
  const line = { id: crypto.randomUUID(), at: Date.now(), ...what };
  await store.change([["log", "put", line]]);
}
