// Sends what waits and fetches what is new, on start, when the line is back, on sight and by button.

import * as api from "./api.js";
import { answered, batchAnswered, isFinal, MOST_RECORDS, nextBatch, oneByOne } from "./outbox.js";
import { note, phone, photoOf, photoSent, remember, saveEntries, tidy, wipe } from "./phone.js";
import { fromSI, zoned } from "./words.js";

const LOCK = "hearthledger-outbox";
const WRONG_CLOCK_MS = 10 * 60_000;
const SAME_FIGURE = 1e-6;

let pauseUntil = 0;
let again = false;

class Stop extends Error {}

/** One round of sending and fetching; a second call while one runs asks for one more round. */
export function sync({ asked = false } = {}) {
  if (!phone.pairing || phone.ask || (!asked && Date.now() < pauseUntil)) {
    return Promise.resolve();
  }
  again = true;
  return navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) => {
    while (lock && again) {
      again = false;
      await round();
    }
  });
}

async function round() {
  try {
    await sendRuns();
    await sendOthers();
    await fetchNew();
    await compareRecords();
  } catch (problem) {
    await takeBack();
    if (problem instanceof api.NoAnswer) {
      await remember({ offline: true });
    } else if (!(problem instanceof Stop)) {
      throw problem;
    }
  }
}

async function takeBack() {
  const sending = phone.entries.filter((one) => one.state === "sending");
  if (sending.length > 0) {
    await saveEntries(sending.map((one) => ({ ...one, state: "waiting" })));
  }
}

/** What every answer tells beside its content: the line, the clock, and whether we are known. */
async function heed(answer) {
  const skew = answer.date === null ? null : answer.date - Date.now();
  Object.assign(phone, { offline: false, skew: Math.abs(skew ?? 0) > WRONG_CLOCK_MS ? skew : null });
  if (answer.status === 401) {
    if (api.codeOf(answer) === "device_revoked") {
      await wipe();
    } else {
      await remember({ ask: "The office no longer knows this phone's pairing. Nothing is lost." });
    }
    throw new Stop();
  }
  if (answer.status === 429 || answer.status >= 500) {
    pauseUntil = Date.now() + (answer.retryAfter ?? 30) * 1000;
    throw new Stop();
  }
  return answer;
}

async function sendRuns() {
  let most = MOST_RECORDS;
  for (let batch = nextBatch(phone.entries); batch.length > 0; batch = nextBatch(phone.entries, most)) {
    await saveEntries(batch.map((one) => ({ ...one, state: "sending" })));
    const answer = await heed(
      await api.sendBatch(phone.pairing.token, batch.map((one) => one.body), zoned()));
    const after = batchAnswered(batch, { status: answer.status, body: answer.data, now: Date.now() });
    await noteAnswers(after);
    if (after.every((one) => one.state === "waiting")) {
      if (batch.length === 1 || !isFinal(answer.status)) {
        throw new Stop();
      }
      // The whole batch was turned away: one by one, the good ones get through.
      most = 1;
    }
  }
}

async function sendOthers() {
  for (const entry of oneByOne(phone.entries)) {
    await saveEntries([{ ...entry, state: "sending" }]);
    const answer = await heed(await sendOne(entry));
    await noteAnswers([answered(entry, { status: answer.status, body: answer.data, now: Date.now() })]);
  }
}

async function sendOne(entry) {
  const { token } = phone.pairing;
  if (entry.sort === "report") {
    return api.sendReport(token, entry.body);
  }
  if (entry.sort === "acknowledgement") {
    return api.acknowledge(token, entry.stop, entry.body);
  }
  return api.sendPhoto(token, entry.body, await photoOf(entry));
}

async function noteAnswers(entries) {
  for (const one of entries) {
    if (one.sort === "photo" && one.state === "sent") {
      await photoSent(one);
    }
  }
  await saveEntries(entries);
  if (entries.some((one) => one.state === "sent")) {
    await remember({ lastSent: Date.now() });
  }
}

async function fetchNew() {
  const answer = await heed(await api.fetchPackage(phone.pairing.token, phone.etag));
  if (answer.status === 200) {
    await remember({ package: answer.data, etag: answer.etag, fetchedAt: Date.now() });
    await tidy();
  } else if (answer.status === 304) {
    await remember({ fetchedAt: Date.now() });
  }
}

/** The server's result is the record: where it differs from what was shown, say so and log it. */
async function compareRecords() {
  const open = phone.entries.filter(
    (one) => one.state === "sent" && one.preview && !one.record && one.answer?.id);
  for (const entry of open) {
    const answer = await heed(await api.readRun(phone.pairing.token, entry.answer.id));
    const flow = answer.data?.result?.flow_50;
    if (answer.status !== 200 || typeof flow !== "number") {
      continue;
    }
    const here = fromSI(flow, entry.preview.unit);
    const differs = Math.abs(entry.preview.flow50 / here - 1) > SAME_FIGURE;
    await saveEntries([{ ...entry, record: { flow50: here, differs } }]);
    if (differs) {
      await note({ what: "preview differs", key: entry.key, shown: entry.preview.flow50, record: here });
    }
  }
}

/** Try whenever there is a chance; none of it is relied upon alone. */
export function listen() {
  window.addEventListener("online", () => { phone.offline = false; sync(); });
  window.addEventListener("offline", () => remember({ offline: true }));
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") {
      sync();
    }
  });
}
