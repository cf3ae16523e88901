// What a fan-pressurization test shows on the spot: the server's formulas, one direction at a time.
// The server's result is the record; this is what the crew sees before it is sent.

export const VERSION = "phone 1";

// Constants as in the server's air.py and envelope.py, each with its source there.
const REFERENCE_TEMPERATURE = 20;
const REFERENCE_PRESSURE = 101325;
const REFERENCE_DENSITY = 1.2041;
const REFERENCE_DENSITY_ISO = 1.204;
const KELVIN_E779 = 273;
const KELVIN = 273.15;
const SUTHERLAND_FACTOR = 1.458e-6;
const SUTHERLAND_TEMPERATURE = 110.4;
const GAS_CONSTANT_DRY_AIR = 287.055;
const VAPOUR_LIGHTNESS = 0.37802;
const SAME_VALUE = 1e-14;
const REPORTED = 50;

const SIGN = { depressurization: -1, pressurization: 1 };
const sum = (values) => values.reduce((total, one) => total + one, 0);
const mean = (values) => sum(values) / values.length;

class Unfit extends Error {}

export function dryDensity({ temperature, elevation }) {
  const ratio = (1 - (0.0065 * elevation) / 293) ** 5.2553;
  return (REFERENCE_DENSITY * ratio * 293) / (temperature + KELVIN_E779);
}

export function dryDensityAtPressure({ temperature, pressure }) {
  return (REFERENCE_DENSITY * (pressure / REFERENCE_PRESSURE) * 293) / (temperature + KELVIN_E779);
}

export function saturationPressure(temperature) {
  const kelvin = temperature + KELVIN;
  return Math.exp(59.484085 - 6790.4985 / kelvin - 5.02802 * Math.log(kelvin));
}

export function moistDensity({ temperature, pressure, humidity }) {
  const dry = pressure - VAPOUR_LIGHTNESS * humidity * saturationPressure(temperature);
  return dry / (GAS_CONSTANT_DRY_AIR * (temperature + KELVIN));
}

export function standardPressure(elevation) {
  return REFERENCE_PRESSURE * (1 - 2.25577e-5 * elevation) ** 5.2559;
}

export function viscosity(temperature) {
  const kelvin = temperature + KELVIN_E779;
  return (SUTHERLAND_FACTOR * kelvin ** 0.5) / (1 + SUTHERLAND_TEMPERATURE / kelvin);
}

/** Least squares of ln Q on ln dP; the line of the points given. */
export function fitLine(x, y) {
  if (![...x, ...y].every(Number.isFinite)) {
    throw new Unfit("A pressure or a flow is not above zero: check direction, hoses and baseline.");
  }
  if (x.length < 2) {
    throw new Unfit("At least two points are needed.");
  }
  const centre = mean(x);
  const middle = mean(y);
  const sxx = sum(x.map((one) => (one - centre) ** 2));
  if (!(sxx > SAME_VALUE ** 2 * sum(x.map((one) => one ** 2)))) {
    throw new Unfit("All points are at one pressure: take points at several pressures.");
  }
  const slope = sum(x.map((one, at) => (one - centre) * (y[at] - middle))) / sxx;
  return { intercept: middle - slope * centre, exponent: slope };
}

/** The mean level under an assumed exponent. */
export function assumedLine(x, y, exponent) {
  if (x.length < 1) {
    throw new Unfit("At least one point is needed.");
  }
  if (![...x, ...y].every(Number.isFinite)) {
    throw new Unfit("A pressure or a flow is not above zero: check direction, hoses and baseline.");
  }
  return { intercept: mean(y.map((one, at) => one - exponent * x[at])), exponent };
}

/** The line through the averages of a high and a low station. */
export function twoStations(pressure, flow) {
  const middle = Math.sqrt(Math.max(...pressure) * Math.min(...pressure));
  const high = pressure.flatMap((one, at) => (one >= middle ? [at] : []));
  const low = pressure.flatMap((one, at) => (one < middle ? [at] : []));
  if (high.length === 0 || low.length === 0) {
    return fitLine(pressure.map(Math.log), flow.map(Math.log));
  }
  const station = (places, values) => Math.log(mean(places.map((at) => values[at])));
  return fitLine(
    [station(high, pressure), station(low, pressure)],
    [station(high, flow), station(low, flow)],
  );
}

/** A whole document: each series, and the flow at 50 Pa of reference air.
 *
 * facts: `units` of the form definition, `instruments` and `house` of the package, `settings`.
 * Returns `{series: [...], flow50, exponent}`; a series that cannot be fitted has `problem`. */
export function preview(document, facts) {
  const read = reader(document, facts);
  const air = airState(document, facts, read);
  const series = (document.series ?? []).map((one) => evaluateSeries(one, document, facts, read, air));
  const flows = series.map((one) => one.flow50 ?? null);
  const known = flows.length > 0 && flows.every((one) => one !== null);
  return {
    series,
    corrected: air !== null,
    flow50: known ? mean(flows) : null,
    exponent: known && series.length === 1 ? series[0].exponent : null,
  };
}

/** Readings in SI by the document's own units. */
function reader(document, facts) {
  const scale = (quantity, named) =>
    facts.units[quantity].choices.find((one) => one.unit === named) ?? { factor: 1, offset: 0 };
  const si = (value, quantity, named) => {
    const unit = scale(quantity, named);
    return value === null || value === undefined ? null : (value + unit.offset) * unit.factor;
  };
  const units = document.units ?? {};
  return {
    pressure: (value) => si(value, "pressure", units.pressure),
    flow: (value, named = units.flow) => si(value, "flow", named),
    temperature: (value) => si(value, "temperature", units.temperature),
    barometer: (value) => si(value, "barometer", units.barometer),
    length: (value) => si(value, "length", units.length),
    feet: (value) => si(value, "length", "ft"),
  };
}

/** Densities of both airs by the method's own form; null while a reading is missing. */
function airState(document, facts, read) {
  const sent = document.conditions ?? {};
  const indoor = read.temperature(sent.indoor_temperature);
  const outdoor = read.temperature(sent.outdoor_temperature);
  const station = read.barometer(sent.barometric_pressure);
  const known = facts.house?.elevation_ft ?? null;
  const elevation = known === null ? read.length(sent.elevation) : read.feet(Number(known));
  if (indoor === null || outdoor === null || (station === null && elevation === null)) {
    return null;
  }
  const usual = facts.settings?.indoor_temperature;
  if (usual && (indoor < usual.low || indoor > usual.high)) {
    return null;
  }
  const moist = document.method === "iso9972";
  const pressure = station ?? standardPressure(elevation);
  const density = (temperature, humidity) => {
    if (moist) {
      return moistDensity({ temperature, pressure, humidity: humidity ?? facts.settings.humidity });
    }
    return station === null
      ? dryDensity({ temperature, elevation })
      : dryDensityAtPressure({ temperature, pressure: station });
  };
  return {
    moist, indoor: density(indoor, sent.indoor_humidity), outdoor: density(outdoor, sent.outdoor_humidity),
    temperatures: { indoor, outdoor },
  };
}

/** Which air the fan moves and which the leaks. */
function airPath(air, direction) {
  const down = direction === "depressurization";
  return down
    ? { fan: air.indoor, leak: air.outdoor, temperature: air.temperatures.outdoor }
    : { fan: air.outdoor, leak: air.indoor, temperature: air.temperatures.indoor };
}

function referenceFactor(air, direction, exponent) {
  const path = airPath(air, direction);
  if (air.moist) {
    return (path.leak / REFERENCE_DENSITY_ISO) ** (1 - exponent);
  }
  const thickness = viscosity(path.temperature) / viscosity(REFERENCE_TEMPERATURE);
  return thickness ** (2 * exponent - 1) * (path.leak / REFERENCE_DENSITY) ** (1 - exponent);
}

function baselineMean(baseline, read) {
  if (!baseline) {
    return null;
  }
  if (baseline.samples?.length) {
    return mean(baseline.samples.map(read.pressure));
  }
  return read.pressure(baseline.mean);
}

/** The fan's equation; one for this very direction comes before one for both. */
export function equationOf(fan, direction, facts) {
  const known = (facts.instruments ?? []).find((one) => one.serial === fan.serial && one.equations?.length);
  const fits = (known?.equations ?? [])
    .filter((one) => one.configuration === fan.configuration)
    .filter((one) => !one.direction || one.direction === direction);
  return fits.find((one) => one.direction) ?? fits[0] ?? null;
}

/** One point in SI: its fans with their flows, or the flow as the gauge showed it. */
function readPoint(point, direction, facts, read) {
  const fans = (point.fans ?? []).map((fan) => {
    const equation = equationOf(fan, direction, facts);
    const pressure = read.pressure(fan.fan_pressure);
    const inRange = equation !== null
      && equation.lowest_pressure <= pressure && pressure <= equation.highest_pressure;
    const flow = inRange
      ? read.flow(equation.coefficient, equation.flow_unit) * pressure ** equation.exponent : NaN;
    return { name: `${fan.serial}, ${fan.configuration}`, equation, pressure, inRange, flow };
  });
  return {
    building: read.pressure(point.building_pressure),
    fans,
    flow: point.flow === null || point.flow === undefined ? null : read.flow(point.flow),
    excluded: point.excluded ?? null,
    inRange: fans.every((one) => one.inRange),
  };
}

function meterFactor(point, fanDensity) {
  const factor = (calibration) => Math.sqrt(calibration / fanDensity);
  if (point.fans.length === 0 || !point.inRange) {
    return factor(REFERENCE_DENSITY);
  }
  const flows = point.fans.map((one) => one.flow);
  return sum(point.fans.map((one, at) => flows[at] * factor(one.equation.air_density))) / sum(flows);
}

/** Induced pressure of each point; all may read the other sign, none may read it alone. */
function inducedPressures(points, offset, direction) {
  const signed = points.map((one) => SIGN[direction] * (one.building - offset));
  const used = signed.filter((_, at) => points[at].excluded === null);
  const against = used.filter((one) => one < 0).length;
  if (against > 0 && against < used.length) {
    throw new Unfit(`${against} of ${used.length} points have the sign of the other direction.`);
  }
  const turned = used.length > 0 && against === used.length;
  const induced = turned ? signed.map((one) => -one) : signed;
  if (induced.some((one, at) => points[at].excluded === null && !(one > 0))) {
    throw new Unfit("A point reads no more than the baseline: raise the fan, or leave it out.");
  }
  return { induced, turned };
}

function refuseUnknownFans(points) {
  const unknown = points
    .filter((one) => one.excluded === null)
    .flatMap((one) => one.fans).find((one) => one.equation === null);
  if (unknown) {
    throw new Unfit(`No flow equation is known on this phone for fan ${unknown.name}.`);
  }
}

function evaluateSeries(series, document, facts, read, air) {
  const { direction } = series;
  const points = (series.points ?? []).map((one) => readPoint(one, direction, facts, read));
  const means = [series.baseline_before, series.baseline_after]
    .map((one) => baselineMean(one, read)).filter((one) => one !== null);
  const taken = document.gauge?.baseline_subtracted === true;
  const offset = taken || means.length === 0 ? 0 : mean(means);
  try {
    refuseUnknownFans(points);
    const { induced, turned } = inducedPressures(points, offset, direction);
    const law = fitted({ points, induced, direction, document, facts, air });
    return { direction, offset, turned, ...law };
  } catch (problem) {
    if (!(problem instanceof Unfit)) {
      throw problem;
    }
    return { direction, offset, problem: problem.message, points: [] };
  }
}

function fitted({ points, induced, direction, document, facts, air }) {
  const path = air === null ? null : airPath(air, direction);
  const corrected = document.gauge?.density_corrected === true;
  const flows = points.map((one) => {
    const indicated = one.flow ?? sum(one.fans.map((fan) => fan.flow));
    if (path === null) {
      return indicated;
    }
    return indicated * (corrected ? 1 : meterFactor(one, path.fan)) * (path.fan / path.leak);
  });
  const used = points.map((one) => one.excluded === null && one.inRange);
  const pick = (values) => values.filter((_, at) => used[at]);
  const line = lineOf(document.method, pick(induced), pick(flows), facts);
  const factor = air === null ? 1 : referenceFactor(air, direction, line.exponent);
  const intercept = line.intercept + Math.log(factor);
  return {
    exponent: line.exponent,
    coefficient: Math.exp(intercept),
    flow50: Math.exp(intercept + line.exponent * Math.log(REPORTED)),
    points: points.map((one, at) => ({
      pressure: induced[at], flow: flows[at] * factor, used: used[at],
      outOfRange: one.excluded === null && !one.inRange,
    })),
  };
}

function lineOf(method, pressure, flow, facts) {
  if (method === "two_point" && pressure.length > 0) {
    return twoStations(pressure, flow);
  }
  const [x, y] = [pressure.map(Math.log), flow.map(Math.log)];
  return method === "one_point" ? assumedLine(x, y, facts.settings.assumed_exponent) : fitLine(x, y);
}

/** Share of the flow before that is gone now; negative where the house leaks more. */
export function reduction({ before, after }) {
  return 1 - after / before;
}
