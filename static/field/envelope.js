// Entry of a building tightness test: baselines, point list, live picture, and what it comes to.

import { assembled, fieldAt, hasAnything, isBlank, unitsUsed } from "./documents.js";
import { button, choice, h } from "./dom.js";
import { formField } from "./forms.js";
import { preview, reduction } from "./maths.js";
import { idOf, numberField } from "./number_field.js";
import { picture } from "./picture.js";
import { reductionWords } from "./visit.js";
import { figure, fixed, fromSI, unitOf, withUnit } from "./words.js";

const at = (form, name) => fieldAt(form.definition, `series[].${name}`);
const point = (form, name) => at(form, `points[].${name}`);

/** The values without what the chosen way of reading leaves aside. */
export function prepared(draft) {
  const series = (draft.values.series ?? []).map((one) => ({
    ...one,
    baseline_before: chosenBaseline(one.baseline_before),
    baseline_after: chosenBaseline(one.baseline_after),
    points: (one.points ?? []).map((row) => chosenFlow(row, one._read)),
  }));
  return { ...draft, values: { ...draft.values, series } };
}

function chosenBaseline(baseline) {
  if (!baseline) {
    return baseline;
  }
  const { samples, mean, positive_mean: positive, negative_mean: negative, ...rest } = baseline;
  const kept = baseline._by === "samples" ? { ...rest, samples } : { ...rest, mean, positive_mean: positive, negative_mean: negative };
  // The time alone is no baseline.
  return hasAnything({ ...kept, seconds: null }) ? kept : {};
}

function chosenFlow(row, read) {
  const { fans, flow, ...rest } = row;
  if (isBlank(row.building_pressure) && isBlank(flow) && !(fans ?? []).some((one) => !isBlank(one.fan_pressure))) {
    return {};
  }
  return read === "flow" ? { ...rest, flow } : { ...rest, fans: (fans ?? []).filter((one) => hasAnything(one)) };
}

export function seriesFields(form) {
  const { values } = form.draft;
  values.series ??= [{ points: [] }];
  const both = values.series.length > 1;
  return [
    values.series.map((one, number) => seriesField(form, one, number)),
    both
      ? button("Take the second direction out", () => { values.series.pop(); form.save("series"); form.redraw("f-series-add"); }, { look: "button--quiet" })
      : button("Add the other direction", () => {
        values.series.push({ direction: other(values.series[0].direction), _read: values.series[0]._read, points: [] });
        form.save("series");
        form.redraw("f-series-1-title");
      }, { look: "button--second", id: "f-series-add" }),
  ];
}

const other = (direction) => (direction === "depressurization" ? "pressurization" : "depressurization");

function seriesField(form, series, number) {
  const path = `series[${number}]`;
  series.points ??= [];
  series._read ??= form.instruments.some((one) => one.kind === "fan" && one.equations?.length) ? "fan" : "flow";
  return h("section", { class: "series", "aria-labelledby": `f-series-${number}-title` },
    h("h2", { id: `f-series-${number}-title`, tabindex: "-1" }, number ? "Second direction" : "Readings"),
    formField(at(form, "direction"), series, `${path}.direction`, form),
    choice({
      label: "The flow is read as", name: `f-read-${number}`, chosen: series._read,
      options: [["fan", "Fan pressure"], ["flow", "Flow on the gauge"]],
      onchoose: (value) => { series._read = value; form.save(path); form.redraw(null); },
    }),
    baselineField(form, series, path, "baseline_before", "Baseline before"),
    h("h3", {}, "Points"),
    h("ol", { class: "points" }, series.points.map((row, place) => pointRow(form, series, row, path, place))),
    button(series.points.length ? "Add a point" : "Add the first point", () => addPoint(form, series, path), { look: "button--second", id: `${idOf(path)}points-add` }),
    baselineField(form, series, path, "baseline_after", "Baseline after"));
}

function addPoint(form, series, path) {
  const last = series.points.at(-1);
  const fans = (last?.fans ?? [{}]).map(({ serial, configuration, _serial, _configuration }) =>
    ({ serial, configuration, _serial, _configuration }));
  series.points.push({ fans, seconds: last?.seconds ?? "" });
  form.save(path);
  form.redraw(idOf(`${path}.points[${series.points.length - 1}].building_pressure`));
}

function baselineField(form, series, path, name, title) {
  series[name] ??= {};
  const baseline = series[name];
  const field = at(form, name);
  const by = baseline._by ?? "mean";
  const parts = by === "samples" ? ["samples", "seconds"] : ["mean", "positive_mean", "negative_mean", "seconds"];
  return h("fieldset", { class: "group", "data-path": `${path}.${name}` },
    h("legend", {}, title),
    h("p", { class: "hint" }, "Fan off and sealed, averaged for a minute or longer."),
    choice({
      label: "Read as", name: `f-by-${path}-${name}`, chosen: by,
      options: [["mean", "The gauge's mean"], ["samples", "Single readings"]],
      onchoose: (value) => { baseline._by = value; form.save(path); form.redraw(null); },
    }),
    parts.map((one) => formField(field.fields.find((inner) => inner.name === one), baseline, `${path}.${name}.${one}`, form)));
}

function pointRow(form, series, row, path, place) {
  const here = `${path}.points[${place}]`;
  row.fans ??= [{}];
  const out = !isBlank(row.excluded) || row._out;
  const chosen = series._read === "flow" || row.fans.every((one) => !isBlank(one.serial) && !isBlank(one.configuration));
  return h("li", { class: "point", "data-path": here },
    h("h4", {}, `Point ${place + 1}`),
    formField(point(form, "building_pressure"), row, `${here}.building_pressure`, form),
    series._read === "flow"
      ? formField(point(form, "flow"), row, `${here}.flow`, form)
      : row.fans.map((fan, number) => fanPressure(form, fan, `${here}.fans[${number}]`, { place, number })),
    h("p", { class: "outcome", id: `outcome-${path.replace(/\W+/g, "")}-${place}`, "aria-live": "polite" }),
    out ? formField(point(form, "excluded"), row, `${here}.excluded`, form) : null,
    h("details", { class: "group", open: !chosen || form.isOpen?.(here) },
      h("summary", { onclick: () => form.opened?.(here) }, moreWords(series, row)),
      series._read === "flow" ? null : row.fans.map((fan, number) => whichFan(form, fan, `${here}.fans[${number}]`)),
      formField(point(form, "seconds"), row, `${here}.seconds`, form),
      pointActs({ form, series, row, path, place, out })));
}

function moreWords(series, row) {
  const fans = series._read === "flow" ? [] : row.fans.map((one) => [one.serial, one.configuration].filter((part) => !isBlank(part)).join(", "));
  const seconds = isBlank(row.seconds) ? "time not noted" : `${row.seconds} s`;
  return [...fans.filter((one) => one !== ""), seconds].join(", ");
}

function fanPressure(form, fan, path, { place, number }) {
  const field = point(form, "fans[]").fields.find((one) => one.name === "fan_pressure");
  return numberField({
    field: place ? { ...field, hint: "" } : field, path: `${path}.fan_pressure`, form, value: fan.fan_pressure,
    label: number ? `Fan pressure, fan ${number + 1}` : field.label, onvalue: (typed) => { fan.fan_pressure = typed; },
  });
}

function whichFan(form, fan, path) {
  const parts = point(form, "fans[]").fields;
  return ["serial", "configuration"].map((name) =>
    formField(parts.find((one) => one.name === name), fan, `${path}.${name}`, form));
}

function pointActs({ form, series, row, path, place, out }) {
  const here = `${path}.points[${place}]`;
  const act = (words, change, focus) => button(words, () => { change(); form.save(here); form.redraw(focus); }, { look: "button--quiet" });
  return h("div", { class: "acts" },
    out
      ? act("Use it again", () => { row.excluded = ""; row._out = false; }, null)
      : act("Leave it out", () => { row._out = true; }, idOf(`${here}.excluded`)),
    series._read === "fan" ? act("Second fan", () => { row.fans.push({}); }, null) : null,
    act("Delete the point", () => { series.points.splice(place, 1); }, `${idOf(path)}points-add`));
}

/** The preview of what is typed so far; points that are not complete yet are passed over. */
export function previewOf(form) {
  const draft = prepared(form.draft);
  const { values } = assembled(form.definition, draft);
  const places = [];
  const series = (draft.values.series ?? []).map((typed, number) => {
    const sent = values.series?.[number] ?? {};
    const rows = (typed.points ?? []).map((row, place) => [row, place]).filter(([row]) => hasAnything(row));
    const complete = rows.map(([, place], index) => [sent.points?.[index], place]).filter(([row]) => isComplete(row));
    places.push(complete.map(([, place]) => place));
    return { ...sent, direction: sent.direction ?? "depressurization", points: complete.map(([row]) => row) };
  });
  const document = {
    ...values, method: draft.method, units: unitsUsed(form.definition, draft, values),
    series: series.filter((one) => one.points.length > 0),
  };
  document.units = { ...draft.units, ...document.units };
  const kept = places.filter((one) => one.length > 0);
  return { result: preview(document, form.facts), places: kept };
}

function isComplete(row) {
  const given = (one) => one !== undefined && one !== null;
  return row && given(row.building_pressure)
    && (given(row.flow) || (row.fans?.length > 0 && row.fans.every((one) => given(one.fan_pressure))));
}

/** Fill the result panel and the line under each point. */
export function showResult(form, panel) {
  const unit = unitOf({ quantity: "flow" }, form.definition, form.draft.units);
  const { result, places } = previewOf(form);
  result.series.forEach((one, number) => pointOutcomes(one, places[number], number, unit));
  panel.replaceChildren(...resultParts(form, result, unit));
  const live = document.getElementById("live");
  if (live) {
    live.textContent = result.flow50 === null ? "No flow at 50 Pa yet" : `${withUnit(fromSI(result.flow50, unit), unit.unit)} at 50 Pa`;
  }
}

function pointOutcomes(series, places, number, unit) {
  series.points.forEach((one, index) => {
    const line = document.getElementById(`outcome-series${number}-${places[index]}`);
    if (line) {
      line.textContent = one.outOfRange
        ? "The fan pressure is outside the range of this configuration: the point is not used."
        : `Induced ${fixed(one.pressure, 1)} Pa, flow ${withUnit(fromSI(one.flow, unit), unit.unit)}`;
    }
  });
}

function resultParts(form, result, unit) {
  const shown = result.series.map((one) => seriesResult(one, unit, form));
  const whole = result.flow50 === null
    ? [h("p", {}, "Readings so far give no flow at 50 Pa.")]
    : [
      h("p", { class: "result" }, h("span", {}, "Flow at 50 Pa"), h("strong", { id: "flow-50" }, withUnit(fromSI(result.flow50, unit), unit.unit))),
      result.exponent === null ? null : h("p", { class: "result" }, h("span", {}, "Exponent"), h("strong", {}, fixed(result.exponent, 3))),
      ...against(form, result, unit),
    ];
  const air = result.corrected ? null
    : h("p", {}, "Not corrected for air density: a temperature or the elevation is missing.");
  return [h("h2", {}, "So far"), ...whole, ...shown.flat(), air,
    h("p", { class: "hint" }, "Worked out on this phone. The office's own result is the record.")].filter(Boolean);
}

function seriesResult(series, unit, form) {
  const law = series.problem ? null : { coefficient: fromSI(series.coefficient, unit), exponent: series.exponent };
  const points = series.points.map((one) => ({ ...one, flow: fromSI(one.flow, unit) }));
  return [
    series.problem ? h("p", { class: "problem" }, series.problem) : null,
    series.turned ? h("p", { class: "problem" }, "Every reading has the sign of the other direction: check the hoses or the direction.") : null,
    points.length > 0 || law ? picture({ points, law, unit: unit.unit, before: beforeLaw(form, unit) }) : null,
  ].filter(Boolean);
}

function comparable(form) {
  const { before } = form.job ?? {};
  return before?.flow_50_m3s && ["after", "during"].includes(form.draft.phase) ? before : null;
}

function beforeLaw(form, unit) {
  const before = comparable(form);
  return before?.exponent
    ? { coefficient: fromSI(before.flow_50_m3s, unit) / 50 ** before.exponent, exponent: before.exponent } : null;
}

/** Before against now, and the target where the programme set one. */
function against(form, result, unit) {
  const before = comparable(form);
  if (!before) {
    return [];
  }
  const direction = result.series.length > 1 ? "both" : result.series[0].direction;
  const words = [h("p", {}, `Before the work: ${withUnit(fromSI(before.flow_50_m3s, unit), unit.unit)}.`)];
  if (before.method !== form.draft.method || (before.direction && before.direction !== direction)) {
    const what = before.method === form.draft.method ? "direction" : "method";
    return [...words, h("p", { class: "problem" }, `The test before was made by another ${what}: the two are not compared.`)];
  }
  const share = reduction({ before: before.flow_50_m3s, after: result.flow50 });
  words.push(h("p", { class: "result" }, h("span", {}, "Reduction so far"), h("strong", { id: "reduction" }, reductionWords(share))));
  const target = form.facts.settings?.target_reduction;
  if (target) {
    const still = result.flow50 - before.flow_50_m3s * (1 - target);
    const said = share >= target ? "reached" : `not reached, ${figure(fromSI(still, unit), 3)} ${unit.unit} to go`;
    words.push(h("p", { class: "result" }, h("span", {}, `Target, ${fixed(target * 100, 0)} % less`), h("strong", { id: "target" }, said)));
  }
  return words;
}
