/** One trial: its settings, its score, and putting right what was written down of it. */

import { at, get, path } from "../api.js";
import { ask, field } from "../dialogs.js";
import { button, h, to } from "../dom.js";
import { drawing } from "../drawings.js";
import { settingsForm } from "../forms.js";
import { submit } from "../outbox.js";
import { scored } from "../scores.js";
import { alike } from "../words.js";

const FIGURES = [["overall", "Overall, given outright"], ["reading", "Reading"], ["ear", "Ear rating"]];

export async function make({ study: name, rest }) {
  const number = Number(rest[0]);
  const [study, trial, told, { trials }] = await Promise.all([
    get(path("studies", name)), get(path("studies", name, "trials", number)), get(`${path("studies", name, "history")}?trial=${number}`), get(`${path("studies", name)}/trials`)]);
  const levelled = trials.find((one) => one.trial === number)?.levelled ?? null;
  return { title: `Trial ${number}`, node: page(study, { ...trial, levelled }, told.events) };
}

function page(study, trial, events) {
  const settings = study.settings.filter((setting) => setting.name in trial.settings);
  return [
    h("p", { class: "where" }, study.title || study.name),
    h("h1", {}, `Trial ${trial.trial}`),
    h("p", { class: "lead" }, [trial.day, { void: "struck out: it counts for nothing", failed: "the run failed", declined: "put aside" }[trial.state]].filter(Boolean).join(", ")),
    trial.asked ? h("p", {}, "Set otherwise than proposed.") : null,
    scored(study, trial),
    trial.note ? h("section", { class: "panel" }, h("h2", {}, "Note"), h("p", {}, trial.note)) : null,
    trial.heard ? h("p", {}, `Blind test: ${trial.heard.correct} right of ${trial.heard.tries}.`) : null,
    h("h2", {}, "Set"),
    h("ul", { class: "settings small" }, settings.map((setting) => {
      const { picture, body } = drawing(setting, trial.settings[setting.name], null);
      return h("li", { class: "setting" }, h("div", { class: "picture" }, picture), h("div", { class: "what" }, h("h3", {}, setting.name), body));
    })),
    h("div", { class: "actions" },
      trial.recordings ? h("a", { class: "button", href: to("s", study.name, "listen", trial.trial) }, "Compare by ear") : null,
      ["measured", "void"].includes(trial.state) ? h("a", { class: "button", href: at(path("studies", study.name, "recall", trial.trial)), target: "_blank", rel: "noopener" }, "Recall sheet, to print") : null,
      trial.state === "measured" ? button("Put something right", () => amend(study, trial), { "data-hold": "amend" }) : null,
      trial.state === "measured" ? button("Strike it out", () => strike(study, trial, "void"), { "data-hold": "counts" }) : null,
      trial.state === "void" ? button("Let it count again", () => strike(study, trial, "unvoid"), { "data-hold": "counts" }) : null,
      h("a", { class: "button", href: to("s", study.name, "what-if", trial.trial) }, "What if, from here")),
    h("h2", {}, "What happened to it"),
    happened(events),
  ];
}

/** What happened, with who and why; by their numbers it is said which one took which one back. */
export function happened(events) {
  return h("ol", { class: "events" }, events.map((event) => h("li", {},
    h("span", { class: "quiet" }, `${event.event} · ${event.shown}`), " ",
    h("strong", {}, event.trial ? `trial ${event.trial} ` : "", event.words),
    event.undoes ? `, taking back ${event.undoes}` : "", event.undone_by ? ` (taken back by ${event.undone_by})` : "", event.what ? `: ${event.what.replaceAll("->", "→")}` : "",
    event.reason ? h("span", {}, ` — ${event.reason}`) : "", event.actor ? h("span", { class: "quiet" }, `, ${event.actor}`) : "")));
}

async function amend(study, trial) {
  const form = settingsForm(study, trial.settings);
  await ask({
    title: `Put trial ${trial.trial} right`,
    text: "What stood there before is kept. Empty a field to take its figure out.",
    fields: [
      ...FIGURES.filter(([name]) => name !== "overall" || trial.match === null).map(([name, label]) => field(label, name, { inputmode: "decimal", value: trial[name] ?? "" })),
      field("Note", "note", { kind: "textarea", rows: 2, value: trial.note }),
      field("Day", "day", { value: trial.day ?? "" }, "As in 2026-03-02."),
      h("details", {}, h("summary", {}, "What was set"), form.node),
      field("Why", "reason", { maxlength: 1000 }),
    ],
    confirm: "Keep it so",
    act: (entered) => submit({ method: "PATCH", path: path("studies", study.name, "trials", trial.trial), body: changes(trial, entered, form.values()), study: study.name, label: `what was put right in trial ${trial.trial}` }),
  });
}

/** The body that says what differs from what stands there. */
function changes(trial, entered, settings) {
  const body = { clear: [], reason: entered.reason ?? "" };
  for (const [name] of FIGURES) {
    if (!(name in entered)) continue;
    const text = entered[name].trim().replace(",", ".");
    if (text === "" && trial[name] !== null) body.clear.push(name);
    else if (text !== "" && Number(text) !== trial[name]) {
      if (!Number.isFinite(Number(text))) throw new Error(`“${text}” is no number. Write it in digits, as in 6.5.`);
      body[name] = Number(text);
    }
  }
  if (entered.note !== trial.note) body.note = entered.note;
  if (entered.day && entered.day !== trial.day) body.day = entered.day;
  const moved = Object.entries(settings).filter(([name, value]) => !alike(value, trial.settings[name]));
  if (moved.length) body.settings = Object.fromEntries(moved);
  return body;
}

function strike(study, trial, how) {
  const out = how === "void";
  return ask({
    title: out ? `Strike trial ${trial.trial} out` : `Let trial ${trial.trial} count again`,
    text: out ? "It stays readable and counts for nothing, until you let it count again." : "",
    fields: [field("Why", "reason", { maxlength: 1000 })],
    confirm: out ? "Strike it out" : "Let it count",
    act: ({ reason }) => submit({ method: "POST", path: path("studies", study.name, "trials", trial.trial, how), body: { reason }, study: study.name, label: `trial ${trial.trial} ${out ? "struck out" : "counts again"}` }),
  });
}
