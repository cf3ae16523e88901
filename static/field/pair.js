// Pairing by the one-time code of the office, typed or scanned; the code never stays in the address.

import * as api from "./api.js";
import { button, h, notice, textField } from "./dom.js";
import { isUnsent } from "./outbox.js";
import { paired, phone } from "./phone.js";
import { sync } from "./sending.js";
import { counted } from "./words.js";

let scanned = "";

/** Take the code of a scanned address out of it, so that it is not kept in the history. */
export function takeCode() {
  const found = location.hash.match(/^#pair=(.+)$/);
  if (!found) {
    return false;
  }
  scanned = decodeURIComponent(found[1]);
  history.replaceState(null, "", `${location.pathname}#pair`);
  return true;
}

function label() {
  const kind = /Android|iPhone|iPad/.exec(navigator.userAgent)?.[0] ?? "Browser";
  return `${kind}, ${new Date().toLocaleDateString("en-US", { month: "short", day: "numeric" })}`;
}

export function pairScreen(tools) {
  const typed = { code: scanned, label: label() };
  const said = h("div", { id: "pair-said", role: "alert" });
  const go = async () => {
    if (typed.code.trim() === "") {
      said.replaceChildren(h("p", { class: "problem problem--stop" }, "Type the code the office shows you."));
      document.getElementById("pair-code").focus();
      return;
    }
    said.replaceChildren(h("p", {}, "Pairing…"));
    said.replaceChildren(...await tryToPair(typed, tools));
  };
  return {
    title: "Pair this phone", back: phone.pairing ? "#phone" : null,
    body: [
      phone.revoked ? notice("attention", "This phone was taken out of use", h("p", {}, revokedWords())) : null,
      phone.ask ? notice("attention", "Pair again to send", h("p", {}, `${phone.ask} Ask the office for a new code.`)) : null,
      h("p", {}, "Ask the office for a code. It works once, within 15 minutes."),
      textField({
        id: "pair-code", label: "Code from the office", value: typed.code, autocapitalize: "characters", spellcheck: "false",
        autocomplete: "one-time-code", class: "reading", onchange: (value) => { typed.code = value; },
      }),
      textField({ id: "pair-label", label: "Name of this phone", value: typed.label, onchange: (value) => { typed.label = value; } }),
      said,
    ],
    action: button("Pair this phone", go, { look: "button--main" }),
  };
}

export function revokedWords() {
  const left = phone.entries.filter(isUnsent).length + phone.drafts.length;
  const kept = left
    ? `${counted(left, "record")} not sent yet ${left === 1 ? "is" : "are"} kept here without names and addresses, and ${left === 1 ? "goes" : "go"} out once it is paired again.`
    : "Nothing is waiting on it.";
  return `The office has ended its pairing. Names, addresses and jobs were taken off this phone. ${kept} Call the office.`;
}

async function tryToPair(typed, tools) {
  const problem = (words) => [h("p", { class: "problem problem--stop" }, words)];
  let answer;
  try {
    answer = await api.pair(typed.code.trim(), typed.label.trim() || label());
  } catch {
    return problem("No answer from the office. Find a signal and try again.");
  }
  if (answer.status !== 201) {
    return problem(api.wordsOf(answer) || "The office did not take this code. Ask for a new one.");
  }
  scanned = "";
  const { device, token, name, crew } = answer.data;
  await paired({ device, token, name, crew });
  await sync({ asked: true });
  tools.go("#");
  return [];
}
