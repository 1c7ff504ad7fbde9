/** Settings drawn as they stand on the amp: dials, steps, microphone spots, riff orders. */

import { h, s } from "./dom.js";
import { shown } from "./words.js";

const LOW = 7;
const HIGH = 17;
const NOON = 12;

const turn = (hours) => ((hours - NOON) * 30 * Math.PI) / 180;
const on = (hours, radius) => [radius * Math.sin(turn(hours)), -radius * Math.cos(turn(hours))].map((x) => x.toFixed(2));

/** Where a knob's value lies on the usual dial, 7:00 round to 5:00. */
function hoursOf(knob, value) {
  return knob.scale === "clock" ? value : LOW + ((value - knob.low) / (knob.high - knob.low)) * (HIGH - LOW);
}

function stroke(hours, inner, outer, attributes) {
  const [x1, y1] = on(hours, inner);
  const [x2, y2] = on(hours, outer);
  return s("line", { x1, y1, x2, y2, ...attributes });
}

function arc(from, to, radius, attributes) {
  const start = on(from, radius).join(" ");
  const end = on(to, radius).join(" ");
  const large = Math.abs(to - from) > 6 ? 1 : 0;
  return s("path", { d: `M${start}A${radius} ${radius} 0 ${large} ${to >= from ? 1 : 0} ${end}`, fill: "none", ...attributes });
}

/** A dial: the range that the sheet allows, the pointer, and where it stood before. */
export function dial(knob, value, before = null) {
  const now = hoursOf(knob, value);
  const ticks = [];
  for (let hour = LOW; hour <= HIGH; hour += 1) ticks.push(stroke(hour, 41, 46, { class: hour === NOON ? "tick noon" : "tick" }));
  const moved = typeof before === "number" && Math.abs(hoursOf(knob, before) - now) > 0.01;
  return s("svg", { class: "dial", viewBox: "-50 -50 100 94", "aria-hidden": "true" },
    arc(hoursOf(knob, knob.low), hoursOf(knob, knob.high), 38, { class: "reach" }),
    ticks,
    s("circle", { r: 30, class: "cap" }),
    moved ? [arc(hoursOf(knob, before), now, 38, { class: "way" }), stroke(hoursOf(knob, before), 12, 29, { class: "was" })] : null,
    stroke(now, 6, 36, { class: "pointer" }));
}

/** The loudspeaker from the front: its centre, the saved spots, and the one that is meant. */
export function cone(setting, value) {
  const places = { ...(setting.places ?? {}) };
  const place = typeof value === "object" ? value : places[value];
  if (!place) return null;
  const furthest = Math.max(40, place.radial_mm, ...Object.values(places).map((other) => other.radial_mm), setting.ranges?.radial_mm?.[1] ?? 0);
  const at = (mm) => ((mm / furthest) * 36).toFixed(2);
  const lean = (place.angle_deg * Math.PI) / 180;
  const x = Number(at(place.radial_mm));
  return s("svg", { class: "cone", viewBox: "-50 -50 100 100", "aria-hidden": "true" },
    s("circle", { r: 46, class: "rim" }),
    [12, 24, 36].map((radius) => s("circle", { r: radius, class: "ring" })),
    s("path", { d: "M-4 0H4M0-4V4", class: "ring" }),
    Object.entries(places).filter(([name]) => name !== value).map(([, other]) => s("circle", { cx: at(other.radial_mm), cy: 0, r: 3.2, class: "other" })),
    s("line", { x1: x, y1: 0, x2: (x + 20 * Math.sin(lean)).toFixed(2), y2: (-6 - 18 * Math.cos(lean)).toFixed(2), class: "stand" }),
    s("circle", { cx: x, cy: 0, r: 6.5, class: "spot" }));
}

/** Where a spot lies, in words; empty where nobody wrote it down. */
function placeInWords(setting, value) {
  const place = typeof value === "object" ? value : setting.places?.[value];
  return place ? `${place.radial_mm} mm from the centre, ${place.distance_mm} mm off the grille, ${place.angle_deg}° to the axis` : "";
}

/** The steps of a switch in their order, the wanted one marked. */
export function steps(names, value) {
  return h("ol", { class: "steps", "aria-hidden": "true" },
    names.map((name) => h("li", name === value ? { class: "on" } : {}, name)));
}

/** A value as large as its longest word allows; the style sheet knows how wide there is room. */
function inLargeType(said) {
  const longest = Math.max(...said.split(/\s+/).map((word) => word.length), said.length > 10 ? said.length / 2 : 0.9 * said.length, 4);
  const large = h("p", { class: "value" }, said);
  large.style.setProperty("--letters", longest);
  return large;
}

/** What stands for a setting beside its name: drawing, value in large type, and what else helps to set it. */
export function drawing(setting, value, before) {
  const large = inLargeType(shown(setting, value).replaceAll("\u00a0", " "));
  switch (setting.kind) {
    case "knob":
      return { picture: dial(setting, value, before), body: [large] };
    case "stage":
      return { picture: null, body: [large, steps(setting.steps, value)] };
    case "mic":
      return { picture: cone(setting, value), body: [large, typeof value === "object" ? null : h("p", { class: "quiet" }, placeInWords(setting, value))] };
    case "riff order":
      return { picture: null, body: [h("ol", { class: "order" }, value.map((riff) => h("li", {}, riff)))] };
    default:
      return { picture: null, body: [large, steps(setting.options, value)] };
  }
}

/** What the hand does to get there: a word, an arrow, and from where. */
export function move(setting, value, before) {
  if (before === undefined || before === null) return { word: "set", arrow: "", from: "" };
  const from = shown(setting, before);
  switch (setting.kind) {
    case "knob":
      return value > before ? { word: "turn up", arrow: "↻", from } : { word: "turn down", arrow: "↺", from };
    case "mic":
      return { word: "move", arrow: "→", from };
    case "riff order":
      return { word: orderMove(value, before), arrow: "⇅", from: "" };
    default:
      return { word: "switch", arrow: "→", from };
  }
}

/** What becomes of a riff order: riffs may change places, join or leave. */
function orderMove(value, before) {
  const only = (one, other) => one.filter((riff) => !other.includes(riff));
  const common = (one, other) => one.filter((riff) => other.includes(riff)).join();
  const told = [["with", only(value, before)], ["without", only(before, value)]].filter(([, riffs]) => riffs.length);
  return [common(value, before) === common(before, value) ? "" : "new order", ...told.map(([word, riffs]) => `${word} ${riffs.join(" and ")}`)].filter(Boolean).join(", ");
}
