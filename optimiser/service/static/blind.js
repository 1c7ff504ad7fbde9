/** A blind test: X is the reference or the capture, decided by the service, told only after the answer. */

import { get, getBytes, newKey, path, send } from "./api.js";
import { deck } from "./deck.js";
import { field } from "./dialogs.js";
import { button, h, say } from "./dom.js";
import { submit, waiting, whenStored } from "./outbox.js";
import { number } from "./words.js";

const TRIES = [[8, "8: 7 right are needed"], [10, "10: 9 right are needed"], [16, "16: 12 right are needed"], [20, "20: 15 right are needed"]];
const CUT = "The line is cut. Your answer is kept here, and is sent on when the line is back.";

/** The test that this device has open for a trial, so that a page that was left or loaded again can go on with it. */
const open = {
  key: (study, trial) => `optimiser.blind.${study.name}.${trial.trial}`,
  of(study, trial) {
    try { return localStorage.getItem(this.key(study, trial)); } catch { return null; }
  },
  keep(study, trial, test) {
    try {
      if (test) localStorage.setItem(this.key(study, trial), test);
      else localStorage.removeItem(this.key(study, trial));
    } catch { /* it lasts as long as the page */ }
  },
};

const placeOf = (study, test) => path("studies", study.name, "blind-tests", test);

/** The panel that begins one, or goes on with the one that is open; the number of tries is chosen beforehand. */
export function begin(study, trial, heard, start) {
  const wrong = h("p", { class: "wrong", role: "alert" });
  const tries = field("How many tries, chosen beforehand", "tries", { kind: "select", options: TRIES.map(([value, label]) => ({ value, label, selected: value === 16 })) });
  const key = newKey();
  const guarded = (make) => async () => {
    wrong.replaceChildren();
    try {
      await start(await make());
    } catch (error) {
      wrong.textContent = `${error.message} ${error.hint ?? ""}`;
    }
  };
  const anew = () => {
    const wish = { trial: trial.trial, tries: Number(tries.querySelector("select").value), ...heard() };
    return send("POST", path("studies", study.name, "blind-tests"), wish, `${key}-${Object.values(wish).join("-")}`);
  };
  const test = open.of(study, trial);
  return [
    h("h2", {}, "Blind test"),
    h("p", {}, "X is one of the two. Say which, as often as you choose now. Stopping early counts for nothing."),
    test ? h("div", { class: "actions" }, button("Go on with the one begun", guarded(() => goOn(study, trial, test)), { class: "primary" })) : null,
    tries, wrong,
    button(test ? "Begin another" : "Begin", guarded(anew)),
  ];
}

/** An open test as it stands, once the answers to it that wait have arrived. */
async function goOn(study, trial, test) {
  const there = placeOf(study, test);
  for (const entry of waiting().filter((one) => one.path.startsWith(there) && !one.refused)) await whenStored(entry.key);
  try {
    return await get(there, { fresh: true });
  } catch (error) {
    if (error.status === 404) open.keep(study, trial, null);
    throw error;
  }
}

/** Run one in `place`. */
export async function blindTest(study, trial, begun, { place, use, back }) {
  let test = begun;
  const at = placeOf(study, test.blind_test);

  const one = async (said) => {
    const due = test.answered + 1;
    const [a, b, x] = await Promise.all(["a", "b", "x"].map((letter) => getBytes(`${at}/${due}/${letter}.wav`)));
    const made = deck({ x, a, b }, { x: ["X"], a: ["A", "reference"], b: ["B", "capture"] }, { a: "a", b: "b", x: "x" });
    use(made);
    const wrong = h("p", { class: "wrong", role: "alert" });
    const presses = [];
    const still = (whether) => presses.forEach((press) => (whether ? press.setAttribute("aria-disabled", "true") : press.removeAttribute("aria-disabled")));
    const press = (label, step, change, onward, attributes = {}) => {
      const key = newKey();
      presses.push(button(label, async () => {
        wrong.replaceChildren();
        still(true);
        try {
          const told = await submit({ method: "POST", path: `${at}/${step}`, body: change, key, study: study.name, label: `try ${due} of the blind test of trial ${trial.trial}` });
          if (told.waits) wrong.textContent = CUT;
          test = told.waits ? await whenStored(told.key) : told.answer;
          await onward();
        } catch (error) {
          wrong.textContent = `${error.message} ${error.hint ?? ""} Press again.`;
        } finally {
          still(false);
        }
      }, attributes));
      return presses.at(-1);
    };
    const answered = () => {
      const told = `${test.right ? "Right" : "Not so"}: X was the ${test.x}.`;
      say(told);
      return test.state === "open" ? one(told) : result();
    };
    const vote = (answer) => press(`X is the ${answer}`, "answers", { try: due, answer }, answered, { class: "primary" });
    place.replaceChildren(h("section", { class: "panel" },
      h("h2", { tabindex: -1 }, `Try ${due} of ${test.tries}`), said ? h("p", { role: "status" }, said) : null,
      made.node,
      h("p", { class: "lead" }, "Which one is X?"), wrong,
      h("div", { class: "actions" }, vote("reference"), vote("capture"), press("Stop early", "stop", {}, () => result()))));
    place.querySelector("h2").focus();
  };

  const result = () => {
    use(null);
    open.keep(study, trial, null);
    const shown = test.chance_of_guessing === null ? null : h("p", {}, `${test.correct} right of ${test.tries}. Guessing alone does as well in ${test.chance_of_guessing < 0.001 ? "less than 0.1" : number(100 * test.chance_of_guessing)}\u00a0% of tests.`);
    place.replaceChildren(h("section", { class: "panel" }, h("h2", { tabindex: -1 }, "Result"), h("p", { class: "lead" }, plain(test)), shown,
      h("p", { class: "quiet" }, test.state === "finished" ? "It is kept with the trial." : ""), h("div", { class: "actions" }, button("Back to comparing", back, { class: "primary" }))));
    place.querySelector("h2").focus();
  };

  if (test.state !== "open") {
    result();
    return;
  }
  open.keep(study, trial, test.blind_test);
  await one("");
}

function plain(test) {
  if (test.state !== "finished") return test.verdict;
  return test.verdict.startsWith("Told apart") ? "You told them apart." : "No difference shown. That is not the same as none: more tries, or other riffs, might show one.";
}
