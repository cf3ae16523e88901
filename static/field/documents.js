// From what was typed to a document: any kind, by its form definition alone.

import { fromSI, readNumber, shownUnit, toSent, toSI, unitOf, withUnit } from "./words.js";

const NEVER_BELOW_ZERO = new Set([
  "seconds", "minutes", "percent", "ppm", "share", "floor_area", "volume", "opening_area", "heat",
  "capacity", "wind_speed", "barometer", "flow",
]);
const ABSOLUTE_ZERO = -273.15;
/** Filled in by the phone itself, never asked for in a form. */
export const OWN_FIELDS = new Set(["fans", "app"]);

export const isBlank = (value) =>
  value === undefined || value === null || value === "" || (Array.isArray(value) && value.length === 0);

/** Units of a new test: the first choice of each quantity. */
export function firstUnits(definition) {
  const units = {};
  for (const { named_by: name, choices } of Object.values(definition.units)) {
    units[name] ??= choices[0].unit;
  }
  return units;
}

/** What is wrong with one typed reading: `{stop: words}`, `{warn: words}` or null. */
export function complaint(typed, field, definition, units) {
  const read = readNumber(typed);
  if (read.empty) {
    return null;
  }
  if (read.wrong) {
    return { stop: read.wrong };
  }
  const unit = unitOf(field, definition, units);
  const si = toSI(toSent(read.value, field), unit);
  const impossible = impossibility(si, field);
  if (impossible) {
    return { stop: `${field.label} ${impossible}. You entered ${typed}.` };
  }
  return implausibility(si, field, unit, definition, units);
}

function impossibility(si, field) {
  if (!Number.isFinite(si)) {
    return "is too large to be a reading";
  }
  if (NEVER_BELOW_ZERO.has(field.quantity) && si < 0) {
    return "cannot be below zero";
  }
  if ((field.quantity === "share" && si > 1) || (field.quantity === "percent" && si > 100)) {
    return "cannot be above 100 %";
  }
  if (field.quantity === "temperature" && si < ABSOLUTE_ZERO) {
    return "is below absolute zero";
  }
  return "";
}

function implausibility(si, field, unit, definition, units) {
  const { plausible } = field;
  if (!plausible) {
    return null;
  }
  // A pressure's limit without a lower end holds for its size, whichever way it points.
  const size = plausible.low === null && field.quantity === "pressure" ? Math.abs(si) : si;
  const shown = (value) => withUnit(fromSI(value, unit), shownUnit(field, definition, units));
  if (plausible.high !== null && size > plausible.high) {
    return { warn: `More than ${shown(plausible.high)}, which is unusual. ${plausible.next_step}` };
  }
  if (plausible.low !== null && size < plausible.low) {
    return { warn: `Less than ${shown(plausible.low)}, which is unusual. ${plausible.next_step}` };
  }
  return null;
}

/** The definition's field at a path without indices: "series[].points[].flow". */
export function fieldAt(definition, path) {
  let fields = definition.fields;
  let found = null;
  for (const name of path.replaceAll("[]", "").split(".")) {
    found = fields?.find((one) => one.name === name) ?? null;
    fields = found?.fields;
  }
  return found;
}

/** The values as a document sends them, and everything in the way of sending.
 *
 * Returns `{values, problems}`; a problem is `{path, words}`, a path like "series[0].points[2].flow".
 * Nothing typed is left out without a word; an empty optional field is left out: not measured. */
export function assembled(definition, draft) {
  const problems = [];
  const context = { definition, units: draft.units, method: draft.method, reasons: draft.reasons ?? {}, problems };
  const fields = definition.fields.filter((one) => !OWN_FIELDS.has(one.name));
  return { values: group(fields, draft.values, "", context), problems };
}

function group(fields, values, path, context) {
  const sent = {};
  for (const field of fields) {
    const here = path ? `${path}.${field.name}` : field.name;
    const value = member(field, values?.[field.name], here, context);
    if (value !== undefined) {
      sent[field.name] = value;
    }
  }
  return sent;
}

function member(field, value, path, context) {
  if (field.type === "list") {
    return listed(field, value, path, context);
  }
  if (field.type === "group") {
    if (!field.required && !hasAnything(value)) {
      return undefined;
    }
    return group(field.fields, value ?? {}, path, context);
  }
  if (field.type === "numbers" || field.type === "texts") {
    const kept = (value ?? []).map((one, at) => [one, `${path}[${at}]`]).filter(([one]) => !isBlank(one));
    const sent = kept.map(([one, where]) => (field.type === "texts" ? one : number(field, one, where, context)));
    return sent.length > 0 || (field.type === "texts" && value) ? sent : undefined;
  }
  return leaf(field, value, path, context);
}

function listed(field, value, path, context) {
  const rows = (value ?? []).map((one, at) => [one, `${path}[${at}]`]).filter(([one]) => hasAnything(one));
  if (rows.length < (field.fewest ?? 0)) {
    context.problems.push({ path, words: `${field.label}: add at least ${field.fewest}.` });
  }
  return rows.length > 0 ? rows.map(([one, where]) => group(field.fields, one, where, context)) : undefined;
}

/** Something was typed or chosen in it; a row the phone has filled in by itself alone does not count. */
export function hasAnything(value) {
  if (Array.isArray(value)) {
    return value.some(hasAnything);
  }
  if (value !== null && typeof value === "object") {
    return Object.entries(value).some(([name, one]) => !name.startsWith("_") && hasAnything(one));
  }
  return !isBlank(value);
}

function leaf(field, value, path, context) {
  if (isBlank(value)) {
    if (field.required || field.needed_by?.includes(context.method)) {
      context.problems.push({ path, words: `${field.label} is missing.` });
    }
    return undefined;
  }
  if (field.type === "number") {
    return number(field, value, path, context);
  }
  return typeof value === "string" ? value.trim() : value;
}

function number(field, typed, path, context) {
  const { definition, units, reasons, problems } = context;
  const found = complaint(typed, field, definition, units);
  if (found?.stop) {
    problems.push({ path, words: `${field.label}: ${found.stop}` });
  } else if (found?.warn && isBlank(reasons[path]?.trim())) {
    problems.push({ path, words: `${field.label}: ${found.warn} If it is right, write why.` });
  }
  const read = readNumber(typed);
  return read.value === undefined ? undefined : toSent(read.value, field);
}

/** Serial numbers of every fan that was read, for the document's own list of fans. */
export function fansRead(value, found = new Set()) {
  if (Array.isArray(value)) {
    value.forEach((one) => fansRead(one, found));
  } else if (value !== null && typeof value === "object") {
    for (const [name, one] of Object.entries(value)) {
      if (name === "fans" && Array.isArray(one)) {
        one.forEach((fan) => fan.serial && found.add(fan.serial));
      } else {
        fansRead(one, found);
      }
    }
  }
  return [...found];
}

/** Unusual values with the crew's reasons, as they stand in the note. */
export function reasonLines(definition, draft) {
  return Object.entries(draft.reasons ?? {})
    .filter(([, why]) => !isBlank(why?.trim()))
    .map(([path, why]) => {
      const field = fieldAt(definition, path.replace(/\[\d+\]/g, ""));
      const typed = valueAt(draft.values, path);
      const unit = field ? shownUnit(field, definition, draft.units) : "";
      return isBlank(typed) ? "" : `${field?.label ?? path} ${typed} ${unit}: ${why.trim()}`;
    })
    .filter(Boolean);
}

export function valueAt(values, path) {
  return path.split(/[.[\]]+/).filter(Boolean).reduce((inner, name) => inner?.[name], values);
}

/** Only the units whose quantities were used are named. */
export function unitsUsed(definition, draft, values) {
  const used = new Set(["pressure"]);
  const walk = (fields, inside) => {
    for (const field of fields) {
      const value = inside?.[field.name];
      if (isBlank(value)) {
        continue;
      }
      if (field.fields) {
        (Array.isArray(value) ? value : [value]).forEach((one) => walk(field.fields, one));
      } else if (definition.units[field.quantity]) {
        used.add(definition.units[field.quantity].named_by);
      }
    }
  };
  walk(definition.fields, values);
  return Object.fromEntries([...used].map((name) => [name, draft.units[name] ?? "Pa"]));
}
