// One reading: big figures, a sign key beside them, the unit fixed, other units on tap.

import { complaint, isBlank } from "./documents.js";
import { h } from "./dom.js";
import { canBeNegative, inOtherUnits, readNumber, shownUnit, toSent, turnedSign, unitOf } from "./words.js";

export const idOf = (path) => `f-${path.replace(/[^A-Za-z0-9_]+/g, "-")}`;

/** form: {draft, definition, save()}; the text is kept as typed, whatever it is. */
export function numberField({ field, path, value, form, onvalue, label = field.label }) {
  const id = idOf(path);
  const { draft, definition } = form;
  const unit = shownUnit(field, definition, draft.units);
  const input = h("input", {
    id, class: "reading", type: "text", inputmode: "decimal", autocomplete: "off", enterkeyhint: "next",
    value: value ?? "", "aria-describedby": `${id}-said`,
  });
  const said = h("p", { class: "problem", id: `${id}-said`, "aria-live": "polite", hidden: true });
  const twin = h("p", { class: "twin", id: `${id}-twin`, "aria-live": "polite", hidden: true });
  const why = whyField({ path, id, form });
  const refresh = () => showComplaint({ field, input, said, why, form, path, twin });
  const keep = () => {
    onvalue(input.value);
    form.save(path);
    refresh();
  };
  input.addEventListener("input", keep);
  const box = h("div", { class: "field field--reading", "data-path": path },
    h("label", { for: id }, label),
    field.hint ? h("p", { class: "hint" }, field.hint) : null,
    h("div", { class: "entry" },
      canBeNegative(field.quantity) ? signKey(input, keep, label) : null,
      input,
      unitKey({ field, unit, input, twin, form })),
    twin, said, why);
  refresh();
  return box;
}

function signKey(input, keep, label) {
  return h("button", {
    type: "button", class: "sign", "aria-label": `Change the sign: ${label}`,
    onclick: () => {
      input.value = turnedSign(input.value);
      keep();
      input.focus();
    },
  }, "+/\u2212");
}

function unitKey({ field, unit, input, twin, form }) {
  const known = form.definition.units[field.quantity];
  if (!known || known.choices.length < 2) {
    return unit ? h("span", { class: "unit" }, unit) : null;
  }
  const key = h("button", {
    type: "button", class: "unit", "aria-expanded": "false", "aria-label": `${unit}: show in other units`,
    onclick: () => {
      twin.hidden = !twin.hidden;
      key.setAttribute("aria-expanded", String(!twin.hidden));
      twin.textContent = twinWords(field, input.value, form);
    },
  }, unit);
  return key;
}

function twinWords(field, typed, form) {
  const read = readNumber(typed);
  if (read.value === undefined) {
    return "Type a reading to see it in other units.";
  }
  return `= ${inOtherUnits(toSent(read.value, field), field, form.definition, form.draft.units)}`;
}

function showComplaint({ field, input, said, why, form, path, twin }) {
  const found = complaint(input.value, field, form.definition, form.draft.units);
  said.textContent = found?.stop ?? found?.warn ?? "";
  said.hidden = !found;
  said.classList.toggle("problem--stop", Boolean(found?.stop));
  input.setAttribute("aria-invalid", String(Boolean(found?.stop)));
  why.hidden = !found?.warn && isBlank(form.draft.reasons?.[path]);
  if (!twin.hidden) {
    twin.textContent = twinWords(field, input.value, form);
  }
}

function whyField({ path, id, form }) {
  return h("div", { class: "why", hidden: true },
    h("label", { for: `${id}-why` }, "It is right, because"),
    h("input", {
      id: `${id}-why`, class: "text", type: "text", autocomplete: "off", value: form.draft.reasons?.[path] ?? "",
      oninput: (event) => {
        form.draft.reasons = { ...form.draft.reasons, [path]: event.target.value };
        form.save(path);
      },
    }));
}

/** The SI value of what is typed, or null. */
export function typedSI(typed, field, form) {
  const read = readNumber(typed);
  if (read.value === undefined) {
    return null;
  }
  const unit = unitOf(field, form.definition, form.draft.units);
  return unit ? (toSent(read.value, field) + unit.offset) * unit.factor : toSent(read.value, field);
}
