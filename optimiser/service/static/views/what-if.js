/** What would these settings give? Moved by hand, predicted at once. */

import { NoLine, get, path, send } from "../api.js";
import { button, h, to } from "../dom.js";
import { settingsForm } from "../forms.js";
import { INTERVAL_SDS, SPREAD, capital, number, percent, spreadOf } from "../words.js";

const PAUSE_MS = 120;

export async function make({ study: name, rest }) {
  const study = await get(path("studies", name));
  const from = rest[0] ? await get(path("studies", name, "trials", Number(rest[0]))) : study.best_shown ?? study.last;
  const start = from?.settings ?? study.proposals[0]?.settings ?? {};
  const told = h("div", { class: "panel score prediction", role: "status", "aria-live": "polite" }, h("p", {}, "Working it out."));
  const predictor = predicting(study, told);
  const form = settingsForm(study, start, predictor);
  predictor(form.values());
  return {
    title: "What if",
    still: true,
    changed: () => predictor(form.values()),
    node: [
      h("p", { class: "where" }, study.title || study.name),
      h("h1", {}, "What if"),
      h("p", { class: "lead" }, from ? `From trial ${from.trial}. Move anything, and see what is expected.` : "Move anything, and see what is expected."),
      told,
      form.node,
      h("p", { class: "quiet" }, SPREAD),
      h("div", { class: "actions" }, button("I make this one", () => { location.hash = to("s", name, "take", "own", JSON.stringify(form.values())); }, { class: "primary" })),
    ],
  };
}

/** One question at a time; of those that come meanwhile the newest is asked next. */
function predicting(study, told) {
  let newest = null;
  let busy = false;
  const run = async () => {
    if (busy) return;
    busy = true;
    while (newest) {
      const settings = newest;
      newest = null;
      try {
        show(study, told, await send("POST", path("studies", study.name, "predict"), { settings }));
      } catch (error) {
        told.replaceChildren(h("p", { class: "wrong" }, error instanceof NoLine ? "No line to the laptop; what is expected follows when it is back." : `${error.message} ${error.hint}`));
      }
      await new Promise((go) => setTimeout(go, PAUSE_MS));
    }
    busy = false;
  };
  return (settings) => {
    newest = settings;
    run();
  };
}

function show(study, told, view) {
  const best = study.best;
  told.replaceChildren(
    ...[view.mean === null ? h("p", { class: "lead" }, "Nothing is known yet: make the first trials.")
      : h("p", { class: "figure" }, h("strong", {}, number(view.mean, 0)), h("span", {}, ` of 100, ${spreadOf(view.mean, view.se)}`)),
    h("p", {}, capital([
      best !== undefined && best !== null ? `highest so far ${number(best)}` : null,
      study.reading_band ? `chance of ${study.reading_band.accepted}: ${percent(view.chance_in_band)}` : null,
      view.noise ? `a single take may differ by ±\u00a0${number(INTERVAL_SDS * view.noise, 0)} more` : null].filter(Boolean).join("; ")), "."),
    view.by_reading ? h("p", {}, `Scores go ${view.by_reading}.`) : null,
    view.outside?.length ? h("p", { class: "wrong" }, `Outside of the sheet: ${view.outside.join(", ")}.`) : null].filter(Boolean));
}
