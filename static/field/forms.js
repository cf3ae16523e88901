// Draws the form of any kind of test from its definition: groups, lists, choices, yes and no, readings.

import { OWN_FIELDS, isBlank } from "./documents.js";
import { button, choice, h, selectField, textField } from "./dom.js";
import { idOf, numberField } from "./number_field.js";
import { dateWords, spelled } from "./words.js";

const OTHER = "__other__";
const FEW = 4;

/** form: {draft, definition, instruments, save(path), redraw(focusId)}. */
export function formFields(fields, values, path, form) {
  return fields
    .filter((one) => path !== "" || !OWN_FIELDS.has(one.name))
    .map((one) => formField(one, values, path ? `${path}.${one.name}` : one.name, form));
}

export function formField(field, values, path, form) {
  const draw = {
    group: groupField, list: listField, numbers: valuesField, texts: valuesField,
    number: readingField, flag: flagField, choice: choiceField, text: wordsField,
  }[field.type];
  return draw ? draw({ field, values, path, form }) : null;
}

const setter = (values, name) => (value) => { values[name] = value; };

function readingField({ field, values, path, form }) {
  return numberField({ field, path, form, value: values[field.name], onvalue: setter(values, field.name) });
}

function flagField({ field, values, path, form }) {
  return choiceKeys({ field, values, path, form, options: [[true, "Yes"], [false, "No"]] });
}

function choiceField({ field, values, path, form }) {
  const options = field.choices.map((one) => [one, spelled(one)]);
  if (options.length <= FEW) {
    return choiceKeys({ field, values, path, form, options });
  }
  return h("div", { "data-path": path }, selectField({
    id: idOf(path), label: field.label, hint: field.hint, value: values[field.name] ?? "",
    options: [["", "Not chosen"], ...options],
    onchange: (value) => { values[field.name] = value; form.save(path); },
  }));
}

function choiceKeys({ field, values, path, form, options }) {
  const box = choice({
    label: field.label, hint: field.hint, name: idOf(path), options, chosen: values[field.name] ?? null,
    onchoose: (value) => { set(value); },
  });
  const clear = button("Clear this answer", () => set(""), { look: "button--quiet" });
  const set = (value) => {
    values[field.name] = value;
    form.save(path);
    clear.hidden = value === "";
    if (value === "") {
      box.querySelector("input:checked").checked = false;
      box.querySelector("input").focus();
    }
  };
  clear.hidden = isBlank(values[field.name]);
  box.dataset.path = path;
  // What need not be answered can be taken back: not looked at is not the same as not found.
  if (!field.required) {
    box.append(clear);
  }
  return box;
}

function wordsField({ field, values, path, form }) {
  if (field.name === "serial") {
    return serialField({ field, values, path, form });
  }
  if (field.name === "configuration") {
    const known = configurations(values.serial, form);
    if (known.length > 0) {
      return registerField({ field, values, path, form, known: known.map((one) => [one, spelled(one)]) });
    }
  }
  const long = field.name === "note";
  return h("div", { "data-path": path }, textField({
    id: idOf(path), label: field.label, hint: field.hint, value: values[field.name], lines: long ? 3 : 1,
    onchange: (value) => { values[field.name] = value; form.save(path); },
  }));
}

/** Instruments of the register, with the state of their calibration in words. */
function serialField({ field, values, path, form }) {
  const kind = path.startsWith("gauge") ? "gauge" : "fan";
  const known = form.instruments.filter((one) => one.kind === kind).map((one) => [one.serial, instrumentWords(one)]);
  return registerField({ field, values, path, form, known, redraw: kind === "fan" });
}

export function instrumentWords(one) {
  const state = { current: "calibrated", overdue: "calibration overdue", never: "never calibrated", retired: "retired" }[one.state];
  return [one.serial, one.description, state ?? one.state].filter(Boolean).join(", ");
}

export function calibrationWarning(serial, form) {
  const one = form.instruments.find((known) => known.serial === serial);
  if (!serial || one?.state === "current") {
    return "";
  }
  if (!one) {
    return "This instrument is not in the register. The office will ask about it.";
  }
  return {
    overdue: `Its calibration was due on ${dateWords(one.due_on)}. Use another one where you can.`,
    never: "It was never calibrated. Use another one where you can.",
    retired: "It is retired. Use another one.",
  }[one.state] ?? "";
}

export function configurations(serial, form) {
  const equations = form.instruments.find((one) => one.serial === serial)?.equations ?? [];
  return [...new Set(equations.map((one) => one.configuration))];
}

/** A choice from the register, or a number typed by hand where it is not in it. */
function registerField({ field, values, path, form, known, redraw = false }) {
  const value = values[field.name] ?? "";
  const byHand = values[`_${field.name}`] === OTHER || (!isBlank(value) && !known.some(([code]) => code === value));
  const warning = h("p", { class: "problem", "aria-live": "polite" });
  const tell = () => {
    warning.textContent = field.name === "serial" ? calibrationWarning(values[field.name], form) : "";
    warning.hidden = warning.textContent === "";
  };
  const set = (chosen) => {
    values[`_${field.name}`] = chosen === OTHER ? OTHER : "";
    values[field.name] = chosen === OTHER ? "" : chosen;
    form.save(path);
    tell();
    if (redraw || chosen === OTHER || byHand) {
      form.redraw(idOf(path));
    }
  };
  tell();
  return h("div", { "data-path": path },
    selectField({
      id: idOf(path), label: field.label, hint: field.hint, value: byHand ? OTHER : value,
      options: [["", "Not chosen"], ...known, [OTHER, "Another one"]], onchange: set,
    }),
    byHand ? textField({
      id: `${idOf(path)}-other`, label: `${field.label}, as written on it`, value,
      onchange: (typed) => { values[field.name] = typed; form.save(path); tell(); },
    }) : null,
    warning);
}

function groupField({ field, values, path, form }) {
  values[field.name] ??= {};
  const inside = formFields(field.fields, values[field.name], path, form);
  if (field.required) {
    return h("fieldset", { class: "group", "data-path": path }, h("legend", {}, field.label), inside);
  }
  return h("details", { class: "group", "data-path": path, open: form.isOpen?.(path) },
    h("summary", { onclick: () => form.opened?.(path) }, field.label), inside);
}

function listField({ field, values, path, form }) {
  values[field.name] ??= Array.from({ length: field.fewest ?? 0 }, () => ({}));
  const rows = values[field.name];
  const full = field.most !== null && rows.length >= field.most;
  const remove = (at) => {
    rows.splice(at, 1);
    form.save(path);
    form.redraw(`${idOf(path)}-add`);
  };
  const add = () => {
    rows.push({});
    form.save(path);
    form.redraw(`${idOf(path)}-${rows.length - 1}`);
  };
  return h("section", { class: "list", "data-path": path, "aria-labelledby": `${idOf(path)}-title` },
    h("h3", { id: `${idOf(path)}-title` }, field.label),
    rows.map((row, at) =>
      h("fieldset", { class: "row", id: `${idOf(path)}-${at}`, tabindex: "-1" },
        h("legend", {}, `${field.label}: ${at + 1}`),
        formFields(field.fields, row, `${path}[${at}]`, form),
        button(`Take ${field.label.toLowerCase()} ${at + 1} out`, () => remove(at), { look: "button--quiet" }))),
    full ? null : button(`Add to ${field.label.toLowerCase()}`, add, { look: "button--second", id: `${idOf(path)}-add` }));
}

/** Several readings, or several names, under one label. */
function valuesField({ field, values, path, form }) {
  values[field.name] ??= [];
  const list = values[field.name];
  const one = (at) => (field.type === "numbers"
    ? numberField({
      field, path: `${path}[${at}]`, form, value: list[at], label: `${field.label} ${at + 1}`,
      onvalue: (typed) => { list[at] = typed; },
    })
    : textField({
      id: idOf(`${path}[${at}]`), label: `${field.label} ${at + 1}`, value: list[at],
      onchange: (typed) => { list[at] = typed; form.save(path); },
    }));
  const add = () => {
    list.push("");
    form.save(path);
    form.redraw(idOf(`${path}[${list.length - 1}]`));
  };
  const remove = () => {
    list.pop();
    form.save(path);
    form.redraw(`${idOf(path)}-add`);
  };
  return h("section", { class: "list", "data-path": path },
    h("h3", {}, field.label), field.hint ? h("p", { class: "hint" }, field.hint) : null,
    list.map((_, at) => one(at)),
    h("div", { class: "acts" },
      button(`Add to ${field.label.toLowerCase()}`, add, { look: "button--second", id: `${idOf(path)}-add` }),
      list.length > 0 ? button("Take the last one out", remove, { look: "button--quiet" }) : null));
}

/** Which unit each quantity is read in; a change gives the typed figures a new meaning, not a new value. */
export function unitFields(form) {
  const named = new Map();
  for (const one of Object.values(form.definition.units)) {
    named.set(one.named_by, one.choices.map((choice) => choice.unit));
  }
  const fields = [...named].filter(([, units]) => units.length > 1).map(([name, units]) =>
    selectField({
      id: `f-unit-${name}`, label: spelled(name), value: form.draft.units[name],
      options: units.map((unit) => [unit, spelled(unit)]),
      onchange: (unit) => {
        form.draft.units = { ...form.draft.units, [name]: unit };
        form.save("units");
        form.redraw(`f-unit-${name}`);
      },
    }));
  return h("details", { class: "group", open: form.isOpen?.("units") },
    h("summary", { onclick: () => form.opened?.("units") }, "Units"),
    h("p", { class: "hint" }, "Set these to what the instruments show. Figures already typed stay as they are."),
    fields);
}
