// The live picture of a series: flow against pressure, both logarithmic, with its line.

import { svg } from "./dom.js";
import { fixed, withUnit } from "./words.js";

const WIDTH = 340;
const HEIGHT = 250;
const EDGE = { left: 58, right: 14, top: 14, bottom: 46 };
const MARK = 50;

/** points: [{pressure, flow, used}] with flow in the shown unit; law: {coefficient, exponent} or null. */
export function picture({ points, law, unit, before = null }) {
  const drawn = points.filter((one) => one.pressure > 0 && one.flow > 0);
  const scale = scales(drawn, law, before);
  return svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: "picture", role: "img", "aria-label": told(drawn, law, unit) },
    ...axes(scale, unit),
    ...(before ? [line(before, scale, "picture__before")] : []),
    ...(law ? [line(law, scale, "picture__line"), ...markAt50(law, scale, unit)] : []),
    ...drawn.map((one) => svg(one.used ? "circle" : "rect", one.used
      ? { cx: scale.x(one.pressure), cy: scale.y(one.flow), r: 5, class: "picture__point" }
      : { x: scale.x(one.pressure) - 5, y: scale.y(one.flow) - 5, width: 10, height: 10, class: "picture__left-out" })));
}

function scales(points, law, before) {
  const pressures = [10, 60, ...points.map((one) => one.pressure)];
  const flows = points.map((one) => one.flow);
  for (const one of [law, before].filter(Boolean)) {
    flows.push(one.coefficient * MARK ** one.exponent, one.coefficient * 10 ** one.exponent);
  }
  const [low, high] = ends(flows.length > 0 ? flows : [100, 1000]);
  const [left, right] = ends(pressures);
  const share = (value, from, to) => Math.log(value / from) / Math.log(to / from);
  return {
    low, high, left, right,
    x: (value) => EDGE.left + share(value, left, right) * (WIDTH - EDGE.left - EDGE.right),
    y: (value) => HEIGHT - EDGE.bottom - share(value, low, high) * (HEIGHT - EDGE.top - EDGE.bottom),
  };
}

const ends = (values) => [Math.min(...values) / 1.15, Math.max(...values) * 1.15];

function ticks(from, to) {
  const found = [];
  for (let power = Math.floor(Math.log10(from)); power <= Math.ceil(Math.log10(to)); power += 1) {
    for (const step of [1, 2, 5]) {
      const value = step * 10 ** power;
      if (value >= from && value <= to) {
        found.push(value);
      }
    }
  }
  return found;
}

function axes(scale, unit) {
  const bottom = HEIGHT - EDGE.bottom;
  const words = (text, x, y, anchor) => svg("text", { x, y, "text-anchor": anchor, class: "picture__words" }, text);
  const rule = (x1, y1, x2, y2) => svg("line", { x1, y1, x2, y2, class: "picture__rule" });
  const plain = (value) => (value >= 1 ? value.toLocaleString("en-US") : String(value));
  return [
    ...ticks(scale.left, scale.right).flatMap((value) => [
      rule(scale.x(value), EDGE.top, scale.x(value), bottom), words(plain(value), scale.x(value), bottom + 18, "middle"),
    ]),
    ...ticks(scale.low, scale.high).flatMap((value) => [
      rule(EDGE.left, scale.y(value), WIDTH - EDGE.right, scale.y(value)),
      words(plain(value), EDGE.left - 6, scale.y(value) + 5, "end"),
    ]),
    words("Induced pressure, Pa", (EDGE.left + WIDTH - EDGE.right) / 2, HEIGHT - 6, "middle"),
    words(unit, 6, 14, "start"),
  ];
}

function line(law, scale, look) {
  const at = (pressure) => `${scale.x(pressure)},${scale.y(law.coefficient * pressure ** law.exponent)}`;
  return svg("polyline", { points: `${at(scale.left)} ${at(scale.right)}`, class: look });
}

function markAt50(law, scale, unit) {
  const flow = law.coefficient * MARK ** law.exponent;
  return [
    svg("line", { x1: scale.x(MARK), y1: scale.y(flow), x2: scale.x(MARK), y2: HEIGHT - EDGE.bottom, class: "picture__mark" }),
    svg("text", { x: scale.x(MARK) - 8, y: scale.y(flow) - 8, "text-anchor": "end", class: "picture__figure" },
      withUnit(flow, unit)),
  ];
}

function told(points, law, unit) {
  const count = `${points.length} points of flow against pressure.`;
  return law
    ? `${count} The line gives ${withUnit(law.coefficient * MARK ** law.exponent, unit)} at 50 Pa, exponent ${fixed(law.exponent, 3)}.`
    : `${count} No line yet.`;
}
