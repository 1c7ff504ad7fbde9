/** Reference and capture at one loudness, switched between; and a blind test of the two. */

import { get, getBytes, path } from "../api.js";
import { field } from "../dialogs.js";
import { deck } from "../deck.js";
import { button, h, say, to } from "../dom.js";
import { levelOf, number } from "../words.js";
import { blindTest, begin } from "../blind.js";

export async function make({ study: name, rest }) {
  const [study, { trials }] = await Promise.all([get(path("studies", name)), get(`${path("studies", name)}/trials`)]);
  const heard = trials.filter((trial) => trial.recordings);
  const place = h("div", {});
  const state = { deck: null };
  const heading = [h("p", { class: "where" }, study.title || study.name), h("h1", {}, "Compare by ear")];
  if (!heard.length) return { title: "Listen", node: [heading, h("p", { class: "lead" }, "No trial has recordings yet. Hand a take over first.")] };
  const trial = heard.find((one) => one.trial === Number(rest[0])) ?? heard.find((one) => one.trial === study.best_shown?.trial) ?? heard.at(-1);
  const which = h("select", { id: "which", onchange: (event) => { location.hash = to("s", name, "listen", event.target.value); } },
    [...heard].reverse().map((one) => h("option", { value: one.trial, selected: one.trial === trial.trial }, `Trial ${one.trial}${one.overall === null ? "" : `, ${number(levelOf(one))}`}`)));
  const use = (made) => {
    state.deck?.close();
    state.deck = made;
  };
  await comparison(study, trial, place, use).catch((error) => place.replaceChildren(h("p", { class: "wrong" }, `${error.message} ${error.hint ?? ""}`)));
  return {
    title: "Listen",
    still: true,
    key: (event) => state.deck?.key(event) ?? false,
    leave: () => state.deck?.close(),
    node: [heading, h("div", { class: "field" }, h("label", { for: "which" }, "Which trial"), which), place],
  };
}

async function comparison(study, trial, place, use) {
  const window = { start: "", seconds: "8" };
  const here = h("div", { class: "panel" });
  const load = async () => {
    const asked = new URLSearchParams({ seconds: window.seconds, ...(window.start === "" ? {} : { start_s: window.start }) });
    const told = await get(`${path("studies", study.name, "excerpts", trial.trial)}?${asked}`);
    const parts = await Promise.all(["reference", "capture"].map((part) => getBytes(`${path("studies", study.name, "excerpts")}/${told.clips[part]}`)));
    const made = deck({ reference: parts[0], capture: parts[1] }, { reference: ["A", "reference"], capture: ["B", "capture"] }, { a: "reference", b: "capture" });
    use(made);
    here.replaceChildren(made.node, h("p", { class: "quiet" }, `${number(told.seconds)} s, from ${number(told.start_s)} s on. Both equally loud, ${number(told.loudness_lkfs).replace("-", "−")} LKFS: the capture was turned ${turned(told.capture_gain_db - told.reference_gain_db)} against the reference.`));
  };
  await load();
  const wrong = h("p", { class: "wrong", role: "alert" });
  const choose = h("details", { class: "panel" }, h("summary", {}, "Another part of the recording"),
    field("Start, in seconds; empty for the loudest part", "start", { inputmode: "decimal", class: "short" }),
    field("How long, 1 to 30 s", "seconds", { inputmode: "decimal", class: "short", value: "8" }), wrong,
    button("Fetch it", async () => {
      wrong.replaceChildren();
      window.start = choose.querySelector("#field-start").value.trim().replace(",", ".");
      window.seconds = choose.querySelector("#field-seconds").value.trim().replace(",", ".") || "8";
      await load().then(() => say("The excerpt is here."), (error) => { wrong.textContent = `${error.message} ${error.hint}`; });
    }));
  const heard = () => ({ seconds: Number(window.seconds), ...(window.start === "" ? {} : { start_s: Number(window.start) }) });
  const back = async () => {
    await comparison(study, trial, place, use);
    document.getElementById("which").focus();
  };
  const test = h("section", { class: "panel" }, begin(study, trial, heard, (begun) => blindTest(study, trial, begun, { place, use, back })));
  place.replaceChildren(here, choose, test);
}

function turned(decibels) {
  return Math.abs(decibels) < 0.05 ? "neither up nor down" : `${decibels > 0 ? "up" : "down"} by ${number(Math.abs(decibels))} dB`;
}
