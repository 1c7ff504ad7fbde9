/** A form for an arrangement of settings: what-if, something else that was set, mending a trial. */

import { h } from "./dom.js";
import { cone, dial } from "./drawings.js";
import { clock, shown } from "./words.js";

let forms = 0;

/**
 * Controls for every setting that exists under the values chosen so far.
 * Gives `{node, values()}`; `changed` is called after each change.
 */
export function settingsForm(study, start, changed = () => {}) {
  const values = { ...start };
  const own = `form${++forms}`;
  const place = h("div", { class: "controls" });
  const drawn = new Map();

  const put = (setting, value, redraw) => {
    values[setting.name] = value;
    if (redraw) arrange();
    changed(current());
  };
  const exists = (setting) => holds(study, setting, values);
  const current = () => Object.fromEntries(study.settings.filter((one) => exists(one)).map((one) => [one.name, values[one.name] ?? first(study, one)]));

  function arrange() {
    for (const setting of study.settings) {
      const there = drawn.has(setting.name);
      if (exists(setting) && !there) {
        values[setting.name] ??= first(study, setting);
        drawn.set(setting.name, control(study, setting, values[setting.name], `${own}-${setting.name}`, (value) => put(setting, value, true)));
      } else if (!exists(setting) && there) drawn.delete(setting.name);
    }
    const nodes = study.settings.filter((one) => drawn.has(one.name)).map((one) => drawn.get(one.name));
    if (nodes.length !== place.children.length || nodes.some((node, i) => place.children[i] !== node)) {
      const held = document.activeElement;
      place.replaceChildren(...nodes);
      if (place.contains(held)) held.focus({ preventScroll: true });
    }
  }
  arrange();
  return { node: place, values: current };
}

function holds(study, setting, values) {
  const when = study.sheet.settings?.[setting.name]?.only_when;
  if (!setting.only_when || !when) return true;
  return Object.entries(when).every(([name, wanted]) => {
    const value = values[name];
    if (value === undefined) return false;
    if (Array.isArray(wanted)) return wanted.includes(value);
    if (wanted !== null && typeof wanted === "object") {
      const above = "above" in wanted ? value > hours(wanted.above) : true;
      return above && ("below" in wanted ? value < hours(wanted.below) : true);
    }
    return value === wanted;
  });
}

/** A clock time of the sheet as hours, a number as it is. */
function hours(written) {
  if (typeof written === "number") return written;
  const [whole, minutes] = written.split(":").map(Number);
  return (whole < 7 ? whole + 12 : whole) + (minutes || 0) / 60;
}

/** Something to begin with where no trial says better. */
function first(study, setting) {
  switch (setting.kind) {
    case "knob": return setting.low + (setting.high - setting.low) / 2;
    case "stage": return setting.steps[0];
    case "mic": return setting.free ? Object.fromEntries(setting.axes.map((axis) => [axis, setting.ranges[axis][0]])) : setting.spots[0];
    case "riff order": return setting.riffs.slice(0, study.sheet.settings?.[setting.name]?.use ?? setting.riffs.length);
    default: return setting.options[0];
  }
}

function control(study, setting, value, id, put) {
  switch (setting.kind) {
    case "knob": return knobControl(setting, value, id, put);
    case "mic": return setting.free ? placeControl(setting, value, id, put) : radios(setting, setting.spots, value, id, put);
    case "stage": return radios(setting, setting.steps, value, id, put);
    case "riff order": return orderControl(setting, value, id, put);
    default: return radios(setting, setting.options, value, id, put);
  }
}

function knobControl(setting, start, id, put) {
  const step = setting.tolerance || (setting.high - setting.low) / 100;
  const picture = h("div", { class: "picture" }, dial(setting, start));
  const said = h("output", { for: id }, shown(setting, start));
  const slider = h("input", { type: "range", id, min: setting.low, max: setting.high, step: "any", value: start, "aria-valuetext": shown(setting, start) });
  const set = (raw) => {
    const value = tidy(setting, Math.min(setting.high, Math.max(setting.low, raw)), step);
    slider.value = value;
    slider.setAttribute("aria-valuetext", shown(setting, value));
    said.textContent = shown(setting, value);
    picture.replaceChildren(dial(setting, value));
    put(value);
  };
  slider.addEventListener("input", () => set(slider.valueAsNumber));
  slider.addEventListener("keydown", (event) => {
    const by = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 6, PageDown: -6 }[event.key];
    if (!by) return;
    event.preventDefault();
    set(slider.valueAsNumber + by * step);
  });
  const nudge = (by, sign, word) => h("button", { type: "button", class: "nudge", "aria-label": `${setting.name} ${word}`, onclick: () => set(slider.valueAsNumber + by * step) }, sign);
  return h("div", { class: "control" }, picture, h("div", { class: "what" }, h("label", { for: id }, setting.name), said),
    h("div", { class: "slide" }, nudge(-1, "−", "down"), slider, nudge(1, "+", "up")));
}

/** A value on the grid of its tolerance, counted from the low end, free of rounding dust. */
function tidy(setting, value, step) {
  const gridded = setting.low + Math.round((value - setting.low) / step) * step;
  const inside = Math.min(setting.high, gridded);
  return setting.scale === "clock" ? Math.round(inside * 60) / 60 : Number(inside.toPrecision(9));
}

function radios(setting, names, start, id, put) {
  const picture = h("div", { class: "picture" });
  const draw = (value) => picture.replaceChildren(...[setting.kind === "mic" ? cone(setting, value) : null].filter(Boolean));
  draw(start);
  return h("fieldset", { class: "control" }, h("legend", {}, setting.name), picture.childNodes.length ? picture : null,
    h("div", { class: "choices" }, names.map((name, place) => h("label", { class: "choice" },
      h("input", { type: "radio", name: id, id: `${id}-${place}`, value: name, checked: name === start, onchange: () => { draw(name); put(name); } }), h("span", {}, name)))));
}

const AXIS_WORDS = { radial_mm: "mm from the centre", distance_mm: "mm off the grille", angle_deg: "degrees to the axis" };

function placeControl(setting, start, id, put) {
  const place = { ...start };
  const picture = h("div", { class: "picture" }, cone(setting, place));
  return h("fieldset", { class: "control" }, h("legend", {}, setting.name), picture,
    setting.axes.map((axis) => h("div", { class: "field" }, h("label", { for: `${id}-${axis}` }, AXIS_WORDS[axis]),
      h("input", { type: "number", inputmode: "decimal", id: `${id}-${axis}`, min: setting.ranges[axis][0], max: setting.ranges[axis][1], step: "any", value: start[axis],
        oninput: (event) => {
          if (Number.isNaN(event.target.valueAsNumber)) return;
          place[axis] = event.target.valueAsNumber;
          picture.replaceChildren(cone(setting, place));
          put({ ...place });
        } }))));
}

function orderControl(setting, start, id, put) {
  const order = [...start];
  const selects = order.map((_, place) => h("select", { id: `${id}-${place}`, onchange: (event) => {
    const wanted = event.target.value;
    const elsewhere = order.indexOf(wanted);
    if (elsewhere >= 0) order[elsewhere] = order[place];
    order[place] = wanted;
    selects.forEach((select, i) => { select.value = order[i]; });
    put([...order]);
  } }, setting.riffs.map((riff) => h("option", { value: riff, selected: riff === order[place] }, riff))));
  return h("fieldset", { class: "control" }, h("legend", {}, setting.name),
    h("div", { class: "choices order-choices" }, selects.map((select, place) => h("div", { class: "field" }, h("label", { for: `${id}-${place}` }, `${place + 1}.`), select))));
}

/** An arrangement in one line. */
export function inWords(study, settings) {
  return study.settings.filter((one) => one.name in settings).map((one) => `${one.name} ${one.kind === "knob" && one.scale === "clock" ? clock(settings[one.name]) : shown(one, settings[one.name])}`).join(" · ");
}
