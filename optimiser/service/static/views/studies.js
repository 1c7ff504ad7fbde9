/** What studies there are, and where each stands. */

import { get } from "../api.js";
import { ask } from "../dialogs.js";
import { button, h, to } from "../dom.js";
import { filePicker } from "../files.js";
import { submit } from "../outbox.js";
import { measuredOf, number } from "../words.js";

export async function make() {
  const { studies } = await get("studies");
  const sheet = begin();
  return {
    title: "Studies",
    still: sheet.isBegun,
    node: [
      h("h1", {}, "Studies"),
      studies.length ? h("ul", { class: "cards" }, studies.map(card)) : nothing(),
      sheet.node,
    ],
  };
}

function card(study) {
  const next = !study.goal && !study.measured ? "Next: record the goal reference"
    : study.waiting.length > 1 ? `Trials ${study.waiting.join(", ")} wait for their takes` : study.waiting.length ? `Trial ${study.waiting[0]} waits for its take` : "Ready for the next trial";
  return h("li", {}, h("a", { class: "card", href: to("s", study.name), "data-hold": study.name },
    h("strong", {}, study.title || study.name),
    h("span", {}, next),
    h("span", { class: "quiet" }, measuredOf(study)
      + (study.days.length > 1 ? `, ${study.days.length} days` : "")
      + (study.best === null ? "" : `; highest ${study.by_reading ? "by its reading alone" : "measured"} ${number(study.best)} in ${study.best_alike.length ? `trials ${[study.best_trial, ...study.best_alike].sort((one, other) => one - other).join(", ")}` : `trial ${study.best_trial}`}`))));
}

function nothing() {
  return h("p", { class: "lead" }, "There is no study yet. A study is one hunt: one channel of one amp, from the first trial to the settings that are kept.");
}

/** The panel in which a sheet is given, and whether somebody is at it. */
function begin() {
  const wrong = h("p", { class: "wrong", role: "alert" });
  const text = h("textarea", { id: "sheet", rows: 8, spellcheck: "false", autocomplete: "off", "data-hold": "sheet" });
  const { node: picker, input: file } = filePicker("sheet-file", "Sheet file", ".toml,text/plain");
  file.addEventListener("change", async () => { if (file.files[0]) text.value = await file.files[0].text(); });
  const start = button("Start the study", async () => {
    wrong.replaceChildren();
    try {
      const { answer } = await submit({ method: "POST", path: "studies", body: { sheet: text.value }, study: "", label: "a new study" });
      if (answer?.withdrawn.length) await ask({ title: "No longer proposed", text: answer.withdrawn.map((one) => `Trial ${one.trial}: ${one.reason}.`).join(" "), confirm: "I see" });
      if (answer) location.hash = to("s", answer.study);
    } catch (error) {
      const faults = error.faults?.length ? error.message.split("\n").map((fault) => h("li", {}, fault)) : [];
      wrong.replaceChildren(...(faults.length ? ["The sheet cannot be used yet:", h("ul", {}, faults)] : [error.message, h("br"), error.hint ?? ""]));
    }
  }, { class: "primary" });
  const node = h("details", { class: "panel", "data-hold": "begin" }, h("summary", {}, "Start a study from a sheet"),
    h("p", {}, "The sheet says what may be set and how far. The README has one to begin with."),
    picker,
    h("div", { class: "field" }, h("label", { for: "sheet" }, "Or its text"), text), wrong, start);
  return { node, isBegun: () => text.value !== "" };
}

