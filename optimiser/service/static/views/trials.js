/** Every trial, the newest first. */

import { get, path } from "../api.js";
import { ask, field } from "../dialogs.js";
import { button, h, to } from "../dom.js";
import { inWords } from "../forms.js";
import { submit } from "../outbox.js";
import { capital, isMoved, levelOf, number } from "../words.js";

const STATES = { waiting: "waits for its take", failed: "failed", declined: "put aside", void: "struck out" };

export async function make({ study: name }) {
  const [study, { trials }] = await Promise.all([get(path("studies", name)), get(`${path("studies", name)}/trials`)]);
  const best = study.best_shown?.trial;
  const rows = [...trials].reverse().map((trial) => row(study, trial, best));
  return {
    title: "Trials",
    node: [
      h("p", { class: "where" }, study.title || study.name),
      h("h1", {}, "Trials"),
      rows.length ? null : h("p", { class: "lead" }, "None yet."),
      h("div", { class: "actions" },
        h("a", { class: "button", href: to("s", name, "take", "own") }, "Add one of your own"),
        h("a", { class: "button", href: to("s", name, "history") }, "What happened"),
        trials.length ? button("Take back the newest change", () => takeBack(name), { "data-hold": "undo" }) : null),
      trials.some(isMoved) ? h("p", {}, "Days read high or low. The scores here have that taken off, so that they compare.") : null,
      h("ul", { class: "cards" }, rows),
    ],
  };
}

function row(study, trial, best) {
  const score = trial.overall === null ? null : number(levelOf(trial));
  const beside = [isMoved(trial) ? `measured ${number(trial.overall)}` : null, trial.match === null ? null : `match ${number(trial.match, 0)}`, trial.goal === null ? null : `goal ${number(trial.goal, 0)}`, trial.reading === null ? null : `${study.reading_band?.name ?? "reading"} ${trial.reading}`, trial.day];
  return h("li", {}, h("a", { class: `card trial ${trial.state}`, href: trial.state === "waiting" ? to("s", study.name) : to("s", study.name, "trial", trial.trial), "data-hold": `trial-${trial.trial}` },
    h("span", { class: "number" }, `Trial ${trial.trial}`),
    score !== null && trial.state === "measured" ? h("strong", { class: "score" }, score) : h("span", { class: "score state" }, STATES[trial.state] ?? "no score yet"),
    trial.trial === best ? h("span", { class: "mark" }, "highest so far") : study.best_alike.includes(trial.trial) ? h("span", { class: "mark" }, "reads the same") : null,
    h("span", { class: "settings-line" }, inWords(study, trial.settings)),
    h("span", { class: "quiet" }, beside.filter(Boolean).map((told, place) => [place ? " · " : "", h("span", { class: "item" }, told)])),
    trial.note ? h("span", { class: "quiet" }, trial.note) : null));
}

/** Take back whatever was changed last; a reason may be given. */
export async function takeBack(name) {
  const asked = await ask({
    title: "Take back the newest change",
    text: "The newest change of this study is undone, whoever made it. Nothing is lost: it stays in what happened.",
    fields: [field("Why, if you like", "reason", { maxlength: 1000 })],
    confirm: "Take it back",
    act: ({ reason }) => submit({ method: "POST", path: path("studies", name, "undo"), body: { reason }, study: name, label: "taking back the newest change" }),
  });
  if (asked?.told.answer) await ask({ title: "Taken back", text: `${capital(asked.told.answer.shown)}.`, confirm: "I see" });
}
