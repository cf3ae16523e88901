// A safety stop fills the screen with words and steps until someone says by name that it was read.

import { button, h, textField } from "./dom.js";
import { valueAt } from "./documents.js";
import { entryOf } from "./outbox.js";
import { phone, saveEntries, saveVisit } from "./phone.js";
import { sync } from "./sending.js";
import { newVisit, unread } from "./visit.js";
import { clock, zoned } from "./words.js";

let showing = Promise.resolve();
const asked = new Set();

/** Stops one after the other, each until it is read. */
export function showStops({ stops, visit, job }) {
  for (const stop of stops) {
    showing = showing.then(() => showOne({ stop, visit, job }));
  }
  return showing;
}

function showOne({ stop, visit, job }) {
  return new Promise((resolve) => {
    let name = phone.pairing?.name ?? "";
    const wrong = h("p", { class: "problem problem--stop", role: "alert", hidden: true }, "Write your name.");
    const close = async () => {
      if (name.trim() === "") {
        wrong.hidden = false;
        return;
      }
      await noteRead({ stop, visit, job, name: name.trim() });
      dialog.close();
      dialog.remove();
      resolve();
    };
    const dialog = h("dialog", { class: "stop", role: "alertdialog", "aria-labelledby": "stop-title", "aria-describedby": "stop-words", oncancel: (event) => event.preventDefault() },
      h("h2", { id: "stop-title", tabindex: "-1" }, "Stop. Not safe."),
      h("p", { id: "stop-words", class: "stop__words" }, stop.words),
      h("ol", { class: "stop__steps" }, (stop.steps ?? []).map((one) => h("li", {}, one))),
      stop.cautions ? h("p", {}, stop.cautions) : null,
      textField({ id: "stop-name", label: "Read by", value: name, onchange: (typed) => { name = typed; } }),
      wrong,
      button("I have read this", close, { look: "button--main" }));
    document.body.append(dialog);
    dialog.showModal();
    dialog.querySelector("h2").focus();
  });
}

/** Kept on the phone at once; sent by the stop's own id where the office knows it already. */
async function noteRead({ stop, visit, job, name }) {
  if (stop.id) {
    const key = crypto.randomUUID();
    await saveEntries([entryOf({
      key, sort: "acknowledgement", body: { name, at: zoned() }, job, visit, stop: stop.id,
      title: "Safety stop read", now: Date.now(),
    })]);
    sync();
    return;
  }
  const state = phone.visits.find((one) => one.id === visit) ?? newVisit(visit, job);
  state.read = { ...state.read, [stop.hazard]: { name, at: clock(new Date()), words: stop.words } };
  await saveVisit(state);
}

/** Stops the office has raised on a job of this phone and nobody has read yet. */
export function showUnread() {
  for (const job of phone.package?.jobs ?? []) {
    const stops = unread(job, null, phone.entries).filter((one) => !asked.has(one.id));
    stops.forEach((one) => asked.add(one.id));
    showStops({ stops, visit: job.visits[0]?.id ?? null, job: job.id });
  }
}

/** The stop a safety question raises at once. */
export function stopOfCaution(caution, known) {
  return {
    hazard: `caution.${caution.code}`, words: `${caution.look_for}: found.`, steps: sentences(caution.act),
    cautions: Object.values(known?.forms ?? {})[0]?.defer ?? "",
  };
}

const sentences = (words) => words.split(/(?<=[.!])\s+/).filter(Boolean);

/** Readings past a limit the office sent along, the gravest of each hazard; the server's own check
 * comes with the record. */
export function stopsOf(document, known) {
  const found = new Map();
  for (const rule of (known?.stop_rules ?? []).filter((one) => one.kind === document.kind)) {
    for (const path of places(document, rule.path)) {
      const number = path.match(/\[(\d+)\]/)?.[1];
      const hazard = number === undefined ? rule.hazard : `${rule.hazard}.${Number(number) + 1}`;
      if (!found.has(hazard) && isPast(document, path, rule)) {
        found.set(hazard, { ...rule, hazard, words: wordsAt(document, path, rule) });
      }
    }
  }
  return [...found.values()];
}

/** "appliances[].draft" as every path there is in the document. */
function places(document, path) {
  const [first, ...rest] = path.split("[]");
  return rest.reduce((found, part) => found.flatMap((here) =>
    (valueAt(document, here) ?? []).map((_, number) => `${here}[${number}]${part}`)), [first]);
}

const beside = (document, path, name) => valueAt(document, path.replace(/[^.]+$/, name)) ?? null;

function isPast(document, path, rule) {
  const value = valueAt(document, path) ?? null;
  const fits = (rule.when ?? []).every((one) => one.in.includes(beside(document, path, one.name)));
  if (value === null || !fits) {
    return false;
  }
  if ((rule.equals ?? null) !== null) {
    return value === rule.equals;
  }
  if ((rule.below ?? null) !== null) {
    return isDrawnDown(document, value, rule);
  }
  const less = rule.minus ? valueAt(document, rule.minus) ?? 0 : 0;
  // 35.3 less 0.3 is 35, which binary fractions miss.
  const held = airFree(document, path, rule, Math.round((value - less) * 1e9) / 1e9);
  return held !== null && ((rule.reaches ?? null) !== null ? held >= rule.reaches : held > rule.above);
}

/** A pressure less its baseline, as the gauge resolves it, beyond a limit that some line calls for. */
function isDrawnDown(document, value, rule) {
  const base = valueAt(document, rule.minus) ?? null;
  const called = (valueAt(document, rule.some.list) ?? []).some((one) => rule.some.in.includes(one[rule.some.name]));
  if (base === null || !called) {
    return false;
  }
  const net = (value - base) * rule.units.factors[document.units[rule.units.named_by]];
  // Halves away from zero, as the server rounds them; 1e-9 mends what binary fractions miss.
  const steps = rule.step ? Math.sign(net) * Math.floor(Math.abs(net) / rule.step + 0.5 + 1e-9) : net;
  return steps * (rule.step || 1) < rule.below - 1e-9;
}

/** A flue reading as it would be without the air in it; null where the oxygen cannot tell. */
function airFree(document, path, rule, value) {
  if (!rule.air_free) {
    return value;
  }
  const { oxygen, air, highest } = rule.air_free;
  const read = beside(document, path, oxygen);
  return read === null || read >= highest ? null : (value * air) / (air - read);
}

function wordsAt(document, path, rule) {
  const name = path.includes("[") ? beside(document, path, "name") : null;
  const value = valueAt(document, path);
  const read = typeof value === "number" ? ` Read: ${value}${rule.unit ? ` ${rule.unit}` : ""}.` : "";
  return `${name ? `${name}: ` : ""}${rule.words}${read}`;
}
