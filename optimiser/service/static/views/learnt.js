/** What is known so far: outlook, what to keep, explored space, what mattered, days. */

import { get, getText, path } from "../api.js";
import { h, say, table, to } from "../dom.js";
import { inWords } from "../forms.js";
import { INTERVAL_SDS, SPREAD, capital, minutes, number, percent, plusMinus } from "../words.js";

const HEADINGS = { progress: "Progress", explored: "Explored space", mic: "Microphone", riffs: "Riff order", mattered: "What mattered", outlook: "Outlook", parts: "Parts of the score" };

export async function make({ study: name }) {
  const study = await get(path("studies", name));
  const places = { outlook: h("div", { class: "panel" }, h("p", {}, "Working it out.")), figures: h("div", { class: "figures" }) };
  fill(study, places).catch((error) => places.outlook.replaceChildren(h("p", { class: "wrong" }, `${error.message} ${error.hint ?? ""}`)));
  return { title: "Learnt", node: [h("p", { class: "where" }, study.title || study.name), h("h1", {}, "What is known so far"), places.outlook, places.figures] };
}

async function fill(study, places) {
  const base = path("studies", study.name);
  const outlook = await get(`${base}/outlook`);
  places.outlook.replaceChildren(...kept(study, outlook));
  const { figures } = await get(`${base}/figures`);
  const drawn = await Promise.all(figures.map((figure) => getText(`${base}/figures/${encodeURIComponent(figure.name)}.svg`)));
  places.figures.replaceChildren(...figures.map((figure, place) => shownFigure(figure, drawn[place])));
  say("The figures are drawn.");
}

function kept(study, outlook) {
  const best = outlook.recommended;
  if (!best) return [h("p", { class: "lead" }, "Nothing is scored yet; make the first trials.")];
  return [
    h("h2", {}, "To keep, as things stand"),
    h("p", { class: "keep" }, inWords(study, best.settings)),
    h("p", {}, `Expected score ${plusMinus(best.expected, best.expected_se)}, ${best.made_shown}.`),
    best.trial ? null : h("p", {}, h("a", { class: "button", href: to("s", study.name, "take", "own", JSON.stringify(best.settings)) }, "I make this one")),
    study.by_reading ? h("p", {}, `Scores go ${study.by_reading}.`) : null,
    h("p", { class: "quiet" }, SPREAD),
    h("h2", {}, "Outlook"),
    h("p", { class: "lead" }, `${capital(outlook.advice_shown)}.`),
    h("dl", { class: "facts" }, [
      ["Points that may still be gained", number(outlook.gain_left)],
      [`Chance to be ${outlook.near_shown}`, percent(outlook.chance_near_best)],
      ["Planned time left, handling included", minutes(outlook.minutes_left)],
      outlook.checked ? ["Trials that the others predict", `${outlook.covered} of ${outlook.checked}`] : null,
    ].filter(Boolean).map(([label, value]) => h("div", {}, h("dt", {}, label), h("dd", {}, value)))),
    outlook.doubted.map((trial) => h("p", { class: "caution" }, h("strong", {}, "Doubtful: "), h("a", { href: to("s", study.name, "trial", trial) }, `trial ${trial}`), " fits none of the others and counts for little. A botched take or a wrong number?")),
    outlook.days.length ? [h("h2", {}, "Days"), h("ul", {}, outlook.days.map((day) => h("li", {}, read(day)))), h("p", { class: "quiet" }, "In points, against all days. Scores are compared with that taken off.")] : null,
  ].flat(3).filter(Boolean);
}

/** What a day reads high or low by, in the page's own ±. */
function read(day) {
  const side = number(Math.abs(day.shift)) === "0.0" ? "as the others" : `${number(Math.abs(day.shift))} ${day.shift > 0 ? "high" : "low"}`;
  return `${day.day || "Without a date"} reads ${side} ± ${number(INTERVAL_SDS * day.shift_se)}${day.linked ? "" : ", told from settings nearby alone"}`;
}

function shownFigure(figure, svg) {
  const root = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
  const heading = HEADINGS[figure.name] ?? figure.name.replace("-", ", ");
  return h("figure", {}, h("figcaption", {}, h("h2", {}, heading)),
    h("div", { class: "drawn", tabindex: 0, role: "region", "aria-label": figure.finding }, document.importNode(root, true)),
    h("details", { "data-hold": `table-${figure.name}` }, h("summary", {}, "The same as a table"), table(`Table: ${heading}`, figure.head, figure.rows)));
}
