// Numbers, units and times in words; every factor comes from the form definitions.

export const MINUS = "\u2212";
const THIN = "\u202f";
const UNIT_WORDS = {
  inH2O: "in. w.c.", "m3/h": "m³/h", "m3/s": "m³/s", degF: "°F", degC: "°C",
  in2: "in²", cm2: "cm²",
};
const POWERS = { floor_area: "²", volume: "³" };
const SIGNED = new Set(["pressure", "temperature", "temperature_difference"]);
const NOT_A_NUMBER = "Write a number, for example 12.5.";
const NAMES = {
  e779: "ASTM E779 series", iso9972: "ISO 9972 series",
  one_point: "One point", two_point: "Two points", zero_and_hoses: "Zero and hoses",
  degF: "°F", degC: "°C",
};

export function spelled(code) {
  if (NAMES[code]) {
    return NAMES[code];
  }
  const words = String(code).replaceAll("_", " ");
  return words.charAt(0).toUpperCase() + words.slice(1);
}

export function canBeNegative(quantity) {
  return SIGNED.has(quantity);
}

/** A typed number: `{value}`, `{empty: true}` or `{wrong: words}`. A comma is a decimal comma
 * only where it cannot be anything else. */
export function readNumber(typed) {
  const text = String(typed ?? "").replaceAll(MINUS, "-").replace(/[\s\u202f]/g, "");
  if (text === "") {
    return { empty: true };
  }
  if (/^[+-]?(\d+\.?\d*|\.\d+)$/.test(text)) {
    return { value: Number(text) };
  }
  if (/^[+-]?[1-9]\d{0,2},\d{3}$/.test(text)) {
    const whole = text.replace(",", "");
    return { wrong: `Is it ${whole} or ${text.replace(",", ".")}? Write it without the comma.` };
  }
  if (/^[+-]?\d{1,3}(,\d{3})+(\.\d*)?$/.test(text) && /(,.*,)|\./.test(text)) {
    return { value: Number(text.replaceAll(",", "")) };
  }
  if (/^[+-]?\d*,\d+$/.test(text)) {
    return { value: Number(text.replace(",", ".")) };
  }
  return { wrong: NOT_A_NUMBER };
}

/** The typed text with its sign changed; an empty field gets a minus to type behind. */
export function turnedSign(typed) {
  const text = String(typed ?? "").trim().replaceAll(MINUS, "-");
  return text.startsWith("-") ? text.slice(1) : `-${text.replace(/^\+/, "")}`;
}

export function unitWord(unit, quantity = "") {
  return `${UNIT_WORDS[unit] ?? unit}${POWERS[quantity] ?? ""}`;
}

/** The unit of a field: the document's for its quantity, or the one it always has. */
export function unitOf(field, definition, units) {
  const known = definition.units[field.quantity];
  if (!known) {
    return null;
  }
  const named = units[known.named_by] ?? known.choices[0].unit;
  return known.choices.find((one) => one.unit === named) ?? known.choices[0];
}

export function shownUnit(field, definition, units) {
  const unit = unitOf(field, definition, units);
  if (unit) {
    return unitWord(unit.unit, field.quantity);
  }
  return field.quantity === "share" ? "%" : field.unit ?? "";
}

export const toSI = (reading, unit) => (unit ? (reading + unit.offset) * unit.factor : reading);
export const fromSI = (value, unit) => (unit ? value / unit.factor - unit.offset : value);

/** A share is read in per cent and sent as a fraction. */
export const toSent = (reading, field) => (field.quantity === "share" ? reading / 100 : reading);
export const toTyped = (value, field) => (field.quantity === "share" ? value * 100 : value);

/** The same reading in each other unit of its quantity, or "". */
export function inOtherUnits(reading, field, definition, units) {
  const known = definition.units[field.quantity];
  const unit = unitOf(field, definition, units);
  if (!known || known.choices.length < 2) {
    return "";
  }
  const si = toSI(reading, unit);
  return known.choices
    .filter((one) => one.unit !== unit.unit)
    .map((one) => `${figure(fromSI(si, one))}${THIN}${unitWord(one.unit, field.quantity)}`)
    .join(" = ");
}

/** Four significant figures at most, thousands apart, a true minus. */
export function figure(value, digits = 4) {
  if (value === null || value === undefined || !Number.isFinite(value)) {
    return "not measured";
  }
  const rounded = Number(value.toPrecision(digits));
  const text = Math.abs(rounded).toLocaleString("en-US", { maximumSignificantDigits: digits });
  return rounded < 0 ? `${MINUS}${text}` : text;
}

export function fixed(value, decimals) {
  const text = Math.abs(value).toLocaleString("en-US", {
    minimumFractionDigits: decimals, maximumFractionDigits: decimals,
  });
  return value < 0 && Number(text) !== 0 ? `${MINUS}${text}` : text;
}

export function withUnit(value, unit, digits = 4) {
  return `${figure(value, digits)}${THIN}${unit}`;
}

export function clock(moment) {
  return new Date(moment).toLocaleTimeString("en-US", { hour: "numeric", minute: "2-digit" });
}

export function dayWords(day, now = new Date()) {
  const [year, month, date] = day.split("-").map(Number);
  const midday = new Date(year, month - 1, date, 12);
  const words = midday.toLocaleDateString("en-US", { weekday: "short", month: "short", day: "numeric" });
  const ahead = Math.round((midday - new Date(now.getFullYear(), now.getMonth(), now.getDate(), 12)) / 86_400_000);
  const name = { 0: "Today", 1: "Tomorrow", [-1]: "Yesterday" }[ahead];
  return name ? `${name}, ${words}` : words;
}

export function momentWords(moment, now = new Date()) {
  const then = new Date(moment);
  const same = then.toDateString() === now.toDateString();
  const day = then.toLocaleDateString("en-US", { month: "short", day: "numeric" });
  return same ? clock(then) : `${day}, ${clock(then)}`;
}

export function dateWords(day) {
  const [year, month, date] = day.split("-").map(Number);
  return new Date(year, month - 1, date, 12)
    .toLocaleDateString("en-US", { month: "short", day: "numeric", year: "numeric" });
}

/** "Spanish" for "es"; the code itself where the phone does not know it. */
export function languageWords(code) {
  try {
    return new Intl.DisplayNames(["en"], { type: "language" }).of(code);
  } catch {
    return code;
  }
}

/** A moment by the phone's clock with its zone: 2026-04-14T10:05:00-05:00. */
export function zoned(moment = new Date()) {
  const west = moment.getTimezoneOffset();
  const local = new Date(moment.getTime() - west * 60_000).toISOString().slice(0, 19);
  const two = (number) => String(Math.floor(number)).padStart(2, "0");
  return `${local}${west > 0 ? "-" : "+"}${two(Math.abs(west) / 60)}:${two(Math.abs(west) % 60)}`;
}

export function counted(number, one, many = `${one}s`) {
  return `${number} ${number === 1 ? one : many}`;
}

export function sizeWords(bytes) {
  return bytes >= 1_000_000 ? `${fixed(bytes / 1_000_000, 1)} MB` : `${Math.ceil(bytes / 1000)} kB`;
}

/** A reason of the office in one line: which field, what is wrong, the limit, the next step. */
export function problemWords(one) {
  const field = (one.field ?? "").replace(/\[(\d+)\]/g, (_, number) => ` ${Number(number) + 1}`)
    .replaceAll(".", ", ").replaceAll("_", " ").trim();
  const limit = one.limit ? `Limit: ${one.limit}.` : "";
  return [field ? `${field}:` : "", one.message, limit, one.next_step].filter(Boolean).join(" ");
}
