/** A trial's score with its parts, what they say, and what to do about it. */

import { h } from "./dom.js";
import { SPREAD, capital, isMoved, levelOf, number, plusMinus, spreadOf } from "./words.js";

const NAMES = { match: "Match with its reference", goal: "Match with the goal", articulation: "Articulation", ear: "Ear rating, of 10" };

/** Score, parts, advice and warnings of a trial. */
export function scored(study, trial) {
  const facts = [
    ...Object.entries(NAMES).map(([name, label]) => [label, trial[name] === null ? null : plusMinus(trial[name], trial[`${name}_se`])]),
    [capital(study.reading_band?.name ?? "reading"), trial.reading === null ? null : String(trial.reading)],
  ].filter(([, value]) => value !== null);
  return h("div", {},
    h("section", { class: "panel score" },
      trial.overall === null ? h("p", { class: "lead" }, trial.state === "failed" ? "The run gave no capture." : "No overall score: its parts are not all known yet.")
        : h("p", { class: "figure" }, h("strong", {}, number(trial.overall)), h("span", {}, ` of 100${trial.overall_se ? `, ${spreadOf(trial.overall, trial.overall_se)}` : ""}`)),
      trial.by_reading ? h("p", {}, `No overall score of a take: it counts ${trial.by_reading}.`) : null,
      isMoved(trial) ? h("p", {}, `${number(levelOf(trial))} with its day taken off: so it counts beside trials of other days.`) : null,
      trial.reading_verdict ? h("p", { class: "verdict" }, `${capital(trial.reading_verdict)}.`) : null,
      h("dl", { class: "facts" }, facts.map(([label, value]) => h("div", {}, h("dt", {}, label), h("dd", {}, value)))),
      [trial.overall_se, trial.match_se, trial.goal_se].some(Boolean) ? h("p", { class: "quiet" }, SPREAD) : null),
    list("What the recordings say", trial.advice),
    list("Warnings", trial.warnings),
    trial.parts?.length ? parts(trial) : null);
}

function list(heading, lines) {
  return lines?.length ? h("section", { class: "panel" }, h("h2", {}, heading), h("ul", {}, lines.map((line) => h("li", {}, line)))) : null;
}

/** One step of a part is what is just noticed; the bar shows how many there are. */
function parts(trial) {
  const most = Math.max(4, ...trial.parts.map((part) => part.steps));
  return h("details", { class: "panel", "data-hold": "parts" }, h("summary", {}, "Parts of the match"),
    h("p", { class: "quiet" }, "Counted in just-noticeable steps: 0 is alike, and six steps of a part that weighs 1 halve the score."),
    h("ul", { class: "bars" }, [...trial.parts].sort((one, other) => other.steps - one.steps).map((part) => h("li", {},
      h("span", {}, part.name),
      h("meter", { min: 0, max: most, value: part.steps, "aria-label": `${part.name}: ${number(part.steps)} steps` }),
      h("span", { class: "quiet" }, `${number(part.steps)} steps`)))));
}
