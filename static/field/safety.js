// A safety stop fills the screen with words and steps until someone says by name that it was read.

import { button, h, textField } from "./dom.js";
import { valueAt } from "./documents.js";
import { entryOf } from "./outbox.js";
import { phone, saveEntries, saveVisit } from "./phone.js";
import { sync } from "./sending.js";
import { newVisit, unread } from "./visit.js";
import { clock, readNumber, toSI, zoned } from "./words.js";

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

/** Readings past a limit the office sent along; the server's own check comes with the record. */
export function stopsOf(document, known, definition) {
  return (known?.stop_rules ?? [])
    .filter((rule) => rule.kind === document.kind)
    .flatMap((rule) => places(document, rule.path).filter((path) => isPast(document, path, rule, definition))
      .map((path) => ({ ...rule, hazard: `${rule.hazard}.${path}`, words: wordsAt(document, path, rule) })));
}

/** "appliances[].draft" as every path there is in the document. */
function places(document, path) {
  const [first, ...rest] = path.split("[]");
  return rest.reduce((found, part) => found.flatMap((here) =>
    (valueAt(document, here) ?? []).map((_, number) => `${here}[${number}]${part}`)), [first]);
}

function isPast(document, path, rule, definition) {
  const value = valueAt(document, path);
  if (value === undefined || value === null) {
    return false;
  }
  if (rule.equals !== undefined && rule.equals !== null) {
    return value === rule.equals;
  }
  const known = definition.units[rule.quantity];
  const unit = known?.choices.find((one) => one.unit === document.units[known.named_by]);
  const si = toSI(readNumber(value).value, unit);
  return (rule.above ?? null) !== null ? si > rule.above : si < rule.below;
}

function wordsAt(document, path, rule) {
  const row = path.match(/^(.*\[\d+\])\./)?.[1];
  const name = row ? valueAt(document, row)?.name : "";
  const value = valueAt(document, path);
  const read = typeof value === "number" ? ` Read: ${value}${rule.unit ? ` ${rule.unit}` : ""}.` : "";
  return `${name ? `${name}: ` : ""}${rule.words}${read}`;
}
