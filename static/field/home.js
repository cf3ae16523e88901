// The first screen: visits of today and tomorrow; and the phone's own page.

import { button, choice, h, link, notice, tab } from "./dom.js";
import { instrumentWords } from "./forms.js";
import { isUnsent } from "./outbox.js";
import { revokedWords } from "./pair.js";
import { phone, remember } from "./phone.js";
import { sync } from "./sending.js";
import * as update from "./update.js";
import { jobsByDay } from "./visit.js";
import { counted, dateWords, dayWords, momentWords, sizeWords } from "./words.js";

const LIGHTS = [["auto", "As the phone is set"], ["sun", "Sun: black on white"]];

export function homeScreen(tools) {
  return {
    title: "Your visits", lead: phone.pairing ? [phone.pairing.name, phone.pairing.crew].filter(Boolean).join(", ") : null,
    body: [
      ...notices(),
      ...days(),
      ...looseDrafts(),
      h("nav", { class: "acts", "aria-label": "More" }, link("Outbox", "#outbox"), link("This phone", "#phone")),
    ],
    action: update.isWaiting()
      ? button("Use the new version", update.use, { look: "button--main" })
      : button("Fetch and send now", () => sync({ asked: true }).then(() => tools.redraw(null)), { look: "button--main" }),
  };
}

function notices() {
  return [
    phone.revoked ? notice("attention", "This phone was taken out of use", h("p", {}, revokedWords()), link("Pair it again", "#pair")) : null,
    phone.ask ? notice("attention", "Pair again to send", h("p", {}, phone.ask), h("p", {}, "Go on working; everything waits here."), link("Pair this phone again", "#pair")) : null,
    clockNotice(),
    update.isWaiting() ? notice("note", "A new version is ready", h("p", {}, "It is taken up when you say so, or when the page is closed.")) : null,
  ].filter(Boolean);
}

export function clockNotice() {
  if (phone.skew === null) {
    return null;
  }
  const minutes = Math.round(Math.abs(phone.skew) / 60_000);
  const size = minutes < 120 ? counted(minutes, "minute") : minutes < 2880 ? counted(Math.round(minutes / 60), "hour") : counted(Math.round(minutes / 1440), "day");
  return notice("attention", "This phone's clock is wrong",
    h("p", {}, `It is ${size} ${phone.skew > 0 ? "behind" : "ahead"}. Set it in the phone's settings. The office sees both times; nothing is lost.`));
}

function days() {
  if (!phone.package) {
    return [notice("note", phone.pairing ? "No visits on this phone yet" : "This phone is not paired",
      h("p", {}, phone.pairing ? "Find a signal and fetch them once; after that no signal is needed." : "Pair it once with a code from the office."),
      phone.pairing ? null : link("Pair this phone", "#pair"))];
  }
  const list = jobsByDay(phone.package);
  if (list.length === 0) {
    return [h("p", {}, "No visit is planned for today or tomorrow.")];
  }
  return list.map(([day, visits]) =>
    h("section", { class: "day" }, h("h2", {}, dayWords(day)), visits.map(visitCard)));
}

function visitCard({ job, visit }) {
  const state = phone.visits.find((one) => one.id === visit.id);
  const [words, look] = state?.left_at ? ["Left", "done"] : state?.arrived_at ? ["At the house", "attention"]
    : visit.outcome ? [visit.outcome_words ?? visit.outcome, "done"] : ["To do", "note"];
  const stops = (job.safety_stops ?? []).length;
  return h("a", { href: `#visit/${visit.id}`, class: "record record--link" },
    h("span", { class: "record__head" }, h("strong", {}, visit.kind_words), tab(words, look)),
    h("span", { class: "address" }, [job.house.address, job.house.unit].filter(Boolean).join(", ")),
    h("span", {}, job.house.city),
    h("span", {}, h("bdi", {}, job.client_name), `, job ${job.number}`),
    stops ? tab(counted(stops, "safety stop"), "stop") : null);
}

/** Drafts whose visit is no longer on the phone: never out of sight. */
function looseDrafts() {
  const known = new Set(jobsByDay(phone.package).flatMap(([, list]) => list.map((one) => one.visit.id)));
  const loose = phone.drafts.filter((one) => !known.has(one.visit));
  if (loose.length === 0) {
    return [];
  }
  return [h("section", { class: "day" }, h("h2", {}, "Tests not finished"),
    loose.map((one) => link(`${phone.package?.forms?.[one.kind]?.title ?? one.kind}, begun ${momentWords(one.begun_at)}`, `#test/${one.id}`)))];
}

export function phoneScreen(tools) {
  return {
    title: "This phone", back: "#",
    body: [
      h("section", { class: "record" },
        h("p", {}, phone.pairing ? `Paired for ${phone.pairing.name}${phone.pairing.crew ? `, ${phone.pairing.crew}` : ""}.` : "Not paired."),
        h("p", {}, phone.fetchedAt ? `Visits fetched ${momentWords(phone.fetchedAt)}.` : "No visits fetched yet."),
        h("p", {}, keptWords()),
        h("p", {}, `Version ${document.documentElement.dataset.version}.`)),
      choice({ label: "Light", name: "light", options: LIGHTS, chosen: phone.light, onchoose: setLight }),
      clockNotice(),
      h("h2", {}, "Instruments"),
      instruments(),
      h("p", { id: "storage-size", class: "hint" }),
      link(phone.pairing ? "Pair again with a new code" : "Pair this phone", "#pair"),
    ],
    action: update.isWaiting() ? button("Use the new version", update.use, { look: "button--main" }) : button("Back to the visits", () => tools.go("#"), { look: "button--main" }),
    shown: showSize,
  };
}

function keptWords() {
  const unsent = phone.entries.filter(isUnsent).length;
  const persist = phone.persisted === false ? " The browser did not promise to keep them: put this page on the home screen." : "";
  return `${counted(unsent, "record")} not sent, ${counted(phone.drafts.length, "draft")}.${persist}`;
}

function instruments() {
  const list = phone.package?.instruments ?? [];
  return list.length === 0
    ? h("p", {}, "None is known on this phone.")
    : h("ul", { class: "plain" }, list.map((one) => h("li", {}, instrumentWords(one), one.due_on ? `, due ${dateWords(one.due_on)}` : "")));
}

async function showSize() {
  const size = await navigator.storage?.estimate?.().catch(() => null);
  const line = document.getElementById("storage-size");
  if (size?.usage && line) {
    line.textContent = `Takes ${sizeWords(size.usage)} on this phone.`;
  }
}

export async function setLight(value) {
  await remember({ light: value });
  applyLight();
}

export function applyLight() {
  const sun = phone.light === "sun";
  sun ? document.documentElement.setAttribute("data-light", "sun") : document.documentElement.removeAttribute("data-light");
  document.getElementById("light")?.setAttribute("aria-pressed", String(sun));
}
