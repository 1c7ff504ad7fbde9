/** The goal reference: the wanted tone, recorded once through the chain at the favourite settings. */

import { get, path } from "../api.js";
import { button, h, say, served, to } from "../dom.js";
import { filePicker } from "../files.js";
import { follow } from "../live.js";
import { submit } from "../outbox.js";
import { fetchReel } from "../steps.js";
import { number } from "../words.js";

export async function make({ study: name }) {
  const study = await get(path("studies", name));
  return { title: "Goal reference", node: page(study), still: true };
}

function page(study) {
  const goal = study.goal_reference;
  const wrong = h("p", { class: "wrong", role: "alert" });
  const word = h("p", { role: "status" });
  const bar = h("progress", { max: 1, value: 0, hidden: true, "aria-label": "How far it is" });
  const reel = h("p", { role: "status" }, study.proof_reel ? `This study's proof reel lasts ${number(study.proof_reel.seconds)} s: ${study.proof_reel.riffs.join(", ")}.` : "");
  const { node: picker, input: file } = filePicker("goal-file", "The recording");
  const guarded = (act) => async () => {
    wrong.replaceChildren();
    try {
      await act();
    } catch (error) {
      bar.hidden = true;
      word.textContent = "";
      wrong.replaceChildren(error.message, h("br"), error.hint ?? "");
    }
  };
  const record = guarded(async () => {
    if (!file.files[0]) {
      wrong.textContent = "Choose the recording first.";
      return;
    }
    bar.hidden = false;
    word.textContent = "Sending the recording.";
    const told = await submit({ method: "PUT", path: path("studies", study.name, "goal"), body: {}, study: study.name, label: "the goal reference", files: { recording: file.files[0] } }, (share) => { bar.value = share; });
    if (told.waits) {
      word.textContent = "The line is cut. The recording is kept here as not yet saved, and is sent on when the line is back.";
      return;
    }
    word.textContent = "Checking it.";
    bar.removeAttribute("value");
    const over = await follow(told.answer.job, (job) => { if (job.progress) word.textContent = `${job.progress}.`; });
    bar.hidden = true;
    if (over.state === "failed") throw Object.assign(new Error(over.error.message), { hint: over.error.hint });
    const warnings = over.result?.warnings ?? [];
    if (warnings.length) {
      word.textContent = "It is kept all the same. Hand over another one to take its place.";
      wrong.replaceChildren(...warnings);
      return;
    }
    say("The goal reference is kept.");
    location.hash = to("s", study.name);
  });
  const getReel = guarded(async () => {
    const made = await fetchReel(study, { kind: "proof" });
    reel.textContent = `It lasts ${number(made.reel.seconds)} s: ${made.reel.riffs.join(", ")}. ${made.remarks.join(" ")}`;
  });
  return [
    h("p", { class: "where" }, study.title || study.name),
    h("h1", {}, "Goal reference"),
    goal ? h("p", { class: "lead" }, `Recorded: ${goal.name}, ${number(goal.seconds)} s. Another one may take its place; takes of the same proof reel made before are scored anew.`)
      : h("p", { class: "lead" }, "The tone you want in the end, recorded once."),
    ...(goal?.warnings ?? []).map((warning) => h("p", { class: "wrong" }, warning)),
    study.goal_again ? h("p", { class: "check" }, study.goal_again.why) : null,
    served("caution-load"),
    h("section", { class: "panel" }, h("h2", {}, "1. Get the proof reel"), h("p", {}, "Dry riffs with a marker in front. The goal, every reference and every capture are recordings of this same reel."), reel, button("Download the proof reel", getReel)),
    h("section", { class: "panel" }, h("h2", {}, "2. Set your favourite tone"), h("p", {}, "Set the chain as you like it best. Play the whole reel through it and record it, from a little before the start to a little after the end.")),
    h("section", { class: "panel" }, h("h2", {}, "3. Hand it over"), picker, wrong, word, bar,
      h("div", { class: "actions" }, button("Keep as goal reference", record, { class: "primary" }), h("a", { class: "button", href: to("s", study.name) }, "Back"))),
    h("section", { class: "panel" }, h("h2", {}, "From then on"), h("p", {}, "After each run of the device, write down the reading it shows before any fine-tuning. A reading from before is one that compares between trials.")),
  ];
}
