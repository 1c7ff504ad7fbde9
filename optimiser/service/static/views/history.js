/** Everything that happened in a study. */

import { at, get, path } from "../api.js";
import { button, h } from "../dom.js";
import { happened } from "./trial.js";
import { takeBack } from "./trials.js";

export async function make({ study: name }) {
  const [study, { events }] = await Promise.all([get(path("studies", name)), get(path("studies", name, "history"))]);
  return {
    title: "What happened",
    node: [
      h("p", { class: "where" }, study.title || study.name),
      h("h1", {}, "What happened"),
      h("p", { class: "lead" }, "Nothing is ever overwritten: every change stands here with its time and reason, the newest first."),
      h("div", { class: "actions" }, button("Take back the newest change", () => takeBack(name)),
        h("a", { class: "button", href: at(`${path("studies", name)}/export`), download: "" }, "Keep the study as a file")),
      happened([...events].reverse()),
    ],
  };
}
