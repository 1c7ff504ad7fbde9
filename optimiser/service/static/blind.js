/** A blind test: X is the reference or the capture, decided by the service, told only after the answer. */

import { getBytes, newKey, path, send } from "./api.js";
import { deck } from "./deck.js";
import { field } from "./dialogs.js";
import { button, h, say } from "./dom.js";
import { number, percent } from "./words.js";

const TRIES = [[8, "8: 7 right are needed"], [10, "10: 9 right are needed"], [16, "16: 12 right are needed"], [20, "20: 15 right are needed"]];

/** The panel that begins one; the number of tries is chosen beforehand. */
export function begin(study, trial, start) {
  const wrong = h("p", { class: "wrong", role: "alert" });
  const tries = field("How many tries, chosen beforehand", "tries", { kind: "select", options: TRIES.map(([value, label]) => ({ value, label, selected: value === 16 })) });
  return [
    h("h2", {}, "Blind test"),
    h("p", {}, "X is one of the two. Say which, as often as you choose now. Stopping early counts for nothing."),
    tries, wrong,
    button("Begin", async () => {
      wrong.replaceChildren();
      await start(Number(tries.querySelector("select").value)).catch((error) => { wrong.textContent = `${error.message} ${error.hint ?? ""}`; });
    }),
  ];
}

/** Run one in `place`. */
export async function blindTest(study, trial, tries, window, { place, use, back }) {
  const base = path("studies", study.name, "blind-tests");
  const asked = { trial: trial.trial, tries, seconds: Number(window.seconds), ...(window.start === "" ? {} : { start_s: Number(window.start) }) };
  let test = await send("POST", base, asked, newKey());
  const at = path("studies", study.name, "blind-tests", test.blind_test);

  const one = async (said) => {
    const due = test.answered + 1;
    const [a, b, x] = await Promise.all(["a", "b", "x"].map((letter) => getBytes(`${at}/${due}/${letter}.wav`)));
    const made = deck({ x, a, b }, { x: ["X"], a: ["A", "reference"], b: ["B", "capture"] }, { a: "a", b: "b", x: "x" });
    use(made);
    const key = newKey();
    const wrong = h("p", { class: "wrong", role: "alert" });
    const vote = (answer, label) => button(label, async () => {
      try {
        test = await send("POST", `${at}/answers`, { try: due, answer }, key);
      } catch (error) {
        wrong.textContent = `${error.message} ${error.hint} Press again.`;
        return;
      }
      const told = `${test.right ? "Right" : "Not so"}: X was the ${test.x}.`;
      say(told);
      if (test.state === "open") await one(told).catch((error) => { wrong.textContent = error.message; });
      else result();
    }, { class: "primary" });
    place.replaceChildren(h("section", { class: "panel" },
      h("h2", { tabindex: -1 }, `Try ${due} of ${tries}`), said ? h("p", { role: "status" }, said) : null,
      made.node,
      h("p", { class: "lead" }, "Which one is X?"), wrong,
      h("div", { class: "actions" }, vote("reference", "X is the reference"), vote("capture", "X is the capture"),
        button("Stop early", async () => {
          test = await send("POST", `${at}/stop`, {}, newKey());
          result();
        }))));
    place.querySelector("h2").focus();
  };

  const result = () => {
    use(null);
    const shown = test.chance_of_guessing === null ? null : h("p", {}, `${test.correct} right of ${test.tries}. By guessing, so many or more come about in ${percent(test.chance_of_guessing)} of tests${test.chance_of_guessing < 0.001 ? "" : ` (${number(100 * test.chance_of_guessing)} in 100)`}.`);
    place.replaceChildren(h("section", { class: "panel" }, h("h2", { tabindex: -1 }, "Result"), h("p", { class: "lead" }, plain(test)), shown,
      h("p", { class: "quiet" }, test.state === "finished" ? "It is kept with the trial." : ""), h("div", { class: "actions" }, button("Back to comparing", back, { class: "primary" }))));
    place.querySelector("h2").focus();
  };
  await one("");
}

function plain(test) {
  if (test.state !== "finished") return test.verdict;
  return test.verdict.startsWith("Told apart") ? "You told them apart." : "No difference shown. That is not the same as none: more tries, or other riffs, might show one.";
}
