/** Handing over a take: two recordings, the reading, the ear rating, a note; then its score. */

import { get, path, send } from "../api.js";
import { field } from "../dialogs.js";
import { button, h, say, served, to } from "../dom.js";
import { filePair } from "../files.js";
import { inWords, settingsForm } from "../forms.js";
import { heldOf } from "../holds.js";
import { follow } from "../live.js";
import { submit, whenStored } from "../outbox.js";
import { failRun } from "../steps.js";
import { scored } from "../scores.js";
import { capital } from "../words.js";

export async function make({ study: name, rest }) {
  const study = await get(path("studies", name));
  const own = rest[0] === "own";
  const number = own ? null : Number(rest[0]) || study.proposals[0]?.trial || null;
  const proposal = study.proposals.find((one) => one.trial === number);
  if (number && !proposal) return { title: "Hand over", node: gone(study, number) };
  const start = (own ? named(rest[1]) : proposal?.settings) ?? study.last?.settings ?? {};
  const form = handOver(study, { number, start, other: own || !proposal || rest[1] === "else" });
  return { title: number ? `Hand over trial ${number}` : "Hand over", node: form, still: true };
}

/** Settings that a link named; null where it named none that can be read. */
function named(text) {
  try {
    return JSON.parse(text ?? "null");
  } catch {
    return null;
  }
}

function gone(study, number) {
  return [h("h1", {}, `Trial ${number} no longer waits`), h("p", { class: "lead" }, "It was handed over, put aside or taken back meanwhile."), h("a", { class: "button primary", href: to("s", study.name) }, "What to set now")];
}

function handOver(study, { number, start, other }) {
  const result = h("div", {});
  const wrong = h("p", { class: "wrong", role: "alert" });
  const chosen = filePair();
  const settings = settingsForm(study, start);
  const elsewhere = h("details", { class: "panel", open: other }, h("summary", {}, number ? "I set something else" : "What was set"), settings.node);
  const band = study.reading_band;
  const form = h("form", { class: "take", novalidate: true },
    h("p", { class: "where" }, study.title || study.name),
    h("h1", {}, number ? `Hand over trial ${number}` : "Hand over a take of your own"),
    number ? h("p", { class: "lead" }, inWords(study, start)) : null,
    elsewhere,
    h("section", { class: "panel" }, h("h2", {}, "1. The reading"),
      h("p", {}, `What the device showed right after the run, before any fine-tuning on it. Write it down first: fine-tuning changes it.`),
      field(band ? `${capital(band.name)}, ${band.low} to ${band.high}` : "Reading", "reading", { inputmode: "decimal", class: "short", "data-hold": "reading" }, band ? `${band.wanted[0]} to ${band.wanted[1]} is wanted; below ${band.redo_below}, do it again.` : "")),
    h("section", { class: "panel" }, h("h2", {}, "2. The two recordings"),
      h("p", {}, "Both are recordings of the proof reel: one through the real chain, one through the capture. ", h("a", { href: to("s", study.name, "goal") }, "Get the proof reel"), "."), chosen.node),
    h("section", { class: "panel" }, h("h2", {}, "3. Your ears"),
      field("Ear rating, 0 to 10, if you like", "ear", { inputmode: "decimal", class: "short" }),
      field("Note, if you like", "note", { kind: "textarea", rows: 2, maxlength: 10000 })),
    wrong,
    h("div", { class: "actions" }, h("button", { type: "submit", class: "primary" }, "Hand over"),
      number ? button("The run failed", async () => { if (await failRun(study, number)) location.hash = to("s", study.name); }) : null,
      h("a", { class: "button", href: to("s", study.name) }, "Back")),
    served("caution-hearing"));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "yes";
    wrong.replaceChildren();
    try {
      await give(study, { number, settings: elsewhere.open ? settings.values() : null, entered: Object.fromEntries(new FormData(form)), files: chosen.files() }, { form, result });
    } catch (error) {
      result.replaceChildren();
      form.hidden = false;
      wrong.replaceChildren(error.message, h("br"), error.hint ?? "");
      wrong.scrollIntoView({ block: "center" });
    } finally {
      delete form.dataset.busy;
    }
  });
  return [form, result];
}

class Unclear extends Error {
  constructor(message, hint) {
    super(message);
    this.hint = hint;
  }
}

function figure(entered, name) {
  const text = (entered[name] ?? "").trim().replace(",", ".");
  if (!text) return null;
  const value = Number(text);
  if (!Number.isFinite(value)) throw new Unclear(`“${entered[name]}” is no number.`, "Write it in digits, as in 6.5.");
  return value;
}

/** Send what was entered; the score follows when it is measured. */
async function give(study, { number, settings, entered, files }, { form, result }) {
  const body = { trial: number, settings, reading: figure(entered, "reading"), ear: figure(entered, "ear"), note: entered.note ?? "" };
  const { reference, capture } = files;
  if (Boolean(reference) !== Boolean(capture)) throw new Unclear("One of the two recordings is missing.", "Choose the reference and the capture, or neither to keep the figures alone.");
  if (!reference && body.reading === null && body.ear === null) throw new Unclear("There is nothing to keep yet.", "Choose the two recordings, or write a reading or an ear rating.");
  const what = number ? `the take of trial ${number}` : "a take of your own";
  const bar = h("progress", { max: 1, value: 0, "aria-label": "How far it is" });
  const word = h("p", { class: "lead", role: "status" }, reference ? "Sending the recordings." : "Saving.");
  form.hidden = true;
  result.replaceChildren(h("h1", { tabindex: -1 }, `Handing over ${what}`), word, bar);
  result.querySelector("h1").focus();
  const change = reference
    ? { method: "POST", path: path("studies", study.name, "takes"), body, study: study.name, label: what, files: { reference, capture } }
    : { method: "POST", path: path("studies", study.name, "trials"), body, study: study.name, label: what };
  const told = await submit(change, (share) => { bar.value = 0.9 * share; });
  if (told.waits) {
    word.textContent = "The line is cut. It is kept here as not yet saved, and is sent on when the line is back.";
    told.answer = await whenStored(told.key);
  }
  const trial = told.answer.job ? await measured(told.answer.job, word, bar) : told.answer;
  say(`Trial ${trial.trial} is in.`);
  await show(study, trial, result);
}

async function measured(job, word, bar) {
  word.textContent = "Measuring: lining the two up and comparing them.";
  bar.removeAttribute("value");
  const over = await follow(job, (told) => {
    if (told.state === "waiting") word.textContent = "Waiting for its turn to be measured.";
    if (told.state === "running") word.textContent = `${capital(told.progress || "measuring")}.`;
  });
  if (over.state === "failed") throw new Unclear(over.error.message, over.error.hint);
  return over.result;
}

async function show(study, trial, result) {
  const next = h("p", { role: "status" }, "Working out what to set next.");
  const onward = h("a", { class: trial.asks_again ? "button" : "button primary", href: to("s", study.name) }, "What to set next");
  result.replaceChildren(h("h1", { tabindex: -1 }, `Trial ${trial.trial} is in`), scored(study, trial), next,
    h("div", { class: "actions" }, trial.asks_again ? h("a", { class: "button primary", href: to("s", study.name, "take", "own", JSON.stringify(trial.settings)) }, "Again, tamer") : null, onward, trial.recordings ? h("a", { class: "button", href: to("s", study.name, "listen", trial.trial) }, "Compare by ear") : null,
      h("a", { class: "button", href: to("s", study.name, "trial", trial.trial) }, "Put something right")));
  result.querySelector("h1").focus();
  window.scrollTo(0, 0);
  try {
    const told = await send("POST", path("studies", study.name, "next"), { lock: heldOf(study.name) });
    const proposal = told.proposals[0];
    next.replaceChildren(h("strong", {}, `${trial.asks_again ? "Or go on" : "Next"}, trial ${proposal.trial}: `), proposal.changes.replaceAll("->", "→"));
  } catch (error) {
    next.textContent = error.message;
  }
}
